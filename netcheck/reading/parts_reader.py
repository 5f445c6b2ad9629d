"""One entry of `parts:`, or of a mod's fit and replace, to a Part."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from msgspec import Struct, field
from msgspec.structs import replace

from netcheck.fragment.kinds import KEYS, KINDS, keys_of
from netcheck.fragment.model import ChipPath, Clamp, Kind, Mark, Part
from netcheck.parts import everyday, tables
from netcheck.parts.catalogue import heatsinks
from netcheck.parts.chip import traced_pin
from netcheck.parts.families import PATHS
from netcheck.parts.specs import ChipSpec, LoadSpec
from netcheck.quantities.values import Span
from netcheck.quantities.words import one_of
from netcheck.reading.fields import Fields, fields, known_word, refuse_key, text
from netcheck.reading.mistakes import Faults
from netcheck.reading.pins_reader import complete_pins, listed_elsewhere, read_pins, read_positions, read_roles
from netcheck.reading.specs_reader import SpecsReader
from netcheck.reading.yaml_nodes import Mapped, Node, Scalar

LONGEST_NAME = 64
_PLUGGED: Mapping[str, bool | None] = {"yes": True, "maybe": None}
SELECTED = ("held", "floating")
SINKS = ("board", "none")
_TEXTS = ("note", "at", "marked", "role")
_VOLTS = re.compile(r"[0-9.]\s*m?V\b")


def _empty(node: Node) -> bool:
    return isinstance(node, Scalar) and node.plain and node.text == ""


class PartsReader(Struct):
    """Reads parts; remembers names that can only be judged when all parts are known.

    nets_named: nets of clamps and paths. pulled: rails that pull a relay. whens: the supplies and positions that
    the paths of chips ask for.
    """

    specs: SpecsReader
    faults: Faults
    nets_named: list[tuple[str, Mark]] = field(default_factory=list)
    whens: list[Fields] = field(default_factory=list)
    pulled: list[tuple[str, Mark]] = field(default_factory=list)

    def read(
        self, key: Scalar, node: Node, declared: Mapping[str, tuple[str, Mark]], old: Part | None = None
    ) -> Part | None:
        """The part under the name `key`; None where there was a mistake.

        declared: its pins as the `nets:` section gives them. old: the part it replaces.
        """
        before = len(self.faults.found)
        self._name(key)
        part = fields(node, "a part such as {resistor: 470, between: [A, B]}", self.faults)
        if part is not None:
            part = Fields(part.node, part.faults, tables.PART)
        kind = None if part is None else self._kind(part)
        if part is None or kind is None:
            return None
        self._keys(kind, part)
        spec = self.specs.read(key.text, kind, part)
        pins = read_pins(key.text, kind, part, declared)
        pins = complete_pins(key.text, kind, spec, part, pins, old.pins if old else {})
        standing = read_positions(key.text, kind, part, pins)
        clamp = self._clamp(part) if "clamps" in part else None
        entries = part.node.entries
        read = Part(
            name=key.text, kind=kind, pins=pins, spec=spec, mark=key.mark,  # type: ignore[arg-type]
            positions=standing.positions, position=standing.position, travel=standing.travel, clamp=clamp,
            fitted=True if "fitted" not in entries else part.yes("fitted") is not False,
            plugged=_PLUGGED[part.word("plugged", _PLUGGED) or "yes"] if "plugged" in entries else True,
            measured_V=part.number("voltage") if "voltage" in entries else None,
            works=part.span("works") if "works" in entries
            else spec.works if isinstance(spec, LoadSpec) else None,
            runs=part.span("runs") if "runs" in entries else spec.runs if isinstance(spec, LoadSpec) else None,
            survives_V=part.number("survives") if "survives" in entries else None,
            kept=part.yes("kept") if "kept" in entries else None,
            selected=part.word("selected", SELECTED) if "selected" in entries else None,
            **_heatsink(part),
            pulled_by=self._pulled(part) if "pulled" in entries else None,
            pin_roles=read_roles(part) if kind is Kind.CHIP else {},
            paths=self._paths(part, pins) if "paths" in entries
            else published_paths(spec, pins, key.mark) if isinstance(spec, ChipSpec) else (),
            role=part.text("role") if "role" in entries else None,
            marked=part.text("marked") if "marked" in entries else None,
            note=part.text("note") if "note" in entries else None,
            at=part.text("at") if "at" in entries else None,
        )
        return read if len(self.faults.found) == before else None

    def _name(self, key: Scalar) -> None:
        if not key.text.strip() or len(key.text) > LONGEST_NAME or "." in key.text or "\n" in key.text:
            self.faults.add(key.mark, key.text, f"a designator such as R1, without points, of at most "
                                                f"{LONGEST_NAME} characters")

    def _kind(self, part: Fields) -> Kind | None:
        given = [key for key in part.node.entries if key in KINDS]
        if len(given) == 1:
            return KINDS[given[0]]
        if given:
            self.faults.add(part.key_mark(given[1]), given[1], "exactly one kind a part",
                            hint=f"it is a {given[0]} already")
            return None
        first = next((key for key in part.node.keys.values() if everyday.answer(key.text)),
                     next(iter(part.node.keys.values()), None))
        hint = everyday.answer(first.text) if first else ""
        self.faults.add(first.mark if first else part.mark, first.text if first else "{}",
                        f"a kind of part ({one_of(KINDS)})", near=KINDS if not hint else (), hint=hint)
        return None

    def _keys(self, kind: Kind, part: Fields) -> None:
        known = KEYS[kind]
        before = ""
        for key, node in list(part.node.keys.items()):
            if before in _TEXTS and _empty(part.node.entries[key]):
                self.faults.add(node.mark, key, f'the {before} in quotes, since a comma ends it: {before}: "…"')
                del part.node.entries[key], part.node.keys[key]
                continue
            before = key
            if key not in known:
                refuse_key(node, keys_of(kind), f"a {kind}", self.faults, listed_elsewhere(kind, part, key))

    def _clamp(self, part: Fields) -> Clamp | None:
        clamps = part.fields("clamps", "clamps such as {to: +5V, from: [NET]}")
        if clamps is None:
            return None
        clamps.refuse_others(("to", "from"), "clamps")
        clamps.require("to", "the net that the diodes lead to")
        clamps.require("from", "the nets of the inputs")
        to = clamps.text("to", "the name of a net")
        inputs = clamps.texts("from", "nets")
        node = clamps.get("to")
        if to is not None and node is not None:
            self.nets_named.append((to, node.mark))
        self.nets_named += inputs
        return None if to is None else Clamp(to, tuple(net for net, _ in inputs))

    def _pulled(self, part: Fields) -> str | None:
        """The rail that pulls a relay; "coil" says that the nets of the coil tell."""
        rail = part.text("pulled", "a rail")
        if rail is not None:
            self.pulled.append((rail, part.node.entries["pulled"].mark))
        return rail

    def _paths(self, part: Fields, pins: Mapping[str, str]) -> tuple[ChipPath, ...]:
        what = "paths such as {from: 2, to: 1, by: switch}"
        found = []
        for node in part.items("paths", what):
            entry = fields(node, what, self.faults)
            if entry is not None and (path := self._path(entry, pins)) is not None:
                found.append(path)
        return tuple(found)

    def _path(self, entry: Fields, pins: Mapping[str, str]) -> ChipPath | None:
        entry.refuse_others(("from", "to", "by", "ohms", "diodes", "when"), "a path")
        for key, why in (("from", "the pin that current comes from"), ("to", "the pin that it goes to"),
                         ("by", one_of(PATHS))):
            entry.require(key, why)
        ends = []
        for key in ("from", "to"):
            node = entry.get(key)
            pin = None if node is None else known_word(node, pins, "a pin of this chip", self.faults)
            ends.append(pin)
        by = entry.word("by", PATHS)
        entry = Fields(entry.node, entry.faults, tables.PATH)
        diodes = entry.number("diodes")
        if diodes is not None and diodes != int(diodes):
            self.faults.add(entry.node.entries["diodes"].mark, f"{diodes:g}", "a whole number of diodes")
        when, volts = self._when(entry, pins)
        start, end = ends
        if start is None or end is None or by is None:
            return None
        if start == end:
            self.faults.add(entry.mark, start, "a path between two pins")
        return ChipPath(start, end, by, entry.mark, entry.number("ohms"),
                        None if diodes is None else int(diodes), when, volts)

    def _when(self, entry: Fields, pins: Mapping[str, str]) -> tuple[dict[str, str], dict[str, Span]]:
        """`when: {main: off}` as in a state; `when: {VCC: below 2.9 V}` for the volts of a pin or net."""
        when = entry.fields("when", "conditions such as {main: off} or {VCC: below 2.9 V}")
        words: dict[str, str] = {}
        volts: dict[str, Span] = {}
        for key, node in when.node.entries.items() if when is not None else ():
            assert when is not None
            said = text(node, "on, off, a position, or a range of volts", self.faults)
            if said is not None and _VOLTS.search(said):
                if (span := when.span(key, "V")) is not None:
                    volts[pins.get(key, key)] = span
                    self.nets_named.append((pins.get(key, key), when.key_mark(key)))
            elif said is not None:
                words[key] = said
        if when is not None and words:
            self.whens.append(Fields(Mapped({key: when.node.entries[key] for key in words}, when.node.keys,
                                            when.mark), self.faults))
        return words, volts


def published_paths(spec: ChipSpec, pins: Mapping[str, str], mark: Mark) -> tuple[ChipPath, ...]:
    """The ways through a chip of the library between pins that were traced, under their names in the file."""
    found = []
    for way in spec.ways:
        start, end = (traced_pin(spec, pin, pins) for pin in (way.start, way.end))
        at = {pins[pin]: volts for name, volts in way.when if (pin := traced_pin(spec, name, pins)) is not None}
        if start is not None and end is not None:
            found.append(ChipPath(start, end, way.by, mark, way.ohm, way.diodes, when_volts=at, software=way.software,
                                  published=True))
    return tuple(found)


def _heatsink(part: Fields) -> dict[str, Any]:
    """`heatsink: 15 K/W`, or in words: one of the library's, the copper of the board, or none at all."""
    node = part.get("heatsink")
    if isinstance(node, Scalar) and node.text in SINKS:
        return {"heatsink": node.text}
    if node is None or "regulator" not in part:
        return {}
    if isinstance(node, Scalar) and node.text in heatsinks():
        return {"heatsink_K_per_W": heatsinks()[node.text]}
    before = len(part.faults.found)
    found = part.number("heatsink")
    if len(part.faults.found) > before and isinstance(node, Scalar):
        part.faults.found[-1] = replace(
            part.faults.found[-1], expected=f"{part.faults.found[-1].expected}, or {one_of((*heatsinks(), *SINKS))}")
    return {"heatsink_K_per_W": found}
