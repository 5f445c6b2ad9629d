"""Readings from a file of their own: YAML as under `readings:`, or a probe sheet filled in as CSV.

A CSV row becomes the same entry that a fragment file would hold, and is read
by the same rules, so that a mistake is told in the same way. A row with an
empty reading is a blank that was not filled in.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from pathlib import Path

from netcheck.fragment.model import AS_FOUND, Fragment, Mark, Reading
from netcheck.fragment.mods import apply
from netcheck.quantities.words import nearest, one_of
from netcheck.reading.fields import Fields, describe
from netcheck.reading.mistakes import Faults, FragmentError
from netcheck.reading.wishes_reader import Circuits, read_readings
from netcheck.reading.yaml_nodes import Listing, Mapped, Node, Scalar, decode, parse, read_regular

COLUMNS = ("step", "section", "mod", "state", "test", "at", "against", "through", "without", "meter",
           "expected", "low", "high", "unit", "limit", "note", "reading")
"""The columns of a probe sheet, in order."""

TESTS = ("volts", "amps", "ohms", "diode")

_KEPT = ("mod", "state", "at", "against", "through", "meter")

OVERLOAD = {"ohms": "1000 GΩ", "diode": "1000 V"}
"""What stands for OL: more than any meter shows."""


def load_readings(path: str | Path, fragment: Fragment) -> tuple[Reading, ...]:
    """Read a file of readings taken on a board; its name tells CSV from YAML.

    Put in the fragment's own place (`replace(fragment, readings=…)`) they go with
    it through its mods.
    Raises FragmentError with all the mistakes of the file, and OSError where it cannot be opened.
    """
    return loads_readings(decode(read_regular(path), str(path)), str(path), fragment)


def loads_readings(text: str, file: str, fragment: Fragment) -> tuple[Reading, ...]:
    """Read readings from text; `file` is the name used in messages. Raises FragmentError."""
    if file.lower().endswith(".csv"):
        faults = Faults(file, text)
        root = Mapped({"readings": Listing(list(_rows(text, faults)), Mark(1, 1))},
                      {"readings": Scalar("readings", Mark(1, 1))}, Mark(1, 1))
    else:
        node, faults = parse(text, file)
        root = _filled_in(_root(node, faults), faults)
    variants = {AS_FOUND: fragment, **{name: apply(fragment, name) for name in fragment.mods}}
    joined = {name: frozenset(_linked(fragment, name)) for name in fragment.mods}
    found, tested = read_readings(Fields(root, faults), Circuits(variants, joined, set(), faults))
    for reading in tested:
        faults.add(reading.mark, reading.of, "a reading at a net, or through a part",
                   hint="what a component tester says stands under readings in the fragment file itself")
    if not found and not faults.found:
        faults.add(Mark(1, 1), "", "at least one reading", hint="no blank is filled in")
    faults.raise_if_any()
    return found


def _linked(fragment: Fragment, mod: str | None) -> Iterator[str]:
    """The nets that a mod's wire links join, those of the mods before it too: their old names still count."""
    while mod is not None:
        yield from (net for step in fragment.mods[mod].steps if step.action == "join" for net in step.names)
        mod = fragment.mods[mod].after


def _filled_in(root: Mapped, faults: Faults) -> Mapped:
    """The entries whose value is written, each as it was meant: blanks of a sheet are left out."""
    listed = root.entries.get("readings")
    if not isinstance(listed, Listing):
        return root
    kept: list[Node] = []
    for entry in listed.items:
        if isinstance(entry, Mapped):
            tests = [test for test in TESTS if test in entry.entries]
            values = [entry.entries[test] for test in tests]
            if tests and all(isinstance(value, Scalar) and not value.text.strip() for value in values):
                continue
            for test, value in zip(tests, values, strict=True):
                if isinstance(value, Scalar):
                    entry.entries[test] = as_read(test, value, faults)
        kept.append(entry)
    return Mapped({**root.entries, "readings": Listing(kept, listed.mark)}, root.keys, root.mark)


def as_read(test: str, value: Scalar, faults: Faults) -> Scalar:
    """A reading as the meter meant it: OL is more than any range, a decimal comma is a point.

    A lone 1 in an ohms or a diode test is how many meters show that they are over their range: asked about.
    """
    text = value.text.strip()
    if test in OVERLOAD and text == "1":
        faults.add(value.mark, text, "OL, where the meter showed nothing but a 1, or 1.0 where it measured one",
                   hint="many meters show a lone 1 when they are over their range")
    if text.upper() in _OVER:
        return Scalar(OVERLOAD.get(test, text), value.mark)
    return Scalar(_COMMA.sub(r"\1.\2", text), value.mark, value.plain)


_OVER = ("OL", "O.L", "O.L.", "0L", "0.L", "∞")
_COMMA = re.compile(r"^([-+]?\d+),(\d+)(?=\D*$)")


def _root(node: Node, faults: Faults) -> Mapped:
    """A list of readings, or a mapping with nothing but `readings`."""
    if isinstance(node, Listing):
        return Mapped({"readings": node}, {"readings": Scalar("readings", node.mark)}, node.mark)
    if not isinstance(node, Mapped):
        faults.add(node.mark, describe(node), "a list of readings, such as - {state: stored, at: VRAM, volts: 2.71}")
        raise FragmentError(faults.found)
    Fields(node, faults).refuse_others(("readings",), "a file of readings")
    return node


def _rows(text: str, faults: Faults) -> Iterator[Mapped]:
    lines = text.split("\n")
    delimiter = max(",;\t", key=lines[0].count)
    table = csv.reader(io.StringIO(text), delimiter=delimiter, strict=True)
    try:
        header = [name.strip().lower() for name in next(table, [])]
        _check_header(header, lines[0], faults)
        began = table.line_num
        for row in table:
            line, began = began + 1, table.line_num
            cells = dict(_cells(header, row, lines[line - 1], line))
            if any(cell.strip() for cell in row[len(header):]):
                faults.add(Mark(line, 1), delimiter.join(row[len(header) - 1:]), f"{len(header)} cells, as in the "
                           "first line", hint="the decimal sign is a point")
            elif "reading" in cells:
                yield from _entry(cells, Mark(line, 1), faults)
    except csv.Error as error:
        faults.add(Mark(max(1, table.line_num), 1), "", "valid CSV", hint=str(error))


def _check_header(header: list[str], line: str, faults: Faults) -> None:
    """Columns of one's own are welcome, unless they look like a slip in one that is known."""
    for name in header:
        if name not in COLUMNS and (near := nearest(name, COLUMNS)) is not None:
            faults.add(Mark(1, line.lower().find(name) + 1), name, f"a column of a probe sheet ({one_of(COLUMNS)})",
                       near=(near,))
    for wanted in ("reading", "at"):
        if wanted not in header:
            faults.add(Mark(1, 1), line.strip(), f'a first line that names the columns, among them "{wanted}"')
    faults.raise_if_any()


def _cells(header: list[str], row: list[str], line: str, number: int) -> Iterator[tuple[str, Scalar]]:
    """The cells of a row that hold something, each with its place in the file."""
    start = 0
    for name, cell in zip(header, row, strict=False):
        place = line.find(cell, start)
        start = start if place < 0 else place + len(cell)
        if cell.strip():
            yield name, Scalar(_unmarked(cell.strip()), Mark(number, max(place, 0) + 1))


def _unmarked(cell: str) -> str:
    """The cell without the mark ' that tells a spreadsheet that a text such as +5V is no formula."""
    return cell[1:] if cell[:1] == "'" and cell[1:2] in ("=", "+", "-", "@") else cell


def _entry(cells: dict[str, Scalar], mark: Mark, faults: Faults) -> Iterator[Mapped]:
    """The entry of a fragment file that a row stands for; none where its test is no test."""
    entries: dict[str, Node] = {key: cells[key] for key in _KEPT if key in cells}
    keys = {key: Scalar(key, cells[key].mark) for key in entries}
    test = cells.get("test", Scalar("volts", mark))
    value = cells["reading"]
    if test.text not in TESTS:
        faults.add(test.mark, test.text, one_of(TESTS), near=TESTS)
        return
    entries[test.text], keys[test.text] = as_read(test.text, value, faults), Scalar(test.text, value.mark)
    if "without" in cells:
        names = cells["without"]
        entries["without"] = Listing([Scalar(name, names.mark) for name in names.text.split()], names.mark)
        keys["without"] = names
    yield Mapped(entries, keys, mark)
