"""The library's files: where they lie, how they are read, and mistakes told with file and line."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache, cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from netcheck.parts.specs import Figure
from netcheck.parts.tables import Field, Table
from netcheck.quantities.values import Quantity, Span, ValueFault, quantity, span

if TYPE_CHECKING:
    from yaml.nodes import Node

FILES: Mapping[str, str] = {
    "diode": "diodes.yaml", "cell": "cells.yaml", "load": "loads.yaml", "transistor": "transistors.yaml",
    "regulator": "regulators.yaml", "connector": "connectors.yaml", "capacitor": "capacitors.yaml",
    "chip": "chips.yaml",
}
_MORE: Mapping[str, list[str]] = {
    "diode": ["families"], "cell": ["cautions", "rules"], "capacitor": ["roles", "starts", "usual", "cautions"],
    "regulator": ["heatsinks"],
}
"""Sections that a file has beside its sources and its entries."""

SURE = ("seen", "memory", "practice", "derived")

LARGEST_BYTES = 4_000_000

Place = tuple[str | int, ...]


class LibraryError(Exception):
    """A library file that cannot be used: `file`, `line` (from 1), `text` at fault, what was `expected`."""

    def __init__(self, file: Path, line: int, text: str, expected: str, near: str | None = None) -> None:
        self.file, self.line, self.text, self.expected, self.nearest = file, line, text, expected, near
        hint = f'; did you mean "{near}"?' if near else ""
        super().__init__(f'{file}:{line}: "{text}": expected {expected}{hint}')


def standard_folder() -> Path:
    """Where the library lies: inside an installed package, or beside it in a checkout."""
    package = Path(__file__).resolve().parents[1]
    for folder in (package / "library", package.parent / "library"):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"the library of components is missing: neither {package / 'library'} "
                            f"nor {package.parent / 'library'} is a folder")


@cache
def book(path: Path) -> Book:
    """One library file, read once."""
    return Book(path)


class Book:
    """One library file: its entries as plain text, its sources as citations."""

    def __init__(self, path: Path) -> None:
        self.path = path
        kind = next(kind for kind, name in FILES.items() if name == path.name)
        content = _load(path)
        known = ["sources", kind + "s", *_MORE.get(kind, [])]
        self.top = self._mapping(content, ())
        for key in self.top:
            if key not in known:
                self.fault((key,), key, "one of " + ", ".join(known), known)
        self.kind = kind
        self.raw = self._mapping(self.top.get(kind + "s", {}), (kind + "s",))
        self.names = tuple(self.raw)
        self._sources = self._mapping(self.top.get("sources", {}), ("sources",))

    @cached_property
    def aliases(self) -> Mapping[str, str]:
        """Every spelling in lower case, aliases included, to the name of its entry."""
        found = {name.casefold(): name for name in self.names}
        for name in self.names:
            entry = self._mapping(self.raw[name], (self.kind + "s", name))
            place = (self.kind + "s", name, "aliases")
            aliases = entry.get("aliases", [])
            if not isinstance(aliases, list) or not all(isinstance(alias, str) for alias in aliases):
                self.fault(place, str(aliases), "a list of other names, such as [1N4148W, LL4148]")
            for alias in aliases:
                if found.setdefault(alias.casefold(), name) != name:
                    self.fault(place, alias,
                               f"a name that {found[alias.casefold()]} does not have")
        return found

    def entry(self, name: str) -> Entry:
        """The entry of this name, what it takes over from another (`like`) filled in."""
        path: Place = (self.kind + "s", name)
        own = self._mapping(self.raw[name], path)
        places: dict[str, Place] = {key: (*path, key) for key in own}
        merged, seen = dict(own), {name}
        while like := merged.pop("like", None):
            if not isinstance(like, str) or like not in self.raw or like in seen:
                self.fault(places["like"], str(like), "the name of another entry of this file", self.names)
            seen.add(like)
            for key, value in self._mapping(self.raw[like], (self.kind + "s", like)).items():
                if key not in merged and key != "aliases":
                    merged[key], places[key] = value, (self.kind + "s", like, key)
        return Entry(self, merged, places, path)

    def family(self, name: str) -> Entry:
        """What a family of diodes has in common."""
        families = self._mapping(self.top.get("families", {}), ("families",))
        if name not in families:
            self.fault(("families",), name, "one of " + ", ".join(families), families)
        own = self._mapping(families[name], ("families", name))
        return Entry(self, dict(own), {key: ("families", name, key) for key in own}, ("families", name))

    def figure(self, source: Any, sure: Any, path: Place, note: str = "", of: str = "") -> Figure:
        """A figure's origin, its key turned into a citation."""
        if not isinstance(source, str) or source not in self._sources:
            self.fault(path, str(source or "no source"), "a key of this file's sources", self._sources)
        if sure not in SURE:
            self.fault(path, str(sure or "nothing"), "how sure it is: " + ", ".join(SURE), SURE)
        return Figure(self._citation(source) + (f": {note}" if note else ""), sure, of)

    def _citation(self, key: str) -> str:
        source = self._mapping(self._sources[key], ("sources", key))
        parts = ("title", "publisher", "number", "section")
        if ("title" not in source or set(source) - set(parts)
                or not all(isinstance(text, str) for text in source.values())):
            self.fault(("sources", key), key, "title, and publisher, number and section where known")
        return ", ".join(source[part] for part in parts if part in source)

    def fault(self, path: Place, text: str, expected: str, near: Iterable[str] = ()) -> NoReturn:
        from netcheck.quantities.words import nearest

        raise LibraryError(self.path, _line(self.path, path), text, expected, nearest(text, near))

    def _mapping(self, value: Any, path: Place) -> Mapping[str, Any]:
        if not isinstance(value, dict):
            self.fault(path, str(value), "a mapping: name and colon, what belongs to it below")
        return value


class Entry:
    """The fields of one entry, read with their units; every mistake is told with its line."""

    def __init__(self, owner: Book, fields: dict[str, Any], places: Mapping[str, Place], path: Place) -> None:
        self.owner, self.fields, self.places, self.path = owner, fields, places, path
        self.figures: list[Figure] = []
        self.table: Table = {}

    def tabled(self, table: Table, *more: str) -> None:
        """Read this entry by a table: its units and bounds hold, its old spellings count, other fields are refused.

        more: fields of the library alone, such as a table with a source in each line.
        """
        current = {old: known.name for known in table.values() for old in (*known.old, *known.also) if old not in more}
        for key in list(self.fields):
            name = current.get(key, key)
            if name != key and name in self.fields:
                if self._own(name) and self._own(key):
                    self.owner.fault(self.places[key], key, f"only one of {name} and {key}")
                if self._own(name):
                    del self.fields[key]
                    continue
            self.fields[name] = self.fields.pop(key)
            self.places = {**self.places, name: self.places[key]}
        self.table = table
        self.only(*(name for name in table if name not in ("name", "primary")), *more)

    def _own(self, key: str) -> bool:
        """Whether this entry says it itself, and does not take it over from another."""
        return self.places[key][:len(self.path)] == self.path

    def only(self, *known: str) -> None:
        """Refuse fields that this kind of entry does not have."""
        for key in self.fields:
            if key not in known:
                self.owner.fault(self.places[key], key, "one of " + ", ".join(known), known)

    def text(self, key: str, default: str | None = None, words: tuple[str, ...] = ()) -> str:
        found = self.fields.get(key, default)
        if not isinstance(found, str):
            self.owner.fault(self.places.get(key, self.path), key if found is None else str(found),
                             f'text under "{key}"')
        if words and found not in words:
            self.owner.fault(self.places.get(key, self.path), found, "one of " + ", ".join(words), words)
        return found

    def value(self, key: str, unit: str | None = None) -> float:
        """A figure that has to be there, in the base unit; without a unit, that and its bounds are the table's."""
        return self.quantity(key, unit).value

    def maybe(self, key: str, unit: str | None = None) -> float | None:
        return self.value(key, unit) if key in self.fields else None

    def quantity(self, key: str, unit: str | None = None) -> Quantity:
        text, place = self.cited(key), self.places[key]
        found = self.read_quantity(text, self.table[key].unit if unit is None else unit, place)
        if unit is None:
            self.within(self.table[key], place, text, found.value)
        return found

    def maybe_quantity(self, key: str, unit: str | None = None) -> Quantity | None:
        return self.quantity(key, unit) if key in self.fields else None

    def span(self, key: str, unit: str | None = None) -> Span:
        text = self.cited(key)
        try:
            found = span(text, self.table[key].unit if unit is None else unit)
        except ValueFault as fault:
            self.owner.fault(self.places[key], text, fault.expected)
        if unit is None:
            self.within(self.table[key], self.places[key], text, found.low, found.high)
        return found

    def maybe_span(self, key: str, unit: str | None = None) -> Span | None:
        return self.span(key, unit) if key in self.fields else None

    def column(self, text: Any, known: Field, place: Place) -> float:
        """One value of a line of a table, within the bounds of its field."""
        found = self.read_quantity(text, known.unit, place).value
        self.within(known, place, str(text), found)
        return found

    def within(self, known: Field, place: Place, text: str, *values: float) -> None:
        """Refuse a value that no part has."""
        expected = known.misfit(*values)
        if expected is not None:
            self.owner.fault(place, text, f"{expected}; anything else is improbable")

    def read_quantity(self, text: Any, unit: str, place: Place) -> Quantity:
        if not isinstance(text, str):
            self.owner.fault(place, str(text), "one value")
        try:
            return quantity(text, unit)
        except ValueFault as fault:
            self.owner.fault(place, text, fault.expected)

    def rows(self, key: str, fields: tuple[str, ...]) -> list[tuple[Place, Mapping[str, Any]]]:
        """The lines of a table, each with its place; a field outside `fields` is refused."""
        table = self.fields.get(key, [])
        if not isinstance(table, list):
            self.owner.fault(self.places[key], str(table), "a list, one line each")
        found: list[tuple[Place, Mapping[str, Any]]] = []
        for index, row in enumerate(table):
            place = (*self.places[key], index)
            if not isinstance(row, dict):
                self.owner.fault(place, str(row), "a line such as {typical: {…}, source: …, sure: …}")
            for name in row:
                if name not in fields:
                    self.owner.fault((*place, name), name, "one of " + ", ".join(fields), fields)
            found.append((place, row))
        return found

    def cited(self, key: str) -> str:
        """The text of a figure written [value, source, sure, note]; its origin is kept."""
        if key not in self.fields:
            self.owner.fault(self.path, str(self.path[-1]), f'a figure "{key}" in this entry')
        place, cited = self.places[key], self.fields[key]
        if (not isinstance(cited, list) or len(cited) not in (3, 4)
                or not all(isinstance(text, str) for text in cited)):
            self.owner.fault(place, str(cited), "a figure with its origin: [value, source, sure]")
        note = cited[3] if len(cited) == 4 else ""
        self.figures.append(self.owner.figure(cited[1], cited[2], place, note, key.replace("_", " ")))
        return str(cited[0])


def _load(path: Path) -> Any:
    import yaml

    class Loader(getattr(yaml, "CBaseLoader", yaml.BaseLoader)):  # type: ignore[misc]
        """Text only (no figure is guessed at), and a name given twice is a mistake."""

        def construct_mapping(self, node: Any, deep: bool = False) -> dict[Any, Any]:
            found = super().construct_mapping(node, deep=deep)
            if len(found) != len(node.value):
                names = [key.value for key, _ in node.value]
                twice = next(key for key, _ in reversed(node.value) if names.count(key.value) > 1)
                raise LibraryError(path, twice.start_mark.line + 1, twice.value, "a name given once")
            return dict(found)

    try:
        if (size := path.stat().st_size) > LARGEST_BYTES:
            raise LibraryError(path, 1, f"{size} bytes", f"a file of at most {LARGEST_BYTES} bytes")
        return yaml.load(path.read_text(encoding="utf-8"), Loader)
    except yaml.MarkedYAMLError as fault:
        mark = fault.problem_mark or fault.context_mark
        raise LibraryError(path, mark.line + 1 if mark else 1, fault.problem or "", "YAML") from fault
    except (RecursionError, ValueError, yaml.YAMLError) as fault:
        raise LibraryError(path, 1, str(fault)[:60], "YAML text that can be read") from fault
    except OSError as fault:
        raise LibraryError(path, 1, str(fault), "a text file that can be read") from fault


def _line(path: Path, place: Place) -> int:
    """The line of a place in a file; where the place is not there, that of what holds it."""
    import yaml

    try:
        node: Node | None = yaml.compose(path.read_text(encoding="utf-8"), yaml.SafeLoader)
    except (OSError, UnicodeDecodeError, RecursionError, yaml.YAMLError):
        return 1
    line = 1
    for step in place:
        found = _child(node, step)
        if found is None:
            break
        line, node = found
    return line


def _child(node: Node | None, step: str | int) -> tuple[int, Node] | None:
    if node is None or isinstance(node.value, str):
        return None
    if isinstance(step, int):
        inner = node.value[step]
        return inner.start_mark.line + 1, inner
    return next(((key.start_mark.line + 1, value) for key, value in node.value if key.value == step), None)
