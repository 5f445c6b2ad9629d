"""A chip's entry of the library turned into what the rest of the program works with."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from netcheck.parts import tables
from netcheck.parts.entries import CITED, EVERY, origin
from netcheck.parts.families import PATHS
from netcheck.parts.library import Entry, Place
from netcheck.parts.specs import ChipSpec, ChipWay
from netcheck.quantities.values import ValueFault, span

_SOFTWARE = "software"
"""When a way is open that only a program opens."""


def chip(name: str, entry: Entry) -> ChipSpec:
    entry.only(*EVERY, "pins", "cell", "paths", "isolated", "recognised", "leaks", "no_diode")
    pins = entry.fields.get("pins")
    if not isinstance(pins, dict) or not pins or not all(isinstance(number, str) for number in pins.values()):
        entry.owner.fault(entry.places.get("pins", entry.path), name, 'pins, such as {VCC: "8", VBAT: "3"}')
    ways = [_chip_way(entry, row, place, tuple(pins)) for place, row in
            entry.rows("paths", ("from", "to", "by", "ohms", "diodes", "when", *CITED))]
    if ("isolated" in entry.fields) == bool(ways):
        entry.owner.fault(entry.path, name, "paths, or what says that there are none: isolated: [yes, source, sure]")
    return ChipSpec(
        name=name, pins=tuple(pins.items()), cell=entry.text("cell", words=tuple(pins)), ways=tuple(ways),
        isolated=entry.cited("isolated") if not ways else "",
        recognised=entry.cited("recognised") if "recognised" in entry.fields else "", leak_A=entry.maybe("leaks", "A"),
        no_diode=entry.cited("no_diode") if "no_diode" in entry.fields else "",
        about=entry.text("about", ""), figures=(*entry.figures, *(way.figure for way in ways)),
    )


def _chip_way(entry: Entry, row: Mapping[str, Any], place: Place, pins: tuple[str, ...]) -> ChipWay:
    start, end = (_one_of(entry, row, place, key, pins) for key in ("from", "to"))
    when, open_at = row.get("when", {}), []
    if when != _SOFTWARE:
        if not isinstance(when, dict):
            entry.owner.fault((*place, "when"), str(when), "software, or the volts of a pin: {VCC: above 4.5 V}")
        for pin, volts in when.items():
            if pin not in pins:
                entry.owner.fault((*place, "when"), pin, "one of " + ", ".join(pins), pins)
            try:
                open_at.append((pin, span(volts, "V")))
            except ValueFault as fault:
                entry.owner.fault((*place, "when"), str(volts), fault.expected)
    diodes = entry.column(row["diodes"], tables.PATH["diodes"], place) if "diodes" in row else None
    return ChipWay(
        start, end, _one_of(entry, row, place, "by", PATHS),
        entry.column(row["ohms"], tables.PATH["ohms"], place) if "ohms" in row else None,
        None if diodes is None else int(diodes), tuple(open_at), when == _SOFTWARE, origin(entry, row, place))


def _one_of(entry: Entry, row: Mapping[str, Any], place: Place, key: str, words: tuple[str, ...]) -> str:
    found = row.get(key)
    if not isinstance(found, str) or found not in words:
        entry.owner.fault((*place, key), str(found), "one of " + ", ".join(words), words)
    return found
