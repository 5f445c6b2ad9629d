"""Lines that are folded when the width is known: what a report says comes first, how wide the terminal is last."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator, Sequence

from msgspec import Struct

_VALUE = re.compile(r"(\d) (?=[pnµmkMG]?[VAΩ]\b)")


class Folding(Struct, frozen=True):
    """A text, what its first line begins with, and what the further ones do."""

    text: str
    first: str = ""
    rest: str = ""

    def at(self, width: int) -> list[str]:
        """Lines of at most `width` characters; a number keeps its unit beside it.

        >>> Folding("it stands at 3.2 V there", "- ", "  ").at(18)
        ['- it stands at', '  3.2 V there']
        """
        whole = _VALUE.sub("\\1\u00a0", self.text)
        lines = textwrap.wrap(whole, width, initial_indent=self.first, subsequent_indent=self.rest,
                              break_on_hyphens=False)
        return [line.replace("\u00a0", " ") for line in lines] or [self.first.rstrip()]


class FoldingTable(Struct, frozen=True):
    """Columns two blanks apart; the widest text that does not fit is broken under its own column."""

    rows: tuple[tuple[str, ...], ...]

    def at(self, width: int) -> list[str]:
        """The rows in lines of at most `width` characters where the columns let them."""
        return list(_columns(self.rows, width))


Line = str | Folding | FoldingTable


def folded_at(lines: Iterable[Line], width: int) -> Iterator[str]:
    """The lines at that width; what does not fold stays as it is."""
    for line in lines:
        yield from [line] if isinstance(line, str) else line.at(width)


def _columns(rows: Sequence[Sequence[str]], width: int) -> Iterator[str]:
    columns = len(rows[0])
    widths = [max(len(row[index]) for row in rows) for index in range(columns)]
    room = width - 2 * columns
    widest = max(range(columns), key=widths.__getitem__)
    widths[widest] = min(widths[widest], max(12, room - sum(widths) + widths[widest]))
    for row in rows:
        for number, piece in enumerate(textwrap.wrap(row[widest], widths[widest]) or [""]):
            cells = [piece if index == widest else (cell if number == 0 else "") for index, cell in enumerate(row)]
            yield "  " + "  ".join(f"{cell:<{wide}}" for cell, wide in zip(cells, widths, strict=True)).rstrip()
