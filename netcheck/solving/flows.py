"""The currents of one operating point as a network of flows between nets, and the way into a cell through it.

The simulator decides whether a cell is charged; this says which way. What leaks back through a part that blocks
is told apart from what is driven through parts that conduct, a zener in breakdown among them.
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from netcheck.fragment.model import Fragment
from netcheck.parts.catalogue import cell_rules
from netcheck.simulation import models
from netcheck.simulation.elements import (
    Battery,
    Bipolar,
    Capacitance,
    Circuit,
    Draw,
    Element,
    FieldEffect,
    Junction,
    OperatingPoint,
    Regulation,
    Resistance,
    Source,
)

DRIVEN_A = 1e-9
"""What flows all the way through conducting parts below this is the solver's own resolution."""


class Flow(Struct, frozen=True):
    """Current [A] from one net to another through one element; leaking where the element blocks that way."""

    element: str
    tail: str
    head: str
    amps: float
    leaking: bool = False


def flows(circuit: Circuit, point: OperatingPoint) -> list[Flow]:
    """Every current of a solved circuit, in its own direction; none where the point is not known."""
    if not point.known:
        return []
    return [flow for element in circuit.elements for flow in _of(element, circuit.temperature_C, point)
            if flow.amps > 0]


def _of(element: Element, temperature_C: float, point: OperatingPoint) -> Iterator[Flow]:
    amps = point.amps.get(element.name, 0.0)
    match element:
        case Capacitance():
            return
        case Resistance():
            yield _signed(element.name, element.a, element.b, amps)
        case Source() | Battery():
            yield _signed(element.name, element.minus, element.plus, amps)
        case Draw():
            blocks = element.name.endswith((".off", ".leak", ".leak.back"))
            yield _signed(element.name, element.plus, element.minus, amps, leaking=blocks)
        case Junction():
            yield from _junction(element, temperature_C, amps, point)
        case Bipolar():
            yield from _bipolar(element, temperature_C, point)
        case FieldEffect():
            yield _signed(element.name, element.drain, element.source, amps)
        case Regulation():
            yield _signed(element.name, element.input, element.output, amps)


def _signed(name: str, a: str, b: str, amps: float, leaking: bool = False) -> Flow:
    return Flow(name, a, b, amps, leaking) if amps >= 0 else Flow(name, b, a, -amps, leaking)


def _junction(element: Junction, temperature_C: float, amps: float, point: OperatingPoint) -> Iterator[Flow]:
    """Forward current; backwards the published leakage, and beyond it the breakdown that drives current.

    What a zener passes before its knee is leakage while it is less than what makers allow to leak into a cell.
    """
    if amps >= 0:
        yield Flow(element.name, element.anode, element.cathode, amps)
        return
    anode_V, cathode_V = point.volts.get(element.anode), point.volts.get(element.cathode)
    reverse_V = 0.0 if anode_V is None or cathode_V is None else cathode_V - anode_V
    blocking = replace(element, knees=()) if element.knees else element
    leaks = min(-amps, element.saturation_A + models.leakage_A(blocking, reverse_V, temperature_C))
    if element.knees and -amps < cell_rules().leak_limit_A:
        leaks = -amps
    yield Flow(element.name, element.cathode, element.anode, leaks, leaking=True)
    if -amps - leaks > 0.01 * leaks:
        yield Flow(element.name, element.cathode, element.anode, -amps - leaks)


def _bipolar(element: Bipolar, temperature_C: float, point: OperatingPoint) -> Iterator[Flow]:
    """Transport current between collector and emitter, and what each junction takes through the base."""
    volts = [point.volts.get(net) for net in (element.collector, element.base, element.emitter)]
    if None in volts:
        return
    collector_V, base_V, emitter_V = (value for value in volts if value is not None)
    sign = 1.0 if element.npn else -1.0
    transport, by_emitter, by_collector = models.bipolar_A(
        element, sign * (base_V - emitter_V), sign * (base_V - collector_V), temperature_C)
    yield _signed(element.name, element.collector, element.emitter, sign * transport)
    yield _signed(element.name, element.base, element.emitter, sign * by_emitter)
    yield _signed(element.name, element.base, element.collector, sign * by_collector)


class Way(Struct, frozen=True):
    """The widest way through conducting elements: elements in turn, the nets they join, and the least current on it."""

    elements: tuple[str, ...]
    nets: tuple[str, ...]
    amps: float


def widest(found: Iterable[Flow], start: str, end: str, without: Collection[str] = ()) -> Way | None:
    """The way from one net to another whose least current is largest; leaking flows are no way. None: none leads."""
    out: dict[str, list[Flow]] = defaultdict(list)
    for flow in found:
        if not flow.leaking and flow.element not in without:
            out[flow.tail].append(flow)
    widths = {start: float("inf")}
    came: dict[str, Flow] = {}
    waiting = [(-widths[start], start)]
    while waiting:
        width, net = heapq.heappop(waiting)
        if net == end:
            return _traced(came, start, end, -width)
        if -width < widths[net]:
            continue
        for flow in out[net]:
            wide = min(-width, flow.amps)
            if wide > widths.get(flow.head, 0.0):
                widths[flow.head], came[flow.head] = wide, flow
                heapq.heappush(waiting, (-wide, flow.head))
    return None


def _traced(came: dict[str, Flow], start: str, end: str, width: float) -> Way:
    steps: list[Flow] = []
    net = end
    while net != start:
        steps.append(came[net])
        net = came[net].tail
    steps.reverse()
    return Way(tuple(step.element for step in steps), (start, *(step.head for step in steps)), width)


def driven(circuit: Circuit, point: OperatingPoint, cell: str, plus: str, minus: str) -> Way | None:
    """The widest way that current takes from a cell's minus round into its plus; None where it is not driven."""
    if not point.known or -point.amps.get(cell, 0.0) <= DRIVEN_A:
        return None
    way = widest(flows(circuit, point), minus, plus, (cell,))
    return way if way is not None and way.amps > DRIVEN_A else None


def turned(way: Way, circuit: Circuit) -> Way:
    """The way begun behind what pushes hardest on it (a rail, another cell), not at the cell's own minus.

    Its first element is that source.
    """
    sources = {element.name: element for element in circuit.elements if isinstance(element, (Source, Battery))}

    def push(place: int) -> float:
        source = sources.get(way.elements[place])
        if source is None:
            return float("-inf")
        return source.volts if way.nets[place] == source.minus else -source.volts

    first = max(range(len(way.elements)), key=push, default=0)
    if not way.elements or push(first) == float("-inf"):
        return way
    return Way((*way.elements[first:], *way.elements[:first]),
               (*way.nets[first + 1:], *way.nets[:first + 1]), way.amps)


def part_of(fragment: Fragment, element: str) -> str | None:
    """The part that an element stands for; None for a rail."""
    if element in fragment.parts:
        return element
    stem = element
    while "." in stem:
        stem = stem.rpartition(".")[0]
        if stem in fragment.parts:
            return stem
    return None


def parts_on(fragment: Fragment, elements: Sequence[str]) -> tuple[str, ...]:
    """The parts among these elements, each once, in turn."""
    return tuple(dict.fromkeys(part for element in elements if (part := part_of(fragment, element)) is not None))


def ways(found: Iterable[Flow], start: str, end: str, without: Collection[str] = (), most: int = 12) -> list[Way]:
    """The flows from one net to another taken apart into ways, the widest first; leaking ones are ways too.

    From a net to itself there is none.
    """
    if start == end:
        return []
    left = {(f.element, f.tail, f.head): Flow(f.element, f.tail, f.head, f.amps) for f in found}
    apart: list[Way] = []
    while len(apart) < most and (way := widest(left.values(), start, end, without)) is not None:
        apart.append(way)
        for element, tail, head in zip(way.elements, way.nets, way.nets[1:], strict=False):
            flow = left.pop((element, tail, head))
            if flow.amps - way.amps > 1e-3 * way.amps:
                left[element, tail, head] = replace(flow, amps=flow.amps - way.amps)
    return apart


def own_flows(found: Sequence[Flow], cell: str, start: str, end: str) -> list[Flow]:
    """What of every flow comes from one cell; start, end: the nets of its plus and its minus.

    What comes together at a net leaves it mixed in proportion (Bialek, Tracing the flow of electricity, IEE Proc.
    Gener. Transm. Distrib. 143 (1996), 313, from memory). What has come back to the minus is nobody's any more.
    """
    others = [flow for flow in found if flow.element != cell]
    given_A = sum(flow.amps for flow in found if flow.element == cell and flow.head == start)
    through = dict.fromkeys((start, *(flow.head for flow in others)), 0.0)
    through[start] = given_A
    for flow in others:
        through[flow.head] += flow.amps
    share = dict.fromkeys((*through, *(flow.tail for flow in others)), 0.0)
    for _ in range(len(share) + 1):
        own = dict.fromkeys(through, 0.0)
        own[start] = given_A
        for flow in others:
            own[flow.head] += flow.amps * share[flow.tail]
        now = share | {net: amps / through[net] for net, amps in own.items() if net != end and through[net] > 0}
        if all(abs(now[net] - share[net]) <= _SAME for net in share):
            break
        share = now
    return [replace(flow, amps=flow.amps * share[flow.tail]) for flow in others if share[flow.tail] > 0]


_SAME = 1e-9
"""Shares of a flow that differ by less are the same."""


def leaking_on(found: Sequence[Flow], start: str, end: str, without: Collection[str] = ()) -> tuple[str, ...]:
    """The leaking elements on the widest way from one net to another, leaking flows allowed."""
    leaks = {flow.element for flow in found if flow.leaking}
    way = widest([Flow(f.element, f.tail, f.head, f.amps) for f in found], start, end, without)
    return () if way is None else tuple(name for name in way.elements if name in leaks)
