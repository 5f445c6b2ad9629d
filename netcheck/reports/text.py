"""The report on a file as text: the answer, the findings, what to do; every figure with `full`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from msgspec import Struct

from netcheck.checks.results import CellResult, Report, VariantResult
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment
from netcheck.reports import cures_text, vocabulary
from netcheck.reports.answer import Answer, achieved, answer, cures, others, questions
from netcheck.reports.blocks import Block, Bullets, Filled, Pairs, Pasted, filled
from netcheck.reports.causes import Told, cause, grouped, merged
from netcheck.reports.screen import WIDTH, block_lines, folded, lines_of, rule
from netcheck.wording.lists import listed

_MARGIN = 9
_SCREEN = 24
"""Lines of the short form: a terminal as it opens."""

_LEAST_FINDINGS = 4
"""Lines that the findings are to have of it, before a mod to paste is left to --full."""


def report_text(report: Report, variants: Sequence[Fragment], width: int = WIDTH, *, full: bool = False) -> str:
    """The report; `variants` are the fragments that were checked, in the report's order, the one asked for last."""
    told = _full(report, variants, width) if full else _short(report, variants, width)
    return "\n".join(told).rstrip() + "\n"


def line_text(report: Report, variants: Sequence[Fragment], width: int = WIDTH) -> str:
    """One file on one line: the verdict, the file, what does it."""
    said = answer(report.variants[-1], variants[-1])
    return verdict_line(said.verdict, Path(report.file).name, said.variant, said.rest, width)


def verdict_line(verdict: str, file: str, variant: str, said: str, width: int) -> str:
    """A file on one line, cut where the line is full, but never its name."""
    where = f"{file}, {vocabulary.variant(variant)}" if variant else file
    line = f"{vocabulary.MARKS.get(verdict, verdict.upper()):<{_MARGIN}}{where}{': ' if said else ''}{said}"
    room = max(width, _MARGIN + len(where) + 2)
    return line if len(line) <= room else f"{line[:room - 2].rstrip()} …"


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


class _Item(Struct, frozen=True):
    """A finding as lines, and the lines that say what to do about it: all ways, then fewer, down to the best alone."""

    kind: str
    said: tuple[str, ...]
    advice: tuple[tuple[str, ...], ...]


def _short(report: Report, variants: Sequence[Fragment], width: int) -> Iterator[str]:
    """A screen: the answer, the findings, what the variant is good for, a cure to paste, the verdict again."""
    result, fragment = report.variants[-1], variants[-1]
    said = answer(result, fragment)
    head = [*folded(said.sentence, width), *folded(_beside(report, variants), width), ""]
    tail = list(_after(said, result, fragment, width))
    if len(head) + len(tail) > _SCREEN - _LEAST_FINDINGS:
        tail = list(_after(said, result, fragment, width, pasted=False))
    findings = [_item(told, said, result, fragment, width) for told in grouped(result.findings)
                if not _told_otherwise(told[0])]
    yield from head if findings else head[:-1]
    yield from _fitted(findings, _SCREEN - len(head) - len(tail), width)
    yield from tail


def _after(
    said: Answer, result: VariantResult, fragment: Fragment, width: int, *, pasted: bool = True
) -> Iterator[str]:
    good = achieved(result, fragment)
    if said.finding is not None and good:
        yield from folded(vocabulary.sentence(good), width)
    for question in questions(result, fragment):
        yield from folded(question, width)
    proposed = proposal(result, fragment)
    if proposed and pasted:
        yield from ("", *block_lines([proposed], width))
    elif proposed:
        yield from ("", *folded(f"{proposed.title.partition(' Under ')[0]} As a mod to paste: --full", width))
    last = f"{said.head}. Figures and sources: --full"
    yield from ("", last if len(last) <= width else f"{said.head}. More: --full")


def _told_otherwise(finding: Finding) -> bool:
    """A note on the life of a cell: that stands in what the variant is good for."""
    return finding.check == "life" and finding.severity is Severity.NOTE


def _item(told: Told, said: Answer, result: VariantResult, fragment: Fragment, width: int) -> _Item:
    finding, indent = told[0], " " * _MARGIN
    mark = f"{vocabulary.MARKS[str(finding.severity)]:<{_MARGIN}}"
    where = f" ({Path(fragment.file).name}:{finding.line})" if finding.line else ""
    ways = list(cures(finding, result))
    if finding is said.finding:
        words, ways = f"{finding.subject}: as said above", ways[1:]
    else:
        words = cause(told, result, fragment)
    if finding.severity is Severity.NOTE:
        ways = []
    offered = [f"{'Or' if number or finding is said.finding else 'What to do'}: {way}"
               for number, way in enumerate(ways)]
    return _Item(str(finding.severity), tuple(folded(f"{mark}{vocabulary.sentence(words)}{where}", width, indent)),
                 tuple(tuple(folded(f"{indent}{' '.join(offered[:count])}", width, indent))
                       for count in range(len(offered), 0, -1)))


def _fitted(items: Sequence[_Item], room: int, width: int) -> Iterator[str]:
    """As many findings as fit into the lines left, the gravest first, then as much advice; the rest is counted."""
    shown: list[_Item] = []
    used = 0
    for item in items:
        if used + len(item.said) + 1 > room and shown:
            break
        shown.append(item)
        used += len(item.said)
    left = items[len(shown):]
    used += 1 if left else 0
    for item in shown:
        yield from item.said
        advice = next((lines for lines in item.advice if used + len(lines) <= room), ())
        used += len(advice)
        yield from advice
    if left:
        kinds = [vocabulary.counted(number, kind) for kind in dict.fromkeys(item.kind for item in left)
                 if (number := sum(item.kind == kind for item in left))]
        yield from folded(f"{' ' * _MARGIN}… and {listed(kinds)} more: --full", width, " " * _MARGIN)


def _beside(report: Report, variants: Sequence[Fragment]) -> str:
    """Which board and file it is, and how the other variants that were judged stand."""
    words = [f"{report.title} ({Path(report.file).name})"]
    words += [f"{vocabulary.variant(one.variant)}: {one.verdict}" for one in others(report.variants, variants)]
    return f"{'; '.join(words)}."


def proposal(result: VariantResult, fragment: Fragment) -> Pasted | None:
    """The whole mod that cures the variant, to paste; where there is none, the first proved cure of a charged cell."""
    whole = next((cell.proposal for cell in result.cells.values() if cell.proposal), None)
    if whole is not None:
        steps = vocabulary.sentence(listed(list(whole.words)))
        leads = vocabulary.leads_to(whole, result.verdict)
        return Pasted(f"{steps} {leads} Under `mods:`:", whole.mod)
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
        from netcheck.reports.changes_text import beside  # for the full form of several variants alone

        yield from beside(report, variants, width).splitlines()
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
    from netcheck.reports.sections import SECTIONS  # many modules, for the long form alone

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


def _finding(finding: Finding, fragment: Fragment, width: int) -> Iterator[str]:
    mark, indent = f"{vocabulary.MARKS[str(finding.severity)]:<{_MARGIN}}", " " * _MARGIN
    where = f" ({Path(fragment.file).name}:{finding.line})" if finding.line else ""
    yield from folded(f"{mark}{finding.message}{where}", width, indent)
    if finding.advice:
        yield from folded(f"{indent}What to do: {finding.advice}", width, indent)
    if finding.sources and finding.severity is not Severity.NOTE:
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


