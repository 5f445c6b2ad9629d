"""What is known about a part: from its value, from the library, or given inline."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import partial
from typing import TypeVar

from netcheck.fragment.model import Kind, Mark
from netcheck.parts import everyday
from netcheck.parts.catalogue import Catalogue, UnknownEntry
from netcheck.parts.families import POLARITIES
from netcheck.parts.specs import (
    CapacitorSpec,
    ChipSpec,
    ConnectorSpec,
    FuseSpec,
    InductorSpec,
    LinkSpec,
    LoadSpec,
    RelaySpec,
    ResistorSpec,
    Spec,
    TransistorSpec,
    TrimmerSpec,
)
from netcheck.parts.tables import LIFE
from netcheck.quantities.values import Quantity, ValueFault, number
from netcheck.quantities.words import nearest
from netcheck.reading import inline
from netcheck.reading.fields import Fields, outside, text
from netcheck.reading.mistakes import Faults
from netcheck.reading.yaml_nodes import Mapped, Scalar

UNKNOWN = "unknown"
_STARTS_AS_VALUE = re.compile(r"[0-9.+-][0-9.]*\s*(?:[pnuµμmk]?A)\b")

_S = TypeVar("_S")


class SpecsReader:
    """Reads the value of a part's kind word. Library entries are looked up once each."""

    def __init__(self, catalogue: Catalogue, faults: Faults) -> None:
        self._catalogue = catalogue
        self._faults = faults
        self._found: dict[tuple[str, str], Spec | UnknownEntry] = {}
        self._readers: dict[Kind, Callable[[str, Fields], Spec | None]] = {
            Kind.CELL: partial(self._named, Kind.CELL, catalogue.cell, inline.cell),
            Kind.DIODE: partial(self._named, Kind.DIODE, catalogue.diode, inline.diode),
            Kind.REGULATOR: partial(self._named, Kind.REGULATOR, catalogue.regulator, inline.regulator),
            Kind.TRANSISTOR: self._transistor,
            Kind.LOAD: self._load,
            Kind.CONNECTOR: self._connector,
            Kind.RESISTOR: _resistor,
            Kind.TRIMMER: _trimmer,
            Kind.RELAY: _relay,
            Kind.CAPACITOR: _capacitor,
            Kind.INDUCTOR: _inductor,
            Kind.FUSE: _fuse,
            Kind.JUMPER: _link,
            Kind.SWITCH: _link,
            Kind.CHIP: self._chip,
        }

    def read(self, name: str, kind: Kind, part: Fields) -> Spec | None:
        """What is known about the part; None where there was a mistake."""
        return self._readers[kind](name, part)

    def _named(
        self, kind: Kind, look_up: Callable[[str], _S], read: Callable[[Fields, str], _S],
        name: str, part: Fields,
    ) -> _S | None:
        node = part.node.entries[kind.value]
        if isinstance(node, Mapped):
            return read(Fields(node, self._faults), f"{name} as given")
        entry = text(node, _expected(kind), self._faults)
        return None if entry is None else self._look_up(kind, look_up, entry, node.mark)

    def _look_up(self, kind: Kind, look_up: Callable[[str], _S], entry: str, mark: Mark) -> _S | None:
        key = (kind.value, entry)
        if key not in self._found:
            try:
                self._found[key] = look_up(entry)  # type: ignore[assignment]
            except UnknownEntry as unknown:
                self._found[key] = unknown
        found = self._found[key]
        if isinstance(found, UnknownEntry):
            near = nearest(entry, (found.nearest,)) if found.nearest else None
            self._faults.add(mark, entry, _expected(kind), near=(near,) if near else (),
                             hint="" if near else _names_for(self._catalogue, kind, entry))
            return None
        return found  # type: ignore[return-value]

    def _load(self, name: str, part: Fields) -> LoadSpec | None:
        node = part.node.entries["load"]
        if isinstance(node, Scalar) and _STARTS_AS_VALUE.match(node.text):
            return LoadSpec(node.text, inline.draw_points(node, self._faults), figures=(inline.GIVEN,))
        return self._named(Kind.LOAD, self._catalogue.load, inline.load, name, part)

    def _transistor(self, name: str, part: Fields) -> TransistorSpec | None:
        node = part.node.entries["transistor"]
        if isinstance(node, Scalar) and node.text in POLARITIES:
            return TransistorSpec(node.text, node.text, figures=(inline.GIVEN,))
        return self._named(Kind.TRANSISTOR, self._catalogue.transistor, inline.transistor, name, part)

    def _chip(self, name: str, part: Fields) -> ChipSpec | None:
        found = part.text("chip", "a name for the chip")
        if found is None:
            return None
        try:
            return self._catalogue.chip(found)
        except UnknownEntry:
            return ChipSpec(found)

    def _connector(self, name: str, part: Fields) -> ConnectorSpec | None:
        node = part.node.entries["connector"]
        if isinstance(node, Scalar) and node.text == UNKNOWN:
            return ConnectorSpec(UNKNOWN)
        return self._named(Kind.CONNECTOR, self._catalogue.connector, inline.connector, name, part)


def _expected(kind: Kind) -> str:
    return f"the name of a {kind} of the library, or its figures, such as {_FIGURES[kind]}"


_FIGURES: Mapping[Kind, str] = {
    Kind.CELL: "{chemistry: lithium-primary, volts: 3 V, capacity: 220 mAh, resistance: 15}",
    Kind.DIODE: "{points: [[1 mA, 0.62 V]], leakage: 25 nA at 20 V}",
    Kind.LOAD: "2 uA",
    Kind.TRANSISTOR: "npn",
    Kind.REGULATOR: "{reference: 1.25 V, between: output-adjust}",
    Kind.CONNECTOR: "unknown",
}


def _names_for(catalogue: Catalogue, kind: Kind, entry: str) -> str:
    """The names that the words of an entry fit, else the first of all."""
    fitting = [spec.name for _, spec in everyday.find(catalogue, entry, (kind.value,))]
    names = fitting or list(catalogue.names(kind.value))
    said = f"the library has {', '.join(names[:8])}{' …' if len(names) > 8 else ''}" if names else ""
    return said if fitting or not names else f"{said}; `netcheck parts {kind}` lists them"


def _resistor(name: str, part: Fields) -> ResistorSpec | None:
    value = part.quantity("resistor")
    if value is None or not _positive(part, "resistor", value, zero=True):
        return None
    return ResistorSpec(value, part.number("power"))


def _trimmer(name: str, part: Fields) -> TrimmerSpec | None:
    value = part.quantity("trimmer")
    if value is None or not _positive(part, "trimmer", value):
        return None
    return TrimmerSpec(value, part.number("power"))


def _relay(name: str, part: Fields) -> RelaySpec | None:
    """The resistance of the coil, or `{coil: 167, pulls: 3.75 V}`."""
    node = part.node.entries["relay"]
    if isinstance(node, Mapped):
        return inline.relay(Fields(node, part.faults), name)
    value = part.quantity("relay")
    if value is None or not _positive(part, "relay", value):
        return None
    return RelaySpec(value)


def _capacitor(name: str, part: Fields) -> CapacitorSpec | None:
    value = part.quantity("capacitor")
    if value is None or not _positive(part, "capacitor", value):
        return None
    life_h, life_at_C = _hours(part)
    return CapacitorSpec(
        capacitance=value,
        type=part.known_word("type") or UNKNOWN,
        rated_V=part.number("rated"),
        esr_ohm=part.number("esr"),
        esl_H=part.number("esl"),
        size=part.text("size"),
        life_h=life_h,
        life_at_C=life_at_C,
        ripple_A=part.number("ripple"),
    )


def _hours(part: Fields) -> tuple[float | None, float | None]:
    given = part.text("hours", 'a life such as "2000 h at 105 °C"')
    if given is None:
        return None, None
    life, _, celsius = (piece.strip() for piece in re.sub(r"\s+", " ", given).partition(" at "))
    try:
        hours, at_C = number(life, "h"), number(celsius, "°C")
    except ValueFault as fault:
        part.faults.add(part.node.entries["hours"].mark, given, 'a life such as "2000 h at 105 °C"',
                        hint=str(fault))
        return None, None
    node = part.node.entries["hours"]
    if any(outside(node, column, part.faults, value) for column, value in zip(LIFE, (hours, at_C), strict=True)):
        return None, None
    return hours, at_C


def _inductor(name: str, part: Fields) -> InductorSpec | None:
    node = part.node.entries["inductor"]
    value = None
    if not (isinstance(node, Scalar) and node.text in ("bead", UNKNOWN)):
        value = part.quantity("inductor")
        if value is None or not _positive(part, "inductor", value):
            return None
    ohm = part.number("resistance")
    return InductorSpec(value) if ohm is None else InductorSpec(value, ohm)


def _fuse(name: str, part: Fields) -> FuseSpec | None:
    node = part.node.entries["fuse"]
    rating = None
    if not (isinstance(node, Scalar) and node.text == UNKNOWN):
        rating = part.number("fuse")
    ohm = part.number("resistance")
    return FuseSpec(rating) if ohm is None else FuseSpec(rating, ohm)


def _link(name: str, part: Fields) -> LinkSpec:
    return LinkSpec()


def _positive(part: Fields, key: str, value: Quantity, zero: bool = False) -> bool:
    if value.low > 0 or (zero and value.low == 0):
        return True
    part.faults.add(part.node.entries[key].mark, value.text,
                    f"a value above zero{', or 0 for a link' if zero else ''}")
    return False
