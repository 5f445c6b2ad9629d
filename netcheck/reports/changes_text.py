"""Variants against each other as text."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from msgspec import Struct

from netcheck.checks.changes import Changes, Figure, FigureChange, PartChange, figures, in_order, part_changes
from netcheck.checks.results import Report
from netcheck.fragment.model import Fragment, Part
from netcheck.quantities import digits
from netcheck.quantities.values import engineering
from netcheck.quantities.words import in_ranges, natural
from netcheck.reports import vocabulary
from netcheck.reports.blocks import Block, Bullets, Heading, Table, Words
from netcheck.reports.screen import WIDTH, block_lines
from netcheck.reports.words import either_way_round, what
from netcheck.wording.effects import effect_words
from netcheck.wording.lists import listed

_MOST_ROWS = 60

_NOT_THERE = "-"
_UNKNOWN = "unknown"


class Row(Struct, frozen=True):
    """One line of a table: what it is of, and a cell for each variant."""

    label: str
    cells: tuple[str, ...]


def changes_text(found: Changes, width: int = WIDTH) -> str:
    """What changed, in words and tables; figures that are as before are only counted."""
    return "\n".join(block_lines(_changes(found), width)).rstrip() + "\n"


def _changes(found: Changes) -> Iterator[Block]:
    yield Words(f"From {_named(found.before)} to {_named(found.after)}: {_verdicts(found)}.")
    yield from (_SPACE, Heading("Parts"), Bullets(tuple(map(part_change_words, found.parts)) or ("none changed",)))
    if does := _effects(found):
        yield from (_SPACE, Heading("What that does"), Bullets(does))
    for heading, said in (("No longer found", found.gone), ("Newly found", found.come)):
        if said:
            yield from (_SPACE, Heading(heading), Bullets(said))
    rows, same = change_rows(found.figures)
    if rows:
        yield from (_SPACE, _table(rows, ("before", "after")))
    yield Words(f"{vocabulary.counted(same, 'figure')} as before." if rows else "Every figure is as before.")


def _effects(found: Changes) -> tuple[str, ...]:
    """What the changes of capacitors do; the same of several told once."""
    by_words: dict[str, list[str]] = {}
    for name, effect in found.effects.items():
        if words := effect_words(effect):
            by_words.setdefault(words, []).append(name)
    return tuple(f"{in_ranges(natural(names))}: {words}" for words, names in by_words.items())


_SPACE = Words("")


def _named(variant: str) -> str:
    """A variant in words; one of another file comes with the file's name already."""
    return variant if ", " in variant else vocabulary.variant(variant)


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


def beside(report: Report, variants: Sequence[Fragment], width: int = WIDTH) -> str:
    """As found beside every other variant of a report: parts, verdicts, and the figures that are not all alike.

    variants: the fragments that were checked, in the report's order.
    """
    return "\n".join(block_lines(_beside(report, variants), width)) + "\n"


def _beside(report: Report, variants: Sequence[Fragment]) -> Iterator[Block]:
    yield Words("Side by side")
    for number, (result, fragment) in enumerate(zip(report.variants, variants, strict=True), 1):
        yield Words(f"({number}) {vocabulary.variant(result.name)}: {vocabulary.MARKS[result.verdict]}", 4)
        yield Bullets(tuple(part_change_words(change) for change in part_changes(variants[0], fragment)))
    rows, same = beside_rows(report)
    yield _SPACE
    yield _table(rows[:_MOST_ROWS], [f"({number})" for number in range(1, len(report.variants) + 1)])
    more = f"; {len(rows) - _MOST_ROWS} more differ: all of them with --format json" if len(rows) > _MOST_ROWS else ""
    yield Words(f"{vocabulary.counted(same, 'figure')} the same in all of them{more}.")


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
        return digits.duration(value)
    return digits.volts(value) if figure.unit == "V" else digits.amps(value) if figure.unit == "A" else \
        engineering(value, figure.unit)


def _verdicts(found: Changes) -> str:
    before, after = found.verdicts
    return f"{before}, as before" if before == after else f"{before} becomes {after}"


def _table(rows: Sequence[Row], heads: Sequence[str]) -> Table:
    return Table(("", *heads), tuple((row.label, *row.cells) for row in rows))
