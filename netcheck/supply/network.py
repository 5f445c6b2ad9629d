"""What sets the output of a regulator, found on the circuit itself: its resistors, its links, its loads."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

import networkx as nx
from msgspec import Struct
from msgspec.structs import replace

from netcheck.conduction.graph import Conduction
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.states import State, choices, joined_pins, movable
from netcheck.parts.specs import RegulatorSpec

RESISTIVE = (Kind.RESISTOR, Kind.TRIMMER)
COPPER = (Kind.INDUCTOR, Kind.FUSE, Kind.JUMPER, Kind.SWITCH, Kind.RELAY)


class Network(Struct, frozen=True):
    """A regulator with what sets its output.

    output: its net. setting: resistors and trimmers around its adjust or ground pin, in file order. links: what
    can be put in positions there, or on the way of its input and output. steering: those of the links that lie in
    the feedback network itself. loads: the loads that it feeds.
    """

    regulator: Part
    output: str
    setting: tuple[Part, ...]
    links: tuple[Part, ...]
    steering: tuple[Part, ...]
    loads: tuple[Part, ...]

    @property
    def spec(self) -> RegulatorSpec:
        assert isinstance(self.regulator.spec, RegulatorSpec)
        return self.regulator.spec

    @property
    def sign(self) -> float:
        """-1 where all volts count downwards from ground."""
        return -1.0 if self.spec.negative else 1.0


def network(fragment: Fragment, regulator: Part, conducting: Conduction) -> Network:
    """Find what sets a regulator's output; conducting: the graph of the state in which it works."""
    held = {fragment.ground, *fragment.rails}
    output = regulator.pins["output"]
    sides = {pin: regulator.pins[pin] for pin in ("input", "output") if pin in regulator.pins}
    joined = {net for net in _reached(fragment, sides.values(), held, _copper) if net not in held}
    controls = [regulator.pins[pin] for pin in ("adjust", "ground") if pin in regulator.pins]
    around = _reached(fragment, (net for net in controls if net not in held), held | joined, _passive)
    fed_back = _fed_back(fragment, regulator)
    setting = tuple(part for part in fragment.of_kind(*RESISTIVE)
                    if part.name in fed_back or around.intersection(part.nets))
    steering = tuple(part for part in movable(fragment) if part.name in fed_back)
    moved = tuple(part for part in movable(fragment)
                  if part in steering or (part.kind in RESISTIVE and part in setting)
                  or (joined | around).intersection(part.nets))
    fed = _downstream(conducting, output)
    loads = tuple(load for load in fragment.of_kind(Kind.LOAD) if fed.intersection(load.nets) - held)
    return Network(regulator, output, setting, moved, steering, loads)


_END = ""
"""The node of everything that holds its volts by itself; no net has an empty name."""


def _fed_back(fragment: Fragment, regulator: Part) -> set[str]:
    """The parts on any way, no net passed twice, from the adjust or ground pin to what holds its volts by itself.

    They share a block (biconnected component) of the graph with an edge from the pin straight to there. Where the
    regulator is in dropout they still decide what it asks for, though its output does not move.
    """
    ends = {fragment.ground, *fragment.rails}
    for one in fragment.of_kind(Kind.REGULATOR):
        ends |= {one.pins[pin] for pin in ("input", "output") if pin in one.pins}
    ends |= _reached(fragment, ends, set(), lambda part: part.kind in (Kind.INDUCTOR, Kind.FUSE))
    controls = {regulator.pins[pin] for pin in ("adjust", "ground") if pin in regulator.pins} - ends
    graph: nx.Graph[str] = nx.Graph()
    parts: dict[frozenset[str], set[str]] = {}
    for part in fragment.fitted:
        for pair in _joins(part):
            nets = frozenset(_END if part.pins[pin] in ends else part.pins[pin] for pin in pair)
            if len(nets) > 1:
                graph.add_edge(*nets)
                parts.setdefault(nets, set()).add(part.name)
    graph.add_edges_from((control, _END) for control in controls)
    return {name for block in nx.biconnected_component_edges(graph) if any({control, _END} in map(set, block)
            for control in controls) for edge in block for name in parts.get(frozenset(edge), ())}


def _joins(part: Part) -> Iterator[tuple[str, str]]:
    """The pairs of pins that a part lets current pass between, in any of its positions."""
    if part.kind is Kind.TRIMMER:
        yield from (("1", "wiper"), ("wiper", "2"))
    elif part.kind in (Kind.JUMPER, Kind.SWITCH, Kind.RELAY):
        for position in part.positions:
            yield from joined_pins(part, position)
    elif part.kind is Kind.DIODE:
        yield "anode", "cathode"
    elif part.kind in (Kind.RESISTOR, Kind.INDUCTOR, Kind.FUSE):
        yield "1", "2"


def _reached(
    fragment: Fragment, starts: Iterable[str], walls: set[str], through: Callable[[Part], bool]
) -> set[str]:
    """The nets reached from some through parts of a sort, walls never passed."""
    beside: dict[str, list[Part]] = {}
    for part in fragment.fitted:
        if through(part):
            for net in part.nets:
                beside.setdefault(net, []).append(part)
    seen = set(starts)
    front = [net for net in seen if net not in walls]
    while front:
        for part in beside.get(front.pop(), ()):
            for net in part.nets:
                if net not in seen:
                    seen.add(net)
                    if net not in walls:
                        front.append(net)
    return {net for net in seen if net not in walls}


def _copper(part: Part) -> bool:
    return part.kind in COPPER


def _passive(part: Part) -> bool:
    return part.kind in COPPER or part.kind in RESISTIVE or part.kind is Kind.DIODE


def _downstream(conducting: Conduction, output: str) -> set[str]:
    """The nets that current from the output can reach, other than through what holds its volts by itself."""
    seen, front = {output}, [output]
    while front:
        node = front.pop()
        for _, head, ways in conducting.graph.out_edges(node, data="failures"):
            if ways == 0 and isinstance(head, str) and head not in seen:
                seen.add(head)
                if head not in conducting.held:
                    front.append(head)
    return seen


def working(fragment: Fragment, states: Iterable[State]) -> State | None:
    """The state in which a supply does its work: every supply on, links as set, nothing extra plugged."""
    on = [state for state in states if all(state.supplies.values()) and not any(state.plugged.values())]
    as_set = [state for state in on if all(fragment.parts[name].position == position
                                           for name, position in state.positions.items())]
    return next(iter(as_set), on[0] if on else None)


def put(state: State, positions: dict[str, str]) -> State:
    """The state with some links put otherwise."""
    words = ", ".join(f"{name} {position}" for name, position in positions.items())
    return replace(state, name=words or state.name, positions={**state.positions, **positions})


def options(part: Part) -> tuple[str, ...]:
    """The positions that a link can be in, the one it is set to first."""
    return choices(part)
