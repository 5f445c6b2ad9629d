"""The direct-current operating points of circuits, by ngspice."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from math import isfinite, isnan

from netcheck.simulation import models
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
from netcheck.simulation.process import Answer, Job, simulator
from netcheck.simulation.topology import Topology, survey


def solve(
    circuits: Sequence[Circuit],
    *,
    deadline_s: float = 10.0,
    progress: Callable[[int, int], None] | None = None,
) -> list[OperatingPoint]:
    """The operating point of each circuit, in their order; circuits that are alike are solved once.

    A circuit that does not settle to 1 ppm is tried once more to 0.1 %, and the
    result says so. Never raises for a circuit's own fault: what cannot be solved
    comes back with its `problem`.
    deadline_s: seconds one circuit may take. progress: told (points done, points
    wanted) as they come in; it must not itself solve.
    """
    points = _solve(circuits, deadline_s, progress, helped=False)
    stuck = [place for place, point in enumerate(points) if (point.problem or "").startswith(NOT_SOLVED)]
    if stuck:
        again = _solve([circuits[place] for place in stuck], deadline_s, None, helped=True)
        for place, point in zip(stuck, again, strict=True):
            if point.known:
                points[place] = replace(point, helped=True)
    return points


def _solve(
    circuits: Sequence[Circuit], deadline_s: float, progress: Callable[[int, int], None] | None, helped: bool
) -> list[OperatingPoint]:
    points: list[OperatingPoint | None] = [None] * len(circuits)
    runs: list[list[_Plan]] = []  # the plans of one deck together, in the order of the jobs

    def jobs() -> Iterator[Job]:
        by_deck: dict[str, list[_Plan]] = {}
        for place, circuit in enumerate(circuits):
            plan = _plan(place, circuit, helped)
            if isinstance(plan, OperatingPoint):
                points[place] = plan
            elif plan.deck.text in by_deck:
                by_deck[plan.deck.text].append(plan)
            else:
                by_deck[plan.deck.text] = [plan]
                runs.append(by_deck[plan.deck.text])
                yield Job(plan.deck.text, plan.deck.vectors)

    def told(done: int) -> None:
        if progress is not None:
            progress(done, len(circuits))

    answers = simulator().run(jobs(), deadline_s, told)
    for alike, answer in zip(runs, answers, strict=True):
        for plan in alike:
            points[plan.place] = _point(plan, answer)
    if progress:
        progress(len(circuits), len(circuits))
    return [point for point in points if point is not None]


@dataclass(frozen=True, slots=True)
class _Plan:
    """One circuit on its way: its place among those asked for, and how it was put to ngspice."""

    place: int
    circuit: Circuit
    topology: Topology
    deck: Deck


def _plan(place: int, circuit: Circuit, helped: bool) -> _Plan | OperatingPoint:
    """A plan, or at once the result of a circuit that needs no run or must not have one."""
    topology = survey(circuit)
    if topology.problem:
        return OperatingPoint(problem=topology.problem)
    if all(isinstance(element, Capacitance) for element in circuit.elements):
        volts = {net: None if net != circuit.ground else 0.0 for net in topology.nets}
        return OperatingPoint(volts, dict.fromkeys((element.name for element in circuit.elements), 0.0))
    deck = write(circuit, topology, helped=helped)
    if "nan" in deck.text or "inf" in deck.text:
        return OperatingPoint(problem=_not_finite(circuit))
    return _Plan(place, circuit, topology, deck)


_WORDS = {"saturation_A": "forward drop", "threshold_V": "threshold voltage", "on_ohm": "resistance when on",
          "reference_V": "output or reference voltage", "ohm": "resistance", "volts": "voltage"}


def _not_finite(circuit: Circuit) -> str:
    for element in circuit.elements:
        for field in fields(element):
            value = getattr(element, field.name)
            if isinstance(value, float) and not isfinite(value):
                what = "not known" if isnan(value) else "not finite"
                return f"the {_WORDS.get(field.name, field.name)} of {element.name} is {what}"
    return f"the temperature is not a finite number ({circuit.temperature_C})"


def _point(plan: _Plan, answer: Answer) -> OperatingPoint:
    if answer.problem:
        return OperatingPoint(problem=answer.problem)
    values = iter(answer.values)
    volts = {net: next(values) if node != "0" else 0.0 for net, node in plan.deck.nodes.items()}
    amps = _amps(plan.circuit, volts, values)
    if plan.topology.islands:
        loose = {net for island in plan.topology.islands for net in island}
        return OperatingPoint({net: None if net in loose else value for net, value in volts.items()}, amps)
    return OperatingPoint(volts, amps)


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
