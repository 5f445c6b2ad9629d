"""Words: which known word somebody may have meant, and lists in words and in runs."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from difflib import get_close_matches


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word most like `word`, or None where none is like it.

    >>> nearest("resistr", ["resistor", "capacitor"])
    'resistor'
    >>> nearest("CR2O32", ["CR2325", "CR2032"])
    'CR2032'
    """
    if len(word) > 64:
        return None
    words: dict[str, str] = {}
    for name in known:
        words.setdefault(name.casefold(), name)
    seen = word.casefold().translate(_LOOK_ALIKE)
    if alike := next((name for folded, name in words.items() if folded.translate(_LOOK_ALIKE) == seen), None):
        return alike
    found = get_close_matches(word.casefold(), list(words), n=1, cutoff=0.6)
    return words[found[0]] if found else None


_LOOK_ALIKE = str.maketrans("oil", "011")
"""Letters that are read as digits on a part."""


def one_of(words: Iterable[str]) -> str:
    """A list in words.

    >>> one_of(["low", "open"])
    'low or open'
    """
    *most, last = words
    return f"{', '.join(most)} or {last}" if most else last


def natural(names: Iterable[str]) -> list[str]:
    """Names in the order of their letters and numbers: C2 before C10."""
    return sorted(names, key=lambda name: [(not piece.isdigit(), int(piece) if piece.isdigit() else 0, piece)
                                           for piece in re.findall(r"\d+|\D+", name)])


def in_ranges(names: Sequence[str]) -> str:
    """Names with runs of three and more told as one, as a file may write them.

    >>> in_ranges(["C1", "C4", "C5", "C6", "C9", "C10"])
    'C1, C4-C6, C9, C10'
    """
    pieces: list[list[str]] = []
    for name in names:
        if pieces and _next(pieces[-1][-1]) == name:
            pieces[-1].append(name)
        else:
            pieces.append([name])
    return ", ".join(f"{run[0]}-{run[-1]}" if len(run) > 2 else ", ".join(run) for run in pieces)


def _next(name: str) -> str | None:
    found = re.fullmatch(r"(.*?)(\d+)", name)
    return None if found is None else f"{found[1]}{int(found[2]) + 1}"
