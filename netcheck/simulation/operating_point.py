"""The direct-current operating points of circuits, by ngspice."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sized
from enum import Enum
from hashlib import blake2b
from math import isfinite, isnan

from msgspec import Struct, field
from msgspec.structs import replace

from netcheck.clock import at_most, doing, used_up
from netcheck.simulation import models
from netcheck.simulation.balance import unbalanced
from netcheck.simulation.canonical import ordered
from netcheck.simulation.deck import HELPED, RELATIVE, Deck, write
from netcheck.simulation.elements import (
    Battery,
    Capacitance,
    Circuit,
    Draw,
    Element,
    Junction,
    Lacking,
    OperatingPoint,
    Resistance,
    Source,
)
from netcheck.simulation.frames import NOT_SOLVED
from netcheck.simulation.memory import Memory, forget_all
from netcheck.simulation.pieces import Cut, Piece, Solved, cut, unite
from netcheck.simulation.process import Answer, Job, simulator
from netcheck.simulation.shapes import shapes, traits
from netcheck.simulation.starting import starting_volts
from netcheck.simulation.topology import Topology, survey

_Key = tuple[tuple[int, ...], str, float]

_solved: Memory[Piece, Solved] = Memory(400_000)
_answers: Memory[bytes, Answer] = Memory(4_000_000)
_points: Memory[_Key, tuple[Circuit, OperatingPoint]] = Memory(400_000)
"""What has been found in this process: pieces under their own names, decks, which know no names, and wholes."""


def _key(circuit: Circuit) -> _Key:
    """Tells circuits of the same elements, as objects: most are shared, and to look into them all takes long."""
    return tuple(map(id, circuit.elements)), circuit.ground, circuit.temperature_C


def solve(
    circuits: Iterable[Circuit],
    *,
    of: int = 0,
    deadline_s: float = 10.0,
    progress: Callable[[int, int], None] | None = None,
) -> list[OperatingPoint]:
    """The operating point of each circuit, in their order. A generator makes them while the simulator works.

    A circuit is cut at its held nets, and pieces that are alike are solved once
    in the life of this process, whoever asks. A result in which currents do not
    add up is none. What does not settle to 1 ppm is tried once more from values of
    our own, and then to 0.1 %, and the result says so. Never raises for a
    circuit's own fault: what cannot be solved comes back with its `problem`.
    of: how many there will be, which a generator does not tell. deadline_s: seconds one piece may take. progress: told
    (points done, points wanted) as they come in; it must not itself solve, nor must a generator.
    """
    batch = _Batch(circuits, progress, of or (len(circuits) if isinstance(circuits, Sized) else 0))
    batch.solve(deadline_s)
    return batch.points()


def forget() -> None:
    """Forget all that has been worked out, so that it is solved again."""
    forget_all()


_SOLVING = "Solving circuits"


class _Try(Enum):
    """How a piece is put to ngspice: as it is, from starting volts of our own, and then with a wider tolerance."""

    PLAIN = 0
    STARTED = 1
    HELPED = 2


class _Plan(Struct, frozen=True):
    """One piece on its way, and how it was put to ngspice; key: its deck, in short."""

    piece: Piece
    circuit: Circuit
    topology: Topology
    deck: Deck
    key: bytes


class _Batch(Struct):
    """The circuits of one call, how each was cut (or why it must not be run), and what is found for the pieces.

    of: how many there will be. taken: those that have been looked at.
    passing: pieces whose problem is not theirs, such as a deadline. unreal: those in which ideal junctions pass more
    than anything real does: they are tried again with the resistance that every junction has.
    """

    circuits: Iterable[Circuit]
    progress: Callable[[int, int], None] | None
    of: int
    taken: list[Circuit] = field(default_factory=list)
    united: dict[_Key, OperatingPoint] = field(default_factory=dict)
    cuts: dict[_Key, tuple[Topology, Cut] | str] = field(default_factory=dict)
    found: dict[Piece, Solved] = field(default_factory=dict)
    passing: set[Piece] = field(default_factory=set)
    unreal: set[Piece] = field(default_factory=set)
    needs: list[int] = field(default_factory=list)  # of each circuit: how many decks are to be answered before it
    asked: int = 0
    done: int = 0

    def solve(self, deadline_s: float) -> None:
        pieces: Iterable[Piece] = self._new_pieces()
        for how in _Try:
            pieces = self._run(pieces, deadline_s, how)
        for piece in pieces:
            self._remember(piece)
        if self.progress:
            self.progress(len(self.taken), len(self.taken))

    def points(self) -> list[OperatingPoint]:
        found = []
        for circuit in self.taken:
            key = _key(circuit)
            if (point := self.united.get(key)) is None:
                point = self.united[key] = self._point(circuit, key)
            found.append(point)
        return found

    def _point(self, circuit: Circuit, key: _Key) -> OperatingPoint:
        one = self.cuts[key]
        if isinstance(one, str):
            return OperatingPoint(problem=one)
        point = unite(circuit, one[0].nets, one[1], [self.found[piece] for piece in one[1].pieces])
        if self.passing.isdisjoint(one[1].pieces):
            _points.put(key, (circuit, point), len(circuit.elements) + 8)
        return point

    def _new_pieces(self) -> Iterator[Piece]:
        """Cut one circuit after the other; the pieces that have never been solved, each once."""
        under_way: set[Piece] = set()
        for circuit in self.circuits:
            self.taken.append(circuit)
            key = _key(circuit)
            if key not in self.cuts and key not in self.united:
                if (known := _points.get(key)) is not None:
                    self.united[key] = known[1]
                else:
                    self.cuts[key] = one = used_up() or _cut(circuit)
                    yield from self._unsolved(() if isinstance(one, str) else one[1].pieces, under_way)
            self.needs.append(self.asked)

    def _unsolved(self, pieces: Iterable[Piece], under_way: set[Piece]) -> Iterator[Piece]:
        for piece in pieces:
            if piece in self.found or piece in under_way:
                continue
            if (known := _solved.get(piece)) is not None:
                self.found[piece] = known
            else:
                under_way.add(piece)
                yield piece

    def _run(self, pieces: Iterable[Piece], deadline_s: float, how: _Try) -> list[Piece]:
        """Put pieces to the simulator, those of one deck together; returns those worth another try.

        What comes back is looked at while the simulator is at the next ones.
        """
        alike: dict[bytes, list[_Plan]] = {}
        under: list[list[_Plan]] = []  # by the place of the job
        now: dict[bytes, Answer] = {}
        left: list[Piece] = []

        def keep(plan: _Plan, answer: Answer) -> None:
            if not self._keep(plan, answer, how):
                left.append(plan.piece)

        def jobs() -> Iterator[Job]:
            for piece in pieces:
                if (reason := used_up()) is not None:
                    self.found.setdefault(piece, Solved({}, {}, {}, reason))
                    self.passing.add(piece)
                    continue
                plan = _plan(piece, how, piece in self.unreal)
                if plan is None:
                    left.append(piece)
                elif isinstance(plan, Solved):
                    self.found[piece] = plan
                elif (answer := now.get(plan.key) or _answers.get(plan.key)) is not None:
                    keep(plan, answer)
                elif plan.key in alike:
                    alike[plan.key].append(plan)
                else:
                    alike[plan.key] = [plan]
                    under.append(alike[plan.key])
                    self.asked += how is _Try.PLAIN
                    yield Job(plan.deck.text, plan.deck.vectors)

        def taken(place: int, answer: Answer) -> None:
            plans = under[place]
            now[plans[0].key] = answer
            if answer.lasting:
                _answers.put(plans[0].key, answer, len(answer.values) + 8)
            for plan in plans:
                keep(plan, answer)

        simulator().run(jobs(), at_most(deadline_s), self._tell if how is _Try.PLAIN else None, taken)
        return left

    def _keep(self, plan: _Plan, answer: Answer, how: _Try) -> bool:
        """Keep what was found for a piece; False where it is worth another try. The first problem is the one told."""
        found = _point(plan, answer, how is _Try.HELPED)
        if found.problem == _UNREAL:
            self.unreal.add(plan.piece)
        if found.problem and how is not _Try.PLAIN:
            return False
        self.found[plan.piece] = found
        if (found.problem or "").startswith(NOT_SOLVED):
            return False
        if answer.lasting:
            self._remember(plan.piece)
        else:
            self.passing.add(plan.piece)
        return True

    def _remember(self, piece: Piece) -> None:
        _solved.put(piece, self.found[piece], len(piece.elements) + 4)

    def _tell(self, answered: int) -> None:
        """Progress in circuits: those whose decks, as far as they were new, have been answered."""
        while self.done < len(self.needs) and self.needs[self.done] <= answered:
            self.done += 1
        if self.progress:
            self.progress(self.done, self.of)
        else:
            doing(_SOLVING, self.done, self.of)


def _cut(circuit: Circuit) -> tuple[Topology, Cut] | str:
    """A circuit in pieces, or why it must not be run."""
    shaped = shapes(circuit.elements)
    topology = survey(circuit, shaped)
    if topology.problem:
        return topology.problem
    parts = cut(circuit, shaped)
    if not (all(map(isfinite, (circuit.temperature_C, *parts.held.values())))
            and all(one.finite for one in traits([element for element, _, _ in parts.loose]))):
        return _not_finite(circuit)
    return topology, parts


def _plan(piece: Piece, how: _Try, unreal: bool) -> _Plan | Solved | None:
    """How a piece is put to ngspice, or at once why it cannot be; None where this way of trying is not open to it.

    unreal: whether its junctions are given the least resistance that one has.
    """
    whole = piece.circuit()
    if unreal:
        whole = replace(whole, elements=tuple(map(_real, whole.elements)))
    if not all(one.finite for one in traits(whole.elements)):
        return Solved({}, {}, {}, _not_finite(whole))
    circuit = Circuit(tuple(ordered(whole.elements, whole.ground)), whole.ground, whole.temperature_C)
    topology = survey(circuit)
    starts = None if how is _Try.PLAIN else starting_volts(circuit)
    if how is _Try.STARTED and starts is None and not unreal:
        return None
    deck = write(circuit, topology, helped=how is _Try.HELPED, starts=starts)
    if not deck.vectors:  # both ends of everything in it on one net, as of a trimmer's half that its wiper shorts
        return Solved({}, dict.fromkeys((element.name for element in circuit.elements), 0.0), {})
    return _Plan(piece, circuit, topology, deck, blake2b(deck.text.encode(), digest_size=16).digest())


_WORDS = {"saturation_A": "forward drop", "threshold_V": "threshold voltage", "on_ohm": "resistance when on",
          "reference_V": "output or reference voltage", "ohm": "resistance", "volts": "voltage",
          "series_ohm": "series resistance"}


def _not_finite(circuit: Circuit) -> Lacking:
    for element in circuit.elements:
        for name in element.__struct_fields__:
            value = getattr(element, name)
            if isinstance(value, float) and not isfinite(value):
                what = "not known" if isnan(value) else "not finite"
                return Lacking(f"the {_WORDS.get(name, name)} of {element.name} is {what}", element.name)
    return Lacking(f"the temperature is not a finite number ({circuit.temperature_C})")


_UNREAL = f"{NOT_SOLVED}: currents beyond anything real"
_BEYOND_A = 1e6
"""Nothing carries as much: what is added up beside it is lost in rounding, so that nothing found there can be believed.

A dead short of a rail by copper (`models.LEAST_OHM`) stays below."""


def _real(element: Element) -> Element:
    if isinstance(element, Junction):
        return replace(element, series_ohm=max(element.series_ohm, models.LEAST_SERIES_OHM))
    return element


def _point(plan: _Plan, answer: Answer, helped: bool) -> Solved:
    if answer.problem:
        return Solved({}, {}, {}, answer.problem)
    values = iter(answer.values)
    volts = {net: next(values) if node != "0" else 0.0 for net, node in plan.deck.nodes.items()}
    amps = _amps(plan.circuit, volts, values)
    if any(abs(value) > _BEYOND_A for value in amps.values()):
        return Solved({}, {}, {}, _UNREAL)
    if net := unbalanced(plan.circuit, volts, amps, float(HELPED if helped else RELATIVE)):
        return Solved({}, {}, {}, f"{NOT_SOLVED}: the currents found do not add up at {net}")
    delivered = {source.plus: amps.pop(source.name) for source in plan.piece.sources()}
    loose = {net for island in plan.topology.islands for net in island}
    own = {net: None if net in loose else value for net, value in volts.items()
           if net not in delivered and net != plan.circuit.ground}
    return Solved(own, amps, delivered, helped=helped)


def _amps(circuit: Circuit, volts: Mapping[str, float], values: Iterator[float]) -> dict[str, float]:
    """The current through each element; `values` gives those that were read from ngspice, in order."""
    amps = {}
    for element in circuit.elements:
        if isinstance(element, Resistance):
            ohm = max(element.ohm, models.LEAST_OHM)
            amps[element.name] = (volts[element.a] - volts[element.b]) / ohm
        elif isinstance(element, Junction):
            reverse_V = volts[element.cathode] - volts[element.anode]
            leakage = models.leakage_A(element, reverse_V, circuit.temperature_C)
            amps[element.name] = next(values) - leakage
        elif isinstance(element, (Source, Battery)):
            amps[element.name] = 0.0 - next(values)  # ngspice counts what flows into plus
        elif isinstance(element, Draw):
            amps[element.name] = models.draw_A(element, volts[element.plus] - volts[element.minus])
        elif isinstance(element, Capacitance):
            amps[element.name] = 0.0
        else:
            amps[element.name] = next(values)
    return amps
