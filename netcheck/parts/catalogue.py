"""The catalogue of components: names to specs, from the library and from folders that extend it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import cast

from msgspec import Struct

from netcheck.parts import entries
from netcheck.parts.builders import BUILDERS, Known
from netcheck.parts.library import FILES, Book, LibraryError, book, standard_folder
from netcheck.parts.specs import (
    CellSpec,
    ChipSpec,
    ConnectorSpec,
    DiodeSpec,
    Figure,
    LoadSpec,
    RegulatorSpec,
    TransistorSpec,
)

KINDS = tuple(FILES)


class UnknownEntry(KeyError):
    """A name that the catalogue does not hold: `name`, `kind`, and the `nearest` that it does (or None)."""

    def __init__(self, name: str, kind: str, nearest: str | None) -> None:
        self.name, self.kind, self.nearest = name, kind, nearest
        hint = f'; did you mean "{nearest}"?' if nearest else ""
        super().__init__(f'no {kind} "{name}" in the library{hint}')

    def __str__(self) -> str:
        return str(self.args[0])


class Override(Struct, frozen=True):
    """An entry of a person's own library that stands in place of a shipped one, and the fields that differ."""

    kind: str
    name: str
    file: str
    differs: tuple[str, ...]


class Catalogue:
    """Components by name; only the file of the kind asked for is read.

    A later folder adds entries or overrides those of an earlier one. Names and
    aliases are found whatever their case.
    """

    def __init__(self, folders: Sequence[Path]) -> None:
        self._folders = tuple(folders)
        self._specs: dict[tuple[Path, str], Known] = {}
        self.overrides: dict[tuple[str, str], Override] = {}

    @classmethod
    def standard(cls, extra: Sequence[Path] = ()) -> Catalogue:
        """The library that comes with the program, and the folders `extra`.

        Raises LibraryError for a folder that holds none of the library's files.
        """
        return cls((standard_folder(), *(_checked(Path(folder)) for folder in extra)))

    def diode(self, name: str) -> DiodeSpec:
        return cast(DiodeSpec, self.spec("diode", name))

    def cell(self, name: str) -> CellSpec:
        return cast(CellSpec, self.spec("cell", name))

    def load(self, name: str) -> LoadSpec:
        return cast(LoadSpec, self.spec("load", name))

    def transistor(self, name: str) -> TransistorSpec:
        return cast(TransistorSpec, self.spec("transistor", name))

    def regulator(self, name: str) -> RegulatorSpec:
        return cast(RegulatorSpec, self.spec("regulator", name))

    def chip(self, name: str) -> ChipSpec:
        return cast(ChipSpec, self.spec("chip", name))

    def connector(self, name: str) -> ConnectorSpec:
        return cast(ConnectorSpec, self.spec("connector", name))

    def spec(self, kind: str, name: str) -> Known:
        """The entry of this kind and name. Raises UnknownEntry, LibraryError."""
        for shelf in reversed(self._books(kind)):
            if entry := shelf.aliases.get(name.strip().casefold()):
                if (shelf.path, entry) not in self._specs:
                    self._specs[shelf.path, entry] = BUILDERS[kind](entry, shelf.entry(entry))
                    self._note_override(kind, entry, shelf)
                return self._specs[shelf.path, entry]
        raise UnknownEntry(name, kind, self._nearest(kind, name))

    def _note_override(self, kind: str, name: str, shelf: Book) -> None:
        shipped = self._books(kind)[0]
        theirs = shipped.aliases.get(name.casefold())
        if shelf is shipped or theirs is None:
            return
        build = BUILDERS[kind]
        own, other = build(name, shelf.entry(name)), build(theirs, shipped.entry(theirs))
        differs = tuple(field for field in own.__struct_fields__ if field not in ("name", "about", "figures")
                        and getattr(own, field) != getattr(other, field, None))
        self.overrides[kind, name] = Override(kind, name, str(shelf.path), differs)

    def names(self, kind: str) -> tuple[str, ...]:
        """Every name of this kind, in the order of the files, without aliases."""
        return tuple(dict.fromkeys(name for shelf in self._books(kind) for name in shelf.names))

    def aliases(self, kind: str, name: str) -> tuple[str, ...]:
        """The other names of one entry."""
        for shelf in reversed(self._books(kind)):
            if entry := shelf.aliases.get(name.casefold()):
                return tuple(shelf.raw[entry].get("aliases", ()))
        return ()

    def entries(self, kind: str) -> tuple[Known, ...]:
        """Every entry of this kind."""
        return tuple(self.spec(kind, name) for name in self.names(kind))

    def _books(self, kind: str) -> list[Book]:
        found = [book(path) for folder in self._folders if _there(path := folder / FILES[kind])]
        for shelf in found[1:]:
            for key in ("families", "cautions", "rules"):
                if key in shelf.top:
                    shelf.fault((key,), key, f"sources and {kind}s: {key} come with the program alone")
        return found

    def _nearest(self, kind: str, name: str) -> str | None:
        from netcheck.quantities.words import nearest

        return nearest(name, (spelling for entry in self.names(kind)
                              for spelling in (entry, *self.aliases(kind, entry))))


@lru_cache(maxsize=8)
def family(name: str) -> entries.Family:
    """What a family of diodes has in common, from the library that comes with the program."""
    return entries.family(book(standard_folder() / FILES["diode"]).family(name))


@lru_cache(maxsize=16)
def cautions(chemistry: str) -> tuple[tuple[str, Figure], ...]:
    """What whoever handles a cell of this chemistry has to know, each with its source."""
    return entries.cautions(book(standard_folder() / FILES["cell"]), chemistry)


@lru_cache(maxsize=1)
def heatsinks() -> dict[str, float]:
    """Heat sinks that a regulator may be said to have by name, each with its K/W from case to air."""
    return entries.heatsinks(book(standard_folder() / FILES["regulator"]))


@lru_cache(maxsize=1)
def cell_rules() -> entries.CellRules:
    """What holds for every cell that says nothing else of itself."""
    return entries.cell_rules(book(standard_folder() / FILES["cell"]))


def _there(path: Path) -> bool:
    """Whether a folder holds this file. Raises LibraryError for what has its name and is no ordinary file."""
    if path.is_file():
        return True
    if path.exists() or path.is_symlink():
        raise LibraryError(path, 1, path.name, "an ordinary file, not a folder, pipe or device")
    return False


def _checked(folder: Path) -> Path:
    from netcheck.quantities.words import nearest

    known = tuple(FILES.values())
    if not folder.is_dir():
        raise LibraryError(folder, 1, str(folder), "a folder that exists")
    found = sorted(path.name for path in folder.iterdir() if path.suffix in (".yaml", ".yml"))
    for name in found:
        if name not in known:
            raise LibraryError(folder / name, 1, name, "one of " + ", ".join(known), nearest(name, known))
    if not found:
        raise LibraryError(folder, 1, folder.name, "a folder with one of " + ", ".join(known))
    return folder
