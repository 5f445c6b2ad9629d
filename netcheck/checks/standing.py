"""How good a variant is against another: whether a change is a cure at all."""

from __future__ import annotations

from collections.abc import Mapping

from netcheck.checks.results import LoadResult, VariantResult
from netcheck.checks.voltage import must_be_kept
from netcheck.findings import Severity
from netcheck.fragment.model import Fragment, Kind

RANK = ("ok", "caution", "fails", "unknown", "danger")
"""Verdicts from the best to the worst that a cure can lead to."""

_SAME_V = 1e-3
"""Volts that are no difference."""


def standing(result: VariantResult) -> tuple[int, ...]:
    """How good a variant is, the lower the better: its verdict, then how many findings of each gravity."""
    severities = [str(finding.severity) for finding in result.findings]
    return (RANK.index(result.verdict), *(severities.count(word) for word in ("danger", "unknown", "fails", "caution")))


def nearest(result: VariantResult) -> tuple[float, ...]:
    """How near a variant comes to doing its job, the lower the nearer: before the cautions count the volts short."""
    rank, *counts, cautions = standing(result)
    short_V = sum(max(0.0, -load.margin_V) for load in result.loads.values() if load.margin_V is not None)
    return rank, *counts, short_V, cautions


def unkept(fragment: Fragment) -> frozenset[str]:
    """The loads of which the file says that no cell need keep them."""
    return frozenset(load.name for load in fragment.of_kind(Kind.LOAD) if must_be_kept(load) is False)


def better(after: VariantResult, before: VariantResult, free: frozenset[str] = frozenset()) -> bool:
    """Whether a change helps: a better standing, or the same and a cell that is drained much less; and none worse off.

    Volts that were short may be shorter only where it takes a danger away, and a danger taken away is not to be
    another one begun. free: loads that no cell need keep.
    """
    kept = {name: load for name, load in before.loads.items() if name in after.loads and name not in free}
    fewer = _dangers(after) < _dangers(before)
    helps = standing(after) < standing(before) or (standing(after) == standing(before) and _eased(after, before))
    return (helps and _dangers(after) <= _dangers(before) and _kept(after, kept)
            and (fed(after, before) or (fewer and _carried(after, before)))
            and (fewer or not _starved(after, kept)) and not idled(after, before) & after.cells.keys())


def _eased(after: VariantResult, before: VariantResult) -> bool:
    """Whether the cells give no more than half of what they gave for nothing."""
    return _wasted_A(after) <= 0.5 * _wasted_A(before) and _wasted_A(before) > 0


def _wasted_A(result: VariantResult) -> float:
    """Mean over the day."""
    return sum(finding.figures.get("lost_A", 0.0) * finding.figures.get("hours_a_day_h", 24.0) / 24.0
               for finding in result.findings if finding.check == "back-feed")


def _kept(after: VariantResult, before: Mapping[str, LoadResult]) -> bool:
    """Whether every load that a cell carried in some state is still carried by one."""
    return all(bool(after.loads[name].carried_by_cell) for name, load in before.items() if load.carried_by_cell)


def _starved(after: VariantResult, before: Mapping[str, LoadResult]) -> bool:
    """Whether a load gets fewer volts than it needs, and fewer than before."""
    pairs = [(after.loads[name].margin_V, load.margin_V) for name, load in before.items()]
    return any(now is not None and was is not None and now < min(was, 0.0) - _SAME_V for now, was in pairs)


def idled(after: VariantResult, before: VariantResult) -> frozenset[str]:
    """The cells that had a way to a load and have none any more, or are gone."""
    now, was = (frozenset[str]().union(*(load.reached_by for load in one.loads.values())) for one in (after, before))
    return was - now


def fed(after: VariantResult, before: VariantResult) -> bool:
    """Whether every load is still fed by a rail where one fed it with every supply on."""
    return all(_fed_as_before(after.loads[name], load) for name, load in before.loads.items() if name in after.loads)


def _fed_as_before(after: LoadResult, before: LoadResult) -> bool:
    """A jumper or pack that is gone takes its states with it: of those nothing is asked but that one like it is fed."""
    left = [state for state in before.fed_by_rail if state in after.volts]
    return set(left) <= set(after.fed_by_rail) and bool(before.fed_by_rail) <= bool(after.fed_by_rail)


def _carried(after: VariantResult, before: VariantResult) -> bool:
    """Whether a cell carries each load in the states in which no rail feeds it any more."""
    return all(set(load.fed_by_rail) - set(after.loads[name].fed_by_rail) <= set(after.loads[name].carried_by_cell)
               for name, load in before.loads.items() if name in after.loads)


def _dangers(result: VariantResult) -> frozenset[tuple[str, str]]:
    """What is harmed, and how; fewer of these is a true part of them, so that no danger is given for another."""
    return frozenset((finding.check, finding.subject) for finding in result.findings
                     if finding.severity is Severity.DANGER)
