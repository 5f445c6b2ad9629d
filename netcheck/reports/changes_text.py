"""Variants against each other as text for an 80-column screen."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from netcheck.checks.changes import Changes, Figure, FigureChange, PartChange, figures, in_order, part_changes
from netcheck.checks.results import Report
from netcheck.fragment.model import Fragment, Part
from netcheck.quantities.values import engineering
from netcheck.reports.words import either_way_round, listed, what

WIDTH = 80
_COLUMN = 12
_MOST_COLUMNS = 4
_MOST_ROWS = 60
_LEAST_SHOWN_V = 5e-4  # less is the solver's own

_NOT_THERE = "-"
_UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a table: what it is of, and a cell for each variant."""

    label: str
    cells: tuple[str, ...]


def changes_text(found: Changes) -> str:
    """What changed, in words and tables; figures that are as before are only counted."""
    lines = [f"From {found.before} to {found.after}", ""]
    lines += [f"Verdict: {_verdicts(found)}", ""]
    lines += ["Parts", *_bullets(map(part_change_words, found.parts), "none changed"), ""]
    lines += _findings(found)
    rows, same = change_rows(found.figures)
    if rows:
        lines += _table(rows, ("before", "after"))
    lines += [f"{same} figures are as before." if rows else "Every figure is as before.", ""]
    return "\n".join(lines).rstrip() + "\n"


def part_change_words(change: PartChange) -> str:
    """One changed part: "BT1 replaced: a CR2032 cell in place of the NiCd-3x60 cell"."""
    before, after = change.before, change.after
    if before is None and after is not None:
        return f"{change.name} fitted: {what(after)}, on {listed(list(dict.fromkeys(after.nets)))}"
    if after is None and before is not None:
        return f"{change.name} removed: {what(before)}"
    assert before is not None
    assert after is not None
    moves = [f"{_pin(after, pin)} from {before.pins[pin]} to {net}" for pin, net in after.pins.items()
             if pin in before.pins and before.pins[pin] != net]
    if change.how == "set":
        return f"{change.name} set from {before.position} to {after.position}"
    if change.how == "moved":
        return f"{change.name} moved: {listed(moves)}"
    moved = f"; {listed(moves)}" if moves else ""
    return f"{change.name} replaced: {what(after)} in place of {what(before)}{moved}"


def _pin(part: Part, pin: str) -> str:
    return "an end" if either_way_round(part) else f"pin {pin}" if pin.isdigit() else pin


def change_rows(changed: Iterable[FigureChange]) -> tuple[list[Row], int]:
    """The figures that differ as rows (before, after), and how many are as before."""
    all_of_them = list(changed)
    rows = [Row(figure_words(one.figure), (shown_figure(one.figure, one.before, one.there[0]),
                                           shown_figure(one.figure, one.after, one.there[1])))
            for one in all_of_them if one.differs]
    shown = [row for row in rows if row.cells[0] != row.cells[1]]
    return shown, len(all_of_them) - len(shown)


def beside(report: Report, variants: Sequence[Fragment]) -> str:
    """As found beside every other variant of a report: parts, verdicts, and the figures that are not all alike.

    variants: the fragments that were checked, in the report's order.
    """
    lines = ["Side by side", "------------", ""]
    for number, (result, fragment) in enumerate(zip(report.variants, variants, strict=True), 1):
        parts = [part_change_words(change) for change in part_changes(variants[0], fragment)]
        lines += _wrap(f"({number}) {result.name}: {result.verdict.upper()}", "    ")
        lines += [line for words in parts for line in _wrap(f"    - {words}", "      ")]
    lines.append("")
    rows, same = beside_rows(report)
    numbers = [f"({number})" for number in range(1, len(report.variants) + 1)]
    for start in range(0, len(numbers), _MOST_COLUMNS):
        part = slice(start, start + _MOST_COLUMNS)
        lines += _table([Row(row.label, row.cells[part]) for row in rows[:_MOST_ROWS]], numbers[part])
    more = f"; {len(rows) - _MOST_ROWS} more differ: all of them with --format json" \
        if len(rows) > _MOST_ROWS else ""
    lines.append(f"{same} figures are the same in all of them{more}.")
    return "\n".join(lines) + "\n"


def beside_rows(report: Report) -> tuple[list[Row], int]:
    """The figures that are not alike in all variants as rows, and how many are alike."""
    columns = [figures(result) for result in report.variants]
    every = in_order(figure for column in columns for figure in column)
    rows = [Row(figure_words(figure), tuple(_of(column, figure) for column in columns)) for figure in every]
    differing = [row for row in rows if len(set(row.cells)) > 1]
    return differing, len(rows) - len(differing)


def figure_words(figure: Figure) -> str:
    """What a figure is of: "U1 volts, stored"."""
    return f"{figure.subject} {figure.what}" + (f", {figure.state}" if figure.state is not None else "")


def _of(column: Mapping[Figure, float | None], figure: Figure) -> str:
    return shown_figure(figure, column.get(figure), figure in column)


def shown_figure(figure: Figure, value: float | None, there: bool) -> str:
    """A figure as it stands in a table; `there`: whether its variant has it."""
    if not there:
        return _NOT_THERE
    if figure.unit == "count":
        return "no route" if value is None else f"{value:g}"
    if value is None:
        return "floats" if figure.kind == "net" else _UNKNOWN
    if figure.unit == "year":
        return "no end" if math.isinf(value) else in_short(value)
    if figure.unit == "V" and abs(value) < _LEAST_SHOWN_V:
        return "0 V"
    return engineering(value, figure.unit)


def in_short(years: float) -> str:
    """A life in few letters.

    >>> in_short(11.7), in_short(0.8)
    ('12 years', '10 months')
    """
    if years >= 1.95:
        return f"{years:.0f} years"
    return f"{years * 12:.0f} months" if years * 12 >= 1.95 else f"{years * 365:.0f} days"


def _verdicts(found: Changes) -> str:
    before, after = found.verdicts
    return f"{before}, as before" if before == after else f"{before} becomes {after}"


def _findings(found: Changes) -> list[str]:
    lines: list[str] = []
    for heading, said in (("No longer found", found.gone), ("Newly found", found.come)):
        if said:
            lines += [heading, *_bullets(said, ""), ""]
    return lines


def _table(rows: Sequence[Row], heads: Sequence[str]) -> Iterator[str]:
    room = WIDTH - _COLUMN * len(heads)
    yield " " * room + "".join(f"{head:>{_COLUMN}}" for head in heads)
    for row in rows:
        *first, last = textwrap.wrap(row.label, room - 1, subsequent_indent="  ")
        yield from first
        yield f"{last:<{room}}" + "".join(f"{cell:>{_COLUMN}}" for cell in row.cells)


def _bullets(items: Iterable[str], none: str) -> list[str]:
    lines = [line for item in items for line in _wrap(f"- {item}", "  ")]
    return lines or [f"- {none}"]


def _wrap(text: str, indent: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
