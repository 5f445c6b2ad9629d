"""Parts of a fragment file as JSON Schema, made from the reader's own vocabulary."""

from __future__ import annotations

from collections.abc import Mapping

from netcheck.fragment.kinds import PIN_ROLES, ROWS, keys_of
from netcheck.fragment.model import Kind
from netcheck.parts import tables
from netcheck.parts.catalogue import Catalogue, heatsinks
from netcheck.parts.families import PATHS, POLARITIES
from netcheck.parts.tables import Table
from netcheck.quantities.words import one_of
from netcheck.reading.inline import LIMITS
from netcheck.reading.parts_reader import SELECTED, SINKS
from netcheck.reading.schema.values import (
    Schema,
    draw,
    exactly_one,
    leakage,
    life,
    listing,
    mapping,
    named,
    of_field,
    of_table,
    one_or_list,
    row,
    suggested,
    text,
    word,
    written,
    yes_or,
)

NET = text("the name of a net", "the name of a net")
_PINS = r"[1-9][0-9]?\s*(?:-\s*[1-9][0-9]?\s*)+"
_COUNT: Schema = {"anyOf": [
    {"type": ["integer", "null"], "minimum": 2, "maximum": 99},
    written("how many pins, their nets being given under nets", "^(?:[2-9]|[1-9][0-9]) pins$", "a number of pins"),
]}

KIND_WORDS: Mapping[Kind, str] = {kind: row.about for kind, row in ROWS.items()}

_PIN_WORDS: Mapping[str, str] = {
    "plus": "the net of the plus pin", "minus": "the net of the minus pin",
    "anode": "the net of the anode, the end without the band",
    "cathode": "the net of the cathode, the end with the band",
    "collector": "the net of the collector", "base": "the net of the base",
    "emitter": "the net of the emitter",
    "drain": "the net of the drain", "gate": "the net of the gate", "source": "the net of the source",
    "input": "the net of the input pin", "output": "the net of the output pin",
    "adjust": "the net of the adjust pin", "ground": "the net of the ground pin",
    "wiper": "the net of the wiper; it may be joined to an end",
    "common": "the net of the contact that moves", "rest": "the net that common touches at rest",
    "work": "the net that common touches while the coil pulls",
}


def part_schema(catalogue: Catalogue) -> Schema:
    """One part: exactly one kind, and of the other words only those of that kind."""
    values = _kind_values(catalogue)
    given: list[Schema] = [{"required": [kind.value]} for kind in Kind]
    kindless = {
        "properties": {kind.value: {"description": KIND_WORDS[kind]} for kind in Kind},
        "propertyNames": {"enum": list(dict.fromkeys(key for kind in Kind for key in keys_of(kind)))},
        "required": [Kind.RESISTOR.value],  # it is not there, so this always fails, with these words
        "errorMessage": f"expected a kind of part: {one_of(map(str, Kind))}",
    }
    return {
        "description": "a part: its kind with its value, and its pins",
        "type": "object",
        "if": {"anyOf": given}, "else": kindless,
        "allOf": [{"if": has, "then": mapping(KIND_WORDS[kind], {
            key: values[kind] if key == kind.value else _field(kind, key) for key in keys_of(kind)})}
            for kind, has in zip(Kind, given, strict=True)],
    }


def _field(kind: Kind, key: str) -> Schema:
    """What one word of a part may say."""
    if (kind, key) == (Kind.CHIP, "pins"):
        return _CHIP_PINS
    if key in _PIN_WORDS:
        return text(_PIN_WORDS[key], "the name of a net")
    return _FIELDS[key]


_JOINS: Schema = {"description": "the pins that are joined, such as 1-2", "anyOf": [
    written("pins that are joined", rf"^\s*(?:none|open|{_PINS}(?:,\s*{_PINS})*)$", "pins such as 1-2"),
    listing(written("pins that are joined", rf"^\s*{_PINS}$", "pins such as 1-2")),
]}

_FIELDS: Mapping[str, Schema] = {
    **{key: of_field(tables.PART[key]) for key in (
        "voltage", "power", "type", "rated", "esr", "esl", "ripple", "resistance", "survives", "works",
        "runs")},
    "ends": {"description": "the two nets of its ends, [A, B]", **listing(NET, 2, 2)},
    "coil": {"description": "the two nets of its coil, [A, B]", **listing(NET, 2, 2)},
    "pulled": text("the rail that pulls it whenever it is live, where the nets of the coil do not tell"),
    "kept": yes_or("no", "no: it need not be kept alive with the supplies off"),
    "selected": word("whether the chip select of a memory is held near its supply while stored", SELECTED),
    "between": {"description": "the two nets of a part without polarity, [A, B]", **listing(NET, 2, 2)},
    "fitted": yes_or("no", "no: an empty footprint, drawn and never in the circuit"),
    "note": text("a remark"),
    "at": text("where on the board it is"),
    "marked": text("what is printed on it, such as 103, 01C, 4k7, or its colours; compared with its value"),
    "plugged": yes_or("maybe", "maybe: a cell on a header, checked plugged and unplugged"),
    "size": text("its size, such as 6.3 x 11 mm or 0603"),
    "hours": life("the life in its data sheet, such as 2000 h at 105 °C"),
    "role": text("what it is there for, where the circuit does not tell"),
    "positions": {
        "description": "what each position joins, such as {normal: 1-2, clear: 2-3}; without it a jumper of "
                       "two pins has open and closed, one of three pins 1-2 and 2-3",
        "anyOf": [named("position to pins", _JOINS, least=1), listing(_JOINS["anyOf"][0], 1)]},
    "set": text("the position it stands in as found; absent: the cap is not there; of a trimmer end 1, middle, "
                "end 2, or the way from end 1 such as 30 %"),
    "heatsink": {"description": "the thermal resistance of its heat sink, or board or none",
                 "anyOf": [{"enum": [*heatsinks(), *SINKS]}, of_field(tables.PART["heatsink"])]},
    "pins": {
        "description": "its pins: {1: NET, 2: NET}, or the nets in the order of the pins",
        "anyOf": [named("pin to net", NET), listing(NET), _COUNT]},
    "paths": {"description": "ways for current through it, such as {from: 2, to: 1, by: switch}", **one_or_list(mapping(
        "a way for current through a chip", {
            "from": text("the pin that current comes from"), "to": text("the pin that it goes to"),
            "by": word("what is on the way: a switch (both ways), a diode, or a charger", PATHS),
            "ohms": of_field(tables.PATH["ohms"]),
            "diodes": {"description": "junctions in series with it", "type": ["integer", "string"], "minimum": 0,
                       "pattern": "^[0-9]+$"},
            "when": named("when it is on: {main: off} as in a state, or {VCC: below 2.9 V}", text("how it stands")),
        }, required=("from", "to", "by")))},
    "clamps": mapping(
        "protection diodes of its inputs, such as {to: +5V, from: [NET]}",
        {"to": text("the net that the diodes lead to", "the name of a net"),
         "from": {"description": "the nets of the inputs", **one_or_list(NET)}},
        required=("to", "from")),
}


_CHIP_PINS: Schema = {
    "description": "its pins: {1: NET, 2: NET}, the nets in order, or for some the role: "
                   f"{{LF: loop-filter}} is a pin LF on a net LF ({one_of(PIN_ROLES)})",
    "anyOf": [named("pin to net", {"anyOf": [NET, mapping("a pin with a role", {
        "net": NET, "role": word("what the pin is for", PIN_ROLES)}, required=("net",))]}), listing(NET), _COUNT]}


def _kind_values(catalogue: Catalogue) -> Mapping[Kind, Schema]:
    """What may stand after each kind word."""
    links: Schema = {"anyOf": [listing(NET, 2), _COUNT]}

    def of_library(kind: Kind, given: Schema, *words: str) -> Schema:
        names = {**dict.fromkeys(words, "without more detail"), **{
            name: catalogue.spec(str(kind), name).about
            for name in catalogue.names(str(kind))}}
        return {"description": KIND_WORDS[kind], "anyOf": [suggested(names, KIND_WORDS[kind]), given]}

    def or_word(value: Schema, *words: str) -> Schema:
        return {"anyOf": [{"enum": list(words)}, value]}

    found = {
        Kind.CELL: of_library(Kind.CELL, CELL),
        Kind.DIODE: of_library(Kind.DIODE, DIODE),
        Kind.RESISTOR: of_field(tables.PART["resistor"]),
        Kind.TRIMMER: of_field(tables.PART["trimmer"]),
        Kind.RELAY: {"anyOf": [of_field(tables.PART["relay"]), RELAY]},
        Kind.CAPACITOR: of_field(tables.PART["capacitor"]),
        Kind.INDUCTOR: or_word(of_field(tables.PART["inductor"]), "bead", "unknown"),
        Kind.FUSE: or_word(of_field(tables.PART["fuse"]), "unknown"),
        Kind.JUMPER: links,
        Kind.SWITCH: links,
        Kind.TRANSISTOR: of_library(Kind.TRANSISTOR, TRANSISTOR, *POLARITIES),
        Kind.REGULATOR: of_library(Kind.REGULATOR, REGULATOR),
        Kind.LOAD: of_library(Kind.LOAD, LOAD),
        Kind.CHIP: of_library(Kind.CHIP, text("the name of the chip")),
        Kind.CONNECTOR: of_library(Kind.CONNECTOR, CONNECTOR, "unknown"),
    }
    return {kind: {**value, "description": KIND_WORDS[kind]} for kind, value in found.items()}


def _keys(table: Table, special: Mapping[str, Schema] | None = None) -> dict[str, Schema]:
    """Every field of a table, those with a form of their own filled in, old spellings beside the new ones."""
    keys = of_table(table)
    for name, schema in (special or {}).items():
        for spelling in (name, *table[name].also):
            keys[spelling] = {"description": table[name].about, **schema}
    return keys

DIODE = mapping("a diode given here: IS with N and RS, or points, or zener", _keys(tables.DIODE, {
    "points": listing(row(*map(of_field, tables.POINT), word("which limit of the data sheet this is", LIMITS), least=2),
                      1),
    "knee": listing(row(*map(of_field, tables.KNEE), least=2)),
    "leakage": one_or_list(leakage("reverse current at a voltage, 25 °C unless said")),
}), anyOf=[{"required": [key]} for key in ("IS", "points", "zener")])

_PACK = {"if": {"required": ["chemistry"], "properties": {"chemistry": {"const": "supercapacitor"}}},
         "then": {"required": ["capacitance"]}, "else": {"required": ["capacity"]},
         "not": {"required": ["abnormal_charge", "fault_charge"]}}
CELL = mapping("a cell or pack given here", _keys(tables.CELL, {
    "curve": listing(row(*map(of_field, tables.CURVE), least=2), 2),
    "primary": yes_or("no", tables.CELL["primary"].about),
    "trickle": listing(of_field(tables.TRICKLE), 3, 3),
}), required=("chemistry", "volts", "resistance"), **_PACK)

LOAD = mapping("a load given here", _keys(tables.LOAD, {
    "draws": one_or_list(draw("a supply current, typical and maximum where known"), 1),
}), required=("draws",))

RELAY = mapping("a relay given here", _keys(tables.RELAY), required=("coil",))

TRANSISTOR = mapping("a transistor given here", _keys(tables.TRANSISTOR), required=("polarity",))

REGULATOR = mapping("a regulator given here: reference and between if adjustable, output if fixed",
                    _keys(tables.REGULATOR), oneOf=exactly_one(("reference", "output")),
                    dependentRequired={"reference": ["between"]})

CONNECTOR = mapping("a pinout given here", _keys(tables.CONNECTOR, {
    "pinout": named(tables.CONNECTOR["pinout"].about, text("the signal")),
}))

INLINE: Mapping[Kind, Schema] = {
    Kind.DIODE: DIODE, Kind.CELL: CELL, Kind.LOAD: LOAD, Kind.TRANSISTOR: TRANSISTOR,
    Kind.REGULATOR: REGULATOR, Kind.CONNECTOR: CONNECTOR, Kind.RELAY: RELAY,
}
"""The mappings that may stand in place of a library name."""
