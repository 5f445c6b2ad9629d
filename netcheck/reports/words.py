"""Parts and pins in the words of the bench."""

from __future__ import annotations

import math
import re

from netcheck.fragment.kinds import UNPOLARISED
from netcheck.fragment.model import Kind, Part
from netcheck.fragment.states import ABSENT
from netcheck.parts.families import LEADED_BODIES
from netcheck.parts.printed import chip_codes, colour_bands, picofarad_code
from netcheck.parts.specs import (
    CapacitorSpec,
    CellSpec,
    DiodeSpec,
    FuseSpec,
    InductorSpec,
    LinkSpec,
    RelaySpec,
    ResistorSpec,
    TransistorSpec,
    TrimmerSpec,
)
from netcheck.quantities.values import Quantity, engineering
from netcheck.wording.lists import listed

ALUMINIUM = ("wet", "wet-low-impedance", "polymer", "hybrid")
TANTALUM = ("tantalum", "polymer-tantalum")
_MANY_LEADS = ("SOT-23", "SOT-323")
_ENDED = UNPOLARISED
TRAVEL_WORDS = ("end 1", "middle", "end 2")
_TYPE_WORDS = {"wet": "aluminium electrolytic", "wet-low-impedance": "low-impedance electrolytic",
               "polymer": "aluminium polymer", "hybrid": "aluminium hybrid",
               "polymer-tantalum": "tantalum polymer", "unknown": ""}
_COIN = re.compile(r"(?:CR|BR|ML|VL|MS|LIR)[0-9]{4}")


def with_tolerance(value: Quantity) -> str:
    """A value with its tolerance where it has one.

    >>> from netcheck.quantities.values import quantity
    >>> with_tolerance(quantity("4k7 5%", "ohm"))
    '4.7 kΩ ±5 %'
    """
    shown = engineering(value.value, value.unit)
    below, above = value.value - value.low, value.high - value.value
    if value.value == 0 or (below == 0 and above == 0):
        return shown
    if math.isclose(below, above, rel_tol=1e-6):
        return f"{shown} ±{engineering(above / abs(value.value), '%')}"
    return f"{shown} ({engineering(value.low, value.unit)} to {engineering(value.high, value.unit)})"


def what(part: Part) -> str:
    """A part by its value and kind: "1 kΩ ±5 % resistor", "1N4148 diode", "CR2032 cell"."""
    spec = part.spec
    match spec:
        case ResistorSpec():
            return f"{with_tolerance(spec.resistance)} resistor"
        case CapacitorSpec():
            kind = _TYPE_WORDS.get(spec.type, spec.type)
            rated = f", {engineering(spec.rated_V, 'V')}" if spec.rated_V is not None else ""
            return " ".join(filter(None, [with_tolerance(spec.capacitance), kind, f"capacitor{rated}"]))
        case InductorSpec():
            value = spec.inductance
            return "ferrite bead" if value is None else f"{with_tolerance(value)} inductor"
        case FuseSpec():
            return "fuse" if spec.rating_A is None else f"{engineering(spec.rating_A, 'A')} fuse"
        case TrimmerSpec():
            return f"{with_tolerance(spec.resistance)} trimmer"
        case RelaySpec():
            return f"{spec.name} relay" if spec.name else f"relay with a coil of {with_tolerance(spec.coil)}"
        case LinkSpec():
            return f"{len(part.pins)}-pin {part.kind}" if part.kind is Kind.JUMPER else str(part.kind)
        case _:
            return f"{spec.name} {part.kind}" if spec.name else str(part.kind)


def is_coin(spec: object) -> bool:
    """Whether a cell is a coin cell, by the designation of IEC 60086."""
    return isinstance(spec, CellSpec) and bool(_COIN.fullmatch(spec.name))


def pin_words(part: Part, pin: str) -> str:
    """A pin in words: "the cathode of D1", "an end of R1", "pin 2 of JP1"."""
    if not pin.isdigit():
        return f"the {pin} of {part.name}"
    if part.kind in _ENDED:
        return f"an end of {part.name}"
    return f"pin {pin} of {part.name}"


def leads(part: Part) -> list[tuple[str, str]]:
    """Each lead in words, with how to tell it on the part, and the net it goes to."""
    how = _lead_words(part)
    return [(how.get(pin, f"pin {pin}"), net) for pin, net in part.pins.items()]


def _lead_words(part: Part) -> dict[str, str]:
    spec = part.spec
    match spec:
        case DiodeSpec(family="led"):
            return {"anode": "the long lead (anode)", "cathode": "the short lead or flat side (cathode)"}
        case DiodeSpec(body=str() as body) if body in _MANY_LEADS:
            return {pin: f"the {pin} lead ({body}: which one its data sheet says)" for pin in part.pins}
        case DiodeSpec():
            return {"anode": "the plain end (anode)", "cathode": "the band (cathode)"}
        case CellSpec():
            can = " (the broad side of the can, facing up in most holders)" if is_coin(spec) else ""
            return {"plus": f"plus{can}", "minus": "minus"}
        case CapacitorSpec() if "plus" in part.pins:
            # Bars: aluminium marks minus, a tantalum chip marks plus (TAJ series data sheet, Kyocera AVX).
            if spec.type in ALUMINIUM:
                return {"plus": "plus (the longer lead)", "minus": "minus (the bar on the sleeve or can)"}
            bar = ("the bar on a chip; the + or the longer lead of a bead" if spec.type in TANTALUM
                   else "an aluminium part bars its minus, a tantalum chip its plus")
            return {"plus": f"plus ({bar})", "minus": "minus"}
        case TrimmerSpec():
            return {"1": "end 1", "2": "end 2", "wiper": "the wiper (on most the middle pin)"}
        case _ if part.kind in _ENDED:
            return {"1": "one end", "2": "the other end"}
        case _:
            return {pin: f"the {pin}" for pin in part.pins if not pin.isdigit()}


def either_way_round(part: Part) -> bool:
    """Whether a two-ended part has no polarity."""
    return set(part.pins) == {"1", "2"} and part.kind in _ENDED


def look_for(part: Part) -> str:
    """What is printed on the part, to find or to buy it by; empty where nothing is known of it."""
    spec = part.spec
    if part.marked:
        return f"marked “{part.marked}” on this board"
    match spec:
        case ResistorSpec():
            return _resistor_marks(spec.resistance)
        case CapacitorSpec() if spec.type in ALUMINIUM:
            rated = f" and {engineering(spec.rated_V, 'V')}" if spec.rated_V is not None else ""
            return f"{engineering(spec.capacitance.value, 'F')}{rated} printed plainly"
        case CapacitorSpec():
            code = picofarad_code(spec.capacitance.value)
            return f"code {code}" if code else ""
        case DiodeSpec(body=str() as body) | TransistorSpec(body=str() as body) if body not in LEADED_BODIES:
            # Common practice, no source: there is no room for the name, and no hole for a lead.
            return f"a {body} body with a short code on it in place of its name; in holes it needs an adapter or wires"
        case DiodeSpec(name=name) if re.fullmatch("1N[0-9]+[A-Z]?", name):
            return f"{name} on the body, often only {name[2:]}"
        case DiodeSpec(name=name) | TransistorSpec(name=name) if _is_type(name):
            return f"{name} on the body"
        case _:
            return ""


def _is_type(name: str) -> bool:
    return bool(re.fullmatch("[A-Z]{1,3}[0-9]{2,}[A-Z0-9]*", name))


def _resistor_marks(value: Quantity) -> str:
    percent = round(100 * (value.high - value.value) / value.value, 3) if value.value else 0.0
    coarse = percent if percent in (5, 10) else 5
    fine = percent if percent in (0.1, 0.25, 0.5, 1, 2) else 1
    said = []
    for figures, tolerance, words in ((2, coarse, "four bands"), (3, fine, "five bands")):
        bands = colour_bands(value.value, figures, tolerance)
        if bands == ("black",):
            return "one black band in the middle; chip code 0"
        if bands is not None:
            said.append(f"{words} {' '.join(bands)}")
    codes = chip_codes(value.value)
    if codes:
        said.append(f"chip code {listed(codes, 'or')}")
    return "; ".join(said)


def position_words(part: Part, position: str) -> str:
    """A jumper's or switch's position as the hand sets it: "cap on pins 1 and 2"."""
    pairs = () if position == ABSENT else part.positions[position]
    if part.kind is Kind.TRIMMER:
        return f"wiper at {position}" if position in TRAVEL_WORDS else f"wiper {position} of the way from end 1"
    if part.kind is Kind.JUMPER:
        return f"cap on pins {listed([' and '.join(pair) for pair in pairs])}" if pairs else "no cap"
    return f"joins {listed([' to '.join(pair) for pair in pairs])}" if pairs else "joins nothing"
