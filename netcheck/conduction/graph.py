"""Where direct current can go, as a directed graph of nets.

An edge is one way through one part. It costs nothing where the part conducts
as it is, and one failure where the part would first have to fail short.
Capacitors never conduct; a short capacitor does.

A net held by a live rail, by a dead rail near 0 V or by ground keeps its
potential whatever flows into it, so no route leads through it: such a net
stands twice in the graph, once to flow out of (`Outlet`) and once to flow into.
"""

from __future__ import annotations

import gc
import math
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from typing import Any, NamedTuple

import networkx as nx
from msgspec import Struct, field
from typing_extensions import assert_never

from netcheck.fragment.kinds import COIL, OHMIC
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.paths import is_open, may_fail
from netcheck.fragment.states import State, joined_pins
from netcheck.parts.cell import volts
from netcheck.parts.diode import breakdown
from netcheck.parts.specs import CellSpec, DiodeSpec, RegulatorSpec, TransistorSpec

CONDUCTS, SHORT = 0, 1


class Way(NamedTuple):
    """A way for current through a part, with the failures it takes (0 or 1) and the volts that breakdown takes."""

    part: str
    tail: str
    head: str
    failures: int
    volts_V: float = 0.0


class Outlet(NamedTuple):
    """The side of a held net that current flows out of."""

    net: str


Node = str | Outlet


class Held(Struct, frozen=True):
    """A net of fixed potential, in volts, with the tolerance of what holds it."""

    net: str
    low_V: float
    high_V: float
    live: bool

    @property
    def middle_V(self) -> float:
        return (self.low_V + self.high_V) / 2


class Conduction(Struct, frozen=True):
    """The graph of one state, its held nets, and the transistors' channels that were known, on or off."""

    graph: nx.MultiDiGraph[Any]
    held: Mapping[str, Held]
    state: State
    channels: Mapping[str, bool] = field(default_factory=dict)

    def start(self, net: str) -> Node:
        """The node from which current leaves this net."""
        return Outlet(net) if net in self.held else net


def held_nets(fragment: Fragment, state: State) -> dict[str, Held]:
    """Ground, the live rails, and the dead rails that the rest of the board holds near 0 V."""
    held = {fragment.ground: Held(fragment.ground, 0.0, 0.0, False)}
    for rail in fragment.rails.values():
        if state.supplies[rail.supply]:
            held[rail.net] = Held(rail.net, rail.volts.low, rail.volts.high, True)
        elif rail.when_off == "low" and rail.net != fragment.ground:
            held[rail.net] = Held(rail.net, 0.0, 0.0, False)
    return held


def present(part: Part, state: State) -> bool:
    """Whether the part is on the board in this state (fitted, and plugged where that may change)."""
    there = state.plugged.get(part.name, True) if part.plugged is None else part.plugged
    return part.fitted and there


def conduction(
    fragment: Fragment,
    state: State,
    channels: Mapping[str, bool] | None = None,
    without: Collection[str] = (),
) -> Conduction:
    """The conduction graph of a fragment in one state.

    channels: for transistors whose bias is known, whether they are turned on;
    one that is not listed is taken as on, since that is the worse case, unless
    its control pin is plainly held off. without: parts left out.
    """
    held = held_nets(fragment, state)
    graph: nx.MultiDiGraph[Any] = nx.MultiDiGraph()
    graph.add_nodes_from(fragment.nets)
    graph.add_nodes_from(Outlet(net) for net in held)
    known = {**plainly_off(fragment, state, held), **(channels or {})}
    available_V = _available(fragment, state, held)
    with _collector_off():
        easiest: dict[tuple[Node, str, str], tuple[int, float]] = {}
        for part in fragment.parts.values():
            if part.name in without or not present(part, state):
                continue
            on = known.get(part.name)
            through = (*ways(part, state, fragment.ground, on, available_V), *_through_chip(part, fragment, state))
            for name, tail, head, failures, volts_V in through:
                if tail != head:
                    way = (Outlet(tail) if tail in held else tail, head, name)
                    easiest[way] = min((failures, volts_V), easiest.get(way, (SHORT, 0.0)))
        graph.add_edges_from((*way, {"failures": failures, "volts_V": volts_V})
                             for way, (failures, volts_V) in easiest.items())
    return Conduction(graph, held, state, known)


@contextmanager
def _collector_off() -> Iterator[None]:
    """No garbage collection meanwhile: its passes over the many new objects would grow faster than the graph."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def ways(
    part: Part, state: State, ground: str, on: bool | None = None, available_V: float = math.inf
) -> Iterator[Way]:
    """Every way through a part.

    on: whether a transistor's channel is on (None: not known, so taken as on).
    available_V: the most volts that could stand across the part, which tells
    whether a zener can break down.
    """
    pins, name = part.pins, part.name
    match part.kind:
        case Kind.RESISTOR | Kind.INDUCTOR | Kind.FUSE:
            yield from _both(name, pins["1"], pins["2"], CONDUCTS)
        case Kind.TRIMMER:
            yield from _both(name, pins["1"], pins["wiper"], CONDUCTS)
            yield from _both(name, pins["wiper"], pins["2"], CONDUCTS)
        case Kind.JUMPER | Kind.SWITCH:
            for one, other in joined_pins(part, state.positions[name]):
                yield from _both(name, pins[one], pins[other], CONDUCTS)
        case Kind.RELAY:
            one, other = (pins[pin] for pin in COIL)
            yield from _both(name, one, other, CONDUCTS)
            joined = joined_pins(part, state.positions[name])
            for contact in ("rest", "work"):
                if contact in pins:  # the one that is open may have welded
                    touches = ("common", contact) in joined
                    yield from _both(name, pins["common"], pins[contact], CONDUCTS if touches else SHORT)
        case Kind.DIODE:
            breakdown_V = _breakdown_V(part.spec)
            yield Way(name, pins["anode"], pins["cathode"], CONDUCTS)
            if breakdown_V < available_V:
                yield Way(name, pins["cathode"], pins["anode"], CONDUCTS, breakdown_V)
            else:
                yield Way(name, pins["cathode"], pins["anode"], SHORT)
        case Kind.CAPACITOR:
            first, second = part.nets
            yield from _both(name, first, second, SHORT)
        case Kind.CELL:
            yield from _both(name, pins["minus"], pins["plus"], CONDUCTS)
        case Kind.LOAD:
            yield Way(name, pins["plus"], pins["minus"], CONDUCTS)
            yield Way(name, pins["minus"], pins["plus"], SHORT)
        case Kind.REGULATOR:
            yield from _through_regulator(part)
        case Kind.TRANSISTOR:
            yield from _through_transistor(part, on)
        case Kind.CHIP:
            yield from _through_clamps(part, ground)
        case Kind.CONNECTOR:
            pass  # what is plugged into it is a part of its own
        case _:
            assert_never(part.kind)


def _through_clamps(part: Part, ground: str) -> Iterator[Way]:
    if part.clamp is None:
        return
    for net in part.clamp.inputs:
        yield Way(part.name, net, part.clamp.to, CONDUCTS)
        yield Way(part.name, part.clamp.to, net, SHORT)
        yield Way(part.name, ground, net, CONDUCTS)
        yield Way(part.name, net, ground, SHORT)


def _through_chip(part: Part, fragment: Fragment, state: State) -> Iterator[Way]:
    """The stated ways through a chip; one that is not open in this state takes the chip's failure."""
    for path in part.paths:
        start, end = part.pins[path.start], part.pins[path.end]
        opened = is_open(path, fragment, state)
        if not opened and not may_fail(part, path):
            continue
        cost = CONDUCTS if opened else SHORT
        yield Way(part.name, start, end, cost)
        yield Way(part.name, end, start, cost if path.by == "switch" and not path.diodes else SHORT)


def _both(part: str, a: str, b: str, failures: int) -> Iterator[Way]:
    yield Way(part, a, b, failures)
    yield Way(part, b, a, failures)


def _through_regulator(part: Part) -> Iterator[Way]:
    """Input to output, and back unless that is published to be blocked; a shunt from its cathode to its anode."""
    spec, pins = part.spec, part.pins
    if isinstance(spec, RegulatorSpec) and spec.between == "shunt":
        yield Way(part.name, pins["output"], pins["ground"], CONDUCTS)
        yield Way(part.name, pins["ground"], pins["output"], CONDUCTS)
        return
    blocked = isinstance(spec, RegulatorSpec) and spec.back == "blocked"
    ends = pins["input"], pins["output"]
    source, output = reversed(ends) if isinstance(spec, RegulatorSpec) and spec.negative else ends
    yield Way(part.name, source, output, CONDUCTS)
    yield Way(part.name, output, source, SHORT if blocked else CONDUCTS)


def _breakdown_V(spec: object) -> float:
    volts = breakdown(spec, "maximum") if isinstance(spec, DiodeSpec) else None
    return math.inf if volts is None else volts


def _available(fragment: Fragment, state: State, held: Mapping[str, Held]) -> float:
    """The most volts that two nets of this state can differ by: the span of the held ones plus every cell."""
    cells = sum(_fresh_V(p) for p in fragment.of_kind(Kind.CELL) if present(p, state))
    return max(h.high_V for h in held.values()) - min(h.low_V for h in held.values()) + cells


def _fresh_V(part: Part) -> float:
    assert isinstance(part.spec, CellSpec)
    return volts(part.spec, 0.0, part.measured_V)


def _through_transistor(part: Part, on: bool | None) -> Iterator[Way]:
    spec = part.spec
    assert isinstance(spec, TransistorSpec)
    name, pins = part.name, part.pins
    channel = SHORT if on is False else CONDUCTS
    if spec.bipolar:
        collector, base, emitter = pins["collector"], pins["base"], pins["emitter"]
        yield from _both(name, collector, emitter, channel)
        for end in (collector, emitter):
            forward, backward = ((base, end), (end, base)) if spec.polarity == "npn" else ((end, base), (base, end))
            yield Way(name, *forward, CONDUCTS)
            yield Way(name, *backward, SHORT)
        return
    drain, gate, source = pins["drain"], pins["gate"], pins["source"]
    anode, cathode = (source, drain) if spec.polarity == "n-channel" else (drain, source)
    yield Way(name, anode, cathode, CONDUCTS)  # the body diode
    yield Way(name, cathode, anode, channel)
    for end in (drain, source):
        yield from _both(name, gate, end, SHORT)


def plainly_off(fragment: Fragment, state: State, held: Mapping[str, Held]) -> dict[str, bool]:
    """Transistors whose control pin is tied, through resistors alone, to the potential that turns them off.

    That is the lowest potential of the state for NPN and N-channel, the
    highest for PNP and P-channel. Others are left out: their bias is not plain.
    """
    transistors = [p for p in fragment.of_kind(Kind.TRANSISTOR) if present(p, state)]
    if not transistors:
        return {}
    ties: nx.Graph[str] = nx.Graph()
    for part in fragment.of_kind(*OHMIC):
        for _, tail, head, failures, _ in ways(part, state, fragment.ground):
            if failures == CONDUCTS and (tail not in held or head not in held):
                ties.add_edge(tail, head)
    highest = max([h.low_V for h in held.values()] + [_cell_top(fragment, state)])
    lowest = min(h.high_V for h in held.values())
    off: dict[str, bool] = {}
    for part in transistors:
        spec = part.spec
        assert isinstance(spec, TransistorSpec)
        control = part.pins["base" if spec.bipolar else "gate"]
        anchors = _anchors(ties, control, held)
        if not anchors:
            continue
        if spec.polarity in ("npn", "n-channel"):
            is_off = all(held[net].high_V <= lowest for net in anchors)
        else:
            is_off = all(held[net].low_V >= highest for net in anchors)
        if is_off:
            off[part.name] = False
    return off


def _cell_top(fragment: Fragment, state: State) -> float:
    """The highest open-circuit volts of a cell on the board: what a gate must reach to be plainly high."""
    return max((_fresh_V(p) for p in fragment.of_kind(Kind.CELL) if present(p, state)), default=0.0)


def _anchors(ties: nx.Graph[str], net: str, held: Mapping[str, Held]) -> set[str]:
    """Held nets reached from `net` without passing through another held net."""
    if net in held:
        return {net}
    seen, stack, found = {net}, [net], set()
    while stack:
        node = stack.pop()
        for neighbour in ties[node] if ties.has_node(node) else ():
            if neighbour in held:
                found.add(neighbour)
            elif neighbour not in seen:
                seen.add(neighbour)
                stack.append(neighbour)
    return found
