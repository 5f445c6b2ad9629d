"""The reverse current of a diode against reverse voltage and temperature, from its published points."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import groupby, pairwise
from math import exp, log

from msgspec import Struct
from msgspec.structs import replace

from netcheck.parts.catalogue import family
from netcheck.parts.junction import BOLTZMANN_V_PER_K, ZERO_CELSIUS_K
from netcheck.parts.specs import DiodeSpec, LeakagePoint
from netcheck.parts.zener import knee

ROOM_C = 25.0
REFERENCE_V = 5.0
"""Where the currents of two temperatures are compared: a figure elsewhere is brought here by the curve."""
CURVE_TO_V = 30.0
"""What a backup circuit sees; above it avalanche bends the published curves."""
LEAST_V = 0.5
"""The least reverse voltage at which typical and maximum are held against each other."""
LEAST_SHARE = 0.01
"""Of a zener's published reverse current, what is leakage whatever its knee passes."""
STEEPEST_LIMITS = 1.1
"""Published maxima that rise with a higher power of the voltage are two test limits and no curve."""
STEEPEST_CURVE = 2.0


class Shape(Struct, frozen=True):
    """How a reverse current grows with voltage: (V + from_V)**power."""

    from_V: float
    power: float

    def grown(self, volts: float, since_V: float) -> float:
        """The current at a reverse voltage [V] over that at another.

        >>> round(Shape(8.0, 1.0).grown(25.0, 2.0), 2)  # BAT54, Vishay: 54 nA at 2 V, 178 nA at 25 V
        3.3
        """
        if not self.power:
            return 1.0
        return float(((max(volts, 0.0) + self.from_V) / (since_V + self.from_V)) ** self.power)


FLAT = Shape(0.0, 0.0)


class Reverse(Struct, frozen=True):
    """Reverse current: `amps` [A] at `at_V` [V], growing as its shape says; not `known` without figures.

    guaranteed_from_V: a maximum is the maker's guarantee from this voltage up (0: at
    every voltage); below it the curve of the same part carries on, which is no guarantee.
    """

    amps: float
    at_V: float
    shape: Shape
    known: bool = True
    guaranteed_from_V: float = 0.0

    def current(self, volts: float) -> float:
        """Reverse current [A] at a reverse voltage [V]."""
        return self.amps * self.shape.grown(volts, self.at_V)

    @property
    def power(self) -> float:
        return self.shape.power


class Rung(Struct, frozen=True):
    """The reverse current [A] at REFERENCE_V and a temperature, and how it grows with voltage there."""

    celsius: float
    amps: float
    shape: Shape


class Ladder(Struct, frozen=True):
    """Reverse currents at rising temperatures: between two of them by the law of activation.

    ln I falls in step with 1/T (a straight line in an Arrhenius plot); beyond the
    published temperatures with the part's or the family's slope, whichever gives more current.
    """

    rungs: tuple[Rung, ...]
    usual_eV: float

    def at(self, celsius: float) -> Rung:
        """
        >>> cold, hot = Rung(50.0, 50e-9, FLAT), Rung(100.0, 1.08e-6, FLAT)  # 1N4148, NXP, 20 V
        >>> round(Ladder((cold, hot), 0.6).at(75.0).amps * 1e9)  # published: 257 nA
        259
        """
        rungs = self.rungs
        if len(rungs) == 1:
            return self._beyond(rungs[0], celsius, self.usual_eV)
        if celsius <= rungs[0].celsius:
            return self._beyond(rungs[0], celsius, min(self.usual_eV, activation_eV(rungs[0], rungs[1])))
        if celsius >= rungs[-1].celsius:
            return self._beyond(rungs[-1], celsius, max(self.usual_eV, activation_eV(rungs[-2], rungs[-1])))
        low, high = next((a, b) for a, b in pairwise(rungs) if celsius <= b.celsius)
        share = _inverse_K(low.celsius, celsius) / _inverse_K(low.celsius, high.celsius)

        def mixed(one: float, other: float) -> float:
            return one + share * (other - one)

        shape = Shape(mixed(low.shape.from_V, high.shape.from_V), mixed(low.shape.power, high.shape.power))
        return Rung(celsius, exp(mixed(log(low.amps), log(high.amps))), shape)

    @staticmethod
    def _beyond(rung: Rung, celsius: float, slope_eV: float) -> Rung:
        grown = exp(slope_eV / BOLTZMANN_V_PER_K * _inverse_K(rung.celsius, celsius))
        return Rung(celsius, rung.amps * grown, rung.shape)


def activation_eV(cold: Rung, hot: Rung) -> float:
    """The activation energy [eV] between two currents at REFERENCE_V; 0 where the hot one is not larger."""
    rise = log(hot.amps / cold.amps)
    return max(BOLTZMANN_V_PER_K * rise / _inverse_K(cold.celsius, hot.celsius), 0.0)


def doubling_eV(kelvin: float) -> float:
    """The activation energy [eV] with which a current doubles over `kelvin` from room temperature.

    >>> round(doubling_eV(10.0), 2)
    0.55
    """
    return BOLTZMANN_V_PER_K * log(2) / _inverse_K(ROOM_C, ROOM_C + kelvin)


def _inverse_K(cold_C: float, hot_C: float) -> float:
    """1/T of a temperature less that of another [1/K]."""
    return 1 / (cold_C + ZERO_CELSIUS_K) - 1 / (hot_C + ZERO_CELSIUS_K)


@lru_cache(maxsize=1024)
def reverse(spec: DiodeSpec, temperature_C: float, which: str = "typical") -> Reverse:
    """The reverse current at a temperature [°C]; which: typical or maximum.

    Typical: the maker's curve. Where only maxima are published, the family's share of
    the lowest one, along the family's curve; never above the maximum. Maximum: the
    published limits; below the lowest of their voltages along the scatter limit or the typical
    curve of the same part (`guaranteed_from_V` says from where on it is a guarantee), without such
    a curve flat. It covers what another maker publishes as typical of the same type.
    Where no maximum is published it is the typical over the family's share.
    Meant for the few volts of a backup circuit, to CURVE_TO_V.
    """
    if which not in ("typical", "maximum"):
        raise ValueError(f"which is typical or maximum, not {which!r}")
    if not any(point.limit in ("typical", "maximum") for point in spec.leakage):
        return Reverse(0.0, 1.0, FLAT, known=False)
    typical, maximum, guaranteed_V = _ladders(spec)
    most = maximum.at(temperature_C)
    if which == "maximum":
        return Reverse(most.amps, REFERENCE_V, most.shape, guaranteed_from_V=guaranteed_V)
    usual = typical.at(temperature_C)
    limit = Reverse(most.amps, REFERENCE_V, most.shape)
    found = Reverse(usual.amps, REFERENCE_V, usual.shape)
    stated_V = min((point.volts_V for point in spec.leakage if point.limit == "maximum"), default=CURVE_TO_V)
    over = max(found.current(volts) / limit.current(volts)
               for volts in {LEAST_V, min(REFERENCE_V, stated_V), min(CURVE_TO_V, stated_V)})
    return replace(found, amps=found.amps / max(over, 1.0))


@lru_cache(maxsize=1024)
def _ladders(spec: DiodeSpec) -> tuple[Ladder, Ladder, float]:
    """Typical and maximum reverse current, and the voltage from which on the maximum is guaranteed."""
    common = family(spec.family)
    usual_eV = doubling_eV(common.doubling_K)
    published = _beside_the_knee(spec)
    typical, maxima = _of(published, "typical"), _of(published, "maximum")
    curves = _of(published, "scatter") or typical
    own = _shape(_low(_coldest(typical)), STEEPEST_CURVE) if typical else None
    curve = _shape(_low(_coldest(curves)), STEEPEST_CURVE) if curves else None
    drawn = own or _shape_when_hot(maxima) or Shape(common.leakage_from_V, common.leakage_power)
    if typical:
        usual = Ladder(_rungs(typical, drawn, STEEPEST_CURVE), usual_eV)
    else:
        share = [replace(_lowest(_coldest(maxima)), limit="typical")]
        usual = Ladder(_rungs(share, drawn, STEEPEST_CURVE, common.leakage_share), usual_eV)
    if not maxima:
        raised = tuple(replace(rung, amps=rung.amps / common.leakage_share) for rung in usual.rungs)
        return usual, Ladder(raised, usual_eV), 0.0
    stated = _shape(_coldest(maxima), STEEPEST_LIMITS)
    shape = stated or curve or _shape_when_hot(maxima) or FLAT
    most = Ladder(_rungs(maxima, shape, STEEPEST_LIMITS), usual_eV)
    if len(most.rungs) == 1 and len(usual.rungs) > 1:  # hot figures of the typical current alone
        ratio = most.rungs[0].amps / usual.at(most.rungs[0].celsius).amps
        most = Ladder(tuple(replace(rung, amps=rung.amps * ratio) for rung in usual.rungs), usual_eV)
        most = Ladder(tuple(replace(rung, shape=shape) for rung in most.rungs), usual_eV)
    most = _covering(most, [*typical, *_of(published, "scatter"), *_of(published, "elsewhere")])
    return usual, most, _lowest(_coldest(maxima)).volts_V if stated is None and shape.power else 0.0


def _beside_the_knee(spec: DiodeSpec) -> tuple[LeakagePoint, ...]:
    """The published currents less what a zener's knee passes there, of which LEAST_SHARE remains at least."""
    terms = knee(spec, "maximum")
    return tuple(replace(point, current_A=max(
        point.current_A - sum(term.current(point.volts_V) for term in terms), point.current_A * LEAST_SHARE))
        for point in spec.leakage)


def _covering(ladder: Ladder, points: Iterable[LeakagePoint]) -> Ladder:
    """A ladder raised until no point up to CURVE_TO_V lies above it at the point's own temperature."""
    short = 1.0
    for point in _low(points):
        rung = ladder.at(point.temperature_C)
        short = max(short, point.current_A / (rung.amps * rung.shape.grown(point.volts_V, REFERENCE_V)))
    return Ladder(tuple(replace(rung, amps=rung.amps * short) for rung in ladder.rungs), ladder.usual_eV)


def _rungs(points: Sequence[LeakagePoint], usual: Shape, steepest: float, share: float = 1.0) -> tuple[Rung, ...]:
    """The published temperatures from cold to hot; a hotter one with less current says nothing and goes."""
    found: list[Rung] = []
    by_heat = sorted(points, key=lambda point: point.temperature_C)
    for celsius, group in groupby(by_heat, key=lambda point: point.temperature_C):
        there = list(group)
        limits = there[0].limit == "maximum"
        near = [_lowest(there)] if limits and _shape(there, steepest) is None else _low(there)
        shape = _shape(near, steepest) or usual
        brought = [log(point.current_A * share / shape.grown(point.volts_V, REFERENCE_V)) for point in near]
        amps = exp(max(brought) if limits else sum(brought) / len(brought))
        if not found or amps > found[-1].amps:
            found.append(Rung(celsius, amps, shape))
    return tuple(found)


def _of(points: Iterable[LeakagePoint], limit: str) -> list[LeakagePoint]:
    return [point for point in points if point.limit == limit]


def _coldest(points: Sequence[LeakagePoint]) -> list[LeakagePoint]:
    """The points at the temperature nearest to room temperature."""
    nearest = min((point.temperature_C for point in points), key=lambda celsius: abs(celsius - ROOM_C))
    return [point for point in points if point.temperature_C == nearest]


def _low(points: Iterable[LeakagePoint]) -> list[LeakagePoint]:
    """The points up to CURVE_TO_V, at least the two lowest."""
    by_volts = sorted(points, key=lambda point: point.volts_V)
    return [point for place, point in enumerate(by_volts) if place < 2 or point.volts_V <= CURVE_TO_V]


def _lowest(points: Iterable[LeakagePoint]) -> LeakagePoint:
    return min(points, key=lambda point: point.volts_V)


def _shape_when_hot(points: Sequence[LeakagePoint]) -> Shape | None:
    """The curve of the hot limits, for a part with one voltage at room temperature."""
    hot = [point for point in points if point.temperature_C > ROOM_C + 10]
    return _shape(_coldest(hot), STEEPEST_LIMITS) if hot else None


def _shape(points: Sequence[LeakagePoint], steepest: float) -> Shape | None:
    """How currents grow with voltage: a straight line where two points tell no more, else the best of its kind.

    None with fewer than two voltages, or where they rise more steeply than V**steepest.
    """
    pairs = sorted({(point.volts_V, point.current_A) for point in points})
    if len({volts for volts, _ in pairs}) < 2:
        return None
    (low_V, low_A), (high_V, high_A) = pairs[0], pairs[-1]
    overall = log(high_A / low_A) / log(high_V / low_V)
    if overall > steepest:
        return None
    if overall <= 0:
        return FLAT
    if overall > 1:
        return Shape(0.0, overall)
    ratio = high_A / low_A
    straight = Shape((high_V - ratio * low_V) / (ratio - 1), 1.0)
    if len(pairs) == 2:
        return straight
    return min((_least_squares(pairs, from_V) for from_V in _STARTS_V), key=lambda found: found[0])[1]


_STARTS_V = tuple(0.25 * 1.25**step - 0.25 for step in range(25))
"""Where a curve may start, V below 0: 0 (a plain power law) to some 50 V."""


def _least_squares(pairs: Sequence[tuple[float, float]], from_V: float) -> tuple[float, Shape]:
    """The power that fits best from a start, with its squared misfit in the logarithm."""
    rows = [(log(volts + from_V), log(amps)) for volts, amps in pairs]
    mean_x, mean_y = (sum(column) / len(rows) for column in zip(*rows, strict=True))
    power = (sum((x - mean_x) * (y - mean_y) for x, y in rows) / sum((x - mean_x) ** 2 for x, _ in rows))
    power = min(max(power, 0.0), STEEPEST_CURVE)
    return sum((y - mean_y - power * (x - mean_x)) ** 2 for x, y in rows), Shape(from_V, power)
