"""What a finding advises where that was proved: the cures after which it is found no more."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from msgspec.structs import replace

from netcheck.checks.cures import remedy_words
from netcheck.checks.results import VariantResult
from netcheck.conduction.remedies import Remedy
from netcheck.findings import Finding, Severity

Proved = Sequence[tuple[Remedy, VariantResult]]
"""Remedies, each with what it leads to, the best first."""

_SAID = 2
"""Cures that an advice names: the best, and another way."""


def advised(finding: Finding, cures: Proved, own: Callable[[Finding], Proved | None]) -> Finding:
    """A finding with the best of the cures that end it as its advice.

    own: those of the finding alone, asked for where none of the variant's ends a fault current beyond the limit, for
    which nothing is advised unproved; None where they were not tried.
    """
    if finding.severity is Severity.NOTE or (finding.check, finding.severity) == ("charge-route", Severity.DANGER):
        return finding  # a charge has its cures already
    must = (finding.check, finding.case) == ("fault-current", "beyond")
    found = ending(finding, cures)
    if not found and must:
        tried = own(finding)
        if tried is None:
            return finding
        found = ending(finding, tried)
    if not found:
        return replace(finding, words={**finding.words, "cured": "not"}) if must else finding
    said = tuple(remedy_words(remedy) for remedy in found if remedy.verdict == found[0].verdict)[:_SAID]
    return replace(finding, words={**finding.words, "cures": said, "cured": "proved"})


def ending(finding: Finding, cures: Proved) -> list[Remedy]:
    """The cures after which this is found no more."""
    return [remedy for remedy, after in cures if not any(
        (one.check, one.subject) == (finding.check, finding.subject) and one.severity is not Severity.NOTE
        for one in after.findings)]
