"""One reading tells most: the probe that best separates what is still possible, by expected information.

The suspects of a diagnosis are weighed by their likelihood, with what each predicts for a probe; readings that a
meter can tell apart make groups, and the probe whose groups have the most entropy is the one to take next.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct

from netcheck.bench.diagnosis import Foreseen, Suspect, foresee
from netcheck.bench.likelihood import sensed_error
from netcheck.bench.measure import Depth, Measurement, Progress
from netcheck.bench.sheet import Probe
from netcheck.bench.single_faults import Hypothesis

_MOST_SUSPECTS = 12
_ERRORS = 2.0


class NextProbe(Struct, frozen=True):
    """The probe to take next: what it tells [bit], and which suspects it tells from which."""

    probe: Probe
    bits: float
    apart: tuple[tuple[str, ...], ...]


def next_probe(
    suspects: Sequence[Suspect], probes: Sequence[Probe], taken: Sequence[Measurement], progress: Progress | None = None
) -> NextProbe | None:
    """The most telling of the probes not yet taken; None where none tells anything, or one suspect is left.

    Probes that forbid what follows them (a reading above its limit) are safe to take as any other: they come
    before a cell is in.
    """
    ranked = list(suspects[:_MOST_SUSPECTS])
    open_ = [probe for probe in probes if not _done(probe.measurement, taken)]
    if len(ranked) < 2 or not open_:
        return None
    foreseen = foresee([suspect.faults[0] for suspect in ranked], [probe.measurement for probe in open_], progress,
                       Depth.NOMINAL)  # what each predicts is enough; how far it may be off is the meter's error
    return most_telling(open_, foreseen, weights(ranked))


def most_telling(
    probes: Sequence[Probe], foreseen: Sequence[Foreseen], shares: Sequence[float]
) -> NextProbe | None:
    """The probe that best separates weighed hypotheses, each with its prospects in the order of the probes."""
    best = max((_told(probe, place, foreseen, shares) for place, probe in enumerate(probes)), key=lambda one: one.bits)
    return best if best.bits > 0 else None


def weights(suspects: Sequence[Suspect]) -> list[float]:
    """Shares of the likelihood, their sum 1.

    A score is minus twice a logarithm; each reading left unexplained counts as unlikely as 1 in 100.
    """
    logs = [-0.5 * suspect.score - math.log(100) * len(suspect.misses) for suspect in suspects]
    most = max(logs)
    found = [math.exp(max(-50.0, one - most)) for one in logs]
    return [one / sum(found) for one in found]


def _told(probe: Probe, place: int, foreseen: Sequence[Foreseen], weights: Sequence[float]) -> NextProbe:
    groups = _groups([(one.hypothesis, one.prospects[place].value, weight)
                      for one, weight in zip(foreseen, weights, strict=True)
                      if one.prospects[place].problem is None], probe)
    shares = [sum(weight for _, _, weight in group) for group in groups]
    whole = sum(shares) or 1.0
    bits = -sum(share / whole * math.log2(share / whole) for share in shares if share > 0)
    return NextProbe(probe, bits, tuple(tuple(one.words for one, _, _ in group) for group in groups))


def _groups(
    predicted: Sequence[tuple[Hypothesis, float, float]], probe: Probe
) -> list[list[tuple[Hypothesis, float, float]]]:
    """Predictions that the meter cannot tell apart, together."""
    groups: list[list[tuple[Hypothesis, float, float]]] = []
    for one in sorted(predicted, key=lambda found: found[1]):
        error = _ERRORS * sensed_error(probe.measurement.what, one[1], one[1])
        if groups and one[1] - groups[-1][-1][1] <= error:
            groups[-1].append(one)
        else:
            groups.append([one])
    return groups


def _done(measurement: Measurement, taken: Sequence[Measurement]) -> bool:
    return any((one.what, one.at, one.against, one.through, one.state.name, set(one.without)) ==
               (measurement.what, measurement.at, measurement.against, measurement.through, measurement.state.name,
                set(measurement.without)) for one in taken)
