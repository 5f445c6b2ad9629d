"""Impedance of a net to ground against frequency, by ngspice's small-signal analysis."""

from __future__ import annotations

from collections.abc import Sequence

from netcheck.simulation.deck import write
from netcheck.simulation.elements import Circuit
from netcheck.simulation.process import Job, simulator
from netcheck.simulation.topology import survey


class NoImpedance(RuntimeError):
    """The circuit has no operating point or no such net; the message says why."""


def impedance(
    circuit: Circuit, net: str, frequencies: Sequence[float], deadline_s: float = 10.0
) -> list[complex]:
    """Impedance [ohm] from a net to ground at each frequency [Hz, above 0], around the operating point.

    Capacitors count with their series resistance and inductance. Raises
    NoImpedance where there is no result, ValueError for a frequency that is not
    above zero.
    """
    if bad := [frequency for frequency in frequencies if not frequency > 0]:
        raise ValueError(f"a frequency must be above 0 Hz, not {bad[0]:g} Hz")
    topology = survey(circuit)
    if net not in topology.nets:
        raise NoImpedance(f"the circuit has no net {net}")
    if topology.problem:
        raise NoImpedance(topology.problem)
    if net == circuit.ground or not frequencies:
        return [0j for _ in frequencies]
    deck = write(circuit, topology, injected=net)
    commands = tuple(f"ac lin 1 {float(f)!r} {float(f)!r}" for f in frequencies)
    (answer,) = simulator().run([Job(deck.text, deck.vectors, commands)], deadline_s)
    if answer.problem:
        raise NoImpedance(answer.problem)
    return [complex(value) for value in answer.values]
