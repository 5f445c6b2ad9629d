"""The report on a file as text: the answer, the findings, what to do; every figure with `full`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from netcheck.checks.results import CellResult, Report, VariantResult
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment
from netcheck.reports import cures_text, vocabulary
from netcheck.reports.answer import Answer, achieved, answer, merged, others
from netcheck.reports.blocks import Block, Bullets, Filled, Pairs, Pasted, filled
from netcheck.reports.changes_text import beside
from netcheck.reports.screen import WIDTH, block_lines, folded, lines_of, rule
from netcheck.reports.sections import SECTIONS

_MARGIN = 9
_SHOWN = 6
_NOTES = 3


def report_text(report: Report, variants: Sequence[Fragment], width: int = WIDTH, *, full: bool = False) -> str:
    """The report; `variants` are the fragments that were checked, in the report's order, the one asked for last."""
    told = _full(report, variants, width) if full else _short(report, variants, width)
    return "\n".join(told).rstrip() + "\n"


def line_text(report: Report, variants: Sequence[Fragment], width: int = WIDTH) -> str:
    """One file on one line: the verdict, the file, what does it."""
    said = answer(report.variants[-1], variants[-1])
    mark = f"{vocabulary.MARKS[said.verdict]:<{_MARGIN}}"
    line = f"{mark}{Path(report.file).name}, {vocabulary.variant(said.variant)}: {said.rest}"
    return line if len(line) <= width else f"{line[:width - 2].rstrip()} …"


def reports_text(
    checked: Sequence[tuple[Report, Sequence[Fragment]]], unusable: int, width: int = WIDTH, *, full: bool = False
) -> str:
    """Several files: a line each, the worst last, and a count; with `full` each at length before that."""
    order = list(vocabulary.VERDICTS)
    ranked = sorted(checked, key=lambda one: -order.index(one[0].verdict))
    at_length = [report_text(*one, width, full=True) for one in ranked] if full else []
    lines = "".join(line_text(*one, width) + "\n" for one in ranked)
    return "\n".join([*at_length, lines + count_text([report for report, _ in checked], unusable)])


def count_text(reports: Sequence[Report], unusable: int = 0) -> str:
    """How many files there were of each verdict, the worst last.

    >>> count_text([], 2)
    '2 files: 2 could not be used\\n'
    """
    tally = [f"{number} {word}" for word in reversed(list(vocabulary.VERDICTS))
             if (number := sum(one.verdict == word for one in reports))]
    tally += [f"{unusable} could not be used"] if unusable else []
    return f"{vocabulary.counted(len(reports) + unusable, 'file')}: {', '.join(tally)}\n"


def _short(report: Report, variants: Sequence[Fragment], width: int) -> Iterator[str]:
    result, fragment = report.variants[-1], variants[-1]
    said = answer(result, fragment)
    yield from folded(said.sentence, width)
    yield from folded(_beside(report, variants), width)
    yield ""
    findings = merged(result.findings)
    grave = [one for one in findings if one.severity is not Severity.NOTE]
    for finding in grave[:_SHOWN]:
        yield from _finding(finding, fragment, width, brief=True)
    if len(grave) > _SHOWN:
        yield f"{'':<{_MARGIN}}… and {len(grave) - _SHOWN} more: --full"
    notes = [one for one in findings if one.severity is Severity.NOTE]
    for finding in notes[:_NOTES]:
        yield from _finding(finding, fragment, width, brief=True)
    if len(notes) > _NOTES:
        yield f"{'':<{_MARGIN}}… and {vocabulary.counted(len(notes) - _NOTES, 'more note')}: --full"
    if grave and (good := achieved(result)):
        yield from folded(vocabulary.sentence(good), width)
    if proposed := _proposal(result, fragment):
        yield ""
        yield from block_lines([proposed], width)
    yield ""
    yield f"{said.head}. Figures and sources: --full"


def _beside(report: Report, variants: Sequence[Fragment]) -> str:
    """Which board and file it is, and how the other variants that were judged stand."""
    words = [f"{report.title} ({Path(report.file).name})"]
    words += [f"{vocabulary.variant(one.variant)}: {one.verdict}" for one in others(report.variants, variants)]
    return f"{'; '.join(words)}."


def _proposal(result: VariantResult, fragment: Fragment) -> Pasted | None:
    """The first proved cure of a cell that is charged, as a mod to paste."""
    for cell in _charged(result.cells.values()):
        for remedy in cell.remedies[:1]:
            made = cures_text.pasted(remedy, fragment)
            return Pasted(f"To do that, under `mods:` in {Path(fragment.file).name}:", made.text)
    return None


def _charged(cells: Iterable[CellResult]) -> Iterator[CellResult]:
    return (cell for cell in cells if cell.primary and cell.remedies)


def _full(report: Report, variants: Sequence[Fragment], width: int) -> Iterator[str]:
    said = answer(report.variants[-1], variants[-1])
    yield from folded(said.sentence, width)
    yield from folded(_beside(report, variants), width)
    yield ""
    judged = list(zip(report.variants, variants, strict=True))
    for result, fragment in (judged[-1], *judged[:-1]):
        yield from _variant(result, fragment, width, last=fragment is variants[-1])
    if len(report.variants) > 2:
        yield from beside(report, variants).splitlines()
        yield ""
    yield from lines_of(_rests_on(report), width)
    yield f"{said.head}."


def _variant(result: VariantResult, fragment: Fragment, width: int, *, last: bool) -> Iterator[str]:
    told: Answer = answer(result, fragment)
    heading = f"{told.head}: {vocabulary.VERDICTS[result.verdict]}"
    yield from (heading, rule(heading, width), "")
    for finding in merged(result.findings):
        yield from _finding(finding, fragment, width)
        yield ""
    if not result.findings:
        yield from ("Nothing to report.", "")
    yield from lines_of(filled(SECTIONS, result, fragment, last=last), width)


def _rests_on(report: Report) -> tuple[Filled, ...]:
    rests: tuple[Block, ...] = (Bullets(tuple(assumptions(report))),)
    said = " ".join(finding.message for result in report.variants for finding in result.findings)
    words = tuple(vocabulary.explained(f"{said} {' '.join(assumptions(report))} charge route"))
    return (
        Filled("rests", "What this rests on", rests),
        *((Filled("words", "Words used here", (Pairs(words),)),) if words else ()),
        Filled("care", "Take care", (Bullets(vocabulary.CAUTIONS),)),
    )


def _finding(finding: Finding, fragment: Fragment, width: int, *, brief: bool = False) -> Iterator[str]:
    mark, indent = f"{vocabulary.MARKS[str(finding.severity)]:<{_MARGIN}}", " " * _MARGIN
    where = f" ({Path(fragment.file).name}:{finding.line})" if finding.line else ""
    yield from folded(f"{mark}{finding.message}{where}", width, indent)
    if finding.advice and not (brief and finding.severity is Severity.NOTE):
        yield from folded(f"{indent}What to do: {finding.advice}", width, indent)
    if finding.sources and not brief and finding.severity is not Severity.NOTE:
        yield from folded(f"{indent}Source: {'; '.join(finding.sources)}", width, indent)


def assumptions(report: Report) -> Iterator[str]:
    """What the figures rest on, a sentence each."""
    assumed = report.assumed
    low, high = assumed["temperature_C"]
    hours = assumed["powered_hours_a_day"]

    def mark(name: str) -> str:
        return "as stated" if name in assumed["stated"] else "assumed"

    yield f"Inside the case {low:g} to {high:g} °C ({mark('temperature')})."
    if "powered" in assumed["stated"]:
        yield f"Powered {hours['life']:g} h a day (as stated)."
    else:
        yield ("How long it is powered is not stated: life is counted as if never switched on, and leakage into a cell "
               f"as if powered {hours['leakage']:g} h a day.")
    yield f"{assumed['years']:g} years of service ({mark('years')})."
    for net, how in assumed["dead_rails"].items():
        yield f"{net}, when off, {'is held near 0 V by the rest of the board' if how == 'low' else 'is left open'}."
    yield "Jumpers may stand in any of their positions, or be absent, in any state."
    yield "A primary cell is anywhere between fresh and its end point; an old cell has used 90 % of its capacity."
    for name, figures in assumed["from_memory"].items():
        yield f"{name}: from memory, to be checked against the data sheet: {', '.join(figures)}."


