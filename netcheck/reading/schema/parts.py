"""Parts of a fragment file as JSON Schema, made from the reader's own vocabulary."""

from __future__ import annotations

from collections.abc import Mapping

from netcheck.fragment.kinds import PIN_ROLES, ROWS, keys_of
from netcheck.fragment.model import Kind
from netcheck.parts.catalogue import Catalogue
from netcheck.parts.families import (
    BACK,
    BETWEEN,
    CAPACITOR_TYPES,
    CHEMISTRIES,
    DIODE_FAMILIES,
    POLARITIES,
    SIGNS,
)
from netcheck.quantities.words import one_of
from netcheck.reading.inline import LIMITS
from netcheck.reading.parts_reader import PATHS, SELECTED, SINKS
from netcheck.reading.schema.values import (
    Schema,
    draw,
    exactly_one,
    leakage,
    life,
    listing,
    mapping,
    named,
    number,
    one_or_list,
    quantity,
    row,
    span,
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
    "ends": {"description": "the two nets of its ends, [A, B]", **listing(NET, 2, 2)},
    "coil": {"description": "the two nets of its coil, [A, B]", **listing(NET, 2, 2)},
    "pulled": text("the rail that pulls it whenever it is live, where the nets of the coil do not tell"),
    "survives": number("V", "the most volts that it stands (absolute maximum)", least=0),
    "kept": yes_or("no", "no: it need not be kept alive with the supplies off"),
    "selected": word("whether the chip select of a memory is held near its supply while stored", SELECTED),
    "between": {"description": "the two nets of a part without polarity, [A, B]", **listing(NET, 2, 2)},
    "fitted": yes_or("no", "no: an empty footprint, drawn and never in the circuit"),
    "note": text("a remark"),
    "at": text("where on the board it is"),
    "marked": text("what is printed on it, such as 103, 01C, 4k7, or its colours; compared with its value"),
    "plugged": yes_or("maybe", "maybe: a cell on a header, checked plugged and unplugged"),
    "voltage": number("V", "the volts measured at this cell"),
    "power": number("W", "the power it is rated for", least=0),
    "type": word("the family of the capacitor", CAPACITOR_TYPES),
    "rated": number("V", "the voltage printed on it", least=0),
    "esr": number("ohm", "its equivalent series resistance", least=0),
    "esl": number("H", "its equivalent series inductance", least=0),
    "size": text("its size, such as 6.3 x 11 mm or 0603"),
    "hours": life("the life in its data sheet, such as 2000 h at 105 °C"),
    "ripple": number("A", "the ripple current it is rated for", least=0),
    "role": text("what it is there for, where the circuit does not tell"),
    "resistance": number("ohm", "its resistance to direct current", least=0),
    "positions": {
        "description": "what each position joins, such as {normal: 1-2, clear: 2-3}; without it a jumper of "
                       "two pins has open and closed, one of three pins 1-2 and 2-3",
        "anyOf": [named("position to pins", _JOINS, least=1), listing(_JOINS["anyOf"][0], 1)]},
    "set": text("the position it stands in as found; absent: the cap is not there; of a trimmer end 1, middle, "
                "end 2, or the way from end 1 such as 30 %"),
    "heatsink": {"description": "the thermal resistance of its heat sink, or board or none",
                 "anyOf": [{"enum": list(SINKS)}, number("K/W", "the thermal resistance of its heat sink", least=0)]},
    "works": span("V", "the supply range in which it keeps its data or its time"),
    "pins": {
        "description": "its pins: {1: NET, 2: NET}, or the nets in the order of the pins",
        "anyOf": [named("pin to net", NET), listing(NET), _COUNT]},
    "paths": {"description": "ways for current through it, such as {from: 2, to: 1, by: switch}", **one_or_list(mapping(
        "a way for current through a chip", {
            "from": text("the pin that current comes from"), "to": text("the pin that it goes to"),
            "by": word("what is on the way: a switch (both ways), a diode, or a charger", PATHS),
            "ohms": number("ohm", "resistance on the way", least=0),
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
        Kind.RESISTOR: quantity("ohm", "its resistance", least=0),
        Kind.TRIMMER: quantity("ohm", "its resistance from end to end", above=0),
        Kind.RELAY: {"anyOf": [quantity("ohm", "the resistance of its coil", above=0), RELAY]},
        Kind.CAPACITOR: quantity("F", "its capacitance", above=0),
        Kind.INDUCTOR: or_word(quantity("H", "its inductance", above=0), "bead", "unknown"),
        Kind.FUSE: or_word(number("A", "its rating", least=0), "unknown"),
        Kind.JUMPER: links,
        Kind.SWITCH: links,
        Kind.TRANSISTOR: of_library(Kind.TRANSISTOR, TRANSISTOR, *POLARITIES),
        Kind.REGULATOR: of_library(Kind.REGULATOR, REGULATOR),
        Kind.LOAD: of_library(Kind.LOAD, LOAD),
        Kind.CHIP: text("the name of the chip"),
        Kind.CONNECTOR: of_library(Kind.CONNECTOR, CONNECTOR, "unknown"),
    }
    return {kind: {**value, "description": KIND_WORDS[kind]} for kind, value in found.items()}


_NAME = text("a name to print in place of the designator")

DIODE = mapping("a diode given here: IS with N and RS, or points, or zener", {
    "name": _NAME,
    "family": word("what it is made of", DIODE_FAMILIES),
    "points": {"description": "points of its forward curve, such as [1 mA, 0.62 V]", **listing(row(
        number("A", "forward current", least=0), number("V", "forward drop", least=0),
        word("which limit of the data sheet this is", LIMITS), least=2))},
    "leakage": {"description": "reverse current at a voltage, one or a list",
                **one_or_list(leakage("reverse current at a voltage, 25 °C unless said"))},
    "zener": quantity("V", "its breakdown voltage"),
    "reverse": number("V", "the reverse voltage it stands", least=0),
    "current": number("A", "the forward current it stands", least=0),
    "IS": number("A", "saturation current of its SPICE model", least=0),
    "N": number("", "emission coefficient of its SPICE model", least=0),
    "RS": number("ohm", "series resistance of its SPICE model", least=0),
    "EG": number("eV", "energy gap of its SPICE model", least=0),
    "XTI": number("", "temperature exponent of its SPICE model"),
    "BV": number("V", "breakdown voltage of its SPICE model", least=0),
}, anyOf=[{"required": ["IS"]}, {"required": ["points"]}, {"required": ["zener"]}])

CELL = mapping("a cell or pack given here", {
    "name": _NAME,
    "chemistry": word("the family of the cell", CHEMISTRIES),
    "volts": number("V", "the volts of the whole pack", least=0),
    "capacity": number("Ah", "its capacity", least=0),
    "resistance": number("ohm", "the internal resistance of the whole pack", least=0),
    "curve": {"description": "points of its discharge curve, such as [20 %, 2.9 V]", **listing(row(
        number("%", "share of the capacity used", least=0), number("V", "open-circuit volts"),
        number("ohm", "internal resistance", least=0), least=2), least=2)},
    "self_discharge": number("%", "self-discharge a year", least=0),
    "shelf": number("year", "shelf life", least=0),
    "primary": yes_or("no", "yes: must never be charged; follows from the chemistry unless said"),
    "abnormal_charge": number("A", "the charging current that its maker permits under a fault", least=0),
    "fault_charge": number("A", "the charging current that its maker permits under a fault", least=0),
    "share": number("%", "share of the capacity that leakage may put in over the service life", least=0),
    "trickle": {"description": "three rising charging currents: least useful, usual most, harmful",
                **listing(number("A", "a continuous charging current", least=0), 3, 3)},
    "charge": span("V", "the end volts of its charge"),
    "capacitance": number("F", "for a supercapacitor, in place of the capacity", least=0),
    "temperature": span("°C", "where it may be used"),
}, required=("chemistry", "volts", "resistance"), **{
    "if": {"required": ["chemistry"], "properties": {"chemistry": {"const": "supercapacitor"}}},
    "then": {"required": ["capacitance"]}, "else": {"required": ["capacity"]},
    "not": {"required": ["abnormal_charge", "fault_charge"]},
})

LOAD = mapping("a load given here", {
    "name": _NAME,
    "draws": {"description": "what it draws, one or a list",
              **one_or_list(draw("a supply current, typical and maximum where known"))},
    "most": number("A", "the most that it ever draws", least=0),
    "works": _FIELDS["works"],
}, required=("draws",))

RELAY = mapping("a relay given here", {
    "name": _NAME,
    "coil": quantity("ohm", "the resistance of its coil", above=0),
    "pulls": number("V", "the volts at which it pulls for certain", least=0),
}, required=("coil",))

TRANSISTOR = mapping("a transistor given here", {
    "name": _NAME,
    "polarity": word("which way it conducts", POLARITIES),
    "gain": number("", "current gain of a bipolar one", least=0),
    "threshold": number("V", "threshold of a MOSFET, positive for both channels", least=0),
    "on": number("ohm", "on-resistance of a MOSFET", least=0),
    "cutoff": number("A", "the most that passes when it is off, at 25 °C", least=0),
    "IS": number("A", "saturation current of a bipolar one", least=0),
}, required=("polarity",))

REGULATOR = mapping("a regulator given here: reference and between if adjustable, output if fixed", {
    "name": _NAME,
    "reference": quantity("V", "its reference voltage"),
    "between": word("the pins that the reference stands between", BETWEEN),
    "output": quantity("V", "the output of a fixed one"),
    "adjust_current": number("A", "current out of its adjust pin"),
    "adjust_current_max": number("A", "the same at most"),
    "dropout": number("V", "the least volts from input to output at full load, maximum", least=0),
    "dropout_typical": number("V", "the same, typical", least=0),
    "dropout_least": number("V", "the same with next to no load", least=0),
    "limit": number("A", "the current that every specimen gives", least=0),
    "minimum_load": number("A", "the least load that keeps it in regulation", least=0),
    "minimum_load_typical": number("A", "the same, typical", least=0),
    "ground_current": number("A", "current out of its ground pin at full load", least=0),
    "input_max": number("V", "the most its input stands", least=0),
    "junction_max": number("°C", "the hottest its junction may be"),
    "junction_case": number("K/W", "thermal resistance, junction to case", least=0),
    "junction_ambient": number("K/W", "thermal resistance, junction to air without a heat sink", least=0),
    "junction_board": number("K/W", "thermal resistance, junction to air on its board's copper", least=0),
    "case_sink": number("K/W", "thermal resistance of what lies between case and heat sink", least=0),
    "power_max": number("W", "the most it may turn into heat, whatever the cooling", least=0),
    "open_output": number("V", "its output while the adjust pin is open, where a divider inside makes it", least=0),
    "back": word("how current flows from its output into a dead input", BACK),
    "polarity": word("whether it makes volts above or below ground", SIGNS),
    "output_capacitor": text("what its data sheet asks of the output capacitor"),
    "esr": span("ohm", "the equivalent series resistance that its output capacitor must have"),
}, oneOf=exactly_one(("reference", "output")), dependentRequired={"reference": ["between"]})

CONNECTOR = mapping("a pinout given here", {
    "name": _NAME,
    "pinout": named("pin to signal, such as {1: +5V, 2: GND}", text("the signal")),
})

INLINE: Mapping[Kind, Schema] = {
    Kind.DIODE: DIODE, Kind.CELL: CELL, Kind.LOAD: LOAD, Kind.TRANSISTOR: TRANSISTOR,
    Kind.REGULATOR: REGULATOR, Kind.CONNECTOR: CONNECTOR, Kind.RELAY: RELAY,
}
"""The mappings that may stand in place of a library name."""
