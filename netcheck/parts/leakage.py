"""The reverse current of a diode against reverse voltage and temperature, from its published points."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import log, log2

from netcheck.parts.catalogue import family
from netcheck.parts.entries import Family
from netcheck.parts.specs import DiodeSpec, LeakagePoint

ROOM_C = 25.0
# A published pair that rises faster with voltage than this is two test limits, not a law.
STEEPEST_POWER = 0.5


@dataclass(frozen=True, slots=True)
class Reverse:
    """Reverse current: `amps` [A] at `at_V` [V], growing as (V/at_V)**power; not `known` without figures."""

    amps: float
    at_V: float
    power: float
    known: bool = True

    def current(self, volts: float) -> float:
        """Reverse current [A] at a reverse voltage [V]."""
        return self.amps * (max(volts, 0.0) / self.at_V) ** self.power if self.power else self.amps


@dataclass(frozen=True, slots=True)
class Warming:
    """How the reverse current doubles: every inside_K between two published temperatures, else the worse."""

    cold_C: float
    hot_C: float
    inside_K: float
    usual_K: float

    def factor(self, temperature_C: float) -> float:
        """Reverse current over that at cold_C.

        >>> Warming(25.0, 25.0, 10.0, 10.0).factor(55.0)  # doubles for every 10 K
        8.0
        """
        inside = min(max(temperature_C, self.cold_C), self.hot_C)
        above = max(temperature_C - self.hot_C, 0.0) / min(self.inside_K, self.usual_K)
        below = max(self.cold_C - temperature_C, 0.0) / max(self.inside_K, self.usual_K)
        return float(2 ** ((inside - self.cold_C) / self.inside_K + above - below))


@lru_cache(maxsize=1024)
def reverse(spec: DiodeSpec, temperature_C: float, which: str = "typical") -> Reverse:
    """The reverse current at a temperature [°C]; which: typical or maximum.

    Voltage: the figure at the lowest published voltage holds at every voltage, or
    follows the power law of the two lowest where that is no steeper than that of a
    depletion layer (0.5); a typical figure without a law of its own follows the
    family's, a maximum stays flat. Meant for the few volts of a backup circuit: near the
    rated voltage it may fall short of a published limit. Temperature: the published
    pair, beyond it the family's doubling where that is worse. Typical figures that
    are not published are the family's share of the maxima, and never more than
    these; a maximum that is not published is the typical over that share.
    """
    if which not in ("typical", "maximum"):
        raise ValueError(f"which is typical or maximum, not {which!r}")
    common = family(spec.family)
    typical = [point for point in spec.leakage if point.limit == "typical"]
    maxima = [point for point in spec.leakage if point.limit == "maximum"]
    if not typical and not maxima:
        return Reverse(0.0, 1.0, 0.0, known=False)
    most = _reverse(maxima, spec.leakage, common, temperature_C) if maxima else None
    if which == "maximum" and most:
        return most
    if typical:
        usual = _reverse(typical, spec.leakage, common, temperature_C, common.leakage_power)
        if which == "maximum":
            return replace(usual, amps=usual.amps / common.leakage_share)
    else:
        shared = [replace(point, current_A=point.current_A * common.leakage_share)
                  for point in _coldest(maxima)]
        usual = _reverse(shared, spec.leakage, common, temperature_C, common.leakage_power)
    return replace(usual, amps=min(usual.amps, most.current(usual.at_V))) if most else usual


def _reverse(
    points: Sequence[LeakagePoint], every: Sequence[LeakagePoint], common: Family, temperature_C: float,
    usual_power: float = 0.0,
) -> Reverse:
    cold = _coldest(points)
    least = min(cold, key=lambda point: point.volts_V)
    power = _power(cold) or _power_when_hot(every) or usual_power
    warming = Warming(least.temperature_C, least.temperature_C, common.doubling_K, common.doubling_K)
    hot = [point for point in points if point.temperature_C > least.temperature_C]
    if hot:
        warmest = max(point.temperature_C for point in hot)
        same = min((point for point in hot if point.temperature_C == warmest),
                   key=lambda point: abs(point.volts_V - least.volts_V))
        ratio = same.current_A / least.current_A
        if ratio > 1:
            warming = replace(warming, hot_C=warmest,
                              inside_K=(warmest - least.temperature_C) / log2(ratio))
    return Reverse(least.current_A * warming.factor(temperature_C), least.volts_V, power)


def _coldest(points: Sequence[LeakagePoint]) -> list[LeakagePoint]:
    """The points at the temperature nearest to room temperature."""
    nearest = min((point.temperature_C for point in points), key=lambda celsius: abs(celsius - ROOM_C))
    return [point for point in points if point.temperature_C == nearest]


def _power_when_hot(points: Sequence[LeakagePoint]) -> float:
    """The power law of the hot points, for a part with one room temperature voltage only."""
    hot = [point for point in points if point.limit == "maximum" and point.temperature_C > ROOM_C + 10]
    return _power(hot) if hot else 0.0


def _power(points: Sequence[LeakagePoint]) -> float:
    """The exponent of the reverse voltage between the two lowest published voltages, 0 where it is no law."""
    by_volts = sorted(points, key=lambda point: point.volts_V)
    for low, high in itertools.pairwise(by_volts):
        if high.volts_V > low.volts_V:
            power = log(high.current_A / low.current_A) / log(high.volts_V / low.volts_V)
            return power if 0 < power <= STEEPEST_POWER else 0.0
    return 0.0
