"""Which single fault explains readings best, when some of them are not what they should be.

Every hypothesis is simulated under the very measurements that were taken. It
is judged by all readings together: how far they lie from what it predicts,
where the meter may err in each by itself, and the tolerances of the board may
move all of them, but together. With r the residuals, E the meter's errors (a
diagonal) and J what each tolerance does to each reading, that is the least of

    |(r - J·t) / E|² + |t|²   over t   =   rᵀ (E² + J·Jᵀ)⁻¹ r

(generalised least squares with correlated errors, Aitken 1935: from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from netcheck.checks import measure, meter
from netcheck.checks.hypotheses import Hypothesis, hypotheses
from netcheck.checks.measure import Depth, Measurement, Progress, Prospect, prospects
from netcheck.checks.meter import What
from netcheck.fragment.model import Fragment

MOST_CIRCUITS = 30_000
"""Above so many circuits a first look without tolerances picks the hypotheses worth a second."""

_TRIALS = 16  # circuits that one measurement takes with all its tolerances, about


@dataclass(frozen=True, slots=True)
class Taken:
    """A reading that was taken [V, A or ohm; infinite: OL]."""

    measurement: Measurement
    value: float


@dataclass(frozen=True)
class Suspect:
    """Faults that these readings cannot tell apart, and how well they explain them.

    cost: the least sum of squares above, 0 for a perfect fit; explained: how many
    of the readings lie inside the band that the first of the faults predicts.
    """

    faults: tuple[Hypothesis, ...]
    cost: float
    explained: int
    misses: tuple[int, ...]

    @property
    def words(self) -> tuple[str, ...]:
        return tuple(fault.words for fault in self.faults)


@dataclass(frozen=True)
class Diagnosis:
    """Suspects, the likeliest first; unsolved: faults that could not be simulated, with the reason.

    bridges_untried: pairs of nets between which no solder bridge was tried.
    """

    suspects: tuple[Suspect, ...]
    readings: int
    unsolved: tuple[tuple[str, str], ...]
    bridges_untried: int


@dataclass(frozen=True)
class Foreseen:
    """A hypothesis with what it predicts for each measurement."""

    hypothesis: Hypothesis
    prospects: tuple[Prospect, ...]

    @property
    def problem(self) -> str | None:
        return next((p.problem for p in self.prospects if p.problem is not None), None)


def diagnose(fragment: Fragment, taken: Sequence[Taken], progress: Progress | None = None) -> Diagnosis:
    """Rank every single fault of a fragment by how well it explains all readings."""
    tried = hypotheses(fragment)
    measurements = [one.measurement for one in taken]
    kept: Sequence[Hypothesis] = tried.all
    affordable = MOST_CIRCUITS // (_TRIALS * max(1, len(taken)))
    if len(kept) > affordable:
        kept = _shortlist(kept, taken, max(affordable, 10), progress)
    foreseen = foresee(kept, measurements, progress)
    return Diagnosis(
        tuple(rank(foreseen, taken)), len(taken),
        tuple((one.hypothesis.words, one.problem) for one in foreseen if one.problem is not None),
        tried.untried)


def foresee(
    tried: Sequence[Hypothesis], measurements: Sequence[Measurement], progress: Progress | None = None,
    depth: Depth = Depth.ALONE,
) -> list[Foreseen]:
    """What each hypothesis predicts, all in one run of the simulator."""
    wanted = [(one.subject, measurement) for one in tried for measurement in measurements]
    found = iter(prospects(wanted, progress, depth))
    return [Foreseen(one, tuple(next(found) for _ in measurements)) for one in tried]


def rank(foreseen: Sequence[Foreseen], taken: Sequence[Taken]) -> list[Suspect]:
    """Hypotheses by how well they explain readings; those that the readings cannot tell apart together."""
    scored = sorted(((cost(one.prospects, taken), place) for place, one in enumerate(foreseen)
                     if one.problem is None))
    groups: list[tuple[float, list[Foreseen]]] = []
    for value, place in scored:
        one = foreseen[place]
        alike = next((group for _, group in groups if same(group[0].prospects, one.prospects, taken)), None)
        if alike is None:
            groups.append((value, [one]))
        else:
            alike.append(one)
    return [_suspect(value, group, taken) for value, group in groups]


def _suspect(value: float, group: Sequence[Foreseen], taken: Sequence[Taken]) -> Suspect:
    misses = tuple(
        place for place, (prospect, one) in enumerate(zip(group[0].prospects, taken, strict=True))
        if not _inside(prospect, one))
    return Suspect(tuple(one.hypothesis for one in group), value, len(taken) - len(misses), misses)


def _inside(prospect: Prospect, taken: Taken) -> bool:
    what = taken.measurement.what
    band = measure.band(what, prospect)
    value = math.inf if meter.overload(what, taken.value) else taken.value
    return band.low <= value <= band.high


def cost(predicted: Sequence[Prospect], taken: Sequence[Taken]) -> float:
    """The least sum of squares (see the module), with the matrix inversion lemma over the tolerances."""
    axes = sorted({axis for prospect in predicted for axis in prospect.swings})
    size = len(axes)
    normal = [[float(i == j) for j in range(size)] for i in range(size)]
    moments = [0.0] * size
    total = 0.0
    for prospect, one in zip(predicted, taken, strict=True):
        error = sensed_error(one.measurement.what, one.value, prospect.value)
        residual = (measure.seen(one.measurement.what, one.value) - prospect.value) / error
        total += residual * residual
        slopes = [(place, swing.slope / error) for place, axis in enumerate(axes)
                  if (swing := prospect.swings.get(axis)) is not None and swing.slope]
        for i, slope in slopes:
            moments[i] += slope * residual
            for j, other in slopes:
                normal[i][j] += slope * other
    return max(0.0, total - _quadratic(normal, moments))


def same(first: Sequence[Prospect], second: Sequence[Prospect], taken: Sequence[Taken]) -> bool:
    """Whether two hypotheses predict the same readings, as near as the meter can tell."""
    return all(
        abs(one.value - other.value) <= 2 * sensed_error(reading.measurement.what, reading.value, one.value)
        for one, other, reading in zip(first, second, taken, strict=True))


def sensed_error(what: What, value: float, predicted: float) -> float:
    """The meter's error for a reading, in what the meter sees (siemens for ohms)."""
    if what is not What.OHMS:
        return meter.error(what, min(abs(value), meter.full_scale(what)))
    conductance = max(measure.seen(what, value), predicted, 1 / meter.full_scale(what))
    ohm = max(0.0, 1 / conductance - meter.LEADS_OHM)
    return conductance * min(1.0, (meter.error(what, ohm) + meter.LEADS_OHM) * conductance)


def _quadratic(matrix: list[list[float]], vector: Sequence[float]) -> float:
    """vᵀ M⁻¹ v of a positive definite matrix, by Cholesky's decomposition."""
    lower: list[list[float]] = []
    total = 0.0
    solved: list[float] = []
    for i, row in enumerate(matrix):
        own: list[float] = []
        for j in range(i):
            own.append((row[j] - sum(a * b for a, b in zip(own, lower[j], strict=False))) / lower[j][j])
        pivot = math.sqrt(row[i] - sum(a * a for a in own))
        lower.append([*own, pivot])
        solved.append((vector[i] - sum(a * b for a, b in zip(own, solved, strict=True))) / pivot)
        total += solved[-1] ** 2
    return total


def _shortlist(
    tried: Sequence[Hypothesis], taken: Sequence[Taken], most: int, progress: Progress | None
) -> list[Hypothesis]:
    """The hypotheses worth a second look: by their nominal predictions, with the healthy board's tolerances."""
    measurements = [one.measurement for one in taken]
    healthy = foresee(tried[:1], measurements, progress)[0]
    quick = foresee(tried, measurements, progress, Depth.NOMINAL)
    scored = [(math.inf if one.problem else cost(one.prospects, taken), place)
              for place, one in enumerate(_lent(quick[1:], healthy), 1)]
    return [tried[0], *(tried[place] for _, place in sorted(scored)[:most])]


def _lent(quick: Sequence[Foreseen], healthy: Foreseen) -> Iterator[Foreseen]:
    for one in quick:
        yield Foreseen(one.hypothesis, tuple(
            Prospect(own.value, other.swings, problem=own.problem or other.problem)
            for own, other in zip(one.prospects, healthy.prospects, strict=True)))

