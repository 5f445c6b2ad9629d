"""The words around a drawing: what is charged along the head, the legend, and the title block along the foot."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import Struct

from netcheck.reports.drawing.body import SIZE
from netcheck.reports.drawing.picture import Fate, Picture
from netcheck.reports.drawing.text import LINE, Box, Text, broken, width

MARGIN = 14.0
_TITLE_SIZE = 15.0
_CELL = 7.0
_SAMPLE = 28.0
_HEAD_LINES = 2


class Key(Struct, frozen=True):
    """An entry of the legend: a sample of a mark and its words."""

    mark: str
    sample: Box
    text: Text


def heading(picture: Picture, across: float) -> tuple[tuple[Text, ...], float]:
    """What is charged; in a room that stands empty where nothing is, so that the drawing keeps its place. The title
    stands there where there is no title block."""
    title: tuple[Text, ...] = ()
    y = MARGIN / 2
    if not picture.foot:
        title, y = _lines(picture.title, _TITLE_SIZE, "title", across, y)
    least = y + (_HEAD_LINES * (SIZE + 0.5) * LINE * 1.1 if picture.frame is not None else 0.0)
    route, y = _lines(picture.route_label, SIZE + 0.5, "route", across, y)
    return (*title, *route), max(y, least) + 4


def legend(picture: Picture, across: float, top: float, ground: str, doubled: bool) -> tuple[tuple[Key, ...], float]:
    """Samples of the marks that the picture uses, in lines as wide as the picture."""
    keys: list[Key] = []
    x, y = MARGIN, top
    for mark, said in _marks(picture, ground, doubled):
        lines = broken(said, SIZE, across - 2 * MARGIN - _SAMPLE - 6)
        needed = _SAMPLE + 6 + max(width(line, SIZE) for line in lines) + 18
        if x > MARGIN and x + needed - 18 > across - MARGIN:
            x, y = MARGIN, y + 18
        for number, line in enumerate(lines):
            sample = Box(x, y, x + _SAMPLE, y + 12)
            keys.append(Key(mark if not number else "", sample, Text(line, x + _SAMPLE + 6, y + 10, SIZE, "note")))
            y += 18 if number < len(lines) - 1 else 0
        x += needed
    return tuple(keys), y + 20 if keys else top


def _marks(picture: Picture, ground: str, doubled: bool) -> Iterator[tuple[str, str]]:
    fates = {column.fate for column in picture.columns}
    if ground:
        yield "ground", f"{ground}, 0 V"
    if any(c.on_route for c in picture.columns):
        yield ("meant", "charging that is meant") if picture.meant else ("route", "danger: charge route")
    if any(c.blocks for c in picture.columns):
        yield "blocks", "hollow: a diode that blocks"
    if any(c.dead for c in picture.columns):
        yield "dead", "dead: no volts, no current"
    if Fate.REMOVED in fates:
        yield "removed", "taken out"
    put_in = {Fate.FITTED: "put in", Fate.MOVED: "moved to another net"}
    if fates & put_in.keys():
        yield "fitted", " or ".join(said for fate, said in put_in.items() if fate in fates)
    if Fate.EMPTY in fates:
        yield "empty", "empty place"
    if doubled:
        yield "level", "close together: the same volts"


def foot(picture: Picture, across: float, top: float) -> tuple[tuple[Text, ...], tuple[Box, ...], float]:
    """What was left out, and the title block: what is drawn, of which board and variant, in which state, under which
    conditions, with which verdict."""
    note, y = _lines(picture.note, SIZE, "note", across, top)
    if not picture.foot:
        return note, (), y
    texts, cells = list(note), []
    y += 4
    right = across - MARGIN
    title, inner = _lines(picture.title.partition(":")[0], _TITLE_SIZE, "title", across - 2 * _CELL, y + 2,
                          MARGIN + _CELL)
    texts += title
    cells.append(Box(MARGIN, y, right, inner + 3))
    x, y = MARGIN, inner + 3
    tall = SIZE * LINE * 2 + 6
    row: list[tuple[float, str, str, str]] = []
    for head, words in picture.foot:
        room = right - MARGIN - 2 * _CELL
        lines = broken(words, SIZE, room, True) or ("",)
        needed = max(width(head, SIZE), *(width(line, SIZE, True) for line in lines)) + 2 * _CELL
        if len(lines) > 1 or (row and x + needed > right + 0.5):
            y = _closed(row, cells, texts, y, right, tall)
            row, x = [], MARGIN
        if len(lines) > 1:
            below = y + SIZE * LINE * (len(lines) + 1) + 6
            cells.append(Box(MARGIN, y, right, below))
            texts.append(Text(head, MARGIN + _CELL, round(y + SIZE + 1, 1), SIZE, "note"))
            texts += [Text(line, MARGIN + _CELL, round(y + SIZE * LINE * (n + 1) + SIZE + 1, 1), SIZE, "name", True)
                      for n, line in enumerate(lines)]
            y = below
            continue
        row.append((x, head, lines[0], "route" if lines[0] == "DANGER" else "name"))
        x += needed
    y = _closed(row, cells, texts, y, right, tall)
    return tuple(texts), tuple(cells), y


def _closed(row: list[tuple[float, str, str, str]], cells: list[Box], texts: list[Text], y: float, right: float,
            tall: float) -> float:
    """The fields of a line of the title block, the last as wide as is left."""
    if not row:
        return y
    ends = [x for x, *_ in row[1:]] + [right]
    for (x, head, words, role), end in zip(row, ends, strict=True):
        cells.append(Box(x, y, end, y + tall))
        texts.append(Text(head, round(x + _CELL, 1), round(y + SIZE + 1, 1), SIZE, "note"))
        texts.append(Text(words, round(x + _CELL, 1), round(y + SIZE * LINE + SIZE + 1, 1), SIZE, role, True))
    return y + tall


def _lines(content: str, size: float, role: str, across: float, top: float,
           left: float = MARGIN) -> tuple[tuple[Text, ...], float]:
    bold = role in ("title", "route")
    texts, y = [], top
    for line in broken(content, size, across - 2 * MARGIN, bold):
        texts.append(Text(line, left, round(y + size, 1), size, role, bold))
        y += size * LINE * 1.1
    return tuple(texts), y
