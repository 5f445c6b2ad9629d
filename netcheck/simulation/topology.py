"""What is wrong with a circuit before it is solved: nets that float, sources that fight each other."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import Struct

from netcheck.simulation.elements import (
    Battery,
    Bipolar,
    Capacitance,
    Circuit,
    Draw,
    Element,
    FieldEffect,
    Junction,
    Regulation,
    Resistance,
    Source,
)
from netcheck.simulation.memory import Memory
from netcheck.simulation.shapes import shapes


class Topology(Struct, frozen=True):
    """The nets in order of mention, the islands without a path to ground, and what forbids a run."""

    nets: tuple[str, ...]
    islands: tuple[tuple[str, ...], ...]
    problem: str | None = None


_known: Memory[tuple[tuple[int, ...], str], Topology] = Memory(100_000)


def survey(circuit: Circuit, shaped: tuple[int, ...] | None = None) -> Topology:
    """Look a circuit over. A capacitor is no path for direct current; everything else is.

    shaped: the shapes of its elements, where they are known.
    """
    key = shaped or shapes(circuit.elements), circuit.ground
    known = _known.get(key)
    if known is None:
        known, lasting = _surveyed(circuit)
        if lasting:
            _known.put(key, known, len(circuit.elements) + 1)
    return known


def _surveyed(circuit: Circuit) -> tuple[Topology, bool]:
    """The same, and whether it holds for every circuit of these shapes: a problem is told with its values."""
    groups = _Groups()
    groups.root(circuit.ground)
    for element in circuit.elements:
        for first, second in paths(element):
            groups.join(first, second)
        for net in _others(element):
            groups.root(net)
    nets = groups.nets
    grounded = groups.root(circuit.ground)
    if all(groups.root(net) == grounded for net in nets):
        islands: tuple[tuple[str, ...], ...] = ()
    else:
        members: dict[str, list[str]] = {}
        for net in nets:
            members.setdefault(groups.root(net), []).append(net)
        islands = tuple(tuple(group) for root, group in members.items() if root != grounded)
    volts = _Potentials()
    problem = _problem(circuit, islands, volts)
    return Topology(nets, islands, problem), problem is None and not volts.compared


def paths(element: Element) -> tuple[tuple[str, str], ...]:
    """The pairs of nets between which an element can carry direct current."""
    if isinstance(element, (Resistance, Capacitance)):
        return () if isinstance(element, Capacitance) else ((element.a, element.b),)
    if isinstance(element, Junction):
        return ((element.anode, element.cathode),)
    if isinstance(element, (Source, Battery, Draw)):
        return ((element.plus, element.minus),)
    if isinstance(element, Bipolar):
        return ((element.collector, element.base), (element.base, element.emitter))
    if isinstance(element, FieldEffect):
        return ((element.drain, element.source),)
    return tuple(_through_regulator(element))


def _through_regulator(element: Regulation) -> Iterator[tuple[str, str]]:
    """Input to output, and what the adjust and ground pins carry by themselves."""
    yield element.input, element.output
    if element.adjust is not None and element.between == "output-adjust":
        yield element.input, element.adjust
    elif element.adjust is not None and element.between == "shunt":
        yield element.adjust, element.output
    elif element.adjust is not None and element.ground is not None:
        yield element.adjust, element.ground
    if element.ground is not None and element.ground_A:
        yield element.input, element.ground


def _others(element: Element) -> tuple[str, ...]:
    """The nets of an element to which it offers no path."""
    if isinstance(element, FieldEffect):
        return (element.gate,)
    if isinstance(element, Regulation):
        return tuple(net for net in (element.adjust, element.ground) if net is not None)
    return (element.a, element.b) if isinstance(element, Capacitance) else ()


def _problem(circuit: Circuit, islands: tuple[tuple[str, ...], ...], volts: _Potentials) -> str | None:
    checks = (_bad_values(circuit), _fights(circuit, volts), _floating_controls(circuit, islands))
    return next((problem for check in checks for problem in check), None)


def _bad_values(circuit: Circuit) -> Iterator[str]:
    if len({element.name for element in circuit.elements}) < len(circuit.elements):
        names = [element.name for element in circuit.elements]
        yield f"two elements are called {next(name for name in names if names.count(name) > 1)}"
    for element in circuit.elements:
        if isinstance(element, (Resistance, Battery)) and element.ohm < 0:
            yield f"{element.name} has a resistance below 0 Ω ({element.ohm:g} Ω)"
        elif isinstance(element, Junction) and (element.saturation_A <= 0 or element.emission <= 0):
            yield f"the saturation current and emission coefficient of {element.name} must be above zero"


def _fights(circuit: Circuit, volts: _Potentials) -> Iterator[str]:
    """Loops of sources, and parts of 0 Ω that join what sources hold apart."""
    for element in circuit.elements:
        if isinstance(element, Source) or (isinstance(element, Battery) and element.ohm == 0):
            if element.plus == element.minus:
                yield f"{element.name} is shorted: both its ends are on {element.plus}"
            elif not volts.hold(element.plus, element.minus, element.volts):
                first = volts.driven.get(element.plus, "other sources")
                yield f"{element.plus} is driven twice, by {first} and by {element.name}"
            else:
                volts.driven.setdefault(element.plus, element.name)
    for element in circuit.elements:
        if isinstance(element, Resistance) and element.ohm == 0:
            rails = volts.rail(element.a), volts.rail(element.b)
            if not volts.hold(element.a, element.b, 0.0) and volts.between(element.a, element.b) != 0:
                yield f"{rails[0]} and {rails[1]} are joined directly by {element.name}"


def floating_controls(circuit: Circuit) -> tuple[str, ...]:
    """The nets of gates that have no way to ground, while their sources have one."""
    loose = {net for island in survey(circuit).islands for net in island}
    return tuple(dict.fromkeys(
        element.gate for element in circuit.elements
        if isinstance(element, FieldEffect) and element.gate in loose and element.source not in loose))


def _floating_controls(circuit: Circuit, islands: tuple[tuple[str, ...], ...]) -> Iterator[str]:
    if not islands:
        return
    loose = {net for island in islands for net in island}
    for element in circuit.elements:
        if isinstance(element, FieldEffect) and element.gate in loose and element.source not in loose:
            yield f"the gate of {element.name} floats ({element.gate} has no path to ground)"
        elif isinstance(element, Regulation) and element.adjust in loose and element.output not in loose:
            yield f"the adjust pin of {element.name} floats ({element.adjust} has no path to ground)"


class _Groups:
    """Which nets hang together (disjoint sets)."""

    def __init__(self) -> None:
        self._parent: dict[str, str] = {}

    @property
    def nets(self) -> tuple[str, ...]:
        return tuple(self._parent)

    def root(self, net: str) -> str:
        parent = self._parent
        above = parent.setdefault(net, net)
        while above != net:
            parent[net] = net = parent[above]  # halve the way for the next one
            above = parent[net]
        return net

    def join(self, first: str, second: str) -> None:
        a, b = self.root(first), self.root(second)
        if a != b:
            self._parent[b] = a


class _Potentials:
    """Nets whose difference in volts is held, each with its volts above the root of its group."""

    def __init__(self) -> None:
        self.compared = False  # whether volts have been asked for, and not only which nets are held
        self.driven: dict[str, str] = {}  # net to the source whose plus is on it
        self._above: dict[str, tuple[str, float]] = {}

    def hold(self, plus: str, minus: str, volts: float) -> bool:
        """Note that plus stands `volts` above minus; False if their difference was held already."""
        (a, over_a), (b, over_b) = self._root(plus), self._root(minus)
        if a == b:
            return False
        self._above[a] = (b, volts + over_b - over_a)
        return True

    def between(self, first: str, second: str) -> float:
        self.compared = True
        return self._root(first)[1] - self._root(second)[1]

    def rail(self, net: str) -> str:
        """A driven net that stands level with this one: its better known name."""
        if net in self.driven:
            return net
        own = self._root(net)
        return next((rail for rail in self.driven if self._root(rail) == own), net)

    def _root(self, net: str) -> tuple[str, float]:
        volts = 0.0
        while (step := self._above.get(net)) is not None:
            net, volts = step[0], volts + step[1]
        return net, volts
