"""What a finding says in one phrase: what does it, and by how much, made of the figures and not of the message."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence

from msgspec.structs import replace

from netcheck.checks.results import VariantResult
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment
from netcheck.parts.specs import CellSpec
from netcheck.reports import vocabulary
from netcheck.wording.failing import FAILS
from netcheck.wording.figures import figure
from netcheck.wording.lists import designators
from netcheck.wording.phrases import phrase

_ORDER = tuple(Severity)

Told = tuple[Finding, tuple[str, ...]]
"""A finding, and the parts or nets it holds for."""


def grouped(findings: Sequence[Finding]) -> list[Told]:
    """Findings that say the same of several parts as one, the gravest first."""
    kept: dict[tuple[object, ...], list[Finding]] = {}
    for finding in findings:
        said = finding.message.replace(finding.subject, "…")
        kept.setdefault((finding.check, finding.severity, finding.state, said), []).append(finding)
    told = ((same[0], tuple(one.subject for one in same)) for same in kept.values())
    return sorted(told, key=lambda one: _ORDER.index(one[0].severity))


def merged(findings: Sequence[Finding]) -> list[Finding]:
    """The same with the message in full: "… The same holds for U2." """
    return [finding if len(subjects) == 1 else
            replace(finding, words={**finding.words, "alike": subjects[1:]})
            for finding, subjects in grouped(findings)]


def cause(told: Told, result: VariantResult, fragment: Fragment) -> str:
    """What does it, and by how much, without a stop at its end."""
    finding, subjects = told
    tell = _CAUSES.get(finding.check)
    said = tell(told, result, fragment) if tell else None
    if said:
        return said
    also = f" (so for {designators(subjects[1:])})" if len(subjects) > 1 else ""
    return f"{first_sentence(finding.message)}{also}"


_END = re.compile(r"(?<![A-Z0-9])[.] (?=[A-Z])")


def first_sentence(text: str) -> str:
    """The first sentence of a text, without its stop.

    >>> first_sentence("It burns. Keep it out."), first_sentence("Fit R1 of 1.5 k.")
    ('It burns', 'Fit R1 of 1.5 k')
    """
    return _END.split(text.strip(), maxsplit=1)[0].removesuffix(".")


def _charged(told: Told, result: VariantResult, fragment: Fragment) -> str | None:
    finding, _ = told
    cell, spec = result.cells.get(finding.subject), _cell_spec(fragment, finding.subject)
    route = next((one for one in cell.routes if one.conducting), None) if cell else None
    if cell is None or route is None or spec is None or not cell.charge_A or finding.severity is not Severity.DANGER:
        return None
    nominal = cell.takes_A.get(finding.state or "")
    differs = nominal and figure("charge_A", nominal) != figure("charge_A", cell.charge_A)
    return phrase("pushes-usually" if differs else "pushes", source=route.source, cell=finding.subject,
                  usual_A=nominal, most_A=cell.charge_A, through=tuple(route.parts),
                  when=finding.state if len(result.net_volts) > 1 else None,
                  kind=vocabulary.primary_cell(spec.chemistry), never=vocabulary.NEVER_CHARGED)


def _leaks(told: Told, result: VariantResult, fragment: Fragment) -> str | None:
    finding, _ = told
    share, most = finding.figures.get("share"), finding.figures.get("share_maximum")
    hours, least = finding.figures.get("hours_within_h"), finding.figures.get("hours_within_worst_h")
    spec = _cell_spec(fragment, finding.subject)
    if share is None or most is None or spec is None or finding.severity is not Severity.CAUTION:
        return None
    return phrase("leaks", who=finding.parts or "what blocks", cell=finding.subject, share=share, share_maximum=most,
                  service_years=fragment.conditions.years, fine_h=hours, fine_worst_h=least)


def _failing(told: Told, result: VariantResult, fragment: Fragment) -> str | None:
    finding, _ = told
    cell, spec = result.cells.get(finding.subject), _cell_spec(fragment, finding.subject)
    if cell is None or spec is None or cell.fault is None or finding.severity not in (Severity.CAUTION, Severity.NOTE):
        return None
    fault, allowed = cell.fault, spec.abnormal_charge_A
    limit = "not-stated" if allowed is None else "beyond" if fault.amps > allowed else "within"
    return phrase(f"would-go-{limit}", part=fault.part, fails=FAILS[fault.how], fault_A=fault.amps,
                  cell=finding.subject, allowed_A=allowed)


def _short_of(told: Told, result: VariantResult, fragment: Fragment) -> str | None:
    finding, subjects = told
    load = result.loads.get(finding.subject)
    if load is None or load.lowest_V is None or load.needs_V is None or load.margin_V is None \
            or finding.severity is not Severity.CAUTION or finding.state is not None:
        return None
    return phrase("short-of", loads=tuple(subjects), lowest_V=load.lowest_V, needs_V=load.needs_V,
                  margin_V=load.margin_V)


def _setting(told: Told, result: VariantResult, fragment: Fragment) -> str | None:
    """All that speaks against a setting, and not its first sentence alone: each is a reason of its own."""
    finding, subjects = told
    if len(subjects) > 1 or finding.case not in ("cured", "against"):
        return None
    return finding.message.partition(" So it is, in its own figures")[0].removesuffix(".")


_CAUSES: Mapping[str, Callable[[Told, VariantResult, Fragment], str | None]] = {
    "charge-route": _charged, "leakage": _leaks, "fault-current": _failing, "backup-voltage": _short_of,
    "setting": _setting,
}
"""How the cause is told for the checks whose figures say more than their message."""


def _cell_spec(fragment: Fragment, name: str) -> CellSpec | None:
    part = fragment.parts.get(name)
    return part.spec if part is not None and isinstance(part.spec, CellSpec) else None
