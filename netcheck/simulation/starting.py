"""Volts from which a circuit that does not settle by itself settles: a Newton of our own, only ever a start.

The nets are let go from where they stand as if each had a capacitor to hold it, in steps that grow tenfold
(implicit Euler, the pseudo-transient continuation of Kelley and Keyes, SIAM J. Numer. Anal. 35, 1998): each step is
easy from the one before, and what it ends at is a state that the circuit could really come to.
"""

from __future__ import annotations

from typing import Any

from netcheck.simulation.elements import Capacitance, Circuit
from netcheck.simulation.laws import Law, ideal, law
from netcheck.simulation.pieces import terminals

_HOLDS_S = [10.0**-power for power in range(2, 17)]
_ROUNDS = 60
_LARGEST_V = 0.5  # step of one round: beyond it an exponential says nothing
_PROBE_V = 1e-6
_STILL_V = 1e-10


def starting_volts(circuit: Circuit) -> dict[str, float] | None:
    """Net to volts near a solution; None where none was found, or an element has no law of ours."""
    import numpy as np  # 0.1 s, for the few circuits that need it

    found = _System.of(circuit)
    if found is None or not found.nets:
        return None
    volts = np.zeros(len(found.nets) + len(found.sources))
    for held_S in _HOLDS_S:
        anchor = volts.copy()
        for _ in range(_ROUNDS):
            missing, slopes = found.at(volts, np)
            count = len(found.nets)
            missing[:count] += held_S * (volts - anchor)[:count]
            slopes[range(count), range(count)] += held_S
            try:
                step = -np.linalg.solve(slopes, missing)
            except np.linalg.LinAlgError:
                return None
            largest = float(np.max(np.abs(step[:count])))
            if not np.isfinite(largest):
                return None
            volts += step * min(1.0, _LARGEST_V / largest) if largest else step
            if largest < _STILL_V:
                break
    return dict(zip(found.nets, map(float, volts), strict=False))


class _System:
    """The equations of a circuit: a net's currents sum to nothing, an ideal source holds its volts."""

    def __init__(self, nets: list[str], laws: list[tuple[tuple[str, ...], Law]],
                 sources: list[tuple[str, str, float]]) -> None:
        self.nets = nets
        self.sources = sources
        self._places = {net: place for place, net in enumerate(nets)}
        self._laws = [(flows, [self._places.get(net) for net in at]) for at, flows in laws]

    @classmethod
    def of(cls, circuit: Circuit) -> _System | None:
        laws, sources = [], []
        nets: dict[str, None] = {}
        for element in circuit.elements:
            nets.update(dict.fromkeys(terminals(element)))
            if ideal(element):
                sources.append((element.plus, element.minus, element.volts))  # type: ignore[union-attr]
            elif (found := law(element, circuit.temperature_C)) is not None:
                laws.append(found)
            elif not isinstance(element, Capacitance):
                return None
        nets.pop(circuit.ground, None)
        return cls(list(nets), laws, sources)

    def at(self, volts: Any, np: Any) -> tuple[Any, Any]:
        """What is missing in each equation, and the slopes by each unknown (nets, then sources' currents)."""
        size = len(self.nets) + len(self.sources)
        missing, slopes = np.zeros(size), np.zeros((size, size))
        values = [float(one) for one in volts]
        for flows, places in self._laws:
            across = [0.0 if place is None else values[place] for place in places]
            amps = flows(across)
            for place, one in zip(places, amps, strict=True):
                if place is not None:
                    missing[place] += one
            for moved, by in enumerate(places):
                if by is None:
                    continue
                across[moved] += _PROBE_V
                for place, one, other in zip(places, amps, flows(across), strict=True):
                    if place is not None:
                        slopes[place, by] += (other - one) / _PROBE_V
                across[moved] -= _PROBE_V
        for number, (plus, minus, held_V) in enumerate(self.sources, len(self.nets)):
            missing[number] = -held_V
            for net, sign in ((plus, 1.0), (minus, -1.0)):
                place = self._places.get(net)
                if place is not None:
                    missing[number] += sign * values[place]
                    missing[place] -= sign * values[number]
                    slopes[number, place] += sign
                    slopes[place, number] -= sign
        return missing, slopes
