"""What the meter said, held against what it should say; where they disagree, what would explain it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from msgspec import Struct

from netcheck.bench import measure, meter
from netcheck.bench.diagnosis import Diagnosis, Suspect, diagnose
from netcheck.bench.likelihood import Taken
from netcheck.bench.measure import Band, Depth, Measurement, Progress, Subject, prospects
from netcheck.bench.meter import What
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment, Kind, Reading
from netcheck.fragment.states import State, enumerate_states
from netcheck.parts import cell as cells
from netcheck.parts.specs import CellSpec
from netcheck.wording import readings
from netcheck.wording.sentence import Word

_MOST_NAMED = 3


class JudgedReading(Struct, frozen=True):
    """One reading: result is ok, low, high or unknown; why: that it cannot be told, empty where it can."""

    reading: Reading
    what: What
    value: float
    result: str
    why: str = ""
    band: Band | None = None
    measurement: Measurement | None = None

    @property
    def shown(self) -> str:
        """The value as it was read, its unit with it."""
        return readings.shown(self.names, self.figures)

    @property
    def words(self) -> str:
        """What was expected, or why that is not known."""
        return readings.expected(self.names, self.figures)

    @property
    def names(self) -> Mapping[str, Word]:
        """What the meter shows as OL, and which phrase says what is expected."""
        if self.band is None:
            kind = {"expected": "why", "why": self.why}
        elif math.isinf(self.band.low) or math.isclose(*(self._as_read[end] for end in ("low", "high")), rel_tol=1e-4):
            kind = {"expected": "exact"}
        else:
            kind = {"expected": "open" if math.isinf(self.band.high) else "band"}
        return {**kind, **{name: "OL" for name, value in self._as_read.items() if math.isinf(value)}}

    @property
    def figures(self) -> Mapping[str, float]:
        """What was read and the band, as the meter shows them, with the unit in the name."""
        return {f"{name}_{self.what.unit}": value for name, value in self._as_read.items() if math.isfinite(value)}

    @property
    def _as_read(self) -> Mapping[str, float]:
        band = {} if self.band is None else {
            "expect": self.band.expected, "low": self.band.low, "high": self.band.high}
        return {name: value if math.isinf(value) else meter.shown(self.what, value)
                for name, value in {"reads": self.value, **band}.items()}

    @property
    def disagrees(self) -> bool:
        return self.result in ("low", "high")


class JudgedReadings(Struct, frozen=True):
    """The readings of one variant.

    charged: primary cells that stand above what a fresh one gives, so that current is pushed into them: the cell,
    the reading and a fresh one's volts [V].
    """

    variant: str
    judged: tuple[JudgedReading, ...]
    charged: tuple[tuple[str, float, float], ...] = ()

    @property
    def disagreeing(self) -> tuple[JudgedReading, ...]:
        return tuple(one for one in self.judged if one.disagrees)

    @property
    def known(self) -> tuple[JudgedReading, ...]:
        """Those that could be judged: the ones that a diagnosis rests on."""
        return tuple(one for one in self.judged if one.band is not None)


def judge_readings(fragment: Fragment) -> JudgedReadings:
    """Judge the readings that were taken on a variant; those of other variants are left out."""
    chosen = [one for one in fragment.readings if one.mod == fragment.variant]
    states = {state.name: state for state in enumerate_states(fragment).states}
    measured = [_measurement(fragment, one, states) for one in chosen]
    known = [one for one in measured if isinstance(one, Measurement)]
    found = iter(prospects([(Subject(fragment), one) for one in known], depth=Depth.TOGETHER))
    judged = []
    for one, measurement in zip(chosen, measured, strict=True):
        what, value = taken(one)
        if isinstance(measurement, str):
            judged.append(JudgedReading(one, what, value, "unknown", measurement))
            continue
        prospect = next(found)
        if prospect.problem is not None:
            judged.append(JudgedReading(one, what, value, "unknown", prospect.problem, None, measurement))
            continue
        band = measure.band(what, prospect)
        judged.append(JudgedReading(one, what, value, held_against(what, value, band), "", band, measurement))
    return JudgedReadings(fragment.variant, tuple(judged), tuple(_charged(fragment, judged)))


def _charged(fragment: Fragment, judged: list[JudgedReading]) -> Iterator[tuple[str, float, float]]:
    for cell in fragment.of_kind(Kind.CELL):
        assert isinstance(cell.spec, CellSpec)
        fresh_V = cells.volts(cell.spec, 0.0)
        for one in judged:
            across = (one.reading.at, one.reading.against or fragment.ground)
            limit_V = fresh_V + _ABOVE_FRESH_V + meter.error(What.VOLTS, fresh_V)
            if cell.spec.primary and one.what is What.VOLTS and cell.name not in one.reading.without and \
                    across == (cell.pins["plus"], cell.pins["minus"]) and one.value > limit_V:
                yield cell.name, one.value, fresh_V


_ABOVE_FRESH_V = 0.1
"""A fresh cell varies by this much (common practice, no source)."""


def explain(fragment: Fragment, result: JudgedReadings, progress: Progress | None = None) -> Diagnosis | None:
    """What would explain all readings of a variant together; None where none of them disagrees.

    progress: told (circuits solved, circuits wanted).
    """
    if not result.disagreeing:
        return None
    return diagnose(fragment, [Taken(one.measurement, one.value) for one in result.known
                               if one.measurement is not None], progress)


def taken(reading: Reading) -> tuple[What, float]:
    """What was measured, and the value [V, A or ohm]; infinite for what the meter shows as OL."""
    for what, value in ((What.VOLTS, reading.volts), (What.AMPS, reading.amps), (What.OHMS, reading.ohms),
                        (What.DIODE, reading.diode_V)):
        if value is not None:
            return what, math.inf if meter.overload(what, value) else value
    raise ValueError("a reading without a value")


def held_against(what: What, value: float, band: Band) -> str:
    """Whether a reading is ok, low or high.

    >>> held_against(What.VOLTS, 2.1, Band(2.7, 2.5, 2.9))
    'low'
    """
    if value < band.low:
        return "low"
    return "high" if value > band.high else "ok"


def _measurement(fragment: Fragment, reading: Reading, states: dict[str, State]) -> Measurement | str:
    """The measurement that a reading was, or why it cannot be told."""
    what, _ = taken(reading)
    if reading.state is None and what.unpowered:
        state = next(iter(states.values()))
    elif reading.state is None and len(states) > 1:
        return "the file does not say in which state it was taken"
    else:
        found = states.get(reading.state) if reading.state is not None else next(iter(states.values()))
        if found is None:
            return f'the state "{reading.state}" is not among those that can be tried'
        state = found
    without = reading.without
    if what.unpowered:
        without = tuple(dict.fromkeys((*without, *(part.name for part in fragment.of_kind(Kind.CELL)))))
    return Measurement(what, state, reading.at, reading.against, reading.through, reading.meter_ohm, without)


def reading_findings(
    fragment: Fragment, progress: Progress | None = None, explained: bool = True
) -> list[Finding]:
    """A finding for each reading of a variant that disagrees or cannot be judged, and one for what explains them.

    explained: whether to look for that, which simulates every single fault.
    """
    result = judge_readings(fragment)
    findings = [_finding(one) for one in result.judged if one.result != "ok"]
    diagnosis = explain(fragment, result, progress) if explained else None
    if diagnosis is not None and diagnosis.suspects:
        findings.append(_explained(fragment, result, diagnosis))
    return findings


def _finding(one: JudgedReading) -> Finding:
    reading = one.reading
    severity = Severity.CAUTION if one.disagrees else Severity.UNKNOWN
    nets = tuple(net for net in (reading.at, reading.against) if net is not None)
    parts = () if reading.through is None else (reading.through,)
    return Finding("reading", severity, reading.at or reading.through or "",
                   case=f"too-{one.result}" if one.disagrees else "not-known", state=reading.state, parts=parts,
                   nets=nets, line=reading.mark.line, words={**one.names, "place": place(reading)},
                   figures=one.figures)


def _explained(fragment: Fragment, result: JudgedReadings, diagnosis: Diagnosis) -> Finding:
    best = diagnosis.suspects[0]
    first = best.faults[0]
    fitting = diagnosis.readings - len(best.misses)
    return Finding(
        "reading", Severity.NOTE, next(iter((*first.parts, *first.nets)), fragment.title), case="explained",
        words={"faults": best.words[:_MOST_NAMED]},
        figures={"fitting_count": fitting, "readings_count": diagnosis.readings,
                 **({"more_count": len(best.words) - _MOST_NAMED} if len(best.words) > _MOST_NAMED else {})},
        parts=first.parts, nets=first.nets, line=result.disagreeing[0].reading.mark.line)


def named(suspect: Suspect, most: int = _MOST_NAMED) -> str:
    """The faults of a suspect in words; where there are many, the first few."""
    words = suspect.words
    more = f", or {len(words) - most} more like it" if len(words) > most else ""
    return " or ".join(words[:most]) + more


def place(reading: Reading) -> str:
    """Where a reading was taken, in words."""
    if reading.through is not None:
        return f"through {reading.through}"
    return f"{reading.at} to {reading.against}" if reading.against is not None else f"{reading.at}"
