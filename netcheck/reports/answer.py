"""The answer first: one sentence that says the verdict, for which variant, what does it, by how much, what cures it."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from netcheck.checks.cures import remedy_words
from netcheck.checks.results import CellResult, VariantResult
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import AS_FOUND, Fragment
from netcheck.parts.specs import CellSpec
from netcheck.quantities import digits
from netcheck.reports import vocabulary
from netcheck.reports.words import listed

_ORDER = tuple(Severity)


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer on one variant. cause: what does it and by how much. cure: what to do; empty where nothing is."""

    verdict: str
    variant: str
    cause: str
    cure: str = ""

    @property
    def head(self) -> str:
        """The verdict and the variant: 'DANGER, mod "plain-swap"'."""
        return f"{vocabulary.MARKS[self.verdict]}, {vocabulary.variant(self.variant)}"

    @property
    def rest(self) -> str:
        """What does it, and what cures it."""
        return " ".join(filter(None, [_stopped(self.cause), self.cure]))

    @property
    def sentence(self) -> str:
        return f"{self.head}: {self.rest}"


def answer(result: VariantResult, fragment: Fragment) -> Answer:
    """The answer on a variant: its worst finding and what cures that, or what it is good for."""
    worst = next((one for one in merged(result.findings) if str(one.severity) == result.verdict), None)
    if worst is None:
        return Answer(result.verdict, result.name, achieved(result) or vocabulary.VERDICTS[result.verdict])
    return Answer(result.verdict, result.name, cause(worst, result, fragment), cure(worst, result))


def merged(findings: Sequence[Finding]) -> list[Finding]:
    """The gravest first; findings that say the same of several parts told once: "The same holds for U2"."""
    kept: dict[tuple[object, ...], list[Finding]] = {}
    for finding in findings:
        said = finding.message.replace(finding.subject, "…")
        kept.setdefault((finding.check, finding.severity, finding.state, said), []).append(finding)
    return sorted(map(_told_once, kept.values()), key=lambda one: _ORDER.index(one.severity))


def _told_once(same: Sequence[Finding]) -> Finding:
    first = same[0]
    if len(same) == 1:
        return first
    others = listed([finding.subject for finding in same[1:]])
    return replace(first, message=f"{first.message} The same holds for {others}.")


def cause(finding: Finding, result: VariantResult, fragment: Fragment) -> str:
    """What does it, and by how much, without a stop at its end."""
    tell = _CAUSES.get(finding.check)
    told = tell(finding, result, fragment) if tell else None
    return told or first_sentence(finding.message)


def _charged(finding: Finding, result: VariantResult, fragment: Fragment) -> str | None:
    cell, part = result.cells.get(finding.subject), fragment.parts.get(finding.subject)
    route = next((one for one in cell.routes if one.conducting), None) if cell else None
    if cell is None or route is None or part is None or not cell.charge_A or finding.severity is not Severity.DANGER:
        return None
    assert isinstance(part.spec, CellSpec)
    nominal = cell.takes_A.get(finding.state or "")
    most = digits.amps(cell.charge_A)
    much = f"{digits.amps(nominal)} ({most} at worst)" if nominal and digits.amps(nominal) != most else most
    way = f" through {listed(route.parts)}" if route.parts else ""
    when = f" in state {finding.state}" if finding.state and len(result.net_volts) > 1 else ""
    return (f"{route.source} pushes {much} into {part.name}{way}{when}; "
            f"{vocabulary.primary_cell(part.spec.chemistry)} {vocabulary.NEVER_CHARGED}")


_CAUSES: Mapping[str, Callable[[Finding, VariantResult, Fragment], str | None]] = {"charge-route": _charged}
"""How the cause is told for the checks whose figures say more than their message."""


def cure(finding: Finding, result: VariantResult) -> str:
    """The first cure as a sentence; empty where none is known."""
    cell = result.cells.get(finding.subject)
    if finding.check == "charge-route" and cell is not None and cell.remedies:
        return vocabulary.sentence(remedy_words(cell.remedies[0]))
    return vocabulary.sentence(first_sentence(finding.advice))


def achieved(result: VariantResult) -> str:
    """What a variant is good for: no charge, the volts left, the life; empty where nothing of it is known."""
    said = [words for name, cell in result.cells.items() if (words := _unharmed(name, cell))]
    said += [words for words in (_supplied(result), *(_lasting(name, cell) for name, cell in result.cells.items()))
             if words]
    return "; ".join(said)


def _unharmed(name: str, cell: CellResult) -> str:
    if not cell.primary or any(route.conducting for route in cell.routes):
        return ""
    return f"nothing charges {name}"


def _supplied(result: VariantResult) -> str:
    """The loads that a cell carries: volts at the worst against what they need, the tightest of them."""
    carried = {name: load for name, load in result.loads.items()
               if load.carried_by_cell and load.lowest_V is not None and load.needs_V is not None}
    if not carried:
        return ""
    load = min(carried.values(), key=lambda one: one.margin_V or 0.0)
    alike = [other for other, one in carried.items() if one.lowest_V == load.lowest_V and one.needs_V == load.needs_V]
    gets = "gets" if len(alike) == 1 else "get"
    return (f"{listed(alike)} {gets} {digits.volts(load.lowest_V)} at the worst and "
            f"need{'s' if len(alike) == 1 else ''} {digits.volts(load.needs_V)}")


def _lasting(name: str, cell: CellResult) -> str:
    if cell.life is None or cell.life.years is None:
        return ""
    return f"{name} lasts {digits.durations(cell.life.least_years, cell.life.years)}"


_END = re.compile(r"(?<![A-Z0-9])[.] (?=[A-Z])")


def first_sentence(text: str) -> str:
    """The first sentence of a text, without its stop.

    >>> first_sentence("It burns. Keep it out."), first_sentence("Fit R1 of 1.5 k.")
    ('It burns', 'Fit R1 of 1.5 k')
    """
    return _END.split(text.strip(), maxsplit=1)[0].removesuffix(".")


def _stopped(text: str) -> str:
    return text if not text or text[-1] in ".?!" else f"{text}."


def others(results: Sequence[VariantResult], variants: Sequence[Fragment]) -> list[Answer]:
    """The answers on all variants but the last: as found first."""
    return [answer(result, fragment) for result, fragment in zip(results[:-1], variants[:-1], strict=True)]


def is_mod(result: VariantResult) -> bool:
    return result.name != AS_FOUND
