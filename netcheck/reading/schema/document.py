"""The fragment format as a JSON Schema (2020-12), for completion, hover help and marks in an editor.

It is made from the words and units that the reader itself uses, so that the
two cannot drift apart. What needs the circuit (does this net exist, is this a
position of that jumper) only the reader can tell.
"""

from __future__ import annotations

from collections.abc import Mapping

from netcheck.fragment.kinds import SCOPES, SECTIONS, STEPS
from netcheck.fragment.model import AS_FOUND
from netcheck.parts import tables
from netcheck.parts.catalogue import Catalogue
from netcheck.reading.parts_reader import LONGEST_NAME
from netcheck.reading.schema.parts import NET, part_schema
from netcheck.reading.schema.values import (
    Schema,
    exactly_one,
    listing,
    mapping,
    named,
    number,
    of_field,
    of_table,
    one_or_list,
    span,
    text,
    word,
    written,
)
from netcheck.reading.sections_reader import WHEN_OFF
from netcheck.reading.wishes_reader import ON_OFF, PLUGGED

DIALECT = "https://json-schema.org/draft/2020-12/schema"
ATTACH = "# yaml-language-server: $schema=fragment.schema.json"
"""First line of a fragment file that tells an editor where its schema lies."""


def schema(catalogue: Catalogue | None = None) -> Schema:
    """The schema of a fragment file.

    catalogue: whose names are offered (default: the library that comes with
    the program); any other name is taken too. Raises LibraryError for a
    library file with a mistake.
    """
    return {
        "$schema": DIALECT,
        "$comment": "Save this as fragment.schema.json beside the fragment file, and begin that file with "
                    f"the line {ATTACH}",
        "title": "netcheck fragment",
        **mapping("a traced section of a board: the circuit as found, planned changes, and readings",
                  {name: _SECTIONS[name] for name in SECTIONS}, required=("title",)),
        "$defs": {"part": part_schema(catalogue or Catalogue.standard())},
    }


_PART: Schema = {"$ref": "#/$defs/part"}
_DOTTED = r"^[^.]+\..+"
_DESIGNATOR = rf"^(?=.*\S)[^.,\n]{{1,{LONGEST_NAME}}}(?:,[^.,\n]{{1,{LONGEST_NAME}}})*$"
_PIN = written("a pin such as D1.anode", _DOTTED, "a pin such as D1.anode", numbers=True)
_PLACE = text("a net, or a pin such as D1.anode")
_STATE = text("the name of a state")
_POSITION = text("a position")
_BECAUSE = text("why, for whoever reads it later")
_VOLTS = of_field(tables.RAIL["volts"])

_RAIL = mapping("a rail in full", {
    "volts": _VOLTS,
    "supply": text("which supply drives it (main unless said); its rails go on and off together"),
    "when_off": word("low: near 0 V when off, as the rest of the board loads it; open: left alone", WHEN_OFF),
}, required=("volts",))

_CONDITIONS = mapping("surroundings and service; what is not given is assumed, and printed", {
    key: of_field(known) for key, known in tables.CONDITIONS.items()
}, type=["object", "null"])

_PHOTO = mapping("a photograph for the write-up", {
    "file": text("the picture, beside the fragment file"), "caption": text("what it shows"),
}, required=("file",))

_STATE_WORDS: Schema = {
    "description": "on or off for a supply, a position for a jumper, plugged or unplugged for a cell",
    "anyOf": [{"enum": [*ON_OFF, *PLUGGED]}, _POSITION],
}

_WISH = mapping("one thing that you want to be true", {
    "joined": {"description": "nets that must be connected", **listing(_PLACE, 2)},
    "apart": {"description": "nets that must not be connected", **listing(_PLACE, 2)},
    "at": text("a net, or a pin, whose volts are meant"),
    "against": text("the net to measure against (the ground unless said)"),
    "volts": span("V", "the volts wanted there"),
    "through": text("a part whose current is meant"),
    "amps": span("A", "the current wanted through it"),
    "state": _STATE,
    "when": named("the positions under which this is meant, such as {JP4: closed}", _STATE_WORDS),
    "because": _BECAUSE,
}, oneOf=exactly_one(("joined", "apart", "at", "through")),
    dependentRequired={"at": ["volts"], "volts": ["at"], "through": ["amps"], "amps": ["through"],
                       "against": ["at"]})

_NET_READING = mapping("what the meter said", {
    "mod": text(f'the mod that was done at that time, or "{AS_FOUND}"'),
    "state": _STATE,
    "at": text("the net, or pin, of the red probe"),
    "against": text("the net of the black probe (the ground unless said)"),
    "through": text("the part whose current was measured"),
    "volts": number("V", "volts read"),
    "amps": number("A", "current read"),
    "ohms": number("ohm", "resistance read", least=0),
    "diode": number("V", "volts shown in the diode range"),
    "meter": number("ohm", "input resistance of the meter, 10M unless said", least=1),
    "without": {"description": "parts that were out at that time, such as the cell from its holder",
                **one_or_list(text("the name of a part"))},
}, allOf=[{"oneOf": exactly_one(("volts", "amps", "ohms", "diode"))}, {"oneOf": exactly_one(("at", "through"))}],
    dependentRequired={"through": ["amps"]})

_TESTER_READING = mapping("what a component tester said of a capacitor, lifted out or in place", {
    "of": text("the capacitor"),
    "mod": text(f'the mod that was done at that time, or "{AS_FOUND}"'),
    **of_table(tables.TESTER),
}, required=("of",), anyOf=[{"required": ["capacitance"]}, {"required": ["esr"]}])

_READING: Schema = {"if": {"required": ["of"]}, "then": _TESTER_READING, "else": _NET_READING}

_SETTING = mapping("output volts that are wanted of a regulator", {
    "of": text("the regulator"),
    "want": {"description": "the volts wanted, one or a list", **one_or_list(of_field(tables.SETTING["want"]), 1)},
    "within": of_field(tables.SETTING["within"]),
}, required=("of", "want"))

_GROUP: Schema = listing(_PLACE, 2)
_GROUPS: Schema = {"anyOf": [_GROUP, listing(_GROUP, 1)]}
_NEEDED_VOLTS = mapping("volts that are needed", {
    "at": text("a net, or a pin"), "against": text("the net to measure against (the ground unless said)"),
    "from": span("V", "the range wanted there"),
}, required=("at", "from"))
_FEATURE = mapping("what a feature of the board needs", {
    "joined": {"description": "groups of nets that must be connected", **_GROUPS},
    "apart": {"description": "groups of nets that must not be connected", **_GROUPS},
    "volts": {"description": "volts at nets", **one_or_list(_NEEDED_VOLTS)},
    "because": _BECAUSE,
}, anyOf=[{"required": [key]} for key in ("joined", "apart", "volts")])

_ACTIONS: Mapping[str, Schema] = {
    "remove": {"description": "take parts out", **one_or_list(text("the name of a part"))},
    "replace": named("put another part in the place of one; it keeps the nets of the old part", _PART,
                     least=1, names=_DESIGNATOR),
    "fit": named("add a part, or fill an empty footprint", _PART, least=1, names=_DESIGNATOR),
    "move": named("lift a pin and put it on another net, such as {D1.anode: N7}", NET,
                  least=1, names=_DOTTED),
    "join": {"description": "nets to connect with a wire link, [A, B]", **listing(NET, 2)},
    "set": named("put a jumper or switch in a position, such as {JP1: normal}", _POSITION, least=1),
}

_STEP = mapping("one step at the bench",
                {**{action: _ACTIONS[action] for action in STEPS}, "because": _BECAUSE},
                oneOf=exactly_one(STEPS))

_MOD = mapping("a named change", {
    "about": text("what it is"),
    "after": text("the mod that it builds on"),
    "steps": {"description": "what to do, in bench order", **listing(_STEP)},
}, required=("steps",))

_SECTIONS: Mapping[str, Schema] = {
    "title": text("a line that says what was traced"),
    "board": text("the board or machine that it is part of"),
    "about": text("how it was traced, and what for"),
    "scope": word("trace: a traced section; list: a list of parts, where a net with one pin is no mistake", SCOPES),
    "photos": {"description": "photographs for the write-up", **listing(_PHOTO)},
    "ground": text("the net that volts are measured against (GND unless said)"),
    "rails": named("nets that a supply drives, such as {+5V: 5 V ±5%}",
                   {"description": _VOLTS["description"], "anyOf": [_VOLTS, _RAIL]}),
    "conditions": _CONDITIONS,
    "parts": named("designator to part, such as {R1: {resistor: 470, between: [A, B]}}", _PART,
                   names=_DESIGNATOR),
    "nets": named("net to the pins on it, such as {CELL: [BT1.plus, D1.anode]}", one_or_list(_PIN)),
    "states": named("names for ways the board can stand, such as {stored: {main: off}}",
                    named("what stands how; the rest stands as set, with supplies off", _STATE_WORDS)),
    "settings": {"description": "output volts wanted of regulators", **one_or_list(_SETTING)},
    "features": named("feature to what it needs, such as {mouse: {joined: [[MIRQ, IRQ12]]}}", _FEATURE),
    "expect": {"description": "what you want to be true", **listing(_WISH)},
    "mods": {**named("name to change", _MOD), "propertyNames": {"not": {"const": AS_FOUND}}},
    "readings": {"description": "what the meter said", **listing(_READING)},
}
