"""What a finding advises where that was proved: the cures after which it is found no more, or is less grave."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from msgspec.structs import replace

from netcheck.checks.cures import remedy_words
from netcheck.checks.results import Proposal, VariantResult
from netcheck.conduction.remedies import Remedy
from netcheck.findings import Finding, Severity
from netcheck.wording.lists import listed

Proved = Sequence[tuple[Remedy, VariantResult]]
"""Remedies, each with what it leads to, the best first."""

Whole = tuple[Proposal, VariantResult] | None
"""The whole mod that is proposed, with what it leads to."""

_SAID = 2
"""Cures that an advice names: the best, and another way."""

_DIODE_V = 0.3
"""What a diode more takes at least, a Schottky type (common practice, no source)."""

_MOST_STEPS = 3
"""Changes of a whole mod up to which it is told as one advice."""


def advised(
    finding: Finding, cures: Proved, own: Callable[[Finding], Proved | None], whole: Whole = None,
    spare_V: float | None = None,
) -> Finding:
    """A finding with the best of the cures that end it as its advice.

    own: those of the finding alone, asked for where none of the variant's ends a fault current beyond the limit, for
    which nothing is advised unproved; None where they were not tried. whole: where no single change ends it, all of
    those together, else what leaves less of it; None for a finding that is not among the gravest. spare_V: what the
    loads of the cells have more than they need.
    """
    if finding.severity is Severity.NOTE or (finding.check, finding.severity) == ("charge-route", Severity.DANGER):
        return finding  # a charge has its cures already
    if (finding.check, finding.case) == ("tracing", "backwards"):  # what else silences it does not turn the cell
        cures = [(remedy, after) for remedy, after in cures if remedy.extra.get("turn") == finding.subject]
        whole = None
    must = (finding.check, finding.case) == ("fault-current", "beyond")
    found = ending(finding, cures)
    if not found and must:
        tried = own(finding)
        found = ending(finding, tried or ())
        if tried is None and not found:
            return _by_all(finding, whole) or _unproved(finding, spare_V)
    if not found:
        together = _by_all(finding, whole)
        if together is not None:
            return together
        found = [remedy for remedy, after in cures if not _left(finding, after, finding.severity)]
    if not found:
        return replace(finding, words={**finding.words, "cured": "not"}) if must else finding
    said = tuple(remedy_words(remedy) for remedy in found if remedy.verdict == found[0].verdict)[:_SAID]
    return _with(finding, said)


def ending(finding: Finding, cures: Proved) -> list[Remedy]:
    """The cures after which this is found no more."""
    return [remedy for remedy, after in cures if not _left(finding, after, Severity.CAUTION)]


def _left(finding: Finding, after: VariantResult, least: Severity) -> bool:
    """Whether the same is found after a change, as grave as this at least."""
    severities = list(Severity)
    return any((one.check, one.subject) == (finding.check, finding.subject)
               and severities.index(one.severity) <= severities.index(least) for one in after.findings)


def _unproved(finding: Finding, spare_V: float | None) -> Finding:
    """Without a second diode among what is advised where there are no volts for it."""
    short = spare_V is not None and spare_V < _DIODE_V
    return replace(finding, words={**finding.words, "cured": "short"}) if short else finding


def _by_all(finding: Finding, whole: Whole) -> Finding | None:
    """The finding with the whole mod as its advice, where that ends it and is short enough to be told."""
    if whole is None or len(whole[0].words) > _MOST_STEPS or _left(finding, whole[1], Severity.CAUTION):
        return None
    return _with(finding, (listed(whole[0].words),))


def _with(finding: Finding, cures: tuple[str, ...]) -> Finding:
    return replace(finding, words={**finding.words, "cures": cures, "cured": "proved"})
