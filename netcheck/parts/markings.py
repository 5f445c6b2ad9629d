"""What is printed on resistors, capacitors and inductors, read as values.

Each reader gives every reading that a marking may have, the likeliest first,
and none for what it does not know. Sources: IEC 60062 (RKM codes, colours,
tolerance letters), the makers' marking sheets for the codes of chip resistors
(three and four digits, and the two-digit index with a letter).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from msgspec import Struct

from netcheck.parts.series import is_preferred, series
from netcheck.quantities.values import Quantity, ValueFault, letter_tolerance, quantity


class Marking(Struct, frozen=True):
    """One reading of a marking: its value, by which scheme, and what is doubtful about it."""

    value: Quantity
    scheme: str
    doubt: str = ""


_COLOURS = ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white")
_ALIKE = {"purple": "violet", "gray": "grey"}
_MULTIPLIER_ONLY = {"pink": -3, "silver": -2, "gold": -1}
_COLOUR_PERCENT: Mapping[str, float] = {
    "brown": 1, "red": 2, "green": 0.5, "blue": 0.25, "violet": 0.1, "gold": 5, "silver": 10,
}
_DISPUTED = ("orange", "yellow", "grey")  # the published charts contradict each other
_NO_BAND_PERCENT = 20.0
_INDEXED = re.compile(r"(0[1-9]|[1-8][0-9]|9[0-6])([ZYRXSABCDEF])")
_INDEX_POWER: Mapping[str, int] = {
    "Z": -3, "Y": -2, "R": -2, "X": -1, "S": -1, "A": 0, "B": 1, "C": 2, "D": 3, "E": 4, "F": 5,
}
_RATED = re.compile(r"\s*[/ ]?\s*[0-9]+(?:\.[0-9]+)?\s*V$")
_PICOFARAD = re.compile(r"([eGJACDEVHTF]?)([1-9][0-9])([0-9])([BCDFGJKMZ]?)")
_POINT = re.compile(r"([0-9]*)[R]([0-9]+)")


def resistor(text: str) -> tuple[Marking, ...]:
    """The readings of a marking on a resistor: colours, digits, RKM, index and letter.

    >>> [round(m.value.value, 2) for m in resistor("66B")]
    [4750.0]
    >>> [m.value.value for m in resistor("47R")]
    [47.0, 3.01]
    """
    text = " ".join(text.split())
    if colours := _colours(text):
        return colours
    found = []
    if re.fullmatch("0{1,4}", text):
        found.append(Marking(_exact(0.0, "ohm", text), "a zero-ohm link"))
    elif code := re.fullmatch(r"([1-9][0-9]{1,2})([0-7])", text):
        scheme = f"{'three' if len(text) == 3 else 'four'}-digit code"
        found.append(Marking(_exact(_power(code[1], int(code[2])), "ohm", text), scheme))
    elif plain := _plain(text, "ohm"):
        found.append(plain)
    if index := _INDEXED.fullmatch(text):
        value = _power(series(96)[int(index[1]) - 1], _INDEX_POWER[index[2]])
        doubt = f"the {index[2]} may also be a decimal point" if found else ""
        indexed = Marking(_band(value, "ohm", 1.0, text), "two-digit index and letter", doubt)
        found.insert(len(found) if index[2] == "R" else 0, indexed)
    return tuple(found)


def capacitor(text: str) -> tuple[Marking, ...]:
    """The readings of a marking on a capacitor: picofarad code, RKM, and µF as on cans.

    >>> [m.value.value for m in capacitor("104K")], [m.value.value for m in capacitor("4n7")]
    ([1e-07], [4.7e-09])
    """
    text = _RATED.sub("", " ".join(text.split()))
    found = []
    if code := _PICOFARAD.fullmatch(text):
        power = {8: -2, 9: -1}.get(int(code[3]), int(code[3]))
        value = _power(code[2], power - 12)
        found.append(Marking(_lettered(value, "F", code[4], text), "picofarad code"))
    elif code := _POINT.fullmatch(text):
        value = float(f"{code[1] or 0}.{code[2]}e-12")
        found.append(Marking(_exact(value, "F", text), "picofarads, R the point"))
    elif not re.fullmatch(r"[0-9.]+", text) and (plain := _plain(text, "F")):
        found.append(plain)
    if re.fullmatch(r"[0-9]{1,5}|[0-9]*\.[0-9]+", text) and float(text) > 0:
        # Common practice, no source: discs carry plain picofarads, cans and films plain microfarads.
        if re.fullmatch("[0-9]{1,2}", text):
            found.append(Marking(_exact(float(text + "e-12"), "F", text), "plain picofarads"))
        found.append(Marking(_exact(float(text + "e-6"), "F", text), "plain microfarads"))
    return tuple(found)


def inductor(text: str) -> tuple[Marking, ...]:
    """The readings of a marking on an inductor: a code in microhenry (common practice, no source), RKM."""
    text = " ".join(text.split())
    if code := re.fullmatch(r"([1-9][0-9])([0-6])([JKM]?)", text):
        value = _power(code[1], int(code[2]) - 6)
        return (Marking(_lettered(value, "H", code[3], text), "microhenry code"),)
    if code := _POINT.fullmatch(text):
        return (Marking(_exact(float(f"{code[1] or 0}.{code[2]}e-6"), "H", text), "microhenry, R the point"),)
    plain = _plain(text, "H")
    return () if plain is None or re.fullmatch(r"[0-9.]+", text) else (plain,)


READERS: Mapping[str, Callable[[str], tuple[Marking, ...]]] = {
    "resistor": resistor, "capacitor": capacitor, "inductor": inductor,
}
_SAME = 0.005  # half the finest tolerance that a code tells: closer than that two values are one


class Misfit(Struct, frozen=True):
    """Why a marking does not go with a value, and what it reads as.

    case: unreadable, no-preferred-number, or contradicts when it is readable and says another value.
    """

    case: str
    readings: tuple[Marking, ...] = ()

    @property
    def contradicts(self) -> bool:
        return self.case == "contradicts"


def misfit(kind: str, value: Quantity, marked: str) -> Misfit | None:
    """How a marking does not go with a value; None where it does, or where the kind has no codes.

    >>> misfit("resistor", quantity("4k7", "ohm"), "103").case
    'contradicts'
    """
    if kind not in READERS:
        return None
    readings = READERS[kind](marked)
    if not readings:
        return Misfit("unreadable")
    for reading in readings:
        if abs(reading.value.value - value.value) <= _SAME * abs(value.value):
            return None if _is_made(reading.value.value) else Misfit("no-preferred-number", (reading,))
    return Misfit("contradicts", readings)


def _is_made(value: float) -> bool:
    return value == 0 or is_preferred(value, 24) or is_preferred(value, 192)


def _colours(text: str) -> tuple[Marking, ...]:
    """Bands: two or three digits, multiplier, tolerance (none: 20 %), temperature coefficient."""
    bands = [_ALIKE.get(word, word) for word in re.split(r"[-\s,/]+", text.lower())]
    if bands == ["black"]:
        return (Marking(_exact(0.0, "ohm", text), "a zero-ohm link"),)
    digits = 2 if len(bands) <= 4 else 3
    if not 3 <= len(bands) <= 6 or any(band not in _COLOURS for band in bands[:digits]):
        return ()
    multiplier = bands[digits]
    if multiplier not in _COLOURS and multiplier not in _MULTIPLIER_ONLY:
        return ()
    power = _MULTIPLIER_ONLY.get(multiplier, _COLOURS.index(multiplier) if multiplier in _COLOURS else 0)
    value = _power("".join(str(_COLOURS.index(band)) for band in bands[:digits]), power)
    if len(bands) == 3:
        return (Marking(_band(value, "ohm", _NO_BAND_PERCENT, text), "colour bands"),)
    tolerance = bands[digits + 1]
    if tolerance in _DISPUTED:
        doubt = f"published charts disagree about {tolerance} as a tolerance"
        return (Marking(_exact(value, "ohm", text), "colour bands", doubt),)
    if tolerance not in _COLOUR_PERCENT:
        return ()
    return (Marking(_band(value, "ohm", _COLOUR_PERCENT[tolerance], text), "colour bands"),)


def _plain(text: str, unit: str) -> Marking | None:
    """A value as it is written in a file, RKM codes among them."""
    try:
        found = quantity(text, unit)
    except ValueFault:
        return None
    return Marking(found, "RKM code" if re.search(r"[0-9]?[A-Za-zµ][0-9]", text) else "plain value")


def _power(digits: str | int, power: int) -> float:
    return float(f"{digits}e{power}")


def _exact(value: float, unit: str, text: str) -> Quantity:
    return Quantity(value, value, value, unit, text)


def _band(value: float, unit: str, percent: float, text: str) -> Quantity:
    return Quantity(value, value * (1 - percent / 100), value * (1 + percent / 100), unit, text)


def _lettered(value: float, unit: str, letter: str, text: str) -> Quantity:
    minus, plus = letter_tolerance(letter, value, unit) if letter else (0.0, 0.0)
    return Quantity(value, value - minus, value + plus, unit, text)
