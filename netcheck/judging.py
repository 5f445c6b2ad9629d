"""The whole judgement of one variant: the backup section, and every further section of the house.

A section is a function of the solved states (`checks.variant.Section`); a room that judges something adds its own
here, and nothing else has to know of it.
"""

from __future__ import annotations

from netcheck.checks.results import VariantResult
from netcheck.checks.tracing import warnings
from netcheck.checks.variant import Judged, Section, check_variant
from netcheck.fragment.model import Fragment
from netcheck.solving.asking import Asking, asked
from netcheck.solving.solved_states import Survey


def judge(fragment: Fragment) -> VariantResult:
    """Judge one variant in every state that it can stand in."""
    return check_variant(fragment, warnings(fragment), SECTIONS)


def _readings(found: Survey) -> Asking[Judged]:
    yield from asked({})
    if found.missing or not found.fragment.readings:
        return Judged()
    from netcheck.bench.readings import reading_findings  # the bench is large, and most files have no readings

    return Judged(findings=tuple(reading_findings(found.fragment, explained=False)))


SECTIONS: tuple[Section, ...] = (_readings,)
