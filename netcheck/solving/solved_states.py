"""Everything that is simulated and searched for one variant, gathered once for all checks.

The corners are named here, so that every check means the same by them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from functools import cached_property
from itertools import islice, product

from msgspec import Struct
from msgspec.structs import replace

from netcheck.clock import in_time, share, used_up
from netcheck.conduction.graph import Conduction, conduction, present
from netcheck.conduction.routes import Feed, feeds
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.states import State, StateSet, enumerate_states, stands_as_set
from netcheck.parts.specs import CellSpec, TransistorSpec
from netcheck.simulation.assemble import circuit_of, steady_A
from netcheck.simulation.corner import Corner, Fault, same
from netcheck.simulation.elements import Circuit, Draw, Element, OperatingPoint
from netcheck.simulation.memory import Memory
from netcheck.simulation.operating_point import solve
from netcheck.simulation.process import available
from netcheck.solving.sections import Points, Section, cells_together, sections

OLD = 0.9
"""Share of a cell's capacity that an old cell has used; past it the curve of most types drops off."""

ROOM_C = 25.0

PART_USED = 0.3
"""Share used at which a coin cell still has its low resistance and no longer its first volts: charged hard, too."""

RESOLVED_A = 1e-12
"""Currents below this are the solver's rounding, not the circuit's."""

MEAN_USED = 0.5
"""Share used at which a cell has its mean volts."""

_MOST_UNREACHED = 64
"""States without a solution of which the graph is looked at: some 0.2 s on a board of 150 parts."""

_ON_BASE_V = 0.45
_ON_GATE = 0.8


class Corners(Struct, frozen=True):
    """The corners of a fragment's tolerances, from its conditions."""

    room: Corner
    old: Corner
    cold: Corner
    cold_old: Corner
    hot: Corner
    hot_old: Corner
    hot_fresh: Corner
    cold_high: Corner
    charge_flat: Corner
    charge_used: Corner
    leak_usual: Corner
    leak_typical: Corner
    leak_maximum: Corner
    one_flat: tuple[Corner, ...]
    leak_one_flat: tuple[Corner, ...]
    opposite: tuple[Corner, ...]

    @classmethod
    def of(cls, fragment: Fragment) -> Corners:
        temperature = fragment.conditions.temperature
        cold, hot = temperature.low, temperature.high
        room = min(max(ROOM_C, cold), hot)
        least = Corner("cold", cold, supply=-1, resistance=1, drop="maximum", draw="maximum")
        most = Corner("hot", hot, supply=1, resistance=-1, drop="minimum")
        charge = replace(most, name="charge, flat cell", used=1.0)
        several = cells_together(fragment)
        return cls(
            room=Corner("room, fresh cell", room),
            old=Corner("room, old cell", room, used=OLD),
            cold=replace(least, name="cold, fresh cell"),
            cold_old=replace(least, name="cold, old cell", used=OLD),
            hot=replace(most, name="hot, fresh cell"),
            hot_old=replace(least, name="hot, old cell", temperature_C=hot, used=OLD, leakage="maximum"),
            hot_fresh=replace(least, name="hot, low supply, fresh cell", temperature_C=hot, leakage="maximum"),
            cold_high=replace(most, name="cold, high supply, fresh cell", temperature_C=cold),
            charge_flat=charge,
            charge_used=replace(charge, name="charge, part-used cell", used=PART_USED),
            leak_usual=Corner("leakage, usual", (cold + hot) / 2, used=MEAN_USED),
            leak_typical=Corner("leakage, typical", hot, supply=1, used=1.0),
            leak_maximum=Corner("leakage, maximum", hot, supply=1, used=1.0, leakage="maximum"),
            one_flat=tuple(replace(most, name=f"charge, {name} alone flat", flat=name) for name in several),
            leak_one_flat=tuple(Corner(f"leakage, {kind}, {name} alone flat", hot, supply=1, flat=name, leakage=kind)
                                for name in several for kind in ("typical", "maximum")),
            opposite=tuple(replace(charge, name=f"charge, flat cell, {_said(ends)}", ends=ends)
                           for ends in opposite_ends(fragment)),
        )

    @property
    def usual(self) -> Corner:
        """Everything as it usually is: the middle of the temperatures, a cell half used, typical figures."""
        return self.leak_usual

    @property
    def lowest_fresh(self) -> tuple[Corner, ...]:
        """The corners at which the least volts of a fresh cell or a supply are found."""
        return (self.room, self.usual, self.cold, self.hot_fresh)

    @property
    def lowest(self) -> tuple[Corner, ...]:
        """The corners at which the least volts at all are found."""
        return (*self.lowest_fresh, self.old, self.cold_old, self.hot_old)

    @property
    def highest(self) -> tuple[Corner, ...]:
        """The corners at which the most volts are found."""
        return (self.room, self.usual, self.hot, self.cold_high, self.charge_flat, *self.opposite)

    @property
    def everywhere(self) -> tuple[Corner, ...]:
        """The corners solved in every state."""
        return (self.room, self.old, self.cold, self.cold_old, self.hot, self.hot_old, self.hot_fresh, self.cold_high,
                self.charge_flat, self.charge_used, self.leak_usual, self.leak_typical, self.leak_maximum,
                *self.one_flat, *self.leak_one_flat, *self.opposite)

    def charging(self, cell: str) -> tuple[Corner, ...]:
        """The corners at which a cell is charged hardest.

        All flat, all part used, fresh (its resistance is least then), it alone flat, and rails at opposite ends of
        their tolerances; the usual one too, since fresh cells beside it may push harder.
        """
        alone = (corner for corner in self.one_flat if corner.flat == cell)
        return (self.charge_flat, self.charge_used, self.hot, *alone, *self.opposite, self.room)

    def leaking(self, cell: str, kind: str) -> tuple[Corner, ...]:
        """The corners at which leakage into a cell is worst; kind: typical or maximum."""
        base = self.leak_typical if kind == "typical" else self.leak_maximum
        return (base, *(c for c in self.leak_one_flat if c.flat == cell and c.leakage == kind))


_MOST_RAILS = 3
"""Rails with a tolerance up to which every combination of its ends is tried; of more, each against all others."""


def opposite_ends(fragment: Fragment) -> tuple[tuple[tuple[str, float], ...], ...]:
    """The ways in which rails can stand at opposite ends of their tolerances; none with fewer than two such rails.

    Supplies are regulated one by one, and so are the outputs of one supply.
    """
    nets = [rail.net for rail in fragment.rails.values() if rail.volts.low < rail.volts.high]
    if len(nets) < 2:
        return ()
    if len(nets) <= _MOST_RAILS:
        every = [ends for ends in product((1.0, -1.0), repeat=len(nets)) if len(set(ends)) > 1]
    else:
        every = [tuple(sign if net == one else -sign for net in nets) for one in nets for sign in (1.0, -1.0)]
    return tuple(tuple(zip(nets, ends, strict=True)) for ends in every)


def _said(ends: tuple[tuple[str, float], ...]) -> str:
    return " and ".join(f"{net} {'high' if place > 0 else 'low'}" for net, place in ends)


class Survey(Struct, frozen=True, dict=True):
    """A variant with its states, and the operating point of each state at each corner.

    `missing` says why nothing could be simulated (None: it could), and `engine`
    whether there is a simulator at all. unreached: the states for which there was no time: the graph alone knows them.
    """

    fragment: Fragment
    states: StateSet
    corners: Corners
    points: Mapping[tuple[str, str], OperatingPoint]
    missing: str | None
    engine: bool = True
    unreached: tuple[State, ...] = ()

    def at(self, state: State, corner: Corner) -> OperatingPoint:
        return self.points[state.name, corner.name]

    @cached_property
    def conductions(self) -> tuple[Conduction, ...]:
        """The conduction graph of every state, with each transistor's channel as its bias was found."""
        return tuple(conduction(self.fragment, state, self._channels(state)) for state in self.states.states)

    @cached_property
    def unreached_conductions(self) -> tuple[Conduction, ...]:
        """The conduction graph of the states that were not reached, of the first of a great many.

        Their graphs are cheap, and are looked at although the time is used up.
        """
        return tuple(conduction(self.fragment, state) for state in self.unreached[:_MOST_UNREACHED])

    def conduction(self, state: State) -> Conduction:
        return self._by_state[state.name]

    def conduction_of(self, state: str) -> Conduction:
        return self._by_state[state]

    def into(self, state: State, corner: Corner, cell: Part) -> float | None:
        """Current into a cell [A], never negative; 0 where it is not on the board; None where unknown."""
        if not state.plugged.get(cell.name, True):
            return 0.0
        point = self.at(state, corner)
        if not point.known:
            return None
        amps = -point.amps[cell.name]
        return amps if amps > RESOLVED_A else 0.0

    @cached_property
    def _by_state(self) -> Mapping[str, Conduction]:
        return {one.state.name: one for one in self.conductions}

    @cached_property
    def sections(self) -> Mapping[str, Section]:
        """The section of every fitted part: the parts that it can influence."""
        points = self._own_points
        return sections(self.fragment, self.states.states) if points is None else points.sections

    def standing(self, part: Part, states: Iterable[State]) -> dict[str, State]:
        """The states by name, each with the one that is solved for the section of a part: it stands alike there."""
        own = self.sections[part.name].standing
        return {state.name: own[state.name] for state in states}

    def circuit(
        self, part: Part, state: State, corner: Corner, faults: Sequence[Fault] = (), without: Collection[str] = (),
        extra: Sequence[Element] = (),
    ) -> Circuit:
        """The circuit of the section that a part is in; see circuit_of. Nothing outside it changes what is found."""
        return circuit_of(self.sections[part.name].fragment, state, corner, faults, without, extra,
                          self.lasting_A(corner))

    def lasting_A(self, corner: Corner) -> float:
        """What loads the cells of the whole for good at a corner [A]."""
        return steady_A(self.fragment, corner)

    def around(self, part: Part, state: State, corner: Corner) -> OperatingPoint:
        """As `at`, of the section that a part is in alone: what a rail delivers to others is not counted."""
        points = self._own_points
        return self.at(state, corner) if points is None else points.of(
            self.sections[part.name], state.name, corner.name)

    @property
    def _own_points(self) -> Points | None:
        """The points by section, where there are any and they are those of this very fragment."""
        points = self.points
        return points if isinstance(points, Points) and points.fragment is self.fragment else None

    @cached_property
    def feeds(self) -> Mapping[tuple[str, str], Feed]:
        """(state, load) to what can supply it."""
        return {
            (one.state.name, load): supplied
            for one in self.conductions
            for load, supplied in feeds(self.fragment, one).items()
        }

    def cells(self) -> list[Part]:
        return list(self.fragment.of_kind(Kind.CELL))

    def loads(self) -> list[Part]:
        return list(self.fragment.of_kind(Kind.LOAD))

    def resting(self, live: bool) -> State | None:
        """The state the board stands in by itself: all supplies on or off, jumpers as set, no extra pack."""
        named = sorted(self.states.states, key=lambda s: s.name not in {n.name for n in self.fragment.states})
        return next((s for s in named if self.is_resting(s) and set(s.supplies.values()) <= {live}), None)

    def is_resting(self, state: State) -> bool:
        """Whether jumpers stand as set and nothing extra is plugged in."""
        return not any(state.plugged.values()) and self.as_set(state)

    def as_set(self, state: State) -> bool:
        """Whether everything that can be put in positions stands as it is set."""
        return stands_as_set(self.fragment, state)

    def _channels(self, state: State) -> dict[str, bool]:
        """Transistors found on or off at the corners where a cell is charged hardest."""
        corners = self.corners
        points = [self.at(state, corner) for corner in (corners.charge_flat, corners.charge_used, corners.room)]
        if self.missing or not all(point.known for point in points):
            return {}
        biased = ((part, [turned_on(part, point) for point in points])
                  for part in self.fragment.of_kind(Kind.TRANSISTOR) if present(part, state))
        return {part.name: any(on) for part, on in biased if None not in on}


def turned_on(part: Part, point: OperatingPoint) -> bool | None:
    """Whether a transistor's channel conducts at an operating point, in either direction.

    None where a pin's volts are not known. A bipolar one counts as on with a
    junction forward by more than 0.45 V, a MOSFET above 0.8 of its threshold
    (common practice, no source).
    """
    spec = part.spec
    assert isinstance(spec, TransistorSpec)
    control, ends = ("base", ("emitter", "collector")) if spec.bipolar else ("gate", ("source", "drain"))
    control_V = point.volts.get(part.pins[control])
    end_V = [point.volts.get(part.pins[end]) for end in ends]
    if control_V is None or None in end_V:
        return None
    sign = 1.0 if spec.polarity in ("npn", "n-channel") else -1.0
    limit_V = _ON_BASE_V if spec.bipolar else _ON_GATE * (spec.threshold_V or 0.0)
    return any(sign * (control_V - volts) > limit_V for volts in end_V if volts is not None)


def survey(fragment: Fragment) -> Survey:
    """Solve every state of a variant at every corner.

    Where the time allowed is short, half of it goes here: the states that it does not reach are untried.
    """
    states = enumerate_states(fragment)
    corners = Corners.of(fragment)
    no_engine = available()
    if not no_engine:
        fragment = _charged(fragment, states, corners)
    missing = no_engine or too_large(fragment)
    points: Mapping[tuple[str, str], OperatingPoint]
    every = states
    if missing:
        points = {(state.name, corner.name): OperatingPoint(problem=missing)
                  for state in states.states for corner in corners.everywhere}
    else:
        states, points = _points(fragment, states, corners)
    return Survey(fragment, states, corners, points, missing, no_engine is None, every.states[len(states.states):])


def _points(fragment: Fragment, states: StateSet, corners: Corners) -> tuple[StateSet, Points]:
    """The states that there is time for, at every corner, each section solved once for each way it can stand in."""
    own = sections(fragment, states.states)
    everywhere = tuple(map(same, corners.everywhere))
    rest = tuple(map(id, everywhere)), tuple(steady_A(fragment, corner) for corner in everywhere)
    found: dict[tuple[str, str, str], OperatingPoint] = {}
    fresh: list[tuple[str, Section, State]] = []
    for state in states.states:
        for name, section in _each(own):
            if section.standing[state.name] is not state:
                continue
            known = _known.get((section.made_of, section.views[state.name], rest))
            if known is None:
                fresh.append((name, section, state))
            else:
                found.update(_named(name, state, known))
    keys = [(section, state, corner) for _, section, state in fresh for corner in everywhere]
    with share(0.5):
        circuits = (circuit_of(section.fragment, state, corner, lasting_A=steady_A(fragment, corner))
                    for section, state, corner in in_time(keys))
        solved = solve(circuits, of=len(keys))
        reason = used_up()
    solved += [OperatingPoint(problem=reason)] * (len(keys) - len(solved))
    points = iter(solved)
    late: set[str] = set()
    for name, section, state in fresh:
        stood = _Stood(section, everywhere, tuple(islice(points, len(everywhere))))
        found.update(_named(name, state, stood))
        if all(point.known for point in stood.points):
            _known.put((section.made_of, section.views[state.name], rest), stood,
                       len(everywhere) * (len(section.fragment.parts) + 2))
        elif reason is not None and any(point.problem == reason for point in stood.points):
            late.add(state.name)
    if reason is not None:
        states = _before(states, [state for state in states.states
                                  if any(section.standing[state.name].name in late for _, section in _each(own))])
        own = sections(fragment, states.states)
    of = dict(_each(own))
    return states, Points(fragment, own, states.states, corners.everywhere, {
        (of[name], state, corner): point for (name, state, corner), point in found.items()})


class _Stood(Struct, frozen=True):
    """A section in one way of standing, at every corner; it is kept with what it is told apart by."""

    section: Section
    corners: tuple[Corner, ...]
    points: tuple[OperatingPoint, ...]


_known: Memory[tuple[object, object, object], _Stood] = Memory(400_000)


def _named(name: str, state: State, stood: _Stood) -> Iterable[tuple[tuple[str, str, str], OperatingPoint]]:
    return (((name, state.name, corner.name), point)
            for corner, point in zip(stood.corners, stood.points, strict=True))


def _each(own: Mapping[str, Section]) -> list[tuple[str, Section]]:
    """Each section once, under the name of one of its parts."""
    return list({section: (name, section) for name, section in own.items()}.values())


def _before(states: StateSet, late: Sequence[State]) -> StateSet:
    """The states before the first that was not solved in time, at least one; the rest are untried."""
    place = states.states.index(late[0]) if late else len(states.states)
    kept = states.states[:max(1, place)]
    return replace(states, states=kept, untried=states.untried + len(states.states) - len(kept))


_MOST_PARTS = 1_500
"""Parts that are still simulated in one piece; the graph has no such limit."""

def too_large(fragment: Fragment) -> str | None:
    """Why a fragment is not simulated, where it is too large for that."""
    count = sum(1 for _ in fragment.fitted)
    if count <= _MOST_PARTS:
        return None
    return (f"{count} parts hang together around the cells and loads, and more than {_MOST_PARTS} are not "
            "simulated in one piece")


SETTLED_A = 1e-6
"""Charge current at which a charger's end voltage is read: what a nearly full cell still takes."""


def settled(fragment: Fragment, state: State, corner: Corner, cell: Part, lasting_A: float | None = None) -> Circuit:
    """The circuit with next to no current into the cell's place: its volts there are those charging ends at."""
    draw = Draw(cell.name, cell.pins["plus"], cell.pins["minus"], SETTLED_A)
    return circuit_of(fragment, state, corner, without=(cell.name,), extra=(draw,), lasting_A=lasting_A)


def _charged(fragment: Fragment, states: StateSet, corners: Corners) -> Fragment:
    """The fragment with its supercapacitors at the volts that its own supplies charge them to, nominally."""
    parts = dict(fragment.parts)
    live = [state for state in states.states if state.live]
    for cell in fragment.of_kind(Kind.CELL):
        assert isinstance(cell.spec, CellSpec)
        if cell.spec.capacitance_F is None or cell.measured_V is not None or not live:
            continue
        points = solve([settled(fragment, state, corners.room, cell) for state in live])
        ends = [(point.volts.get(cell.pins["plus"]), point.volts.get(cell.pins["minus"])) for point in points]
        known = [plus - minus for plus, minus in ends if plus is not None and minus is not None]
        if known:
            full_V = min(max(0.0, max(known)), cell.spec.curve[0].volts_V)
            parts[cell.name] = replace(cell, measured_V=full_V)
    return fragment.with_parts(parts)
