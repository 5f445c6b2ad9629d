"""How much of the library has been read in its source, and how much rests on memory."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from netcheck.parts.library import FILES, SURE, book, standard_folder

_TABLES = ("typical", "maximum", "minimum", "scatter", "elsewhere", "points")


def census(folders: Sequence[Path] = ()) -> Mapping[str, Counter[str]]:
    """Figures by kind of entry and by how sure they are (see SURE), each counted where it is written.

    A row of a table counts as many figures as it has points; what an entry takes over with `like` is not counted
    again. folders: those that extend the library that comes with the program. Raises LibraryError.
    """
    found: dict[str, Counter[str]] = {}
    for kind, name in FILES.items():
        counted = Counter[str]()
        for folder in (standard_folder(), *folders):
            if (path := folder / name).is_file():
                top = {key: value for key, value in book(path).top.items() if key != "sources"}
                counted.update(_figures(top))
        found[kind] = counted
    return found


def resting_on(sure: str, folders: Sequence[Path] = ()) -> Mapping[str, tuple[str, ...]]:
    """By kind, the entries with a figure that is as sure as `sure` ("memory") and no surer."""
    found = {}
    for kind, name in FILES.items():
        names = []
        for folder in (standard_folder(), *folders):
            if (path := folder / name).is_file():
                names += [entry for entry, raw in book(path).raw.items() if sure in set(_figures(raw))]
        found[kind] = tuple(dict.fromkeys(names))
    return found


def _figures(value: Any) -> Iterator[str]:
    """How sure each figure below a value of a library file is."""
    if isinstance(value, dict):
        if value.get("sure") in SURE:
            points = sum(len(value[table]) for table in _TABLES if isinstance(value.get(table), dict))
            yield from [value["sure"]] * (points or 1)
        else:
            for inner in value.values():
                yield from _figures(inner)
    elif isinstance(value, list):
        if len(value) in (3, 4) and all(isinstance(one, str) for one in value) and value[2] in SURE:
            yield value[2]
        elif len(value) == 4 and all(isinstance(one, str) for one in value) and value[3] in SURE:
            yield value[3]
        else:
            for inner in value:
                yield from _figures(inner)
