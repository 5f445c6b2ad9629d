"""Blocks as lines for a screen of any width, and colour for the screens that have it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from textwrap import wrap

from netcheck.reports.blocks import Block, Bullets, Filled, Heading, Pairs, Pasted, Picture, Table, Words

WIDTH = 80
NARROWEST, WIDEST = 40, 120
_GAP = 2
_INDENT = "  "
_LEAST_LABEL = 14
_LABEL_SHARE = 0.62
"""The most of a line that labels may take; from the least on they are broken so that all columns fit."""


def lines_of(sections: Iterable[Filled], width: int = WIDTH) -> Iterator[str]:
    """Sections under their titles, each with an empty line after it."""
    for section in sections:
        yield from folded(section.title, width, _INDENT)
        yield from (f"{_INDENT}{line}".rstrip() for line in block_lines(section.blocks, width - len(_INDENT)))
        yield ""


def block_lines(blocks: Iterable[Block], width: int) -> Iterator[str]:
    """Blocks one after the other."""
    for block in blocks:
        match block:
            case Words(text, hang):
                yield from folded(text, width, " " * hang) or [""]
            case Heading(text):
                yield from folded(text, width, _INDENT)
            case Bullets(items):
                for item in items:
                    yield from folded(f"- {item}", width, _INDENT)
            case Table():
                yield from _table(block, width)
            case Pairs(rows):
                yield from _pairs(rows, width)
            case Pasted(title, text):
                yield from folded(title, width, _INDENT)
                yield from (f"{_INDENT}{line}" for line in text.splitlines())
            case Picture(words=words):
                yield from folded(words, width)


def folded(text: str, width: int, indent: str = "") -> list[str]:
    """Text broken at blanks, but not between a figure and its unit; a single word longer than the line stays whole.

    >>> folded("at most 19.6 mV", 12)
    ['at most', '19.6 mV']
    """
    kept = _FIGURE.sub("\u00a0", text)
    return [line.replace("\u00a0", " ") for line in wrap(
        kept, max(width, 10), subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)]


_FIGURE = re.compile(r"(?<=\d) (?=(?:[pnµmkMG]?[VAΩFHW]|h|%|°C|K/W|years?|months?|days?|hours?)(?!\w))")


def rule(text: str, width: int, sign: str = "-") -> str:
    return sign * min(width, len(text))


def _pairs(rows: Sequence[tuple[str, str]], width: int) -> Iterator[str]:
    room = min(max(len(label) for label, _ in rows) + _GAP, int(width * _LABEL_SHARE))
    for label, value in rows:
        if len(label) + 1 > room:
            yield from folded(label, width, _INDENT)
            label = ""
        first, *rest = wrap(value, max(width - room, 12), break_long_words=False, break_on_hyphens=False) or [""]
        yield f"{label:<{room}}{first}".rstrip()
        yield from (" " * room + line for line in rest)


def _table(table: Table, width: int) -> Iterator[str]:
    columns = range(1, len(table.heads))
    widths = [max(len(row[i]) for row in (table.heads, *table.rows)) for i in range(len(table.heads))]
    if table.worded:
        yield from _worded(table, widths, width)
        return
    left = width - sum(widths[1:]) - _GAP * len(columns)
    label = min(widths[0], left if left >= _LEAST_LABEL else int(width * _LABEL_SHARE))
    for shown in _fitting(columns, widths, width - label):
        yield (_row(table.heads, "", label, shown, widths)).rstrip()
        for row in table.rows:
            *first, last = wrap(row[0], label, subsequent_indent=_INDENT) or [""]
            yield from first
            yield _row(row, last, label, shown, widths).rstrip()


def _row(row: Sequence[str], name: str, label: int, shown: Sequence[int], widths: Sequence[int]) -> str:
    return f"{name or row[0] if row[0] else '':<{label}}"[:label] + "".join(
        " " * _GAP + f"{row[i]:>{widths[i]}}" for i in shown)


def _fitting(columns: Sequence[int], widths: Sequence[int], room: int) -> Iterator[list[int]]:
    """The columns in as many groups as the width asks for."""
    group: list[int] = []
    used = 0
    for column in columns:
        needed = widths[column] + _GAP
        if group and used + needed > room:
            yield group
            group, used = [], 0
        group.append(column)
        used += needed
    if group:
        yield group


def _worded(table: Table, widths: Sequence[int], width: int) -> Iterator[str]:
    """A table of words: the widest column is broken under itself; where that does not do, a paragraph a row."""
    spare = width - _GAP * (len(widths) - 1)
    widest = max(range(len(widths)), key=widths.__getitem__)
    left = spare - sum(w for i, w in enumerate(widths) if i != widest)
    if left < min(widths[widest], 16):
        for row in table.rows:
            said = "; ".join(f"{head} {cell}".strip() for head, cell in zip(table.heads[1:], row[1:], strict=True)
                             if cell)
            yield from folded(f"{row[0]}: {said}", width, _INDENT)
        return
    room = [min(w, left) if i == widest else w for i, w in enumerate(widths)]
    for row in (table.heads, *table.rows):
        if not any(row):
            continue
        pieces = wrap(row[widest], room[widest], break_long_words=False) or [""]
        for number, piece in enumerate(pieces):
            cells = [piece if i == widest else cell if number == 0 else "" for i, cell in enumerate(row)]
            yield (" " * _GAP).join(f"{cell:<{w}}" for cell, w in zip(cells, room, strict=True)).rstrip()


_COLOURS = {"DANGER": "1;31", "UNKNOWN": "1;35", "FAILS": "1;33", "CAUTION": "33", "OK": "1;32", "note": "2"}
_MARK = re.compile(rf"^(\s*)({'|'.join(_COLOURS)})\b", re.MULTILINE)


def coloured(text: str) -> str:
    """A text with the verdict words at the head of its lines in colour; the words themselves say it all.

    >>> coloured("OK, as found")
    '\\x1b[1;32mOK\\x1b[0m, as found'
    """
    return _MARK.sub(lambda found: f"{found[1]}\x1b[{_COLOURS[found[2]]}m{found[2]}\x1b[0m", text)
