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


Curve = tuple[tuple[float, ...], tuple[complex, ...]]
"""Frequencies [Hz] and the impedance [ohm] at each."""


def sweep(
    circuit: Circuit, net: str, low_Hz: float, high_Hz: float, per_decade: int, deadline_s: float = 30.0
) -> Curve:
    """Impedance from a net to ground over a range of frequencies, so many to the decade, in one run.

    Raises NoImpedance, and ValueError for a range that does not run upwards from above 0 Hz.
    """
    if not 0 < low_Hz < high_Hz:
        raise ValueError(f"a range of frequencies runs upwards from above 0 Hz, not {low_Hz:g} to {high_Hz:g} Hz")
    (found,) = _run(circuit, net, [f"ac dec {per_decade} {low_Hz!r} {high_Hz!r}"], deadline_s)
    return found


def close_up(
    circuit: Circuit, net: str, spans: Sequence[tuple[float, float]], points: int, deadline_s: float = 30.0
) -> list[Curve]:
    """Impedance over several narrow ranges, so many points in each, in one run. Raises NoImpedance."""
    commands = [f"ac lin {points} {float(low)!r} {float(high)!r}" for low, high in spans]
    return _run(circuit, net, commands, deadline_s) if commands else []


def _run(circuit: Circuit, net: str, commands: Sequence[str], deadline_s: float) -> list[Curve]:
    """The curves of commands that all give the same number of points."""
    topology = survey(circuit)
    if net not in topology.nets:
        raise NoImpedance(f"the circuit has no net {net}")
    if topology.problem:
        raise NoImpedance(topology.problem)
    if net == circuit.ground:
        raise NoImpedance(f"{net} is the ground itself")
    deck = write(circuit, topology, injected=net)
    (answer,) = simulator().run([Job(deck.text, f"frequency {deck.vectors}", tuple(commands))], deadline_s)
    if answer.problem:
        raise NoImpedance(answer.problem)
    each = len(answer.values) // len(commands)
    pieces = [answer.values[start: start + each] for start in range(0, len(answer.values), each)]
    return [(tuple(complex(one).real for one in piece[: each // 2]), tuple(map(complex, piece[each // 2:])))
            for piece in pieces]
