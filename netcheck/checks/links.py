"""Which position of the jumpers and switches makes everything true that the tracer wants, and each feature work."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any

import networkx as nx
from msgspec import Struct, field

from netcheck.checks import expectations
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Feature
from netcheck.fragment.states import State, movable, words_of
from netcheck.solving.solved_states import Survey
from netcheck.wording import wishes
from netcheck.wording.sentence import Word

Positions = Mapping[str, str]


class Lack(Struct, frozen=True):
    """What a feature lacks: which kind of thing, empty where nothing; and names and figures of it."""

    case: str = ""
    words: Mapping[str, Word] = field(default_factory=dict)
    figures: Mapping[str, float] = field(default_factory=dict)


class FeatureResult(Struct, frozen=True):
    """Whether a feature works as the links stand (None: not known), and in which positions it does.

    lack: what is missing as they stand. settings: positions of the links that matter, each with whether it works.
    """

    name: str
    holds: bool | None
    lack: Lack
    settings: tuple[tuple[Positions, bool | None], ...]

    @property
    def why(self) -> str:
        """What is missing as the links stand, in words; empty where nothing is."""
        return wishes.why(self.lack.case, self.lack.words, self.lack.figures)

    def to_dict(self) -> dict[str, Any]:
        return {"holds": self.holds, "why": self.why,
                "settings": [{"positions": dict(positions), "holds": holds} for positions, holds in self.settings]}


def link_findings(survey: Survey) -> list[Finding]:
    """Where an expectation fails as the links stand: the positions that make all of them true, or that none do."""
    fragment = survey.fragment
    links = [part.name for part in movable(fragment)]
    if not links or all(case.holds for case in expectations.judge(survey)):
        return []
    combinations = list(_combinations(survey))
    as_set = {name: fragment.parts[name].position for name in links}
    here = [_all_hold(survey, positions, states) for positions, states in combinations if positions == as_set]
    if here != [False]:
        return []
    line = fragment.expectations[0].mark.line
    good = [positions for positions, states in combinations if _all_hold(survey, positions, states)]
    if good:
        best = min(good, key=lambda positions: sum(positions[name] != as_set[name] for name in links))
        changed = tuple(name for name in links if best[name] != as_set[name])
        return [Finding("links", Severity.NOTE, changed[0], case="put", words=_put(best, as_set), parts=changed,
                        line=line)]
    return [Finding("links", Severity.NOTE, links[0], case="none", parts=tuple(links), line=line)]


def _put(wanted: Positions, as_set: Mapping[str, str | None]) -> dict[str, Word]:
    """The links that stand otherwise than wanted, and where to put each."""
    moved = {name: position for name, position in wanted.items() if position != as_set[name]}
    return {"put": tuple(moved), **{f"put_{place}_position": one for place, one in enumerate(moved.values())}}


def _combinations(survey: Survey) -> Iterator[tuple[dict[str, str], list[State]]]:
    """Every combination of positions that was tried, with its states; packs that may be plugged are not."""
    links = [part.name for part in movable(survey.fragment)]
    found: dict[tuple[str, ...], list[State]] = {}
    for state in survey.states.states:
        if not any(state.plugged.values()):
            found.setdefault(tuple(state.positions[name] for name in links), []).append(state)
    for positions, states in found.items():
        yield dict(zip(links, positions, strict=True)), states


def _all_hold(survey: Survey, positions: Positions, states: Sequence[State]) -> bool:
    """Whether every expectation is true with the links in these positions. A wish for other positions says nothing."""
    named = {state.name: state for state in survey.states.states}
    asked = {state.name: state.positions for state in survey.fragment.states}
    for wanted in survey.fragment.expectations:
        meant_for = {**asked.get(wanted.state or "", {}), **wanted.when}
        if any(positions.get(name, position) != position for name, position in meant_for.items()):
            continue
        supplies = named[wanted.state].supplies if wanted.state in named else None
        meant = [state for state in states if (supplies is None or state.supplies == supplies)
                 and wanted.when.items() <= words_of(state).items()]
        if not all(expectations.one(survey, 0, wanted, state).holds for state in meant):
            return False
    return True


def features(survey: Survey) -> dict[str, FeatureResult]:
    """Every feature, over the positions of the links that its nets can see."""
    return {feature.name: _feature(survey, feature) for feature in survey.fragment.features}


def feature_findings(survey: Survey, results: Mapping[str, FeatureResult]) -> list[Finding]:
    """A finding for each feature that does not work as the links stand, with the positions in which it would."""
    findings = []
    for feature in survey.fragment.features:
        result = results[feature.name]
        if result.holds:
            continue
        as_set = {part.name: part.position for part in movable(survey.fragment)}
        good = [positions for positions, holds in result.settings if holds]
        if good:
            best = min(good, key=lambda one: sum(one[name] != as_set[name] for name in one))
        advice: Mapping[str, Word] = _put(best, as_set) if good else {"advice": "none"}
        reason: Mapping[str, Word] = {"because": feature.because} if feature.because else {}
        findings.append(Finding(
            "feature", Severity.UNKNOWN if result.holds is None else Severity.FAILS, feature.name,
            case=result.lack.case, words={**result.lack.words, **advice, **reason}, figures=result.lack.figures,
            line=feature.mark.line))
    return findings


def _feature(survey: Survey, feature: Feature) -> FeatureResult:
    as_set = {part.name: part.position for part in movable(survey.fragment)}
    judged = []
    for positions, states in _combinations(survey):
        live = [state for state in states if all(state.supplies.values())]
        if live:
            judged.append((positions, *_works(survey, feature, live[0])))
    here = next(((holds, lack) for positions, holds, lack in judged if positions == as_set),
                (None, Lack("not-tried")))
    matter = [name for name in as_set if _matters(name, judged)]
    settings: dict[tuple[str, ...], tuple[Positions, bool | None]] = {}
    for positions, holds, _ in judged:
        shown = {name: positions[name] for name in matter}
        settings.setdefault(tuple(shown.values()), (shown, holds))
    return FeatureResult(feature.name, *here, tuple(settings.values()))


def _matters(name: str, judged: Sequence[tuple[Positions, bool | None, Lack]]) -> bool:
    """Whether two settings that differ in this link alone differ in the answer."""
    answers: dict[tuple[tuple[str, str], ...], set[bool | None]] = {}
    for positions, holds, _ in judged:
        others = tuple(sorted((other, position) for other, position in positions.items() if other != name))
        answers.setdefault(others, set()).add(holds)
    return any(len(found) > 1 for found in answers.values())


def _works(survey: Survey, feature: Feature, state: State) -> tuple[bool | None, Lack]:
    joined = expectations.linked(survey, state)
    joined.add_nodes_from(net for group in (*feature.joined, *feature.apart) for net in group)
    for group in feature.joined:
        for one, other in pairwise(group):
            if not nx.has_path(joined, one, other):
                return False, Lack("apart", {"one": one, "other": other})
    for group in feature.apart:
        for place, one in enumerate(group):
            for other in group[place + 1:]:
                if nx.has_path(joined, one, other):
                    return False, Lack("joined", {"one": one, "other": other})
    point = survey.at(state, survey.corners.room)
    for need in feature.volts:
        low = 0.0 if need.against is None else point.volts.get(need.against)
        high = point.volts.get(need.at)
        if point.problem is not None:
            return None, Lack("not-solved", {"why": point.problem})
        if low is None or high is None:
            return False, Lack("floats", {"at": need.at})
        if not need.volts.low <= high - low <= need.volts.high:
            return False, Lack("volts", {"at": need.at, "span": need.volts.text}, {"found_V": high - low})
    return True, Lack()
