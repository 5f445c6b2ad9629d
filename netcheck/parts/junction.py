"""The forward law of a diode, its temperature law, and its fit to published points."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import exp, expm1, log, log1p

from msgspec import Struct
from msgspec.structs import replace

# Boltzmann constant over elementary charge, V/K; both exact since 2019 (SI Brochure, BIPM, 9th edition, 2.2).
BOLTZMANN_V_PER_K = 1.380649e-23 / 1.602176634e-19
ZERO_CELSIUS_K = 273.15

# How far the fit prefers the usual slope, and no series resistance, where the points leave them open.
_SLOPE_PREFERENCE_V = 0.003
_SERIES_PREFERENCE = 0.01
# Above this current a point counts less: the drop there is series resistance, which no backup load sees.
_FULL_WEIGHT_BELOW_A = 0.1
_GRID, _NARROWING = 40, 28  # steps of the search for IS: to 1e-6 of its logarithm


def thermal_V(temperature_C: float) -> float:
    """kT/q in volt.

    >>> round(thermal_V(26.85), 6)  # 300 K
    0.025852
    """
    return BOLTZMANN_V_PER_K * (temperature_C + ZERO_CELSIUS_K)


class Law(Struct, frozen=True):
    """V = N·kT/q·ln(1 + I/IS) + I·RS, at temperature_C.

    saturation_A: IS [A]; emission: N [1]; series_ohm: RS [ohm].
    """

    saturation_A: float
    emission: float
    series_ohm: float
    temperature_C: float

    def volts(self, current_A: float) -> float:
        """Forward drop [V] at a current [A].

        >>> round(Law(2e-14, 1.0, 0.0, 26.85).volts(10e-3), 4)  # course assertion, 300 K: 0.6964 V
        0.6964
        """
        return self.junction_V(current_A) + current_A * self.series_ohm

    def junction_V(self, current_A: float) -> float:
        """The drop without that of the series resistance [V]."""
        return self.emission * thermal_V(self.temperature_C) * log1p(current_A / self.saturation_A)

    def at(self, temperature_C: float, gap_eV: float, temperature_exponent: float) -> Law:
        """The same diode at another temperature.

        IS(T) = IS(T0)·(T/T0)^(XTI/N)·exp(EG/N·(1/Vt(T0) - 1/Vt(T))), the law of the
        SPICE diode; series resistance is taken as constant. Valid -55 … 175 °C.
        """
        ratio = (temperature_C + ZERO_CELSIUS_K) / (self.temperature_C + ZERO_CELSIUS_K)
        inverse = 1 / thermal_V(self.temperature_C) - 1 / thermal_V(temperature_C)
        growth = ratio ** (temperature_exponent / self.emission) * exp(gap_eV / self.emission * inverse)
        return replace(self, saturation_A=self.saturation_A * growth, temperature_C=temperature_C)

    def through(self, current_A: float, junction_V: float, emission: float, series_ohm: float) -> Law:
        """The law of another slope that has this junction voltage at this current."""
        slope = emission * thermal_V(self.temperature_C)
        return Law(current_A / expm1(junction_V / slope), emission, series_ohm, self.temperature_C)


class Slope(Struct, frozen=True):
    """The emission coefficient [1] a fit prefers, and the range it may use."""

    usual: float
    low: float
    high: float


def fit(points: Sequence[tuple[float, float]], slope: Slope, temperature_C: float) -> Law:
    """The law through published (ampere, volt) points, by least squares in volts.

    For a given IS the law is linear in N and RS, which are solved in closed form
    within slope.low … slope.high and RS ≥ 0; IS is then searched for. What the
    points leave open is settled by the family's usual slope and no resistance.
    Raises ValueError without points.
    """
    if not points:
        raise ValueError("a fit needs at least one point")
    most_A = max(current for current, _ in points)
    lowest_A = min(current for current, _ in points)
    most_V = max(volts for _, volts in points)
    thermal = thermal_V(temperature_C)
    def best(log_is: float) -> tuple[float, float, float]:
        """Squared misfit, N and RS for one saturation current."""
        is_A = exp(log_is)
        rows = [(thermal * log1p(amps / is_A), amps, volts, weight(amps)) for amps, volts in points]
        rows.append((_SLOPE_PREFERENCE_V, 0.0, _SLOPE_PREFERENCE_V * slope.usual, 1.0))
        rows.append((0.0, _SERIES_PREFERENCE * most_A, 0.0, 1.0))
        return _solve(rows, slope)

    start, stop = log(lowest_A) - most_V / (slope.low * thermal), log(most_A) + 3
    step = (stop - start) / _GRID
    grid = [start + step * index for index in range(_GRID + 1)]
    middle = min(grid, key=lambda log_is: best(log_is)[0])
    log_is = golden(lambda x: best(x)[0], middle - step, middle + step)
    _, emission, series = best(log_is)
    return Law(exp(log_is), emission, series, temperature_C)


def weight(current_A: float) -> float:
    """How much a published point counts: fully in a backup circuit's range, less above 0.1 A."""
    return 1 / (1 + current_A / _FULL_WEIGHT_BELOW_A)


def _solve(rows: Sequence[tuple[float, float, float, float]], slope: Slope) -> tuple[float, float, float]:
    """Least squares of N·x + RS·i = v with weights, N within its range and RS not negative."""
    xx = sum(w * x * x for x, _, _, w in rows)
    xi = sum(w * x * i for x, i, _, w in rows)
    ii = sum(w * i * i for _, i, _, w in rows)
    xv = sum(w * x * v for x, _, v, w in rows)
    iv = sum(w * i * v for _, i, v, w in rows)

    def clamped(n: float) -> float:
        return min(max(n, slope.low), slope.high)

    free = xx * ii - xi * xi
    candidates = [(n, max((iv - xi * n) / ii, 0.0)) for n in (slope.low, slope.high)]
    candidates.append((clamped(xv / xx), 0.0))
    if free > 0:
        n, series = (xv * ii - iv * xi) / free, (iv * xx - xv * xi) / free
        if slope.low <= n <= slope.high and series >= 0:
            candidates.append((n, series))

    def misfit(n: float, series: float) -> float:
        return sum(w * (n * x + series * i - v) ** 2 for x, i, v, w in rows)

    return min((misfit(n, series), n, series) for n, series in candidates)


def golden(misfit: Callable[[float], float], low: float, high: float) -> float:
    """Where a function is least between two ends, by golden section."""
    share = 0.6180339887498949
    left, right = high - share * (high - low), low + share * (high - low)
    at_left, at_right = misfit(left), misfit(right)
    for _ in range(_NARROWING):
        if at_left < at_right:
            high, right, at_right = right, left, at_left
            left = high - share * (high - low)
            at_left = misfit(left)
        else:
            low, left, at_left = left, right, at_right
            right = low + share * (high - low)
            at_right = misfit(right)
    return (low + high) / 2
