"""Mistakes in a fragment file: where, what was found, what was expected, the nearest right word."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from msgspec import Struct

from netcheck.fragment.model import Mark
from netcheck.quantities.words import nearest

MOST_TOLD = 100  # mistakes told of one file; a file of noise would tell millions
MOST_COMPARISONS = 300_000  # words compared for one file: a big file full of mistakes must not take minutes


class Fault(Struct, frozen=True):
    """One mistake; line and column are counted from 1, `source` is the line of the file."""

    file: str
    line: int
    column: int
    text: str
    expected: str
    nearest: str | None = None
    hint: str = ""
    source: str = ""

    def __str__(self) -> str:
        said = f'{self.file}:{self.line}:{self.column}: "{_short(self.text)}": expected {self.expected}'
        if self.hint:
            said += f"; {self.hint}"
        if self.nearest:
            said += f'; did you mean "{self.nearest}"?'
        if not self.source.strip():
            return said
        start = max(0, self.column - 60)
        shown = self.source[start:start + 96].replace("\t", " ")
        return f"{said}\n    {shown}\n    {' ' * (self.column - 1 - start)}^"


class FragmentError(Exception):
    """A fragment file that cannot be used; `faults` are all its mistakes, in file order, the first hundred told."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        each = dict.fromkeys(faults)  # "C4, C5: …" makes each mistake once, not twice
        self.faults = tuple(sorted(each, key=lambda fault: (fault.line, fault.column)))
        more = len(self.faults) - MOST_TOLD
        left_out = [f"… and {more} more mistakes"] if more > 0 else []
        super().__init__("\n".join([*map(str, self.faults[:MOST_TOLD]), *left_out]))


class Faults:
    """Gathers the mistakes of one file while it is read."""

    def __init__(self, file: str, text: str = "") -> None:
        self.file = file
        self.found: list[Fault] = []
        self.unread: frozenset[str] = frozenset()
        self._text = text
        self._lines: list[str] | None = None
        self._comparisons = MOST_COMPARISONS

    def add(
        self, mark: Mark, text: str, expected: str, *, near: Iterable[str] = (), hint: str = ""
    ) -> None:
        """Note one mistake; the word of `near` that is most like `text` is offered.

        That an entry is missing which could not be read (`unread`) is no mistake of its own.
        """
        if text.partition(".")[0] in self.unread:
            return
        self.found.append(Fault(self.file, mark.line, mark.column, text, expected, self._nearest(text, near),
                                hint, self._source(mark.line)))

    def raise_if_any(self) -> None:
        if self.found:
            raise FragmentError(self.found)

    def _nearest(self, text: str, near: Iterable[str]) -> str | None:
        words = list(near)
        self._comparisons -= len(words)
        return nearest(text, words) if self._comparisons >= 0 else None

    def _source(self, line: int) -> str:
        if self._lines is None:
            self._lines = self._text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
        return self._lines[line - 1] if 0 < line <= len(self._lines) else ""


def _short(text: str) -> str:
    line = text.replace("\n", "⏎")
    return line if len(line) <= 60 else line[:57] + "…"
