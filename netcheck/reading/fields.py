"""Asking the entries of a YAML mapping for what is expected of them, noting what is not."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from typing import TypeVar

from msgspec import Struct, field

from netcheck.fragment.model import Mark
from netcheck.parts.everyday import meant
from netcheck.parts.tables import Field, Table
from netcheck.quantities.values import Quantity, Span, ValueFault, number, quantity, span
from netcheck.quantities.words import one_of
from netcheck.reading.mistakes import Faults
from netcheck.reading.yaml_nodes import Listing, Mapped, Node, Scalar

YES_NO: Mapping[str, bool] = {"yes": True, "no": False}


class Fields(Struct):
    """One mapping of the file. Every question returns None where there is no (good) answer.

    table: what is known of its keys: a value outside the bounds there is a mistake.
    """

    node: Mapped
    faults: Faults
    table: Table = field(default_factory=dict)

    def tabled(self, table: Table, what: str) -> Fields:
        """These fields read by a table: any other key is a mistake, an old spelling the same as the new one."""
        current = {other: known.name for known in table.values() for other in known.also}
        entries: dict[str, Node] = {}
        keys: dict[str, Scalar] = {}
        for key, node in self.node.entries.items():
            name = current.get(key, key)
            if name in entries:
                self.faults.add(self.key_mark(key), key, f"only one of {one_of([keys[name].text, key])}")
            entries[name], keys[name] = node, self.node.keys[key]
            if name not in table:
                refuse_key(self.node.keys[key], (*table, *current), what, self.faults)
        return Fields(Mapped(entries, keys, self.node.mark), self.faults, table)

    @property
    def mark(self) -> Mark:
        return self.node.mark

    def __contains__(self, key: str) -> bool:
        return key in self.node.entries

    def get(self, key: str) -> Node | None:
        return self.node.entries.get(key)

    def key_mark(self, key: str) -> Mark:
        return self.node.keys[key].mark

    def place(self, text: str) -> Mark:
        """Where a text stands first in this mapping, as a key or a value; the mapping's own place where it does not."""
        return next((mark for mark, found in _texts(self.node) if found == text), self.mark)

    def refuse_others(self, known: Collection[str], what: str) -> None:
        """Every key that is not `known` is a mistake."""
        for key, node in self.node.keys.items():
            if key not in known:
                refuse_key(node, known, what, self.faults)

    def require(self, key: str, what: str) -> None:
        if key not in self.node.entries:
            self.faults.add(self.mark, ", ".join(self.node.entries) or "{}", f"{key}, {what}")

    def text(self, key: str, what: str = "a text") -> str | None:
        node = self.get(key)
        return None if node is None else text(node, what, self.faults)

    def word(self, key: str, words: Collection[str]) -> str | None:
        """One of a few words."""
        node = self.get(key)
        return None if node is None else word(node, words, self.faults)

    def yes(self, key: str) -> bool | None:
        found = self.word(key, YES_NO)
        return None if found is None else YES_NO[found]

    def number(self, key: str, unit: str | None = None, least: float | None = None) -> float | None:
        """A value without tolerance; its unit and bounds are those of the table where none are given."""
        node = self.get(key)
        if node is None:
            return None
        if unit is None:
            return bounded(node, self.table[key], self.faults)
        return value_of(node, unit, self.faults, least)

    def quantity(self, key: str, unit: str | None = None) -> Quantity | None:
        node = self.get(key)
        if node is None:
            return None
        found = quantity_of(node, self.table[key].unit if unit is None else unit, self.faults)
        if found is not None and unit is None and outside(node, self.table[key], self.faults, found.value):
            return None
        return found

    def span(self, key: str, unit: str | None = None) -> Span | None:
        node = self.get(key)
        if node is None:
            return None
        found = span_of(node, self.table[key].unit if unit is None else unit, self.faults)
        if found is not None and unit is None and outside(node, self.table[key], self.faults, found.low, found.high):
            return None
        return found

    def known_word(self, key: str) -> str | None:
        """One of the words that the table has for this key."""
        return self.word(key, self.table[key].words)

    def items(self, key: str, what: str) -> list[Node]:
        """A list, or a single item in place of one."""
        node = self.get(key)
        if node is None:
            return []
        if isinstance(node, Mapped):
            self.faults.add(node.mark, "{…}", f"a list of {what}")
            return []
        return node.items if isinstance(node, Listing) else [node]

    def texts(self, key: str, what: str) -> list[tuple[str, Mark]]:
        """A list of words, or a single one."""
        return [(found, item.mark) for item in self.items(key, what)
                if (found := text(item, what, self.faults)) is not None]

    def fields(self, key: str, what: str) -> Fields | None:
        node = self.get(key)
        return None if node is None else fields(node, what, self.faults)


def _texts(node: Node) -> Iterator[tuple[Mark, str]]:
    """Every text of a node with its place, in the order of the file."""
    if isinstance(node, Scalar):
        yield node.mark, node.text.strip()
    elif isinstance(node, Listing):
        for item in node.items:
            yield from _texts(item)
    else:
        for key, value in node.entries.items():
            yield node.keys[key].mark, key
            yield from _texts(value)


def bounded(node: Node, known: Field, faults: Faults) -> float | None:
    """A number in the unit and within the bounds of a field of a table."""
    found = value_of(node, known.unit, faults)
    return None if found is None or outside(node, known, faults, found) else found


def outside(node: Node, known: Field, faults: Faults, *values: float) -> bool:
    """Whether a value lies outside what its field may be, which is then a mistake."""
    expected = known.misfit(*values)
    if expected is not None:
        faults.add(node.mark, describe(node), expected, hint="anything else is improbable")
    return expected is not None


def refuse_key(key: Scalar, known: Collection[str], what: str, faults: Faults, hint: str = "") -> None:
    """A key that is not one of the known ones; one that begins with a digit is half of a value."""
    if key.text[:1].isdigit():
        hint = "a comma ends a value, so the decimal sign is a point: 4.7k"
    faults.add(key.mark, key.text, f"a word of {what} ({one_of(known)})", near=() if hint else known, hint=hint)


def describe(node: Node) -> str:
    return node.text if isinstance(node, Scalar) else "[…]" if isinstance(node, Listing) else "{…}"


def fields(node: Node, what: str, faults: Faults) -> Fields | None:
    """The node as a mapping; an empty value is an empty mapping."""
    if isinstance(node, Mapped):
        return Fields(node, faults)
    if isinstance(node, Scalar) and node.plain and node.text == "":
        return Fields(Mapped({}, {}, node.mark), faults)
    faults.add(node.mark, describe(node), what)
    return None


def text(node: Node, what: str, faults: Faults) -> str | None:
    if isinstance(node, Scalar) and node.text.strip():
        return node.text.strip()
    faults.add(node.mark, describe(node), what)
    return None


def word(node: Node, words: Collection[str], faults: Faults) -> str | None:
    if isinstance(node, Scalar) and node.text in words:
        return node.text
    found = meant(describe(node), words)
    faults.add(node.mark, describe(node), one_of(words), near=() if found else words,
               hint=f"that is {found} here" if found else "")
    return None


def known_word(node: Node, words: Iterable[str], what: str, faults: Faults) -> str | None:
    """A word that names something of the file, such as a part or a state."""
    found = text(node, what, faults)
    names = words if isinstance(words, Collection) else list(words)
    if found is not None and found not in names:
        faults.add(node.mark, found, what, near=names)
        return None
    return found


def value_of(node: Node, unit: str, faults: Faults, least: float | None = None) -> float | None:
    """A number without tolerance, at least `least`."""
    found = _value(node, unit, faults, number)
    if found is not None and least is not None and found < least:
        faults.add(node.mark, describe(node), f"a value of at least {least:g} {unit}".rstrip())
        return None
    return found


def quantity_of(node: Node, unit: str, faults: Faults) -> Quantity | None:
    return _value(node, unit, faults, quantity)


def span_of(node: Node, unit: str, faults: Faults) -> Span | None:
    return _value(node, unit, faults, span)


_T = TypeVar("_T")


def _value(node: Node, unit: str, faults: Faults, read: Callable[[str, str], _T]) -> _T | None:
    if not isinstance(node, Scalar):
        faults.add(node.mark, describe(node), f"a single value in {unit}")
        return None
    try:
        return read(node.text, unit)
    except ValueFault as fault:
        faults.add(node.mark, node.text, fault.expected, hint=fault.hint)
        return None
