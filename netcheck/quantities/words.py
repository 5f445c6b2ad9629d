"""Words: which known word somebody may have meant, and lists in words."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word most like `word`, or None where none is like it.

    >>> nearest("resistr", ["resistor", "capacitor"])
    'resistor'
    """
    if len(word) > 64:
        return None
    words: dict[str, str] = {}
    for name in known:
        words.setdefault(name.casefold(), name)
    found = get_close_matches(word.casefold(), list(words), n=1, cutoff=0.6)
    return words[found[0]] if found else None


def one_of(words: Iterable[str]) -> str:
    """A list in words.

    >>> one_of(["low", "open"])
    'low or open'
    """
    *most, last = words
    return f"{', '.join(most)} or {last}" if most else last
