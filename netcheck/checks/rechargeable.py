"""A rechargeable where one belongs: is its charge current and end voltage inside the type's window."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct
from msgspec.structs import replace

from netcheck.checks.leakage import most, spec_of
from netcheck.checks.voltage import across
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Part
from netcheck.parts.cell import self_discharge_A
from netcheck.parts.specs import CellSpec
from netcheck.simulation.elements import OperatingPoint
from netcheck.solving.asking import Asking
from netcheck.solving.solved_states import Survey, settled


class Charge(Struct, frozen=True):
    """trickle_A: lasting current into the full cell. None: not known.

    end_V, low_end_V: the highest and the lowest volts at which charging ends.
    """

    trickle_A: float | None
    end_V: float | None
    low_end_V: float | None
    state: str | None


def charge(survey: Survey, cell: Part) -> Asking[tuple[Charge, str | None]]:
    """The lasting charge current and the end volts, worst over the live states, and why not all of it is known.

    High supply, hot, the cell full; then the volts left at the holder with next to no current.
    """
    states = {s.name: s for s in survey.states.states if s.live and s.plugged.get(cell.name, True)}
    if spec_of(cell).primary or not states:
        return Charge(0.0, None, None, None), None
    standing = {state.name: state for state in survey.standing(cell, states.values()).values()}
    section, lasting = survey.sections[cell.name].fragment, survey.lasting_A
    full = replace(survey.corners.charge_flat, name="charge, full cell", used=0.0)
    low = replace(survey.corners.cold, draw="typical")
    points = yield {
        **{("full", name): survey.circuit(cell, state, full) for name, state in standing.items()},
        **{("high", name): settled(section, state, full, cell, lasting(full)) for name, state in standing.items()},
        **{("low", name): settled(section, state, low, cell, lasting(low)) for name, state in standing.items()},
    }
    if problem := next((point.problem for point in points.values() if point.problem), None):
        return _harmful(cell, points), problem
    trickle = {name: max(0.0, -points["full", name].amps[cell.name]) for name in standing}
    worst = max(trickle, key=trickle.__getitem__)
    high, low_end = (most([across(points[end, name], cell) for name in standing]) for end in ("high", "low"))
    known = high is not None and low_end is not None
    return Charge(trickle[worst], high if known else None, low_end if known else None, worst), None


def _harmful(cell: Part, points: Mapping[tuple[str, str], OperatingPoint]) -> Charge:
    """What is too much in the states that were solved, where one was not; nothing else is known then."""
    spec = spec_of(cell)
    trickle = {name: -point.amps[cell.name] for (which, name), point in points.items()
               if which == "full" and point.known}
    ends = {name: volts for (which, name), point in points.items()
            if which == "high" and point.known and (volts := across(point, cell)) is not None}
    hard = {name: amps for name, amps in trickle.items() if spec.trickle and amps > spec.trickle.harmful_A}
    high = {name: volts for name, volts in ends.items() if spec.charge_window and volts > spec.charge_window.high}
    worst = hard or high
    return Charge(max(hard.values(), default=None), max(high.values(), default=None), None,
                  max(worst, key=worst.__getitem__, default=None))


def charge_findings(cell: Part, found: Charge, conducting: bool, worst_A: float | None) -> list[Finding]:
    """The verdict on a rechargeable's charger, its end volts first; worst_A: the hardest it is charged, flat."""
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    if spec.primary:
        return []
    if not conducting:
        return [Finding("charger", Severity.CAUTION, cell.name, case="not-charged", line=cell.mark.line)]
    if spec.trickle is None and spec.charge_window is None:
        return [Finding("charger", Severity.UNKNOWN, cell.name, case="not-stated", line=cell.mark.line)]
    return [*_window(cell, spec, found), *_trickle(cell, spec, found), *_hard(cell, spec, worst_A)]


def _hard(cell: Part, spec: CellSpec, worst_A: float | None) -> list[Finding]:
    """A lithium rechargeable's limit holds while it is flat, too; nickel stands more then than for good."""
    if not spec.lithium or spec.trickle is None or worst_A is None or worst_A <= spec.trickle.harmful_A:
        return []
    return [Finding("charger", Severity.DANGER, cell.name, case="too-hard-when-flat", parts=(cell.name,),
                    nets=cell.nets, line=cell.mark.line, sources=_sources(spec, "trickle"),
                    figures={"charge_A": worst_A, "limit_A": spec.trickle.harmful_A})]


def _sources(spec: CellSpec, figure: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one.source.partition(": ")[0] for one in spec.figures if one.of.startswith(figure)))


def _trickle(cell: Part, spec: CellSpec, found: Charge) -> list[Finding]:
    window = spec.trickle
    if window is None or found.trickle_A is None:
        return []
    lost_A = self_discharge_A(spec)
    severity, case, limits = (
        (Severity.DANGER, "trickle-harms", {"limit_A": window.harmful_A}) if found.trickle_A > window.harmful_A else
        (Severity.CAUTION, "trickle-ages", {"limit_A": window.most_A}) if found.trickle_A > window.most_A else
        (Severity.CAUTION, "trickle-short" if found.trickle_A else "no-trickle", {"loses_A": lost_A})
        if found.trickle_A < lost_A else
        (Severity.NOTE, "trickle-low", {"least_A": window.least_A}) if found.trickle_A < window.least_A else
        (Severity.NOTE, "trickle-inside", {"least_A": window.least_A, "most_A": window.most_A}))
    return [Finding("charger", severity, cell.name, case=case, state=found.state, parts=(cell.name,), nets=cell.nets,
                    line=cell.mark.line, sources=_sources(spec, "trickle"),
                    figures={"trickle_A": found.trickle_A, **limits})]


def _window(cell: Part, spec: CellSpec, found: Charge) -> list[Finding]:
    window = spec.charge_window
    if window is None or found.end_V is None:
        return []
    end_V = found.end_V
    if end_V > window.high:
        severity, case = Severity.DANGER, "end-too-high-lithium" if spec.lithium else "end-too-high"
    elif found.low_end_V is not None and found.low_end_V < window.low:
        severity, case, end_V = Severity.CAUTION, "end-too-low", found.low_end_V
    else:
        severity, case = Severity.NOTE, "end-inside"
    return [Finding("charger", severity, cell.name, case=case, state=found.state, parts=(cell.name,), nets=cell.nets,
                    line=cell.mark.line, sources=_sources(spec, "charge"),
                    figures={"end_V": end_V, "least_V": window.low, "most_V": window.high})]
