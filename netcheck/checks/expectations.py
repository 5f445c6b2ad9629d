"""What the tracer wants to be true, held against what was found."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

import networkx as nx
from msgspec import Struct, field
from msgspec.structs import replace

from netcheck.conduction.graph import present
from netcheck.findings import Finding, Severity
from netcheck.fragment.kinds import COPPER
from netcheck.fragment.model import Expectation, Kind
from netcheck.fragment.states import State, joined_pins, words_of
from netcheck.quantities.values import Span
from netcheck.simulation.elements import OperatingPoint
from netcheck.solving.solved_states import Survey
from netcheck.wording import wishes
from netcheck.wording.sentence import Word

_EXACT = 0.02
"""A single value without tolerance is expected to 2 %."""


class Judged(Struct, frozen=True):
    """One expectation: whether it holds (None: could not be told), and what was found.

    case: what kind of answer it is; names, figures: what its words are made of. wanted: the expectation in words.
    """

    entry: int
    holds: bool | None
    found: Any
    case: str
    state: str | None
    names: Mapping[str, Word] = field(default_factory=dict)
    figures: Mapping[str, float] = field(default_factory=dict)
    wanted: str = ""

    @property
    def words(self) -> str:
        """What was found, in words."""
        return wishes.found(self.case, self.names, self.figures)

    def to_dict(self) -> dict[str, Any]:
        return {"entry": self.entry, "holds": self.holds, "found": self.found,
                "words": self.words, "state": self.state, "wanted": self.wanted}


def judge(survey: Survey) -> list[Judged]:
    """Every entry of `expect`, over the states it speaks of; the worst state decides."""
    judged = []
    for number, wanted in enumerate(survey.fragment.expectations):
        states = list(_states(survey, wanted))
        if not states:
            judged.append(Judged(number, None, None, "no-state", None))
            continue
        cases = [one(survey, number, wanted, state) for state in states]
        judged.append(min(cases, key=lambda case: {False: 0, None: 1, True: 2}[case.holds]))
    return [replace(case, wanted=_wanted(survey.fragment.expectations[case.entry])) for case in judged]


def _states(survey: Survey, wanted: Expectation) -> Iterator[State]:
    for state in survey.states.states:
        if wanted.state is not None and state.name != wanted.state:
            continue
        if wanted.when.items() <= words_of(state).items():
            yield state


def one(survey: Survey, number: int, wanted: Expectation, state: State) -> Judged:
    """One expectation in one state."""
    if wanted.joined or wanted.apart:
        nets = wanted.joined or wanted.apart
        links = linked(survey, state)
        links.add_nodes_from(nets)  # a mod may have left one of them without a part
        pairs = [(one, other) for i, one in enumerate(nets) for other in nets[i + 1:]]
        joined = [pair for pair in pairs if nx.has_path(links, *pair)]
        holds = joined == pairs if wanted.joined else not joined
        names: dict[str, Word] = {"pairs": tuple(first for first, _ in joined)}
        names |= {f"pairs_{place}_other": second for place, (_, second) in enumerate(joined)}
        return Judged(number, holds, "joined" if joined == pairs else "partly joined" if joined else "apart",
                      "joined" if joined else "apart", state.name, names)
    point = survey.at(state, survey.corners.room)
    value: float | None
    if wanted.volts is not None:
        span, unit = wanted.volts, "V"
        low = 0.0 if wanted.against is None else point.volts.get(wanted.against)
        high = point.volts.get(wanted.at or "")
        value = None if high is None or low is None else high - low
    else:
        assert wanted.amps is not None
        assert wanted.through is not None
        span, unit = wanted.amps, "A"
        value = _through(survey, wanted.through, point)
        if value is None and point.known:
            return Judged(number, None, None, "current-not-known", state.name, {"through": wanted.through})
        if value is not None and (span.low >= 0 or math.isinf(span.low)):
            value = abs(value)
    if value is None:
        if point.problem:
            return Judged(number, None, None, "not-solved", state.name, {"why": point.problem})
        return Judged(number, None, None, "floats", state.name)
    slack = max(_EXACT * abs(span.low) if span.low == span.high else 0.0, 1e-9 * max(1.0, abs(value)))
    return Judged(number, span.low - slack <= value <= span.high + slack, value, "value", state.name,
                  figures={f"found_{unit}": value})


def _through(survey: Survey, name: str, point: OperatingPoint) -> float | None:
    """Current through a part; none flows through one that is not there in this variant or state."""
    there = survey.fragment.parts.get(name)
    if not point.known or (there is not None and there.kind in (Kind.CHIP, Kind.CONNECTOR) and there.fitted):
        return None
    return point.amps.get(name, 0.0)


def linked(survey: Survey, state: State) -> nx.Graph[str]:
    """Nets joined by copper: wire links are one net already, so closed jumpers and switches are what joins."""
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(survey.fragment.nets)
    for part in survey.fragment.of_kind(*COPPER):
        if present(part, state):
            for one, other in joined_pins(part, state.positions[part.name]):
                graph.add_edge(part.pins[one], part.pins[other])
    return graph


def expectation_findings(survey: Survey, judged: list[Judged]) -> list[Finding]:
    """A finding for each expectation that fails or could not be told."""
    findings = []
    for case in judged:
        wanted = survey.fragment.expectations[case.entry]
        if case.holds:
            continue
        subject = wanted.at or wanted.through or ", ".join(wanted.joined or wanted.apart)
        findings.append(Finding(
            "expectation", Severity.UNKNOWN if case.holds is None else Severity.FAILS, subject, case=case.case,
            state=case.state, nets=wanted.joined or wanted.apart, line=wanted.mark.line, figures=case.figures,
            words={**case.names, "wanted": case.wanted, **({"because": wanted.because} if wanted.because else {})}))
    return findings


def _wanted(wish: Expectation) -> str:
    """An expectation as a phrase."""
    span = wish.volts or wish.amps
    return wishes.wanted(
        "joined" if wish.joined else "apart" if wish.apart else "volts" if wish.volts else "amps",
        wish.joined or wish.apart, {"at": wish.at, "against": wish.against, "through": wish.through,
                                    "state": wish.state, "span": None if span is None else _in_unit(span)}, wish.when)


def _in_unit(span: Span) -> str:
    """A range as it was written, with its unit where that was left out."""
    return span.text if span.unit in span.text else f"{span.text} {span.unit}"
