"""One row a kind of part: all that the reader, the states, the graph, the faults and the reports ask of it.

A kind that is added to `Kind` needs a row here; what cannot be said in a row (its ways for current, its elements
in the simulator, its symbol) is looked up by kind elsewhere, in a `match` that ends in `assert_never`.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum

from msgspec import Struct, field

from netcheck.fragment.model import Kind

SECTIONS = ("title", "board", "about", "scope", "photos", "ground", "rails", "conditions", "parts", "nets", "states",
            "settings", "features", "expect", "mods", "readings")

SCOPES = ("trace", "list")
"""What a file holds: a traced section, or a list of parts, in which a net with a single pin is no mistake."""

NUMBERED_PAIR = ("1", "2")
POLAR_PAIR = ("plus", "minus")
BIPOLAR = ("collector", "base", "emitter")
FIELD_EFFECT = ("drain", "gate", "source")
REGULATOR = ("input", "output", "adjust", "ground")
COIL = ("coil1", "coil2")

PIN_ROLES = ("loop-filter", "reset", "timing", "crystal", "reference", "bias", "audio")
"""What a chip's pin is for, where a capacitor on it must be chosen with care."""


class Form(Enum):
    """How a part's pins are written."""

    WORDS = "each under its name"
    LISTED = "as a list after the kind word"
    MANY = "under pins, by number or name"


class Moves(Enum):
    """What can be put in positions."""

    NOTHING = "nothing"
    CAP = "a cap on pins, which may also be absent"
    CONTACTS = "contacts, by hand"
    WIPER = "a wiper between two ends"
    COIL = "contacts, by a coil"


EVERY_PAIR = (("*", "*"),)
"""In place of pairs of pins: each pin with each other."""


class Row(Struct, frozen=True, kw_only=True):
    """A kind of part.

    about: what may stand after its word. pins: pins that have a key of their own. lists: keys that give two pins at
    once, as a list of nets. keys: what else it may say. designators: class letters, the usual ones first.
    moves: what of it can be put in positions. ohmic: carries direct current both ways, as resistances do.
    copper: nothing but copper joins its pins in a position. removable: may be taken out to stop a charge.
    drops: loses volts on the way from a source to a load. shorts: pairs of pins that may fail short. opens: may
    fail open as a whole. lifts: pins that may lose contact by themselves.
    """

    about: str
    form: Form = Form.WORDS
    pins: tuple[str, ...] = ()
    lists: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    keys: tuple[str, ...] = ()
    designators: tuple[str, ...]
    moves: Moves = Moves.NOTHING
    ohmic: bool = False
    copper: bool = False
    removable: bool = False
    drops: bool = False
    shorts: tuple[tuple[str, str], ...] = ()
    opens: bool = False
    lifts: tuple[str, ...] = ()


_BETWEEN: Mapping[str, tuple[str, ...]] = {"between": NUMBERED_PAIR}

# Class letters of IEEE 315-1975 clause 22 and ASME Y14.44-2008, with what boards carry beside them.
ROWS: Mapping[Kind, Row] = {
    Kind.CELL: Row(
        about="a cell or pack: a name of the library, or what is known of it",
        pins=POLAR_PAIR, keys=("plugged", "voltage"), designators=("BT", "BAT", "B", "C", "SC", "G")),
    Kind.DIODE: Row(
        about="a diode, also zener and LED: a name of the library, or what is known of it",
        pins=("anode", "cathode"), designators=("D", "CR", "DS", "LED", "LD", "VR", "ZD", "Z", "V"),
        removable=True, drops=True, shorts=EVERY_PAIR, opens=True),
    Kind.RESISTOR: Row(
        about="a resistor; 0 is a link", lists=_BETWEEN, keys=("power",),
        designators=("R", "RN", "RP", "RA", "RT", "RV", "VR", "P", "POT", "W", "JP"),
        ohmic=True, removable=True, drops=True, shorts=EVERY_PAIR, opens=True),
    Kind.TRIMMER: Row(
        about="a trimmer or potentiometer: the resistance from end to end",
        pins=("wiper",), lists={"ends": NUMBERED_PAIR}, keys=("power", "set"),
        designators=("RV", "VR", "R", "P", "POT", "TR", "RT", "W"), moves=Moves.WIPER,
        ohmic=True, removable=True, shorts=EVERY_PAIR, opens=True, lifts=("wiper", "1", "2")),
    Kind.CAPACITOR: Row(
        about="a capacitor", pins=POLAR_PAIR, lists=_BETWEEN,
        keys=("type", "rated", "esr", "esl", "size", "hours", "ripple", "role"),
        designators=("C", "CN", "CE", "TC", "CP", "EC"), shorts=EVERY_PAIR),
    Kind.INDUCTOR: Row(
        about="an inductor or ferrite bead: its inductance, bead or unknown", lists=_BETWEEN, keys=("resistance",),
        designators=("L", "FB", "E", "FL", "EMI", "B", "T"),
        ohmic=True, removable=True, drops=True, shorts=EVERY_PAIR, opens=True),
    Kind.FUSE: Row(
        about="a fuse: its rating, or unknown", lists=_BETWEEN, keys=("resistance",),
        designators=("F", "FS", "PTC", "RT", "PF"),
        ohmic=True, removable=True, drops=True, shorts=EVERY_PAIR, opens=True),
    Kind.JUMPER: Row(
        about="a jumper: the nets of its pins in order, [A, B] or [A, B, C]",
        form=Form.LISTED, keys=("positions", "set"),
        designators=("JP", "J", "P", "W", "JW", "E", "S", "SW", "CN", "CON", "R", "JMP", "LK", "SJ", "H"),
        moves=Moves.CAP, ohmic=True, copper=True, removable=True),
    Kind.SWITCH: Row(
        about="a switch: the nets of its contacts in order, [A, B]", form=Form.LISTED, keys=("positions", "set"),
        designators=("S", "SW", "K", "DIP"), moves=Moves.CONTACTS, ohmic=True, copper=True, removable=True),
    Kind.RELAY: Row(
        about="a relay: the resistance of its coil, or what is known of it",
        pins=("common", "rest", "work"), lists={"coil": COIL}, keys=("pulled", "set"),
        designators=("K", "RL", "RLY", "RY", "RE", "REL"), moves=Moves.COIL, ohmic=True, copper=True, removable=True,
        shorts=(("common", "rest"), ("common", "work"), COIL), opens=True, lifts=("coil1",)),
    Kind.TRANSISTOR: Row(
        about="a transistor: npn, pnp, n-channel or p-channel, a name of the library, or what is known of it",
        pins=(*BIPOLAR, *FIELD_EFFECT), designators=("Q", "T", "TR", "V", "M"),
        removable=True, drops=True, shorts=EVERY_PAIR, opens=True),
    Kind.REGULATOR: Row(
        about="a voltage regulator: a name of the library, or what is known of it",
        pins=REGULATOR, keys=("heatsink",), designators=("U", "IC", "VR", "Q", "REG", "N", "D"),
        drops=True, shorts=EVERY_PAIR, opens=True),
    Kind.LOAD: Row(
        about="what a supply pin draws: 2 uA at 3 V, a name of the library, or what is known of it",
        pins=POLAR_PAIR, keys=("works", "runs", "survives", "kept", "selected"),
        designators=("U", "IC", "K", "Q", "RL", "LD", "N", "D", "X", "Y", "M", "A"), shorts=(POLAR_PAIR,)),
    Kind.CHIP: Row(
        about="any other chip, by its name", form=Form.MANY, keys=("pins", "clamps", "paths"),
        designators=("U", "IC", "AR", "N", "D", "Q", "RN", "Y", "X")),
    Kind.CONNECTOR: Row(
        about="a connector: unknown, a pinout of the library, or one given here", form=Form.MANY, keys=("pins",),
        designators=("J", "P", "JP", "CN", "CON", "X", "XU", "TB", "K", "PL", "SK", "H", "USB", "BT")),
}

_ANY = ("fitted", "note", "at", "marked")


def keys_of(kind: Kind) -> tuple[str, ...]:
    """Every key that a part of this kind may have."""
    row = ROWS[kind]
    return (kind.value, *row.lists, *row.pins, *row.keys, *_ANY)


def possible_pins(kind: Kind) -> tuple[str, ...]:
    """Every pin that a part of this kind may have by name; those of listed and many-pinned ones are open."""
    row = ROWS[kind]
    return (*row.pins, *(pin for pins in row.lists.values() for pin in pins))


def kinds_where(wanted: str) -> tuple[Kind, ...]:
    """The kinds whose row says yes to one of its questions ("ohmic", "copper", "removable", "drops")."""
    return tuple(kind for kind, row in ROWS.items() if getattr(row, wanted))


KEYS: Mapping[Kind, frozenset[str]] = {kind: frozenset(keys_of(kind)) for kind in Kind}
KINDS: Mapping[str, Kind] = {kind.value: kind for kind in Kind}
PIN_WORDS: Mapping[Kind, tuple[str, ...]] = {kind: ROWS[kind].pins for kind in Kind}
DESIGNATORS: Mapping[Kind, tuple[str, ...]] = {kind: ROWS[kind].designators for kind in Kind}

UNPOLARISED = tuple(kind for kind, row in ROWS.items() if "between" in row.lists)
LINKS = tuple(kind for kind, row in ROWS.items() if row.form is Form.LISTED)
MANY_PINNED = tuple(kind for kind, row in ROWS.items() if row.form is Form.MANY)
MOVABLE = tuple(kind for kind, row in ROWS.items() if row.moves is not Moves.NOTHING)
"""Kinds that can be put in positions."""
OHMIC = kinds_where("ohmic")
COPPER = kinds_where("copper")

STEPS = ("remove", "replace", "fit", "move", "join", "set")
