"""What a change cannot reach: what is found of parts in other sections stays as it is."""

from __future__ import annotations

from collections.abc import Sequence

from netcheck.checks.results import VariantResult
from netcheck.checks.standing import RANK
from netcheck.fragment.groups import groups, held_always
from netcheck.fragment.model import Fragment, Kind, Step


def best_rank(fragment: Fragment, result: VariantResult, steps: Sequence[Step]) -> int:
    """The best verdict that these steps can lead to, as its place in RANK; result: that of the fragment before them.

    What is found of a section with a cell may depend on the loads of others (what loads the cells for good), and of a
    chip or a connector on what its neighbours are: neither is counted on to stay.
    """
    near = reached(fragment, steps) | {
        name for group in groups(fragment)
        if any(fragment.parts[one].kind in _NEIGHBOURLY for one in group.parts) for name in group.parts}
    left = [RANK.index(str(finding.severity)) for finding in result.findings
            if finding.subject in fragment.parts and str(finding.severity) in RANK
            and near.isdisjoint((finding.subject, *finding.parts))]
    return max(left, default=0)


_NEIGHBOURLY = (Kind.CELL, Kind.CHIP, Kind.CONNECTOR)


def reached(fragment: Fragment, steps: Sequence[Step]) -> frozenset[str]:
    """The parts of the fragment that these steps can change anything for: those of the sections that they touch."""
    names = {name for step in steps for name in (
        *step.names, *step.settings, *(name for name, _ in step.moves), *(part.name for part in step.parts))}
    nets = {net for step in steps for net in (
        *step.names, *step.moves.values(), *(net for part in step.parts for net in part.nets))} - held_always(fragment)
    near = (group.parts for group in groups(fragment)
            if any(one in names or not nets.isdisjoint(fragment.parts[one].nets) for one in group.parts))
    return frozenset(name for parts in near for name in parts)
