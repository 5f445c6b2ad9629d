"""What a zener diode passes below and at its volts: the knee, from published differential resistances."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import isclose, log

from msgspec import Struct
from msgspec.structs import replace

from netcheck.parts.catalogue import family
from netcheck.parts.specs import DiodeSpec, KneePoint

ROOM_C = 25.0
KNEE_TO = 100.0
"""Times its amps: there the law of a knee ends and its tangent goes on."""


class Knee(Struct, frozen=True):
    """A reverse current that sets in towards breakdown: amps·(V/at_V)**power [A, V, 1], then its tangent."""

    amps: float
    at_V: float
    power: float

    @property
    def top(self) -> float:
        """The volts, over at_V, at which the law gives way to its tangent."""
        return float(KNEE_TO ** (1 / self.power))

    @property
    def tangent(self) -> float:
        """The slope there [1]: current over amps for volts over at_V."""
        return self.power * KNEE_TO / self.top

    def current(self, volts: float) -> float:
        """Reverse current [A] at a reverse voltage [V].

        >>> [round(Knee(1e-3, 3.24, 5.4).current(volts) * 1e6) for volts in (1.0, 3.0, 3.24)]  # µA
        [2, 660, 1000]
        """
        grown = max(volts, 0.0) / self.at_V
        return float(self.amps * (min(grown, self.top) ** self.power + self.tangent * max(grown - self.top, 0.0)))


def knee(spec: DiodeSpec, which: str = "typical") -> tuple[Knee, ...]:
    """The reverse current of a zener as a sum of powers of the voltage; empty for another diode.

    which: "typical" at its nominal volts, "maximum" at the low end of its tolerance
    (it then passes most), "minimum" at the high end. A zener without figures of its
    own has those of the published series nearest to its volts. The sum has the published
    volts and differential resistance at the test current, and the volts (by the
    resistance in between) and resistance at the low one; below that it does not pass
    more than the published reverse current.
    """
    if spec.zener_V is None:
        return ()
    volts = {"typical": spec.zener_V.value, "maximum": spec.zener_V.low, "minimum": spec.zener_V.high}[which]
    points, low_V = knee_points(spec), spec.zener_V.low
    limits = [(point.volts_V, point.current_A) for point in spec.leakage
              if point.limit == "maximum" and point.temperature_C <= ROOM_C]
    most = _terms(low_V, sorted((point.current_A, point.ohm * low_V / spec.zener_V.value) for point in points), limits)
    return tuple(replace(term, at_V=term.at_V * volts / low_V) for term in most)


def knee_points(spec: DiodeSpec) -> tuple[KneePoint, ...]:
    """The differential resistances of a zener, or of the published series nearest to its volts."""
    if spec.knee or spec.zener_V is None:
        return spec.knee
    volts = spec.zener_V.value
    classes = family("zener").knees
    nearest = min(classes, key=lambda known: abs(log(known / volts)))
    # Between two classes the next one down serves unless this one is its own: it passes more.
    below = [known for known in classes if known <= volts or isclose(known, volts)]
    return classes[max(below) if below else nearest]


def passes_from_V(spec: DiodeSpec, amps: float, which: str = "typical") -> float | None:
    """The reverse volts [V] from which on a zener passes this current [A]; None for another diode."""
    terms = knee(spec, which)
    if not terms:
        return None
    low, high = 0.0, max(term.at_V for term in terms) * 4
    for _ in range(60):
        middle = (low + high) / 2
        below = sum(term.current(middle) for term in terms) < amps
        low, high = (middle, high) if below else (low, middle)
    return high


def _terms(
    zener_V: float, points: Sequence[tuple[float, float]], limits: Sequence[tuple[float, float]]
) -> tuple[Knee, ...]:
    """points: (current [A], differential resistance [ohm]), the highest current being that of zener_V.

    limits: (reverse volts, the most that passes there).
    """
    test_A, test_ohm = points[-1]
    alone = Knee(test_A, zener_V, _power(test_A, zener_V, test_ohm, limits))
    if len(points) == 1:
        return (alone,)
    low_A, low_ohm = points[0]
    low_V = zener_V - sum(_rise(a, b) for a, b in pairwise(points))
    if low_V <= max((limit_V for limit_V, _ in limits), default=0.0):
        return (alone,)
    slow = Knee(low_A, low_V, _power(low_A, low_V, low_ohm, limits))
    rest_A = test_A - slow.current(zener_V)
    rest_siemens = 1 / test_ohm - slow.power * slow.current(zener_V) / zener_V
    if rest_A <= 0 or rest_siemens <= 0:
        return (alone,)
    return slow, Knee(rest_A, zener_V, max(rest_siemens * zener_V / rest_A, 1.0))


def _power(amps: float, volts: float, ohm: float, limits: Sequence[tuple[float, float]]) -> float:
    """The power with this differential resistance at (amps, volts), steepened to pass no more than the limits."""
    steeper = (log(amps / limit_A) / log(volts / limit_V) for limit_V, limit_A in limits
               if limit_V < volts and limit_A < amps)
    return max(volts / (amps * ohm), 1.0, *steeper)


def _rise(low: tuple[float, float], high: tuple[float, float]) -> float:
    """Volts between two currents where the differential resistance falls with a power of the current."""
    (low_A, low_ohm), (high_A, high_ohm) = low, high
    power = 1 + log(high_ohm / low_ohm) / log(high_A / low_A)
    return low_ohm * low_A * ((high_A / low_A) ** power - 1) / power if power else low_ohm * low_A * log(high_A / low_A)
