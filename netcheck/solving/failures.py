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
from netcheck.simulation.elements import (
    Battery,
    Capacitance,
    Circuit,
    Draw,
    Junction,
    OperatingPoint,
    Resistance,
    Source,
)
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
    """The failures of each part that has failed; with part-used cells only where those may show more than others."""
    held = {one.state.name: one.held for one in survey.conductions}
    used = same(survey.corners.charge_used)
    stood = [(fault, state, tuple(map(same, _fault_corners(survey, fault.part))))
             for fault in faults for state in _states(survey, fault)
             if not _between_held(survey.fragment, fault, held[state.name])]
    found = _tried_out(survey, [(fault, state, corner) for fault, state, corners in stood
                                for corner in corners if corner is not used])
    spent: dict[tuple[Section, str], tuple[_Spent, ...] | None] = {}
    more = []
    for fault, state, _ in stood:
        place = survey.sections[fault.part], state.name
        cells = spent[place] = spent[place] if place in spent else _spent(survey, fault.part, state)
        if cells is None or any(cell.may_show_more(one) for cell in cells
                                for flat in (cell.alone_flat, survey.corners.charge_flat)
                                for one in found[fault, state.name, flat.name]):
            more.append((fault, state, used))
    found |= _tried_out(survey, more)
    failed: dict[Fault, list[Failure]] = {fault: [] for fault in faults}
    for fault, state, corners in stood:
        failed[fault] += [one for corner in corners for one in found.get((fault, state.name, corner.name), ())]
    return failed


_Run = tuple[Fault, str, str]
"""A fault, the name of a state and of a corner."""

_MOST_CELLS = 2
"""Cells of a section up to which part-used ones are left out at all."""

_HARDLY_LOADED = 0.9
"""A flat cell that still has this share of its volts is not pulled down by what it feeds."""


class _Spent(Struct, frozen=True):
    """A cell of a section as it is flat, part used and fresh, and the corner at which it alone is flat."""

    alone_flat: Corner
    flat: Battery
    used: Battery
    fresh: Battery

    def may_show_more(self, failure: Failure) -> bool:
        """Whether a failure charges the cell so hard that its resistance counts, or loads the flat one hard."""
        point = failure.alone or failure.point
        if not point.known:
            return True
        given_A = point.amps.get(self.flat.name, 0.0)
        flat_V = self.flat.volts - self.flat.ohm * given_A
        return (flat_V > self.used.volts or self.used.volts - self.used.ohm * given_A > self.fresh.volts
                or flat_V < _HARDLY_LOADED * self.flat.volts)


def _spent(survey: Survey, part: str, state: State) -> tuple[_Spent, ...] | None:
    """The cells of the section that a part is in; None where part-used ones may show more of any failure.

    Where every current rises with the volts that drive it, what a failure does is at its extremes where cells are flat
    or fresh, but for the resistance, which grows as a cell is used. That counts only where the flat one is charged so
    hard that it stands above the volts of a part-used one, or that one above the fresh, or where it is loaded hard. Of
    three cells in a row each is pushed by the others' volts and held back by their ohms: nothing is left out there.
    """
    own, corners = survey.fragment.parts[part], survey.corners
    if not all(isinstance(one, _RISING) and not (isinstance(one, Draw) and one.siemens < 0)
               for one in survey.circuit(own, state, corners.charge_used).elements):
        return None
    used, fresh = (_batteries(survey, own, state, corner) for corner in (corners.charge_used, corners.hot))
    if len(used) > _MOST_CELLS:
        return None
    alone = {name: next((corner for corner in corners.one_flat if corner.flat == name), corners.charge_flat)
             for name in used}
    return tuple(_Spent(alone[name], _batteries(survey, own, state, alone[name])[name], used[name], fresh[name])
                 for name in used)


def _batteries(survey: Survey, part: Part, state: State, corner: Corner) -> dict[str, Battery]:
    return {one.name: one for one in survey.circuit(part, state, corner).elements if isinstance(one, Battery)}


_RISING = (Resistance, Junction, Source, Battery, Draw, Capacitance)
"""Elements whose current rises with the volts across them, or that have a voltage of their own."""


def _tried_out(survey: Survey, runs: Sequence[tuple[Fault, State, Corner]]) -> dict[_Run, list[Failure]]:
    """What each fault does in a state at a corner; at several points where a gate floats then."""
    rails = tuple(survey.fragment.rails)
    known = [_tried.get(_key(survey, *run)) for run in runs]
    fresh = [run for run, one in zip(runs, known, strict=True) if one is None]
    sound = {(section, state.name, corner.name): (section, state, corner) for fault, state, corner in fresh
             for section in (survey.sections[fault.part],)}
    failed: list[Circuit] = []
    points = solve(_circuits(survey, sound.values(), fresh, failed), of=len(sound) + len(fresh))
    before = dict(zip(sound, points[:len(sound)], strict=True))
    late = OperatingPoint(problem=used_up())
    solved = iter(wherever_gates_float(failed, points[len(sound):]))
    found: dict[_Run, list[Failure]] = {}
    for (fault, state, corner), one in zip(runs, known, strict=True):
        section, of_run = survey.sections[fault.part], found.setdefault((fault, state.name, corner.name), [])
        if one is None:
            after = tuple(next(solved, ()))
            if not after:
                of_run.append(Failure(fault, state, corner, late))
                continue
            one = _Tried(section, corner, before[section, state.name, corner.name], after)
            _keep(survey, fault, state, one)
        for each in one.after:
            point = overlaid(survey.at(state, corner), one.before, _without(fault, each), rails)
            of_run.append(Failure(fault, state, corner, point, section.fragment.parts, each))
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
