"""The direct-current operating points of circuits, by ngspice."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from hashlib import blake2b
from math import isfinite, isnan

from netcheck.simulation import models
from netcheck.simulation.canonical import ordered
from netcheck.simulation.deck import Deck, write
from netcheck.simulation.elements import (
    NOT_SOLVED,
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
from netcheck.simulation.pieces import Cut, Piece, Solved, cut, unite
from netcheck.simulation.process import Answer, Job, simulator
from netcheck.simulation.topology import Topology, survey

_solved: Memory[Piece, Solved] = Memory(400_000)
_answers: Memory[bytes, Answer] = Memory(4_000_000)
"""What has been found in this process: pieces under their own names, and decks, which know no names."""


def solve(
    circuits: Sequence[Circuit],
    *,
    deadline_s: float = 10.0,
    progress: Callable[[int, int], None] | None = None,
) -> list[OperatingPoint]:
    """The operating point of each circuit, in their order.

    A circuit is cut at its held nets, and pieces that are alike are solved once
    in the life of this process, whoever asks. What does not settle to 1 ppm is
    tried once more to 0.1 %, and the result says so. Never raises for a circuit's
    own fault: what cannot be solved comes back with its `problem`.
    deadline_s: seconds one piece may take. progress: told (points done, points
    wanted) as they come in; it must not itself solve.
    """
    batch = _Batch(circuits, progress)
    batch.solve(deadline_s)
    return batch.points()


def forget() -> None:
    """Forget all that has been solved, so that it is solved again."""
    _solved.clear()
    _answers.clear()


@dataclass(frozen=True, slots=True)
class _Plan:
    """One piece on its way, and how it was put to ngspice; key: its deck, in short."""

    piece: Piece
    circuit: Circuit
    topology: Topology
    deck: Deck
    key: bytes


@dataclass(slots=True)
class _Batch:
    """The circuits of one call, how each was cut (or why it must not be run), and what is found for the pieces."""

    circuits: Sequence[Circuit]
    progress: Callable[[int, int], None] | None
    cuts: list[tuple[Topology, Cut] | str] = field(default_factory=list)
    found: dict[Piece, Solved] = field(default_factory=dict)
    needs: list[int] = field(default_factory=list)  # of each circuit: how many decks are to be answered before it
    asked: int = 0
    done: int = 0

    def solve(self, deadline_s: float) -> None:
        stuck = self._run(self._new_pieces(), deadline_s, helped=False)
        self._run(stuck, deadline_s, helped=True)
        if self.progress:
            self.progress(len(self.circuits), len(self.circuits))

    def points(self) -> list[OperatingPoint]:
        return [
            OperatingPoint(problem=one) if isinstance(one, str)
            else unite(circuit, one[0].nets, one[1], [self.found[piece] for piece in one[1].pieces])
            for circuit, one in zip(self.circuits, self.cuts, strict=True)
        ]

    def _new_pieces(self) -> Iterator[Piece]:
        """Cut one circuit after the other; the pieces that have never been solved, each once."""
        under_way: set[Piece] = set()
        for circuit in self.circuits:
            one = _cut(circuit)
            self.cuts.append(one)
            for piece in () if isinstance(one, str) else one[1].pieces:
                if piece in self.found or piece in under_way:
                    continue
                if (known := _solved.get(piece)) is not None:
                    self.found[piece] = known
                else:
                    under_way.add(piece)
                    yield piece
            self.needs.append(self.asked)

    def _run(self, pieces: Iterable[Piece], deadline_s: float, helped: bool) -> list[Piece]:
        """Put pieces to the simulator, those of one deck together; returns those that did not converge."""
        alike: dict[bytes, list[_Plan]] = {}
        known: list[tuple[_Plan, Answer]] = []

        def jobs() -> Iterator[Job]:
            for piece in pieces:
                plan = _plan(piece, helped)
                if isinstance(plan, Solved):
                    self.found[piece] = plan
                elif (answer := _answers.get(plan.key)) is not None:
                    known.append((plan, answer))
                elif plan.key in alike:
                    alike[plan.key].append(plan)
                else:
                    alike[plan.key] = [plan]
                    self.asked += not helped
                    yield Job(plan.deck.text, plan.deck.vectors)

        answers = simulator().run(jobs(), deadline_s, None if helped else self._tell)
        for (key, plans), answer in zip(alike.items(), answers, strict=True):
            if answer.lasting:
                _answers.put(key, answer, len(answer.values) + 8)
            known += [(plan, answer) for plan in plans]
        return [plan.piece for plan, answer in known if not self._keep(plan, answer, helped)]

    def _keep(self, plan: _Plan, answer: Answer, helped: bool) -> bool:
        """Keep what was found for a piece; False where it is worth another try."""
        if answer.problem and helped:
            return True  # the first try has told why
        found = replace(_point(plan, answer), helped=helped)
        self.found[plan.piece] = found
        again = not helped and (found.problem or "").startswith(NOT_SOLVED)
        if answer.lasting and not again:
            _solved.put(plan.piece, found, len(plan.piece.elements) + 4)
        return not again

    def _tell(self, answered: int) -> None:
        """Progress in circuits: those whose decks, as far as they were new, have been answered."""
        while self.done < len(self.needs) and self.needs[self.done] <= answered:
            self.done += 1
        if self.progress:
            self.progress(self.done, len(self.circuits))


def _cut(circuit: Circuit) -> tuple[Topology, Cut] | str:
    """A circuit in pieces, or why it must not be run."""
    topology = survey(circuit)
    if topology.problem:
        return topology.problem
    parts = cut(circuit)
    if not all(map(isfinite, (circuit.temperature_C, *parts.held.values()))):
        return _not_finite(circuit)
    return topology, parts


def _plan(piece: Piece, helped: bool) -> _Plan | Solved:
    """How a piece is put to ngspice, or at once why it cannot be."""
    whole = piece.circuit()
    topology = survey(whole)
    deck = write(whole, topology, helped=helped)
    if "nan" in deck.text or "inf" in deck.text:
        return Solved({}, {}, {}, _not_finite(whole))
    circuit = replace(whole, elements=tuple(ordered(whole.elements, whole.ground)))
    topology = survey(circuit)
    deck = write(circuit, topology, helped=helped)
    return _Plan(piece, circuit, topology, deck, blake2b(deck.text.encode(), digest_size=16).digest())


_WORDS = {"saturation_A": "forward drop", "threshold_V": "threshold voltage", "on_ohm": "resistance when on",
          "reference_V": "output or reference voltage", "ohm": "resistance", "volts": "voltage"}


def _not_finite(circuit: Circuit) -> str:
    for element in circuit.elements:
        for one in fields(element):
            value = getattr(element, one.name)
            if isinstance(value, float) and not isfinite(value):
                what = "not known" if isnan(value) else "not finite"
                return f"the {_WORDS.get(one.name, one.name)} of {element.name} is {what}"
    return f"the temperature is not a finite number ({circuit.temperature_C})"


def _point(plan: _Plan, answer: Answer) -> Solved:
    if answer.problem:
        return Solved({}, {}, {}, answer.problem)
    values = iter(answer.values)
    volts: dict[str, float] = {net: next(values) if node != "0" else 0.0 for net, node in plan.deck.nodes.items()}
    amps = _amps(plan.circuit, volts, values)
    delivered = {source.plus: amps.pop(source.name) for source in plan.piece.sources()}
    loose = {net for island in plan.topology.islands for net in island}
    own = {net: None if net in loose else value for net, value in volts.items()
           if net not in delivered and net != plan.circuit.ground}
    return Solved(own, amps, delivered)


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
