"""Whether a cell is being charged, which way, by how much, and what would let it be.

The simulator decides: a cell is charged where current is driven into it through parts that conduct. The network of
the simulated currents says which way. The graph speaks where a state could not be solved, and of what would have
to fail first. A rechargeable is judged in `rechargeable`, on the same figures.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct

from netcheck.checks.leakage import Leakage, leakage, most, spec_of
from netcheck.checks.results import FaultCurrent
from netcheck.checks.shorts import Shorts
from netcheck.clock import in_time
from netcheck.conduction.graph import Conduction
from netcheck.conduction.routes import Route, charge_routes, distinct_routes
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Part
from netcheck.fragment.states import State
from netcheck.parts.catalogue import cell_rules
from netcheck.parts.specs import CellSpec
from netcheck.simulation.elements import Circuit, reworded
from netcheck.solving.failures import Failure
from netcheck.solving.flows import DRIVEN_A, Flow, Way, flows, part_of, parts_on, turned, widest
from netcheck.solving.solved_states import RESOLVED_A, Survey
from netcheck.wording.sentence import Word

_SHOWN = 6
_BLOCKED_SHOWN = 3
"""Routes that are named: those that conduct, and the nearest of those that do not."""


class Charging(Struct, frozen=True):
    """How current gets into one cell. Currents in A into the cell, None where not computable.

    routes: those that conduct first, the widest leading, then the nearest blocked ones. idle: a way stands open,
    and no current takes it in any state. charged_in: the states in which current is driven into the cell, or may
    be where a state could not be solved, or was not reached in time. blocking: the parts that block the nearest route
    of each state.
    """

    routes: tuple[Route, ...]
    idle: Route | None
    charged_in: tuple[str, ...]
    blocking: tuple[str, ...]
    by_state: dict[str, float | None]
    worst_A: float | None
    worst_state: str | None
    leakage: Leakage
    fault: FaultCurrent | None
    fault_unknown: str | None

    @property
    def conducting(self) -> tuple[Route, ...]:
        return tuple(route for route in self.routes if route.conducting)

    @property
    def charged(self) -> bool:
        return bool(self.charged_in)


def charging(survey: Survey, cell: Part, failed: Sequence[Failure]) -> Charging:
    """All that concerns current into a cell, over every state."""
    states, corners = survey.states.states, survey.corners.charging(cell.name)
    by_state = {state.name: most(survey.into(state, corner, cell) for corner in corners) for state in states}
    by_graph = {one.state.name: charge_routes(survey.fragment, one, cell) for one in in_time(survey.conductions)}
    driven: dict[str, list[Route]] = {state.name: _driven(survey, cell, state) for state in states}
    unsolved = {state.name for state in states if not all(survey.at(state, corner).known for corner in corners)}
    guessed = [route for name in unsolved if not driven[name] for route in by_graph.get(name, ()) if route.conducting]
    guessed += [route for one in survey.unreached_conductions for route in charge_routes(survey.fragment, one, cell)
                if route.conducting]
    charged_in = tuple(state.name for state in (*states, *survey.unreached)
                       if driven.get(state.name) or any(route.state == state.name for route in guessed))
    worst_state = max((s for s in by_state if by_state[s] is not None), key=lambda s: by_state[s] or 0.0, default=None)
    in_turn = sorted(driven, key=lambda state: state != worst_state)  # what is told first is the way of the worst
    conducting = _distinct([*(route for state in in_turn for route in driven[state]), *guessed])
    unknown = None in by_state.values() or not by_state or bool(survey.unreached)
    worst_A = None if unknown else by_state.get(worst_state or "")
    blocked = [route for route in distinct_routes(survey.fragment, survey.conductions, cell) if not route.conducting]
    idle = next((route for name, routes in by_graph.items() for route in routes
                 if route.conducting and not driven[name] and not _by_breakdown(survey.conduction_of(name), route)
                 and name not in unsolved), None)
    fault, fault_unknown = _worst_fault(failed, cell)
    return Charging(
        routes=(*conducting[:_SHOWN], *blocked[:_BLOCKED_SHOWN]),
        idle=None if conducting else idle,
        charged_in=charged_in,
        blocking=tuple(dict.fromkeys(part for routes in by_graph.values() for route in routes
                                     for part in route.shorts)),
        by_state=by_state,
        worst_A=worst_A,
        worst_state=worst_state if worst_A else None,
        leakage=leakage(survey, cell, bool(charged_in)),
        fault=fault,
        fault_unknown=fault_unknown,
    )


def _by_breakdown(conduction: Conduction, route: Route) -> bool:
    """Whether a route of the graph leads backwards through a zener: whether it conducts the simulator alone knows."""
    edges = [data for _, _, key, data in conduction.graph.edges(keys=True, data=True) if key in route.parts]
    return any(data["volts_V"] for data in edges)


def _driven(survey: Survey, cell: Part, state: State) -> list[Route]:
    """The ways on which current is driven into the cell in a state, the widest first.

    What goes into a primary cell below what its makers aim for counts as leakage, whatever lets it through.
    """
    found: list[tuple[Way, Circuit]] = []
    least_A = cell_rules().leak_aim_A if spec_of(cell).primary else DRIVEN_A
    for corner in survey.corners.charging(cell.name):
        if (survey.into(state, corner, cell) or 0.0) <= least_A:
            continue
        circuit = survey.circuit(cell, state, corner)
        network = flows(circuit, survey.around(cell, state, corner))
        found += [(way, circuit) for way in ways_into(cell, network, least_A)]
    found.sort(key=lambda pair: -pair[0].amps)
    return _distinct([_route(survey, cell, state, way, circuit) for way, circuit in found])


def ways_into(cell: Part, network: Sequence[Flow], least_A: float = DRIVEN_A) -> list[Way]:
    """The widest way round from a cell's minus into its plus, and those beside it that do without one of its parts.

    A widest way of no more than least_A [A] is none.
    """
    start, end = cell.pins["minus"], cell.pins["plus"]
    first = widest(network, start, end, (cell.name,))
    if first is None or first.amps <= least_A:
        return []
    beside = [widest(network, start, end, (cell.name, element)) for element in first.elements[:_SHOWN]]
    return [first, *(way for way in beside if way is not None and way.amps > DRIVEN_A)]


def _route(survey: Survey, cell: Part, state: State, way: Way, circuit: Circuit) -> Route:
    """A way through the simulated currents as a route from what pushes."""
    round_trip = turned(way, circuit)
    source = part_of(survey.fragment, round_trip.elements[0]) or round_trip.elements[0]
    arrived = round_trip.nets.index(cell.pins["plus"]) + 1
    beyond = round_trip.nets[arrived:] if len(round_trip.nets) > arrived + 1 else ()
    return Route(source, cell.name, state.name, parts_on(survey.fragment, round_trip.elements[1:]),
                 tuple(dict.fromkeys((*round_trip.nets[:arrived], *beyond))), ())


def _distinct(routes: Sequence[Route]) -> list[Route]:
    """Each way once, whatever the states it stands open in."""
    kept: dict[tuple[str, frozenset[str]], Route] = {}
    for route in routes:
        kept.setdefault((route.source, frozenset(route.parts)), route)
    return list(kept.values())


def _worst_fault(failed: Sequence[Failure], cell: Part) -> tuple[FaultCurrent | None, str | None]:
    worst: FaultCurrent | None = None
    unknown: str | None = None
    for failure in failed:
        if not failure.state.plugged.get(cell.name, True) or failure.fault.part == cell.name:
            continue
        if not failure.reaches(cell.name):
            continue
        point = failure.alone or failure.point  # its own section may be known where the whole is not
        if not point.known:
            problem = point.problem or ""
            unknown = unknown or reworded(f"{failure.fault.part} {failure.fault.how}: {problem}", problem)
            continue
        amps = max(0.0, -point.amps.get(cell.name, 0.0))
        if amps > (worst.amps if worst else RESOLVED_A):
            worst = FaultCurrent(failure.fault.part, failure.fault.how, amps, failure.state.name)
    return worst, unknown


def charging_findings(survey: Survey, cell: Part, found: Charging, shorts: Shorts) -> list[Finding]:
    """What is to be said of a primary cell; what cures it is told when it has been proved."""
    spec = spec_of(cell)
    if not spec.primary:
        return []
    if found.charged:
        return [_charged(survey, cell, found)]
    return [*_idle(cell, found), *_one_failure_away(cell, spec, found, shorts)]


def _idle(cell: Part, found: Charging) -> list[Finding]:
    route = found.idle
    if route is None:
        return []
    slight_A = found.worst_A or 0.0
    case, figures = ("slight", {"charge_A": slight_A}) if slight_A > DRIVEN_A else ("idle", {})
    return [Finding(
        "charge-route", Severity.CAUTION, cell.name, case=case, words=_way(route), state=route.state,
        parts=route.parts, nets=route.nets, line=cell.mark.line, figures=figures)]


def _way(route: Route | None) -> Mapping[str, Word]:
    """What pushes, and the parts on the way."""
    if route is None:
        return {}
    return {"source": route.source, **({"through": route.parts} if route.parts else {"way": "direct"})}


def _charged(survey: Survey, cell: Part, found: Charging) -> Finding:
    route = next(iter(found.conducting), None)
    state = found.worst_state or (route.state if route else None)
    known = [amps for name in found.charged_in if (amps := found.by_state.get(name)) is not None]
    figures: Mapping[str, float] = {"charge_A": max(known)} if known else {}
    return Finding(
        "charge-route", Severity.DANGER, cell.name,
        case="charged" if found.worst_A is not None else "charged-at-least" if known else "charged-unknown",
        words={**_way(route), **({} if state is None else {"worst": state})},
        state=state if state in found.charged_in else found.charged_in[0], parts=_named(survey, route),
        nets=route.nets if route else (), line=cell.mark.line, sources=_sources(spec_of(cell), "volts"),
        figures=figures, states=found.charged_in)


def _named(survey: Survey, route: Route | None) -> tuple[str, ...]:
    """The parts of a route, the other cell that pushes among them."""
    if route is None:
        return ()
    return (*((route.source,) if route.source in survey.fragment.parts else ()), *route.parts)


def _sources(spec: CellSpec, figure: str) -> tuple[str, ...]:
    """Where one figure of a cell comes from, with how sure it is."""
    return tuple(dict.fromkeys(f"{one.source} ({_SURE.get(one.sure, one.sure)})"
                               for one in spec.figures if one.of == figure))


_SURE = {"seen": "read there", "memory": "from memory", "practice": "no source", "given": "as the file states"}


def counts_shorts(spec: CellSpec, found: Charging) -> bool:
    """Whether a finding depends on how many parts must fail before the cell is charged: no limit is stated for it."""
    return spec.abnormal_charge_A is None and found.fault is not None and found.fault.amps > DRIVEN_A


def _one_failure_away(cell: Part, spec: CellSpec, found: Charging, shorts: Shorts) -> list[Finding]:
    if found.fault is None or found.fault.amps <= DRIVEN_A:
        return []
    fault, allowed = found.fault, spec.abnormal_charge_A
    figures = {"fault_charge_A": fault.amps, **({} if allowed is None else {"allowed_A": allowed})}
    if allowed is None and (shorts.count is None or shorts.count > 1):
        return []
    case = "limit-not-stated" if allowed is None else "within" if fault.amps <= allowed else "beyond"
    return [Finding(
        "fault-current", Severity.NOTE if case == "within" else Severity.CAUTION, cell.name, case=case,
        state=fault.state, parts=(fault.part,), line=cell.mark.line, words={"failing": fault.part, "how": fault.how},
        sources=() if allowed is None else _sources(spec, "abnormal charge"), figures=figures)]
