"""What each part of a section is for, worked out from what flows through it and from what changes without it.

Nothing here looks at a designator. A part has a duty when the simulator shows it: it lies on the way of a current,
or something changes when it is open or short. A part of which neither is true does nothing that the section shows.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import networkx as nx
from msgspec import Struct, field

from netcheck.explain.effects import FELT_A, Effect, across, effects
from netcheck.explain.ways import Seen
from netcheck.fragment.kinds import MOVABLE, OHMIC, ROWS
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.states import State, joined_pins
from netcheck.parts.specs import CellSpec, DiodeSpec
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.corner import Fault
from netcheck.simulation.elements import Circuit, OperatingPoint
from netcheck.solving.asking import Asking, asked
from netcheck.solving.flows import DRIVEN_A, driven, parts_on, turned
from netcheck.solving.solved_states import Survey

ORDER = ("feeds", "backs-up", "charges", "blocks", "limits", "selects", "sets", "clamps", "pulls", "holds", "draws",
         "carries", "nothing")

_MOST_STATES = 8
_MOST_PARTS = 150
_PULL_A = 10e-6  # more than this is a load's current, not what an idle input takes
_SAME_V = 0.05
_SHARE = 0.01  # of a charge or a load's current: a part that carries less, beside a link, has no part in it
_ALIVE_V = 0.5  # below this no memory and no clock keeps anything (common practice, no source)
_FURTHER = 1.5  # a part limits a current that would at least grow by this factor without it


class Duty(Struct, frozen=True):
    """One thing that a part is for.

    duty: a word of `ORDER`. source, to: nets or parts between which it acts. states: in which this is seen. drop_V:
    volts lost in it there; amps: the current in question; if_short_A: the current that flows should it fail short;
    limit_V: where a clamp holds. others: parts that it acts together with (the one that would fail, the other
    feedback resistors). sets_it: it has most of the drop on its way. positions: of what is put in positions, what
    each of them joins, and the loads that have volts then with the supplies off.
    """

    duty: str
    source: str | None = None
    to: str | None = None
    states: tuple[str, ...] = ()
    drop_V: float | None = None
    amps: float | None = None
    if_short_A: float | None = None
    limit_V: float | None = None
    others: tuple[str, ...] = ()
    sets_it: bool = False
    positions: Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]] = field(default_factory=dict)


class PartDuties(Struct, frozen=True):
    """The duties of one part, the telling one first, and the strongest effect of its loss: (state, effect), or None."""

    duties: tuple[Duty, ...]
    if_open: tuple[str, Effect] | None = None
    if_short: tuple[str, Effect] | None = None

    def to_list(self) -> list[dict[str, Any]]:
        """As the report's JSON has them."""
        return [{
            "duty": one.duty, "from": one.source, "to": one.to, "states": list(one.states), "drop_V": one.drop_V,
            "amps_A": one.amps, "if_short_A": one.if_short_A, "limit_V": one.limit_V, "with": list(one.others),
            "if_open": _told(self.if_open), "if_short": _told(self.if_short),
        } for one in self.duties]


def _told(found: tuple[str, Effect] | None) -> dict[str, Any] | None:
    if found is None:
        return None
    state, effect = found
    return {"state": state, "what": effect.what, "name": effect.name, "before": effect.before, "after": effect.after}


def duties(found: Survey, roles: Mapping[str, str] | None = None) -> Asking[dict[str, PartDuties]]:
    """The duties of every fitted part, in the order of the current's way.

    roles: of capacitors, as the capacitors' section found them. Nothing where there is no simulator or the
    section is larger than can be tried part by part.
    """
    fragment = found.fragment
    parts = list(fragment.fitted)
    if found.missing or len(parts) > _MOST_PARTS:
        yield from asked({})
        return {}
    states = _shown(found)
    base = {state.name: found.at(state, found.corners.room) for state in states}
    points = yield from asked(_failed(found, parts, states))
    seen = Seen(found, states, base, points)
    pairs = dict(_together(seen, parts))
    doubled = yield from asked({
        (part, other, state.name): circuit_of(fragment, state, found.corners.room, faults=(
            _short(fragment.parts[part]), _short(fragment.parts[other])))
        for (part, other), state in pairs.items()})
    told = {part.name: _of(seen, part, doubled, roles or {}) for part in parts}
    return {name: told[name] for name in _in_order(seen, told)}


def _shown(found: Survey) -> list[State]:
    """The named states, else those in which everything stands as set; the first few of them."""
    named = {state.name for state in found.fragment.states}
    chosen = [state for state in found.states.states if state.name in named]
    return (chosen or [state for state in found.states.states if found.as_set(state)])[:_MOST_STATES]


def _short(part: Part) -> Fault:
    """The part with its main way short."""
    one, other, *_ = part.pins
    return Fault(part.name, "short", next((pair for pair in _MAIN_WAYS if set(pair) <= set(part.pins)), (one, other)))


_MAIN_WAYS = (("1", "2"), ("anode", "cathode"), ("collector", "emitter"), ("drain", "source"), ("input", "output"),
              ("plus", "minus"), ("common", "work"))


def _can_short(part: Part) -> bool:
    return bool(ROWS[part.kind].shorts) and len(set(part.nets)) > 1 and part.kind is not Kind.LOAD


def _failed(found: Survey, parts: Sequence[Part], states: Sequence[State]) -> dict[tuple[str, str, str], Circuit]:
    """Each part open, and each short, in every state that is shown."""
    fragment, room = found.fragment, found.corners.room
    wanted = {}
    for state in states:
        for part in parts:
            wanted[part.name, "open", state.name] = circuit_of(fragment, state, room, without=(part.name,))
            if _can_short(part):
                wanted[part.name, "short", state.name] = circuit_of(fragment, state, room, faults=(_short(part),))
    return wanted


def _of(
    seen: Seen, part: Part, doubled: Mapping[Any, OperatingPoint], roles: Mapping[str, str]
) -> PartDuties:
    open_, short = _strongest(seen, part, "open"), _strongest(seen, part, "short")
    found = [
        *_merged(_on_the_way(seen, part)),
        *_blocks(seen, part),
        *_limits(seen, part, doubled),
        *_selects(seen, part),
        *_sets(seen.fragment, part),
        *_clamps(part),
        *_pulls(seen, part),
        *_holds(part, roles),
        *_draws(seen, part),
    ]
    if not found and (open_ or short):
        found = [_carries(seen, part, open_ or short)]
    return PartDuties(tuple(found) or (Duty("nothing"),), open_, short)


def _strongest(seen: Seen, part: Part, how: str) -> tuple[str, Effect] | None:
    best: tuple[str, Effect] | None = None
    for state in seen.states:
        after = seen.failed.get((part.name, how, state.name))
        own = set(part.nets) - _shared(seen.fragment, part)
        for effect in effects(seen.fragment, seen.base[state.name], after) if after is not None else ():
            if effect.name == part.name or (effect.what == "net" and effect.name in own):
                continue
            if best is None or _weight(effect) > _weight(best[1]):
                best = state.name, effect
    return best


def _shared(fragment: Fragment, part: Part) -> set[str]:
    """The nets of a part that another part, a rail or ground stands on as well."""
    others = {net for one in fragment.fitted if one.name != part.name for net in one.nets}
    return {net for net in part.nets if net in others or net in fragment.rails or net == fragment.ground}


def _weight(effect: Effect) -> tuple[int, float]:
    return ("net", "rail", "load", "cell").index(effect.what), effect.size


def _on_the_way(seen: Seen, part: Part) -> Iterator[Duty]:
    """Feeds, backs up and charges: the part carries current from a source to where it is wanted (or not)."""
    fragment = seen.fragment
    for state in seen.states:
        point, ways = seen.base[state.name], seen.ways(state)
        if not point.known:
            continue
        for load in fragment.of_kind(Kind.LOAD):
            drawn = point.amps.get(load.name, 0.0)
            alive = drawn > DRIVEN_A and (across(point, load.pins) or 0.0) >= _ALIVE_V
            if not alive or abs(point.amps.get(part.name, drawn)) < _SHARE * drawn:
                continue
            for net in fragment.rails:
                edge = ways.between(net, load.pins["plus"]).get(part.name)
                if edge and point.amps.get(net, 0.0) > DRIVEN_A:
                    yield Duty("feeds", net, load.name, (state.name,), drop_V=_drop(point, edge))
            for cell in fragment.of_kind(Kind.CELL):
                if point.amps.get(cell.name, 0.0) <= DRIVEN_A:
                    continue
                there = ways.between(cell.pins["plus"], load.pins["plus"])
                back = ways.between(load.pins["minus"], cell.pins["minus"])
                if edge := there.get(part.name) or back.get(part.name):
                    yield Duty("backs-up", cell.name, load.name, (state.name,), drop_V=_drop(point, edge))
                elif part.name == cell.name and ways.reach(cell.pins["plus"], load.pins["plus"]):
                    yield Duty("backs-up", cell.name, load.name, (state.name,), amps=point.amps[cell.name])
        for cell in fragment.of_kind(Kind.CELL):
            yield from _charges(seen, part, state, cell)


def _charges(seen: Seen, part: Part, state: State, cell: Part) -> Iterator[Duty]:
    point, amps = seen.base[state.name], seen.into(seen.base[state.name], cell)
    if amps <= FELT_A:
        return
    circuit = seen.circuit(state)
    way = driven(circuit, point, cell.name, cell.pins["plus"], cell.pins["minus"])
    if way is None:
        return
    way = turned(way, circuit)
    on = parts_on(seen.fragment, way.elements)
    source = way.elements[0]
    ways = seen.ways(state)
    beside = {**ways.between(way.nets[0], cell.pins["plus"]), **ways.between(cell.pins["minus"], way.nets[-1])}
    if part.name not in on[on.index(source) + 1 if source in on else 0:] and part.name not in beside:
        return
    if abs(point.amps.get(part.name, amps)) < _SHARE * amps:  # beside a link that carries all of it
        return
    drops = {name: abs(_drop(point, edge) or 0.0) for name, edge in beside.items()}
    drop = drops.get(part.name)
    yield Duty("charges", source, cell.name, (state.name,), drop_V=drop, amps=amps,
               sets_it=drop is not None and drop > 0 and drop >= max(drops.values()))


def _drop(point: OperatingPoint, edge: tuple[str, str]) -> float | None:
    tail, head = (point.volts.get(net) for net in edge)
    return None if tail is None or head is None else tail - head


def _merged(found: Iterable[Duty]) -> list[Duty]:
    """The same duty of several states as one, with the largest figures."""
    together: dict[tuple[str, str | None, str | None], Duty] = {}
    for one in found:
        key = (one.duty, one.source, one.to)
        before = together.get(key)
        if before is None:
            together[key] = one
        else:
            larger = max(before, one, key=lambda duty: duty.amps or abs(duty.drop_V or 0.0))
            together[key] = Duty(one.duty, one.source, one.to, (*before.states, *one.states), larger.drop_V,
                                 larger.amps, sets_it=before.sets_it or one.sets_it)
    return sorted(together.values(), key=lambda duty: ORDER.index(duty.duty))


def _blocks(seen: Seen, part: Part) -> Iterator[Duty]:
    """Little flows through it, and much would, were it short: what it keeps out of what."""
    if part.kind is Kind.CAPACITOR:  # every capacitor blocks direct current: what it holds is what it is for
        return
    told: dict[tuple[str, str], Duty] = {}
    for state in seen.states:
        after = seen.failed.get((part.name, "short", state.name))
        before = seen.base[state.name]
        if after is None or not after.known or part.name in seen.ways(state).parts:
            continue
        for source, to, amps in _driven_anew(seen, part, state, before, after):
            same = told.get((source, to))
            states = (*same.states, state.name) if same else (state.name,)
            told[source, to] = Duty("blocks", source, to, states,
                                    if_short_A=max(amps, same.if_short_A or 0.0 if same else 0.0))
    yield from told.values()


def _driven_anew(
    seen: Seen, part: Part, state: State, before: OperatingPoint, after: OperatingPoint
) -> Iterator[tuple[str, str, float]]:
    """What pushes current into what once the part is short: (source, taker, amps)."""
    fragment = seen.fragment
    circuit = seen.circuit(state, _short(part))
    for cell in fragment.of_kind(Kind.CELL):
        into = seen.into(after, cell)
        if into > seen.into(before, cell) + FELT_A:
            way = driven(circuit, after, cell.name, cell.pins["plus"], cell.pins["minus"])
            if way is not None:
                yield turned(way, circuit).elements[0], cell.name, into
    sources = [cell.name for cell in fragment.of_kind(Kind.CELL)] + list(fragment.rails)
    giving = [name for name in sources
              if after.amps.get(name, 0.0) > max(before.amps.get(name, 0.0), 0.0) + FELT_A]
    taking = [net for net in fragment.rails if after.amps.get(net, 0.0) < min(before.amps.get(net, 0.0), 0.0) - FELT_A]
    for source in giving:
        takers = [net for net in taking if net != source]
        if takers:
            taker = min(takers, key=lambda net: after.amps[net])
            yield source, taker, min(after.amps[source], -after.amps[taker])
        elif fragment.ground in part.nets:
            yield source, fragment.ground, after.amps[source] - max(before.amps.get(source, 0.0), 0.0)


def _together(seen: Seen, parts: Sequence[Part]) -> Iterator[tuple[tuple[str, str], State]]:
    """Pairs (a resistance, another part) whose failing together is worth a look: the other's failing alone charges
    a cell or drives a current through the resistance."""
    for other in parts:
        for state in seen.states:
            after = seen.failed.get((other.name, "short", state.name))
            if after is None or not after.known:
                continue
            worse = [cell for cell in seen.fragment.of_kind(Kind.CELL)
                     if seen.into(after, cell) > seen.into(seen.base[state.name], cell) + FELT_A]
            if not worse:
                continue
            for part in parts:
                if part.kind is Kind.RESISTOR and part.name != other.name and \
                        abs(after.amps.get(part.name, 0.0)) > FELT_A:
                    yield (part.name, other.name), state


def _limits(seen: Seen, part: Part, doubled: Mapping[Any, OperatingPoint]) -> Iterator[Duty]:
    best: Duty | None = None
    for (name, other, state), point in doubled.items():
        if name != part.name or not point.known:
            continue
        alone = seen.failed[other, "short", state]
        for cell in seen.fragment.of_kind(Kind.CELL):
            assert isinstance(cell.spec, CellSpec)
            small, large = seen.into(alone, cell), seen.into(point, cell)
            limit = cell.spec.abnormal_charge_A
            if large > _FURTHER * small and (limit is None or large > limit) and small > FELT_A and (
                    best is None or large > (best.if_short_A or 0.0)):
                best = Duty("limits", None, cell.name, (state,), amps=small, if_short_A=large, others=(other,))
    if best is not None:
        yield best


def _selects(seen: Seen, part: Part) -> Iterator[Duty]:
    if part.kind not in MOVABLE or part.kind is Kind.TRIMMER:
        return
    positions: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {}
    for state in seen.found.states.states:
        position = state.positions.get(part.name)
        if position is None or state.live or any(
                state.positions[name] != seen.fragment.parts[name].position
                for name in state.positions if name != part.name):
            continue
        point = seen.found.at(state, seen.found.corners.room)
        alive = tuple(load.name for load in seen.fragment.of_kind(Kind.LOAD)
                      if point.known and point.amps.get(load.name, 0.0) > DRIVEN_A)
        nets = tuple(dict.fromkeys(part.pins[pin] for pair in joined_pins(part, position) for pin in pair))
        if position not in positions or len(alive) > len(positions[position][1]):
            positions[position] = nets, alive
    if positions:
        yield Duty("selects", positions=positions)


def _sets(fragment: Fragment, part: Part) -> Iterator[Duty]:
    """In the feedback of a regulator: reached from its adjust pin through resistances, short of what is held."""
    if part.kind not in (*OHMIC, *MOVABLE):
        return
    for regulator in fragment.of_kind(Kind.REGULATOR):
        if "adjust" not in regulator.pins:
            continue
        stops = {regulator.pins["output"], fragment.ground, *fragment.rails}
        network = _reached(fragment, regulator.pins["adjust"], stops)
        if part.name in network:
            yield Duty("sets", None, regulator.pins["output"], others=tuple(n for n in network if n != part.name))


def _reached(fragment: Fragment, start: str, stops: set[str]) -> list[str]:
    seen, waiting, found = {start}, [start], []
    while waiting:
        net = waiting.pop()
        for part in fragment.of_kind(*OHMIC):
            if net in part.nets and part.name not in found:
                found.append(part.name)
                for other in part.nets:
                    if other not in seen and other not in stops:
                        seen.add(other)
                        waiting.append(other)
    return found


def _clamps(part: Part) -> Iterator[Duty]:
    if isinstance(part.spec, DiodeSpec) and part.spec.zener_V is not None:
        yield Duty("clamps", part.pins["anode"], part.pins["cathode"], limit_V=part.spec.zener_V.value)


def _pulls(seen: Seen, part: Part) -> Iterator[Duty]:
    """One resistor between a signal and a held net: without it the signal floats."""
    if part.kind is not Kind.RESISTOR:
        return
    fragment = seen.fragment
    for signal, held in (part.nets, part.nets[::-1]):
        if held not in (*fragment.rails, fragment.ground) or signal in (*fragment.rails, fragment.ground):
            continue
        states = []
        for state in seen.states:
            point, without = seen.base[state.name], seen.failed[part.name, "open", state.name]
            signal_V, held_V = point.volts.get(signal), point.volts.get(held)
            if signal_V is not None and held_V is not None and abs(signal_V - held_V) < _SAME_V and \
                    without.known and without.volts.get(signal) is None and \
                    abs(point.amps.get(part.name, 0.0)) < _PULL_A:
                states.append(state.name)
        if states:
            yield Duty("pulls", held, signal, tuple(states))


def _holds(part: Part, roles: Mapping[str, str]) -> Iterator[Duty]:
    if part.kind is Kind.CAPACITOR:
        yield Duty("holds", part.nets[0], part.nets[1], others=(roles[part.name],) if part.name in roles else ())


def _draws(seen: Seen, part: Part) -> Iterator[Duty]:
    if part.kind is not Kind.LOAD:
        return
    drawn = {state.name: seen.base[state.name].amps.get(part.name, 0.0) for state in seen.states}
    states = tuple(name for name, amps in drawn.items() if amps > DRIVEN_A)
    if states:
        yield Duty("draws", part.pins["plus"], None, states, amps=max(drawn.values()))


def _carries(seen: Seen, part: Part, felt: tuple[str, Effect] | None) -> Duty:
    """Something changes without it, and no other word fits: what passes through it, and where that is felt."""
    assert felt is not None
    state, effect = felt
    amps = abs(seen.base[state].amps.get(part.name, 0.0))
    return Duty("carries", part.nets[0], effect.name, (state,), amps=amps)


def _in_order(seen: Seen, told: Mapping[str, PartDuties]) -> list[str]:
    """In the order of the current's way from the rails, then from the cells; what carries none last."""
    starts = [*seen.fragment.rails, *(cell.pins["plus"] for cell in seen.fragment.of_kind(Kind.CELL))]
    place: dict[str, tuple[int, int]] = {}
    for state in seen.states:
        ways = seen.ways(state)
        for number, start in enumerate(starts):
            if start not in ways.graph:
                continue
            steps = nx.single_source_shortest_path_length(ways.graph, start)
            for name, edges in ways.parts.items():
                far = min((steps[tail] for tail, _ in edges if tail in steps), default=None)
                if far is not None:
                    place[name] = min(place.get(name, (number, far)), (number, far))
    last = (len(starts), 0)
    return sorted(told, key=lambda name: (told[name].duties[0].duty == "nothing", place.get(name, last)))

