"""A circuit cut at its held nets: what meets only there cannot influence each other, and is solved apart.

A net is held where ideal sources fix its volts against ground, whatever flows
into it. A piece is a set of elements that hang together by nets that are not
held; the whole is exactly the union of its pieces, and what a source delivers
is the sum over the pieces that hang on it. What hangs in the air at one end
carries nothing: it is in no piece, and its end stands as the other one does.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from functools import lru_cache

from msgspec import Struct
from msgspec.structs import force_setattr

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
    Resistance,
    Source,
)
from netcheck.simulation.memory import Memory
from netcheck.simulation.shapes import shapes


class Piece(Struct, frozen=True, eq=False):
    """Elements that hang together, and the volts of the held nets that they hang on, ground left out.

    Two pieces are equal where their elements are the same objects: that is told without looking into them.
    """

    elements: tuple[Element, ...]
    held: tuple[tuple[str, float], ...]
    ground: str
    temperature_C: float

    _key: tuple[object, ...] = ()
    _hash: int = 0

    def __post_init__(self) -> None:
        key = tuple(map(id, self.elements)), self.held, self.ground, self.temperature_C
        force_setattr(self, "_key", key)
        force_setattr(self, "_hash", hash(key))

    def __hash__(self) -> int:
        return self._hash

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Piece) and self._key == other._key

    def circuit(self) -> Circuit:
        """The piece by itself, each held net driven by a source of its own."""
        return Circuit((*self.elements, *self.sources()), self.ground, self.temperature_C)

    def sources(self) -> tuple[Source, ...]:
        """What holds the nets that it hangs on, in their order."""
        taken = {element.name for element in self.elements}
        return tuple(_holder(_free(f"held {net}", taken), net, self.ground, volts) for net, volts in self.held)


class Solved(Struct, frozen=True):
    """What was found for a piece: volts of its own nets, amps of its elements, and what each held net delivers."""

    volts: Mapping[str, float | None]
    amps: Mapping[str, float]
    delivered: Mapping[str, float]
    problem: str | None = None
    helped: bool = False


class Cut(Struct, frozen=True):
    """A circuit's pieces, the volts of its held nets, and the sources that hold them, from ground outward.

    Each holder is a source with the net that it holds from the other one on. loose: what hangs in the air at one end,
    from what it hangs on outward, each element with the nets of its near and its far end.
    """

    pieces: tuple[Piece, ...]
    held: Mapping[str, float]
    holders: tuple[tuple[Source | Battery, str], ...]
    loose: tuple[tuple[Element, str, str], ...] = ()


def terminals(element: Element) -> tuple[str, ...]:
    """Every net that an element's current depends on; none for a capacitor, which carries no direct current."""
    if isinstance(element, Resistance):
        return element.a, element.b
    if isinstance(element, Junction):
        return element.anode, element.cathode
    if isinstance(element, (Source, Battery, Draw)):
        return element.plus, element.minus
    if isinstance(element, Bipolar):
        return element.collector, element.base, element.emitter
    if isinstance(element, FieldEffect):
        return element.drain, element.gate, element.source
    if isinstance(element, Capacitance):
        return ()
    return tuple(net for net in (element.input, element.output, element.adjust, element.ground) if net is not None)


def cut(circuit: Circuit, shaped: tuple[int, ...] | None = None) -> Cut:
    """Cut a circuit whose sources do not fight each other. shaped: the shapes of its elements, where they are known."""
    key = shaped or shapes(circuit.elements), circuit.ground
    lines = _lines.get(key)
    if lines is None:
        lines = _drawn(circuit)
        _lines.put(key, lines, len(circuit.elements) + 1)
    elements, ground = circuit.elements, circuit.ground
    held = {ground: 0.0}
    holders: list[tuple[Source | Battery, str]] = []
    for place, net in lines.holders:
        source = elements[place]
        assert isinstance(source, (Source, Battery))
        held[net] = held[source.minus] + source.volts if net == source.plus else held[source.plus] - source.volts
        holders.append((source, net))
    pieces = tuple([
        Piece(tuple([elements[place] for place in places]), tuple([(net, held[net]) for net in on]), ground,
              circuit.temperature_C)
        for places, on in lines.pieces])
    return Cut(pieces, held, tuple(holders), tuple([(elements[place], near, far) for place, near, far in lines.loose]))


class _Lines(Struct, frozen=True):
    """Where circuits of the same shapes are cut.

    pieces: the places of each piece's elements, and the held nets that it hangs on. holders: the places of the sources
    that hold nets, from ground outward, each with the net that it holds. loose: the places of what hangs in the air at
    one end, as in `Cut`.
    """

    pieces: tuple[tuple[tuple[int, ...], tuple[str, ...]], ...]
    holders: tuple[tuple[int, str], ...]
    loose: tuple[tuple[int, str, str], ...]


_lines: Memory[tuple[tuple[int, ...], str], _Lines] = Memory(100_000)


def _drawn(circuit: Circuit) -> _Lines:
    holders = _holders(circuit)
    held = {circuit.ground, *(net for _, net in holders)}
    holding = {place for place, _ in holders}
    root: dict[str, str] = {}

    def top(net: str) -> str:
        above = root.setdefault(net, net)
        while above != net:
            root[net] = net = root[above]
            above = root[net]
        return net

    between = {place: nets for place, element in enumerate(circuit.elements)
               if place not in holding and (nets := terminals(element))}
    loose = _loose(between, {place for place in between if isinstance(circuit.elements[place], _TWO_ENDED)}, held)
    for place, _, _ in loose:
        del between[place]
    hanging: list[tuple[int, tuple[str, ...], str | None]] = []
    for place, nets in between.items():
        first: str | None = None
        for net in nets:
            if net in held:
                continue
            if first is None:
                first = top(net)
            elif (other := top(net)) != first:
                root[other] = first
        hanging.append((place, nets, first))
    groups: dict[object, tuple[list[int], dict[str, None]]] = {}
    for place, nets, first in hanging:
        places, on = groups.setdefault(place if first is None else top(first), ([], {}))
        places.append(place)
        on.update((net, None) for net in nets if net in held and net != circuit.ground)
    return _Lines(tuple((tuple(places), tuple(on)) for places, on in groups.values()), holders, loose)


_TWO_ENDED = (Resistance, Junction, Source, Battery, Draw)
"""Elements that carry no current at all where one end carries none, and know no third net."""


def _loose(
    between: Mapping[int, tuple[str, ...]], two_ended: Collection[int], held: Collection[str]
) -> tuple[tuple[int, str, str], ...]:
    """What hangs in the air at one end, from what it hangs on outward; where all of an island does, from some net on.

    between: the nets of each element by its place. two_ended: the places of those that can hang so.
    """
    on: dict[str, list[int]] = {}
    for place, nets in between.items():
        for net in nets:
            on.setdefault(net, []).append(place)
    found: list[tuple[int, str, str]] = []
    ends = [net for net, places in on.items() if len(places) == 1 and net not in held]
    while ends:
        far = ends.pop()
        if not on[far]:
            continue  # the other end of what was loose at both
        (place,) = on[far]
        if place not in two_ended:
            continue
        nets = between[place]
        near = nets[1] if nets[0] == far else nets[0]
        found.append((place, near, far))
        on[far].clear()
        on[near].remove(place)
        if len(on[near]) == 1 and near not in held:
            ends.append(near)
    return tuple(reversed(found))


def unite(circuit: Circuit, nets: Sequence[str], parts: Cut, solved: Sequence[Solved]) -> OperatingPoint:
    """The operating point of the whole from those of its pieces. nets: in the order of the result."""
    if problem := next((one.problem for one in solved if one.problem), None):
        return OperatingPoint(problem=problem)
    volts: dict[str, float | None] = dict.fromkeys(nets)
    amps = dict.fromkeys([element.name for element in circuit.elements], 0.0)
    delivered = dict.fromkeys(parts.held, 0.0)
    for one in solved:
        volts.update(one.volts)
        amps.update(one.amps)
        for net, current in one.delivered.items():
            delivered[net] += current
    volts.update(parts.held)
    for element, near, far in parts.loose:
        volts[far] = _open_V(element, far, volts[near])
    for source, net in reversed(parts.holders):
        outward = net == source.plus
        amps[source.name] = delivered[net] if outward else -delivered[net]
        delivered[source.minus if outward else source.plus] += delivered[net]
    return OperatingPoint(volts, amps, helped=any(one.helped for one in solved))


def _open_V(element: Element, far: str, near_V: float | None) -> float | None:
    """The volts of the end of an element that hangs in the air; None where the other end has none."""
    if near_V is None or not isinstance(element, (Source, Battery)):
        return near_V
    return near_V + (element.volts if far == element.plus else -element.volts)


def _holders(circuit: Circuit) -> tuple[tuple[int, str], ...]:
    """The places of the ideal sources that hold a net against ground, from there outward, each with that net."""
    ideal = [(place, element) for place, element in enumerate(circuit.elements)
             if isinstance(element, Source) or (isinstance(element, Battery) and element.ohm == 0)]
    held = {circuit.ground}
    holders: list[tuple[int, str]] = []
    while ideal:
        left = []
        for place, source in ideal:
            if source.minus in held:
                holders.append((place, source.plus))
            elif source.plus in held:
                holders.append((place, source.minus))
            else:
                left.append((place, source))
                continue
            held.add(holders[-1][1])
        if len(left) == len(ideal):
            break
        ideal = left
    return tuple(holders)


@lru_cache(maxsize=4096)
def _holder(name: str, net: str, ground: str, volts: float) -> Source:
    """The same object each time: whoever remembers circuits need not look into it."""
    return Source(name, net, ground, volts)


def _free(name: str, taken: set[str]) -> str:
    while name in taken:
        name += "'"
    taken.add(name)
    return name
