"""The words of a fragment file: sections, kinds, pins, what each kind may say."""

from __future__ import annotations

from collections.abc import Mapping

from netcheck.fragment.model import Kind

SECTIONS = ("title", "board", "about", "photos", "ground", "rails", "conditions", "parts", "nets", "states",
            "expect", "mods", "readings")

NUMBERED_PAIR = ("1", "2")
POLAR_PAIR = ("plus", "minus")
BIPOLAR = ("collector", "base", "emitter")
FIELD_EFFECT = ("drain", "gate", "source")
REGULATOR = ("input", "output", "adjust", "ground")

PIN_WORDS: Mapping[Kind, tuple[str, ...]] = {
    Kind.CELL: POLAR_PAIR,
    Kind.DIODE: ("anode", "cathode"),
    Kind.RESISTOR: (),
    Kind.CAPACITOR: POLAR_PAIR,
    Kind.INDUCTOR: (),
    Kind.FUSE: (),
    Kind.JUMPER: (),
    Kind.SWITCH: (),
    Kind.TRANSISTOR: (*BIPOLAR, *FIELD_EFFECT),
    Kind.REGULATOR: REGULATOR,
    Kind.LOAD: POLAR_PAIR,
    Kind.CHIP: (),
    Kind.CONNECTOR: (),
}

UNPOLARISED = (Kind.RESISTOR, Kind.CAPACITOR, Kind.INDUCTOR, Kind.FUSE)
LINKS = (Kind.JUMPER, Kind.SWITCH)
MANY_PINNED = (Kind.CHIP, Kind.CONNECTOR)

_ANY = ("fitted", "note", "at", "marked")
_OWN: Mapping[Kind, tuple[str, ...]] = {
    Kind.CELL: ("plugged", "voltage"),
    Kind.DIODE: (),
    Kind.RESISTOR: ("power",),
    Kind.CAPACITOR: ("type", "rated", "esr", "esl", "size", "hours", "ripple", "role"),
    Kind.INDUCTOR: ("resistance",),
    Kind.FUSE: ("resistance",),
    Kind.JUMPER: ("positions", "set"),
    Kind.SWITCH: ("positions", "set"),
    Kind.TRANSISTOR: (),
    Kind.REGULATOR: ("heatsink",),
    Kind.LOAD: ("works",),
    Kind.CHIP: ("pins", "clamps"),
    Kind.CONNECTOR: ("pins",),
}


def keys_of(kind: Kind) -> tuple[str, ...]:
    """Every key that a part of this kind may have."""
    between = ("between",) if kind in UNPOLARISED else ()
    return (kind.value, *between, *PIN_WORDS[kind], *_OWN[kind], *_ANY)


KEYS: Mapping[Kind, frozenset[str]] = {kind: frozenset(keys_of(kind)) for kind in Kind}
KINDS: Mapping[str, Kind] = {kind.value: kind for kind in Kind}

STEPS = ("remove", "replace", "fit", "move", "join", "set")

# Class letters of IEEE 315-1975 clause 22 and ASME Y14.44-2008, with what boards carry beside them.
DESIGNATORS: Mapping[Kind, tuple[str, ...]] = {
    Kind.CELL: ("BT", "BAT", "B", "C", "SC", "G"),
    Kind.DIODE: ("D", "CR", "DS", "LED", "LD", "VR", "ZD", "Z", "V"),
    Kind.RESISTOR: ("R", "RN", "RP", "RA", "RT", "RV", "VR", "P", "POT", "W", "JP"),
    Kind.CAPACITOR: ("C", "CN", "CE", "TC", "CP", "EC"),
    Kind.INDUCTOR: ("L", "FB", "E", "FL", "EMI", "B", "T"),
    Kind.FUSE: ("F", "FS", "PTC", "RT", "PF"),
    Kind.JUMPER: ("JP", "J", "P", "W", "JW", "E", "S", "SW", "CN", "CON", "R", "JMP", "LK", "SJ", "H"),
    Kind.SWITCH: ("S", "SW", "K", "DIP"),
    Kind.TRANSISTOR: ("Q", "T", "TR", "V", "M"),
    Kind.REGULATOR: ("U", "IC", "VR", "Q", "REG", "N", "D"),
    Kind.LOAD: ("U", "IC", "K", "Q", "RL", "LD", "N", "D", "X", "Y", "M", "A"),
    Kind.CHIP: ("U", "IC", "AR", "N", "D", "Q", "RN", "Y", "X"),
    Kind.CONNECTOR: ("J", "P", "JP", "CN", "CON", "X", "XU", "TB", "K", "PL", "SK", "H", "USB", "BT"),
}
