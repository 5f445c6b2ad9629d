"""Whether a cell is being charged, what would let it be, by how much, and what leaks into it.

The cell of a mod that must not be charged (a primary one) is judged here; a
rechargeable is judged in `rechargeable`, on the same figures.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from netcheck.checks.results import FaultCurrent
from netcheck.conduction.routes import Route, charge_routes, distinct_routes
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.states import State
from netcheck.parts import diode
from netcheck.parts.specs import CellSpec, DiodeSpec, TransistorSpec
from netcheck.quantities.values import engineering
from netcheck.simulation.corner import Corner
from netcheck.solving.solved_states import ROOM_C, Failure, Survey

CHARGED_A = 1e-9
"""Charge current below which a conducting route is taken not to charge: the solver's own resolution."""

RESOLVED_A = 1e-12
"""Currents below this are the solver's rounding, not the circuit's."""

HOURS_A_YEAR = 8760.0


@dataclass(frozen=True, slots=True)
class Charging:
    """How current gets into one cell. Currents in A into the cell, None where not computable.

    leakage_A is what remains with every route blocked: None while one conducts.
    blocking: the parts that block the nearest route from each source in each state.
    """

    routes: tuple[Route, ...]
    nearest: Route | None
    blocking: tuple[str, ...]
    by_state: dict[str, float | None]
    worst_A: float | None
    worst_state: str | None
    leakage_A: dict[str, float | None]
    leakage_share: dict[str, float | None]
    fault: FaultCurrent | None
    fault_unknown: str | None

    @property
    def conducting(self) -> tuple[Route, ...]:
        return tuple(route for route in self.routes if route.conducting)


def charging(survey: Survey, cell: Part, failed: Sequence[Failure]) -> Charging:
    """All that concerns current into a cell, over every state."""
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    states, corners = survey.states.states, survey.corners
    by_state = {
        state.name: _most(_into(survey, state, corner, cell)
                          for corner in corners.charging(cell.name))
        for state in states
    }
    worst_state = max((s for s in by_state if by_state[s] is not None),
                      key=lambda s: by_state[s] or 0.0, default=None)
    worst_A = None if None in by_state.values() or not by_state else by_state.get(worst_state or "")
    routes = tuple(distinct_routes(survey.fragment, survey.conductions, cell))
    charged = any(route.conducting for route in routes)
    leakage = {
        kind: None if charged else _most(_into(survey, state, corner, cell)
                                         for state in states for corner in corners.leaking(cell.name, kind))
        for kind in ("typical", "maximum")
    }
    best = [route for one in survey.conductions for route in charge_routes(survey.fragment, one, cell)]
    nearest = min(best, key=lambda route: (len(route.shorts), len(route.parts)), default=None)
    blocking = dict.fromkeys(part for route in best for part in route.shorts)
    fault, fault_unknown = _worst_fault(failed, cell)
    return Charging(
        routes=routes,
        nearest=nearest,
        blocking=tuple(blocking),
        by_state=by_state,
        worst_A=worst_A,
        worst_state=worst_state if worst_A else None,
        leakage_A=leakage,
        leakage_share={kind: leaked_share(amps, survey.fragment, spec) for kind, amps in leakage.items()},
        fault=fault,
        fault_unknown=fault_unknown,
    )


def _into(survey: Survey, state: State, corner: Corner, cell: Part) -> float | None:
    """Current into the cell, never negative; 0 where it is not on the board; None where unknown."""
    if not state.plugged.get(cell.name, True):
        return 0.0
    point = survey.at(state, corner)
    if not point.known:
        return None
    amps = -point.amps[cell.name]
    return amps if amps > RESOLVED_A else 0.0


def _most(values: Iterable[float | None]) -> float | None:
    """The largest; None where one of them is not known."""
    found = list(values)
    known = [value for value in found if value is not None]
    return max(known) if known and len(known) == len(found) else None


def leaked_share(amps: float | None, fragment: Fragment, spec: CellSpec) -> float | None:
    """Charge that `amps` puts in over the service life while powered, as a share of the capacity."""
    if amps is None or not spec.capacity_Ah:
        return None
    return amps * powered_hours(fragment) / spec.capacity_Ah


def powered_hours(fragment: Fragment) -> float:
    """Hours under power over the service life: as stated, else day and night, the worst for leakage."""
    hours = fragment.conditions.powered_hours_a_day
    return (24.0 if hours is None else hours) / 24.0 * HOURS_A_YEAR * fragment.conditions.years


def _worst_fault(failed: Sequence[Failure], cell: Part) -> tuple[FaultCurrent | None, str | None]:
    worst: FaultCurrent | None = None
    unknown: str | None = None
    for failure in failed:
        if not failure.state.plugged.get(cell.name, True):
            continue
        if not failure.point.known:
            unknown = unknown or f"{failure.fault.part} {failure.fault.how}: {failure.point.problem}"
            continue
        amps = max(0.0, -failure.point.amps.get(cell.name, 0.0))
        if amps > (worst.amps if worst else RESOLVED_A):
            worst = FaultCurrent(failure.fault.part, failure.fault.how, amps, failure.state.name)
    return worst, unknown


def charging_findings(survey: Survey, cell: Part, found: Charging, cure: str) -> list[Finding]:
    """What is to be said of a primary cell; `cure` is the advice that was proved."""
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    if not spec.primary:
        return []
    if found.conducting:
        return [_charged(survey, cell, found, cure)]
    findings = []
    if not _unstated(survey, found) and _beyond_leakage(found):
        findings.append(_charged(survey, cell, found, cure))
    return [*findings, *_leaking(survey, cell, spec, found), *_one_failure_away(cell, spec, found)]


def _unstated(survey: Survey, found: Charging) -> tuple[str, ...]:
    """The parts that block a route and of whose leakage nothing is known."""
    return tuple(name for name in found.blocking if not _leakage_known(survey.fragment.parts[name]))


def _leakage_known(part: Part) -> bool:
    """Whether a blocking part's leakage is known: published, stated, or that of the SPICE law given for it."""
    spec = part.spec
    if part.kind is Kind.CHIP:
        return False
    if isinstance(spec, TransistorSpec):
        return spec.cutoff_A is not None
    return not isinstance(spec, DiodeSpec) or spec.parameters is not None or diode.at(spec, ROOM_C).leakage_known


def _beyond_leakage(found: Charging) -> bool:
    """Whether more flows in than the diodes' own published leakage: a way the graph does not know."""
    most = found.leakage_A["maximum"]
    return most is not None and found.worst_A is not None and found.worst_A > 3 * most + CHARGED_A


def _charged(survey: Survey, cell: Part, found: Charging, cure: str) -> Finding:
    route = next(iter(found.conducting), found.nearest)
    parts = route.parts if route else ()
    nets = route.nets if route else ()
    way = f" from {route.source} through {_listed(parts) or 'a direct connection'}" if route else ""
    state = found.worst_state or (route.state if route else None)
    if found.worst_A is None:
        how, severity = "how much could not be computed", Severity.DANGER
    elif found.worst_A > CHARGED_A:
        how, severity = f"up to {engineering(found.worst_A, 'A')} in state {state}", Severity.DANGER
    else:
        return Finding(
            "charge-route", Severity.CAUTION, cell.name,
            f"A path leads{way} into {cell.name}, a primary cell. At the values given no current flows into "
            f"it, because the source stays below the cell; nothing else prevents it.",
            cure, state, parts, nets, cell.mark.line,
        )
    return Finding(
        "charge-route", severity, cell.name,
        f"{cell.name} is a primary cell and is charged{way}: {how}. A primary cell must never be charged: "
        "it can leak, burst or catch fire.",
        cure, state, parts, nets, cell.mark.line, _sources(spec_of(cell), "nominal"),
    )


def spec_of(cell: Part) -> CellSpec:
    assert isinstance(cell.spec, CellSpec)
    return cell.spec


def _sources(spec: CellSpec, figure: str) -> tuple[str, ...]:
    """Where one figure of a cell comes from, with how sure it is."""
    return tuple(dict.fromkeys(f"{one.source} ({_SURE.get(one.sure, one.sure)})"
                               for one in spec.figures if one.of == figure))


_SURE = {"seen": "read there", "memory": "from memory", "practice": "no source", "given": "as the file states"}


def _leaking(survey: Survey, cell: Part, spec: CellSpec, found: Charging) -> list[Finding]:
    allowed = spec.leak_share
    if unknown := _unstated(survey, found):
        names = " and ".join(unknown)
        return [Finding("leakage", Severity.UNKNOWN, cell.name,
                        f"How much leaks into {cell.name} is not known: nothing is said of the leakage of {names}.",
                        "State it (leakage: 25 nA at 20 V for a diode, cutoff: 50 nA for a transistor), or name a "
                        "part of the library.",
                        None, unknown, (), cell.mark.line)]
    typical, maximum = found.leakage_share["typical"], found.leakage_share["maximum"]
    if allowed is None or typical is None or maximum is None:
        return [Finding("leakage", Severity.UNKNOWN, cell.name,
                        f"Whether what leaks into {cell.name} is too much could not be told.", line=cell.mark.line)]
    if maximum <= allowed:
        return []
    severity = Severity.DANGER if typical > allowed else Severity.CAUTION
    years = survey.fragment.conditions.years
    parts = found.nearest.parts if found.nearest else ()
    return [Finding(
        "leakage", severity, cell.name,
        f"The blocked diodes still leak {_amps(found.leakage_A['typical'])} into {cell.name} typically, "
        f"{_amps(found.leakage_A['maximum'])} at most, at {survey.corners.leak_typical.temperature_C:g} °C: "
        f"over {years:g} years {typical:.1%} of its capacity typically, {maximum:.1%} at most, where "
        f"{allowed:.0%} is taken as the most (common practice, no source).",
        "Fit a diode of lower leakage (silicon, or a low-leakage type) where current is blocked, "
        "or state the real hours of power a day under conditions.",
        None, parts, found.nearest.nets if found.nearest else (), cell.mark.line,
    )]


def _one_failure_away(cell: Part, spec: CellSpec, found: Charging) -> list[Finding]:
    if found.fault is None or found.fault.amps <= CHARGED_A:
        return []
    fault, allowed = found.fault, spec.abnormal_charge_A
    what = f"Should {fault.part} fail {fault.how}, {engineering(fault.amps, 'A')} would charge {cell.name}"
    if allowed is None:
        if found.nearest is None or len(found.nearest.shorts) > 1:
            return []
        return [Finding("fault-current", Severity.CAUTION, cell.name,
                        f"{what} (state {fault.state}); its permitted abnormal charging current is not stated.",
                        "Compare with the cell maker's limit.", fault.state, (fault.part,), (), cell.mark.line)]
    if fault.amps <= allowed:
        return [Finding("fault-current", Severity.NOTE, cell.name,
                        f"{what}, within the {engineering(allowed, 'A')} that it may take in a fault.",
                        "", fault.state, (fault.part,), (), cell.mark.line, _sources(spec, "abnormal charge"))]
    return [Finding(
        "fault-current", Severity.CAUTION, cell.name,
        f"{what}, more than the {engineering(allowed, 'A')} that it may take in a fault (state {fault.state}).",
        "Fit a second diode in series, or a resistor that keeps the fault current below the limit.",
        fault.state, (fault.part,), (), cell.mark.line, _sources(spec, "abnormal charge"),
    )]


def _amps(value: float | None) -> str:
    return "unknown" if value is None else engineering(value, "A")


def _listed(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else list(names))
