"""How well a prediction explains readings, where the board's tolerances may move all of them, but together.

With r the residuals, E the meter's errors (a diagonal) and J what each
tolerance does to each reading, the cost is the least of

    |(r - J·t) / E|² + |t|²   over t   =   rᵀ (E² + J·Jᵀ)⁻¹ r

and the score adds ln det(E² + J·Jᵀ): a prediction so vague that it fits
anything is worth less than a sharp one that fits as well. That is minus twice
the logarithm of a Gaussian likelihood, but for a constant (generalised least
squares, Aitken 1935: from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct

from netcheck.bench import measure, meter
from netcheck.bench.measure import Measurement, Prospect
from netcheck.bench.meter import What

_LOOSE = 0.05
"""Share of a tolerance's swing that a straight line through it may be wrong by (common practice, no source)."""

_ERRORS = 3.0
_FURTHEST = 1.5  # in half-widths of its band: no tolerance is stretched further to explain a reading


class Taken(Struct, frozen=True):
    """A reading that was taken [V, A or ohm; infinite: OL]."""

    measurement: Measurement
    value: float


class Fit(Struct, frozen=True):
    """cost and score as above; misses: the places of the readings that stay unexplained."""

    cost: float
    score: float
    misses: tuple[int, ...]


def fit(predicted: Sequence[Prospect], taken: Sequence[Taken]) -> Fit:
    """Fit the tolerances of a prediction to readings, with the matrix inversion lemma over the tolerances."""
    axes = sorted({axis for prospect in predicted for axis in prospect.swings})
    errors = [sensed_error(one.measurement.what, one.value, prospect.value)
              for prospect, one in zip(predicted, taken, strict=True)]
    residuals = [(measure.seen(one.measurement.what, one.value) - prospect.value) / error
                 for prospect, one, error in zip(predicted, taken, errors, strict=True)]
    slopes = [[prospect.swings[axis].slope / error if axis in prospect.swings else 0.0 for axis in axes]
              for prospect, error in zip(predicted, errors, strict=True)]
    normal = [[float(i == j) + sum(row[i] * row[j] for row in slopes) for j in range(len(axes))]
              for i in range(len(axes))]
    moments = [sum(row[i] * residual for row, residual in zip(slopes, residuals, strict=True))
               for i in range(len(axes))]
    places, volume = solved(normal, moments)
    cost = sum(one * one for one in _left(residuals, slopes, places)) + sum(place * place for place in places)
    possible = [max(-_FURTHEST, min(place, _FURTHEST)) for place in places]
    misses = tuple(
        place for place, (prospect, one, error, rest) in enumerate(
            zip(predicted, taken, errors, _left(residuals, slopes, possible), strict=True))
        if not _explained(prospect, one, error, rest))
    return Fit(cost, cost + volume + 2 * sum(map(math.log, errors)), misses)


def _left(
    residuals: Sequence[float], slopes: Sequence[Sequence[float]], places: Sequence[float]
) -> list[float]:
    """What is left of the residuals, in meter errors, with each tolerance at its place in its band."""
    return [residual - sum(slope * place for slope, place in zip(row, places, strict=True))
            for row, residual in zip(slopes, residuals, strict=True)]


def _explained(prospect: Prospect, taken: Taken, error: float, rest: float) -> bool:
    """Whether a reading lies in its band, and near the prediction once the tolerances have been fitted."""
    what = taken.measurement.what
    band = measure.band(what, prospect)
    value = math.inf if meter.overload(what, taken.value) else taken.value
    width = sum(swing.high - swing.low for swing in prospect.swings.values())
    return band.low <= value <= band.high and abs(rest) * error <= _ERRORS * error + _LOOSE * width


def same(first: Sequence[Prospect], second: Sequence[Prospect], taken: Sequence[Taken]) -> bool:
    """Whether two predictions are of the same readings, as near as the meter can tell."""
    return all(
        abs(one.value - other.value) <= 2 * sensed_error(reading.measurement.what, reading.value, one.value)
        for one, other, reading in zip(first, second, taken, strict=True))


def sensed_error(what: What, value: float, predicted: float) -> float:
    """The meter's error for a reading, in what the meter sees (siemens for ohms, the leads included)."""
    if what is not What.OHMS:
        return meter.error(what, min(abs(value), meter.full_scale(what)))
    conductance = max(measure.seen(what, value), predicted, 1 / meter.full_scale(what))
    ohm = max(0.0, 1 / conductance - meter.LEADS_OHM)
    return conductance * min(1.0, (meter.error(what, ohm) + meter.LEADS_OHM) * conductance)


def solved(matrix: Sequence[Sequence[float]], vector: Sequence[float]) -> tuple[list[float], float]:
    """M⁻¹ v and ln det M of a positive definite matrix, by Cholesky's decomposition.

    >>> solved([[4.0, 0.0], [0.0, 9.0]], [8.0, 9.0])[0]
    [2.0, 1.0]
    """
    lower: list[list[float]] = []
    for i, row in enumerate(matrix):
        own: list[float] = []
        for j in range(i):
            own.append((row[j] - sum(a * b for a, b in zip(own, lower[j], strict=False))) / lower[j][j])
        lower.append([*own, math.sqrt(row[i] - sum(a * a for a in own))])
    forward: list[float] = []
    for row, value in zip(lower, vector, strict=True):
        forward.append((value - sum(a * b for a, b in zip(row, forward, strict=False))) / row[-1])
    found = [0.0] * len(forward)
    for i in reversed(range(len(forward))):
        known = sum(lower[j][i] * found[j] for j in range(i + 1, len(forward)))
        found[i] = (forward[i] - known) / lower[i][i]
    return found, 2 * sum(math.log(row[-1]) for row in lower)
