"""A rechargeable where one belongs: is its charge current and end voltage inside the type's window."""

from __future__ import annotations

from dataclasses import dataclass, replace

from netcheck.checks.leakage import most, spec_of
from netcheck.checks.life import self_discharge_A
from netcheck.checks.voltage import across
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Part
from netcheck.parts.specs import CellSpec
from netcheck.quantities.values import engineering
from netcheck.simulation.assemble import circuit_of
from netcheck.solving.asking import Asking
from netcheck.solving.solved_states import Survey, settled


@dataclass(frozen=True, slots=True)
class Charge:
    """trickle_A: lasting current into the full cell. None: not known.

    end_V, low_end_V: the highest and the lowest volts at which charging ends.
    """

    trickle_A: float | None
    end_V: float | None
    low_end_V: float | None
    state: str | None


def charge(survey: Survey, cell: Part) -> Asking[tuple[Charge, str | None]]:
    """The lasting charge current and the end volts, worst over the live states; or why they are not known.

    High supply, hot, the cell full; then the volts left at the holder with next to no current.
    """
    states = {s.name: s for s in survey.states.states if s.live and s.plugged.get(cell.name, True)}
    if spec_of(cell).primary or not states:
        return Charge(0.0, None, None, None), None
    full = replace(survey.corners.charge_flat, name="charge, full cell", used=0.0)
    low = replace(survey.corners.cold, draw="typical")
    points = yield {
        **{("full", name): circuit_of(survey.fragment, state, full) for name, state in states.items()},
        **{("high", name): settled(survey.fragment, state, full, cell) for name, state in states.items()},
        **{("low", name): settled(survey.fragment, state, low, cell) for name, state in states.items()},
    }
    if problem := next((point.problem for point in points.values() if point.problem), None):
        return Charge(None, None, None, None), problem
    trickle = {name: max(0.0, -points["full", name].amps[cell.name]) for name in states}
    worst = max(trickle, key=trickle.__getitem__)
    high, low_end = (most([across(points[end, name], cell) for name in states]) for end in ("high", "low"))
    known = high is not None and low_end is not None
    return Charge(trickle[worst], high if known else None, low_end if known else None, worst), None


def charge_findings(cell: Part, found: Charge, conducting: bool, worst_A: float | None) -> list[Finding]:
    """The verdict on a rechargeable's charger; worst_A: the hardest it is charged, flat."""
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    if spec.primary:
        return []
    if not conducting:
        return [Finding("charger", Severity.CAUTION, cell.name,
                        f"Nothing charges {cell.name}, a rechargeable: it only runs down.",
                        "Fit a charging path, or a primary cell with its blocking diode.", line=cell.mark.line)]
    if spec.trickle is None and spec.charge_window is None:
        return [Finding("charger", Severity.UNKNOWN, cell.name,
                        f"Whether {cell.name} stands this charger could not be told: neither the charge current nor "
                        "the end volts that it may take are known.",
                        "State them: trickle: 0.6 mA to 1.2 mA, or charge: 3.0 V to 3.3 V.", line=cell.mark.line)]
    return [*_trickle(cell, spec, found), *_hard(cell, spec, worst_A), *_window(cell, spec, found)]


def _hard(cell: Part, spec: CellSpec, worst_A: float | None) -> list[Finding]:
    """A lithium rechargeable's limit holds while it is flat, too; nickel stands more then than for good."""
    if not spec.lithium or spec.trickle is None or worst_A is None or worst_A <= spec.trickle.harmful_A:
        return []
    return [Finding("charger", Severity.DANGER, cell.name,
                    f"Up to {engineering(worst_A, 'A')} flows into {cell.name} while it is flat; it stands "
                    f"{engineering(spec.trickle.harmful_A, 'A')} at most.", "Raise the charging resistor.",
                    None, (cell.name,), cell.nets, cell.mark.line, _sources(spec, "trickle"))]


def _sources(spec: CellSpec, figure: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one.source.partition(": ")[0] for one in spec.figures if one.of.startswith(figure)))


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
    lost_A = self_discharge_A(spec)
    if found.trickle_A < lost_A:
        keeps = f"No more than {amps} keeps" if found.trickle_A else "Nothing keeps"
        return says(Severity.CAUTION, f"{keeps} {cell.name} charged when it is full, and it loses "
                    f"{engineering(lost_A, 'A')} by itself: it runs down.", "Lower the charging resistor.")
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
    if found.low_end_V is not None and found.low_end_V < window.low:
        least = engineering(found.low_end_V, "V")
        return [Finding("charger", Severity.CAUTION, cell.name,
                        f"Charging {cell.name} may end at {least} only; below {engineering(window.low, 'V')} it stays "
                        "undercharged.", "Fit a charger with the end voltage that its maker asks for.",
                        found.state, (cell.name,), cell.nets, cell.mark.line, sources)]
    return [Finding("charger", Severity.NOTE, cell.name,
                    f"Charging {cell.name} ends at {volts}, inside its window of "
                    f"{engineering(window.low, 'V')} to {engineering(window.high, 'V')}.", "", found.state,
                    (cell.name,), cell.nets, cell.mark.line, sources)]
