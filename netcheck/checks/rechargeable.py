"""A rechargeable where one belongs: is its charge current and end voltage inside the type's window."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from netcheck.checks.charging import spec_of
from netcheck.checks.survey import Survey
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Part
from netcheck.fragment.states import State
from netcheck.fragment.values import engineering
from netcheck.parts.specs import CellSpec
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.elements import Circuit, Draw, OperatingPoint

SETTLED_A = 1e-6
"""Charge current at which a charger's end voltage is read: what a nearly full cell still takes."""


@dataclass(frozen=True, slots=True)
class Charger:
    """The circuits to solve for one rechargeable: full cell, then the empty holder, in each live state."""

    cell: Part
    states: tuple[State, ...]
    circuits: tuple[Circuit, ...]


@dataclass(frozen=True, slots=True)
class Charge:
    """trickle_A: lasting current into the full cell; end_V: volts at which charging ends. None: not known."""

    trickle_A: float | None
    end_V: float | None
    state: str | None


def charger(survey: Survey, cell: Part) -> Charger:
    """What to solve: high supply, hot, the cell full; and the volts left at the holder with next to no current."""
    states = tuple(s for s in survey.states.states if s.live and s.plugged.get(cell.name, True))
    if survey.missing or spec_of(cell).primary:
        return Charger(cell, (), ())
    full = replace(survey.corners.charge_fresh, used=0.0)
    with_cell = [circuit_of(survey.fragment, state, full) for state in states]
    empty = [circuit_of(survey.fragment, state, full, without=(cell.name,), extra=(_settled(cell),))
             for state in states]
    return Charger(cell, states, (*with_cell, *empty))


def _settled(cell: Part) -> Draw:
    """What a nearly full cell still takes, in place of the cell."""
    return Draw(cell.name, cell.pins["plus"], cell.pins["minus"], SETTLED_A)


def charge(survey: Survey, done: Charger, points: Sequence[OperatingPoint]) -> Charge:
    """The lasting charge current and the end voltage, worst over the live states."""
    count = len(done.states)
    full, empty = points[:count], points[count:]
    if survey.missing or any(not point.known for point in points):
        return Charge(None, None, None)
    if not count:
        return Charge(0.0, None, None)
    trickle = [max(0.0, -point.amps[done.cell.name]) for point in full]
    ends = [(point.volts[done.cell.pins["plus"]], point.volts[done.cell.pins["minus"]]) for point in empty]
    volts = [None if one is None or other is None else one - other for one, other in ends]
    worst = max(range(count), key=lambda i: trickle[i])
    known = [v for v in volts if v is not None]
    return Charge(trickle[worst], max(known) if len(known) == count else None, done.states[worst].name)


def charge_findings(cell: Part, found: Charge, conducting: bool) -> list[Finding]:
    """The verdict on a rechargeable's charger (checks, section 1, item 10)."""
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    if spec.primary:
        return []
    if not conducting:
        return [Finding("charger", Severity.CAUTION, cell.name,
                        f"Nothing charges {cell.name}, a rechargeable: it only runs down.",
                        "Fit a charging path, or a primary cell with its blocking diode.", line=cell.mark.line)]
    return [*_trickle(cell, spec, found), *_window(cell, spec, found)]


def _sources(spec: CellSpec, figure: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one.source for one in spec.figures if one.of.startswith(figure)))


def _trickle(cell: Part, spec: CellSpec, found: Charge) -> list[Finding]:
    window = spec.trickle
    if window is None or found.trickle_A is None:
        return []
    amps = engineering(found.trickle_A, "A")
    sources = _sources(spec, "trickle")

    def says(severity: Severity, message: str, advice: str) -> list[Finding]:
        return [Finding("charger", severity, cell.name, message, advice, found.state,
                        (cell.name,), cell.nets, cell.mark.line, sources)]

    if found.trickle_A > window.harmful_A:
        return says(Severity.DANGER, f"{amps} flows into {cell.name} for good when it is full; more than "
                    f"{engineering(window.harmful_A, 'A')} overheats and vents it.",
                    "Raise the charging resistor.")
    if found.trickle_A > window.most_A:
        return says(Severity.CAUTION, f"{amps} flows into {cell.name} for good when it is full; up to "
                    f"{engineering(window.most_A, 'A')} is usual for lasting charge. It ages and leaks sooner.",
                    "Raise the charging resistor.")
    if found.trickle_A < window.least_A:
        return says(Severity.NOTE, f"{amps} keeps {cell.name} charged; below "
                    f"{engineering(window.least_A, 'A')} it may never be quite full.", "")
    return says(Severity.NOTE, f"{cell.name} is charged with {amps} when full, inside its window of "
                f"{engineering(window.least_A, 'A')} to {engineering(window.most_A, 'A')}.", "")


def _window(cell: Part, spec: CellSpec, found: Charge) -> list[Finding]:
    window = spec.charge_window
    if window is None or found.end_V is None:
        return []
    volts = engineering(found.end_V, "V")
    sources = _sources(spec, "charge window")
    if found.end_V > window.high:
        kind = "burst or burn" if spec.lithium else "fail"
        return [Finding("charger", Severity.DANGER, cell.name,
                        f"Charging {cell.name} ends at {volts}; above {engineering(window.high, 'V')} it is "
                        f"damaged and may {kind}.",
                        "Fit a charger with the end voltage that its maker asks for, or another type of cell.",
                        found.state, (cell.name,), cell.nets, cell.mark.line, sources)]
    if found.end_V < window.low:
        return [Finding("charger", Severity.CAUTION, cell.name,
                        f"Charging {cell.name} ends at {volts}; below {engineering(window.low, 'V')} it stays "
                        "undercharged.", "Fit a charger with the end voltage that its maker asks for.",
                        found.state, (cell.name,), cell.nets, cell.mark.line, sources)]
    return [Finding("charger", Severity.NOTE, cell.name,
                    f"Charging {cell.name} ends at {volts}, inside its window of "
                    f"{engineering(window.low, 'V')} to {engineering(window.high, 'V')}.", "", found.state,
                    (cell.name,), cell.nets, cell.mark.line, sources)]
