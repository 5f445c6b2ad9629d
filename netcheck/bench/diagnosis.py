"""Which single fault explains readings best, when some of them are not what they should be.

Every hypothesis is simulated under the very measurements that were taken, and
is judged by all readings together (see `likelihood`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from netcheck.bench.affordable import elements_of, trials_of
from netcheck.bench.likelihood import Fit, Taken, fit, same
from netcheck.bench.measure import Depth, Measurement, Progress, Prospect, Subject, Swing, prospects
from netcheck.bench.single_faults import Hypothesis, hypotheses
from netcheck.fragment.model import Fragment

MOST_CIRCUITS = 10_000
"""Above so many circuits a first look without tolerances picks the hypotheses worth a second."""

MOST_WORK = 1_000_000
"""Elements times circuits that a look without tolerances may cost, and as many the second."""

_FEWEST = 20
"""Faults that are tried however large the board."""

_FAULTS_A_PART = 10  # about
_TRIALS = 16  # circuits that one measurement takes with all its tolerances, about, on a board of usual size


class Suspect(Struct, frozen=True):
    """Faults that these readings cannot tell apart, and how well the first of them explains the readings.

    score: less is likelier; misses: the places of the readings that it leaves unexplained.
    """

    faults: tuple[Hypothesis, ...]
    score: float
    misses: tuple[int, ...]

    @property
    def words(self) -> tuple[str, ...]:
        return tuple(fault.words for fault in self.faults)


class Diagnosis(Struct, frozen=True):
    """Suspects, the likeliest first; unsolved: faults that could not be simulated, with the reason.

    bridges_untried: pairs of nets between which no solder bridge was tried; parts_untried: parts, further from the
    readings that are off, of which no fault was tried.
    """

    suspects: tuple[Suspect, ...]
    readings: int
    unsolved: tuple[tuple[str, str], ...]
    bridges_untried: int
    parts_untried: int = 0


class Foreseen(Struct, frozen=True):
    """A hypothesis with what it predicts for each measurement."""

    hypothesis: Hypothesis
    prospects: tuple[Prospect, ...]

    @property
    def problem(self) -> str | None:
        return next((p.problem for p in self.prospects if p.problem is not None), None)


def diagnose(fragment: Fragment, taken: Sequence[Taken], progress: Progress | None = None) -> Diagnosis:
    """Rank every single fault of a fragment by how well it explains all readings."""
    measurements = [one.measurement for one in taken]
    each = elements_of(fragment) * max(1, len(taken))
    tried = hypotheses(fragment) if _FAULTS_A_PART * len(fragment.parts) * each <= MOST_WORK else \
        hypotheses(fragment, _suspicious(fragment, taken), max(_FEWEST, MOST_WORK // each))
    kept: Sequence[Hypothesis] = tried.all
    affordable = min(MOST_CIRCUITS // (_TRIALS * max(1, len(taken))), MOST_WORK // (trials_of(fragment) * each))
    if len(kept) > affordable:
        kept = _shortlist(kept, taken, max(affordable, 10), progress)
    foreseen = foresee(kept, measurements, progress)
    return Diagnosis(
        tuple(rank(foreseen, taken)), len(taken),
        tuple((one.hypothesis.words, one.problem) for one in foreseen if one.problem is not None),
        tried.untried, tried.parts_untried)


def _suspicious(fragment: Fragment, taken: Sequence[Taken]) -> set[str]:
    """The nets of the readings that a board without a fault leaves unexplained; of all where it explains them."""
    healthy = foresee([Hypothesis("no fault", Subject(fragment))], [one.measurement for one in taken])[0]
    off = () if healthy.problem else fit(healthy.prospects, taken).misses
    places = [taken[place].measurement for place in off] or [one.measurement for one in taken]
    return {net for one in places for net in
            (fragment.parts[one.through].nets if one.through is not None else (one.at, one.against))
            if net is not None}


def foresee(
    tried: Sequence[Hypothesis], measurements: Sequence[Measurement], progress: Progress | None = None,
    depth: Depth = Depth.ALONE,
) -> list[Foreseen]:
    """What each hypothesis predicts; the size of a fault that may have any counts as one more tolerance."""
    subjects = [(one.subject, measurement) for one in tried for measurement in measurements]
    sized = [(subject, measurement) for one in tried for measurement in measurements
             for subject in one.around or ()]
    found = iter(prospects(subjects, progress, depth))
    ends = iter(prospects(sized, progress, Depth.NOMINAL))
    return [
        Foreseen(one, tuple(
            next(found) if one.around is None else _sized(next(found), next(ends), next(ends))
            for _ in measurements))
        for one in tried
    ]


def _sized(own: Prospect, smaller: Prospect, larger: Prospect) -> Prospect:
    swing = Swing(larger.value - own.value, smaller.value - own.value)
    return replace(own, swings={**own.swings, "size": swing},
                   problem=own.problem or smaller.problem or larger.problem)


def rank(foreseen: Sequence[Foreseen], taken: Sequence[Taken]) -> list[Suspect]:
    """Hypotheses by how many readings they leave unexplained, then by their score; those alike together.

    Of faults that differ in nothing but their size the best one stands for all.
    """
    fits = [(fit(one.prospects, taken), one) for one in foreseen if one.problem is None]
    groups: list[tuple[Fit, list[Foreseen]]] = []
    families: set[str] = set()
    for found, one in sorted(fits, key=lambda pair: (len(pair[0].misses), pair[0].score)):
        family = one.hypothesis.family
        if family and family in families:
            continue
        families.add(family)
        alike = next((group for _, group in groups if same(group[0].prospects, one.prospects, taken)), None)
        if alike is None:
            groups.append((found, [one]))
        else:
            alike.append(one)
    return [Suspect(tuple(one.hypothesis for one in group), found.score, found.misses) for found, group in groups]


def _shortlist(
    tried: Sequence[Hypothesis], taken: Sequence[Taken], most: int, progress: Progress | None
) -> list[Hypothesis]:
    """The hypotheses worth a second look: by their nominal predictions, with the healthy board's tolerances."""
    measurements = [one.measurement for one in taken]
    healthy = foresee(tried[:1], measurements, progress)[0]
    quick = foresee(tried, measurements, progress, Depth.NOMINAL)
    scored = [(math.inf if one.problem else fit(one.prospects, taken).score, place)
              for place, one in enumerate(_lent(quick[1:], healthy), 1)]
    return [tried[0], *(tried[place] for _, place in sorted(scored)[:most])]


def _lent(quick: Sequence[Foreseen], healthy: Foreseen) -> Iterator[Foreseen]:
    for one in quick:
        yield Foreseen(one.hypothesis, tuple(
            Prospect(own.value, {**other.swings, **own.swings}, problem=own.problem or other.problem)
            for own, other in zip(one.prospects, healthy.prospects, strict=True)))

