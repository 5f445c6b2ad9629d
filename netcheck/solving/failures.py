"""Single failures: what can fail alone, and what the simulator finds then.

A part short or open, a pin without contact, a cell shorted or out of its holder, and one rail of a supply missing while
its siblings are on.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations

from msgspec import Struct
from msgspec.structs import replace

from netcheck.clock import in_time, used_up
from netcheck.conduction.routes import charge_routes
from netcheck.fragment.kinds import EVERY_PAIR, POLAR_PAIR, ROWS
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.paths import may_fail
from netcheck.fragment.states import State
from netcheck.simulation.assemble import circuit_of, steady_A
from netcheck.simulation.corner import Corner, Fault, same
from netcheck.simulation.elements import Circuit, OperatingPoint
from netcheck.simulation.memory import Memory
from netcheck.simulation.operating_point import solve
from netcheck.solving.floating import wherever_gates_float
from netcheck.solving.missing_rails import MISSING, without_rails
from netcheck.solving.sections import Section, overlaid
from netcheck.solving.solved_states import Survey

_MOST_FAULT_WORK = 250_000
"""Parts times runs that single failures may cost: a few seconds."""

_LEAST_FAULTS = 6

ABSENT = "absent"
"""How a cell fails that is out of its holder."""


class Failure(Struct, frozen=True):
    """One failure in one state, and what the simulator found then. Its fault names a part, or the net of a rail.

    reached: the parts for which it can change anything; None: all. alone: the point of these parts without the rest of
    the board, in which a rail delivers what they take and no more; None: that of the whole.
    """

    fault: Fault
    state: State
    corner: Corner
    point: OperatingPoint
    reached: Mapping[str, Part] | None = None
    alone: OperatingPoint | None = None

    def reaches(self, part: str) -> bool:
        return self.reached is None or part in self.reached


def affordable_faults(survey: Survey, faults: Sequence[Fault]) -> tuple[list[Fault], int]:
    """The faults that are tried, those on the routes into a cell first, and how many are left out."""
    runs = len(_fault_corners(survey, None))
    costs = [_size(survey, fault) * len(_states(survey, fault)) * runs for fault in faults]
    if sum(costs) <= _MOST_FAULT_WORK:
        return list(faults), 0
    near = {part for one in in_time(survey.conductions) for cell in survey.cells()
            for route in charge_routes(survey.fragment, one, cell) for part in route.parts}
    tried: list[Fault] = []
    left = _MOST_FAULT_WORK
    for fault, cost in sorted(zip(faults, costs, strict=True), key=lambda one: one[0].part not in near):
        if cost <= left or len(tried) < _LEAST_FAULTS:
            tried.append(fault)
            left -= cost
    return tried, len(faults) - len(tried)


def _size(survey: Survey, fault: Fault) -> int:
    return len(survey.fragment.parts) if fault.how == MISSING else survey.sections[fault.part].size


def _states(survey: Survey, fault: Fault) -> tuple[State, ...]:
    """The states in which a failure can make a difference."""
    fragment = survey.fragment
    if fault.how == MISSING:
        supply = fragment.rails[fault.part].supply
        return tuple(state for state in survey.states.states if state.supplies[supply])
    states = survey.sections[fault.part].states
    if fragment.parts[fault.part].kind is Kind.CELL:
        return tuple(state for state in states if state.plugged.get(fault.part, True))
    return states


def single_faults(fragment: Fragment) -> list[Fault]:
    """Each part failed as its kind can (kinds.Row): short between pins, open, a pin without contact.

    Protection diodes of chips short as well; cells shorted or absent; of a supply with several rails each one missing.
    """
    parts = [fault for part in sorted(fragment.fitted, key=_first_tried)
             for fault in (*faults_of(part, fragment.ground), *_of_cell(part))]
    supplies = [rail.supply for rail in fragment.rails.values()]
    return [*parts, *(Fault(net, MISSING) for net, rail in fragment.rails.items() if supplies.count(rail.supply) > 1)]


def _of_cell(part: Part) -> list[Fault]:
    """A cell shorted, and out of its holder; where it may be unplugged anyway, that is a state already."""
    if part.kind is not Kind.CELL:
        return []
    return [Fault(part.name, "short", POLAR_PAIR), *([Fault(part.name, ABSENT)] if part.plugged else ())]


def _first_tried(part: Part) -> int:
    return [Kind.LOAD, Kind.CHIP].index(part.kind) if part.kind in (Kind.LOAD, Kind.CHIP) else 2


def faults_of(part: Part, ground: str) -> list[Fault]:
    """The single failures of one part."""
    row, pins = ROWS[part.kind], part.pins
    pairs = combinations(pins, 2) if row.shorts == EVERY_PAIR else \
        ((one, other) for one, other in row.shorts if one in pins and other in pins)
    faults = [Fault(part.name, "short", (one, other)) for one, other in pairs if pins[one] != pins[other]]
    if (clamp := part.clamp) is not None:
        faults += [Fault(part.name, "short", nets=(net, other)) for net in clamp.inputs
                   for other in (clamp.to, ground) if other != net]
    faults += [Fault(part.name, "short", nets=(pins[path.start], pins[path.end])) for path in part.paths
               if pins[path.start] != pins[path.end] and may_fail(part, path)]
    if row.opens:
        faults.append(Fault(part.name, "open"))
    faults += [Fault(part.name, "open", pin=pin) for pin in row.lifts if pin in pins]
    return faults


def failures(survey: Survey, faults: Sequence[Fault]) -> list[Failure]:
    """Every fault in every state that its section can be in, at the corners that charge a cell hardest.

    A short between two held nets (a capacitor across a rail) is left out: it
    stops the supply, it does not charge a cell.
    """
    if survey.missing:
        return []
    each = list(dict.fromkeys(faults))
    found = {**_failed_parts(survey, [fault for fault in each if fault.how != MISSING]),
             **_missing_rails(survey, [fault for fault in each if fault.how == MISSING])}
    return [failure for fault in each for failure in found[fault]]


def _missing_rails(survey: Survey, faults: Sequence[Fault]) -> dict[Fault, list[Failure]]:
    """The failures of each rail that is missing."""
    if not faults:
        return {}
    states = {fault.part: _states(survey, fault) for fault in faults}
    corners = tuple(map(same, _fault_corners(survey, None)))
    points = without_rails(survey.fragment, states, corners)
    late = OperatingPoint(problem=used_up())
    return {fault: [Failure(fault, state, corner, point) for state in states[fault.part] for corner in corners
                    for point in points[fault.part, state.name, corner.name] or (late,)] for fault in faults}


def _failed_parts(survey: Survey, faults: Sequence[Fault]) -> dict[Fault, list[Failure]]:
    """The failures of each part that has failed."""
    fragment, rails = survey.fragment, tuple(survey.fragment.rails)
    held = {one.state.name: one.held for one in survey.conductions}
    runs = [
        (fault, state, corner) for fault in faults for state in _states(survey, fault)
        if not _between_held(fragment, fault, held[state.name])
        for corner in map(same, _fault_corners(survey, fault.part))
    ]
    known = [_tried.get(_key(survey, *run)) for run in runs]
    fresh = [run for run, one in zip(runs, known, strict=True) if one is None]
    sound = {(section, state.name, corner.name): (section, state, corner) for fault, state, corner in fresh
             for section in (survey.sections[fault.part],)}
    failed: list[Circuit] = []
    points = solve(_circuits(survey, sound.values(), fresh, failed), of=len(sound) + len(fresh))
    before = dict(zip(sound, points[:len(sound)], strict=True))
    late = OperatingPoint(problem=used_up())
    solved = iter(wherever_gates_float(failed, points[len(sound):]))
    found: dict[Fault, list[Failure]] = {fault: [] for fault in faults}
    for (fault, state, corner), one in zip(runs, known, strict=True):
        section = survey.sections[fault.part]
        if one is None:
            after = tuple(next(solved, ()))
            if not after:
                found[fault].append(Failure(fault, state, corner, late))
                continue
            one = _Tried(section, corner, before[section, state.name, corner.name], after)
            _keep(survey, fault, state, one)
        for each in one.after:
            point = overlaid(survey.at(state, corner), one.before, _without(fault, each), rails)
            found[fault].append(Failure(fault, state, corner, point, section.fragment.parts, each))
    return found


def _circuits(
    survey: Survey, sound: Iterable[tuple[Section, State, Corner]], runs: Sequence[tuple[Fault, State, Corner]],
    failed: list[Circuit],
) -> Iterator[Circuit]:
    """The circuits of sound sections, then that of every failure, made as they are asked for.

    failed: where those of the failures are kept, too.
    """
    fragment = survey.fragment
    for section, state, corner in sound:
        yield circuit_of(section.fragment, state, corner, lasting_A=steady_A(fragment, corner))
    for fault, state, corner in in_time(runs):
        failed.append(circuit_of(survey.sections[fault.part].fragment, state, corner, (fault,),
                                 lasting_A=steady_A(fragment, corner)))
        yield failed[-1]


def _without(fault: Fault, after: OperatingPoint) -> OperatingPoint:
    """The point with no current through a part that is out or open as a whole, which its circuit no longer has."""
    if not after.known or fault.how == "short" or fault.pin is not None:
        return after
    return replace(after, amps={**after.amps, fault.part: 0.0})


class _Tried(Struct, frozen=True):
    """What a failure made of a section, which is kept with what it is told apart by."""

    section: Section
    corner: Corner
    before: OperatingPoint
    after: tuple[OperatingPoint, ...]


_tried: Memory[tuple[object, ...], _Tried] = Memory(400_000)


def _key(survey: Survey, fault: Fault, state: State, corner: Corner) -> tuple[object, ...]:
    section = survey.sections[fault.part]
    return section.made_of, section.views[state.name], fault, id(corner), steady_A(survey.fragment, corner)


def _keep(survey: Survey, fault: Fault, state: State, one: _Tried) -> None:
    if one.before.known and all(point.known for point in one.after):
        _tried.put(_key(survey, fault, state, one.corner), one, len(one.section.fragment.parts) + 4)


def _fault_corners(survey: Survey, part: str | None) -> tuple[Corner, ...]:
    """The corners that charge a cell hardest; of those with one cell flat only those whose cell the part can reach."""
    reached = None if part is None else survey.sections[part].fragment.parts
    return (survey.corners.charge_flat, survey.corners.charge_used, survey.corners.hot,
            *(corner for corner in survey.corners.one_flat if reached is None or corner.flat in reached))


def _between_held(fragment: Fragment, fault: Fault, held: Mapping[str, object]) -> bool:
    nets = fault.nets or tuple(fragment.parts[fault.part].pins[pin] for pin in fault.pins or ())
    return bool(nets) and all(net in held for net in nets)
