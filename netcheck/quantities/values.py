"""Values as a person writes them at the bench: "4k7", "2 uA", "5 V ±5%", "2.0 V to 5.5 V".

The grammar is strict: what it does not know it refuses, and says what it
expected. RKM codes and tolerance letters are those of IEC 60062.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from decimal import Decimal
from difflib import get_close_matches
from functools import lru_cache

from msgspec import Struct

from netcheck.quantities.units import UNITS, suffixes, unit_of


class Quantity(Struct, frozen=True):
    """A value with its tolerance band, SI base unit; `low` and `high` equal `value` without tolerance."""

    value: float
    low: float
    high: float
    unit: str
    text: str = ""


class Span(Struct, frozen=True):
    """A range from `low` to `high` (either may be infinite), SI base unit."""

    low: float
    high: float
    unit: str
    text: str = ""


class ValueFault(ValueError):
    """A text that is no value of its unit: `text`, what was `expected`, and a `hint` (may be empty)."""

    def __init__(self, text: str, expected: str, hint: str = "") -> None:
        super().__init__(f'"{text}": expected {expected}' + (f"; {hint}" if hint else ""))
        self.text = text
        self.expected = expected
        self.hint = hint


LETTER_PERCENT: Mapping[str, tuple[float, float]] = {
    # Tolerance letters, IEC 60062, table for resistance and for capacitance of 10 pF and more.
    "B": (0.1, 0.1), "C": (0.25, 0.25), "D": (0.5, 0.5), "F": (1, 1), "G": (2, 2),
    "J": (5, 5), "K": (10, 10), "M": (20, 20), "Z": (20, 80),
}
_LETTER_PICOFARAD: Mapping[str, float] = {"B": 0.1, "C": 0.25, "D": 0.5, "F": 1.0, "G": 2.0}

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_RKM = re.compile(r"([+-]?)([0-9]*)([A-Za-zµμΩ])([0-9]+)(.*)", re.DOTALL)
_TOLERANCE = re.compile(
    r"(?P<body>.*?\S)\s*(?:(?:±|\+/-|\+-)\s*(?P<both>\S.*)"
    r"|\+\s*(?P<plus>[0-9.]+)\s*%?\s*/?\s*-\s*(?P<minus>[0-9.]+)\s*%"
    r"|(?<=\s)(?P<percent>[0-9.]+)\s*%)",
    re.DOTALL,
)
_ALIKE = str.maketrans({"\u00a0": " ", "\u2009": " ", "\u202f": " ", "\t": " ", "\u2212": "-", "\u2126": "Ω"})
_BELOW = re.compile(r"(?:below|under|up to|at most|less than|<=|≤|<)\s*(\S.*)")
_ABOVE = re.compile(r"(?:above|over|at least|more than|>=|≥|>)\s*(\S.*)")
_RANGE = re.compile(
    r"(?:between\s+(\S.*?)\s+and\s+(\S.*)"
    r"|(?:from\s+)?(\S.*?)(?:\s+to\s+|\s*\.\.\.?\s*|\s*…\s*|\s*–\s*|\s+-\s+)(\S.*))"
)
_LONGEST = 120
_LETTERED = ("ohm", "F", "H")


def quantity(text: str, unit: str) -> Quantity:
    """One value, with or without tolerance, in the base unit of `unit` (see `units.UNITS`).

    A percentage ("%") is returned as a share of 1. Raises ValueFault.

    >>> quantity("4k7", "ohm").value
    4700.0
    >>> quantity("5 V ±5%", "V").low, quantity("5 V ±5%", "V").high
    (4.75, 5.25)
    """
    return _quantity(text, unit)


@lru_cache(maxsize=4096)
def _quantity(text: str, unit: str) -> Quantity:
    clean = _clean(text, unit)
    found = _TOLERANCE.fullmatch(clean)
    if found and unit == "%" and found["percent"] is not None:
        found = None  # "5 %" is the value itself
    value, letter = _value(found["body"] if found else clean, unit, text)
    if found is None:
        minus, plus = letter_tolerance(letter, value, unit) if letter else (0.0, 0.0)
    elif letter:
        raise _fault(text, unit, f'the letter "{letter}" and "{clean[len(found["body"]):].strip()}" '
                                 "both give a tolerance")
    else:
        minus, plus = _stated_band(found, value, unit, text)
    return Quantity(value, _tidy(value - minus), _tidy(value + plus), unit, text)


def number(text: str, unit: str) -> float:
    """One value without tolerance, in the base unit. Raises ValueFault.

    >>> number("220 mAh", "Ah")
    0.22
    """
    found = quantity(text, unit)
    if found.low != found.high:
        raise _fault(text, unit, "a tolerance has no meaning here")
    return found.value


def span(text: str, unit: str) -> Span:
    """A range: "2.0 V to 5.5 V", "0.2..0.5 V", "below 10 mA", "above 2 V", or a value with its band.

    An end without unit takes that of the other end: "10 to 20 mA" starts at 10 mA.
    Raises ValueFault.

    >>> span("10 to 50 °C", "°C")
    Span(low=10.0, high=50.0, unit='°C', text='10 to 50 °C')
    """
    clean = _clean(text, unit)
    if found := _BELOW.fullmatch(clean):
        return Span(-math.inf, number(found[1], unit), unit, text)
    if found := _ABOVE.fullmatch(clean):
        return Span(number(found[1], unit), math.inf, unit, text)
    if not (found := _RANGE.fullmatch(clean)):
        band = quantity(text, unit)
        return Span(band.low, band.high, unit, text)
    first, second = _share_suffix(found[1] or found[3], found[2] or found[4])
    low, high = number(first, unit), number(second, unit)
    if low > high and high < 0 and low < 0:
        low, high = high, low  # "-11 V to -12 V", as people write of a negative rail
    if low > high:
        raise _fault(text, unit, f"a range runs from the lower to the higher end, and {first} is "
                                 f"above {second}: give both ends their unit")
    return Span(low, high, unit, text)


def engineering(value: float, unit: str, digits: int = 3) -> str:
    """A value as it is written in the trade, to `digits` significant digits.

    >>> engineering(4700, "ohm"), engineering(2.8e-3, "A"), engineering(0.31, "V"), engineering(0.004, "V")
    ('4.7 kΩ', '2.8 mA', '0.31 V', '4 mV')
    >>> engineering(0.05, "%"), engineering(0, "A"), engineering(-12, "V")
    ('5 %', '0 A', '-12 V')
    """
    if math.isnan(value):
        return "unknown"
    sign = UNITS[unit].sign
    if math.isinf(value):
        return f"{'-' if value < 0 else ''}∞ {sign}".rstrip()
    if unit == "%":
        return f"{_plain(value * 100, digits)} %"
    rounded = float(f"{value:.{digits - 1}e}")
    if unit == "year" and rounded == 1:
        return "1 year"
    if not UNITS[unit].prefixes or rounded == 0:
        return f"{_plain(rounded, digits)} {sign}".rstrip()
    prefix, factor = _display_prefix(abs(rounded), unit)
    if factor is None:
        return f"{rounded:g} {sign}"
    return f"{_plain(rounded / factor, digits)} {prefix}{sign}"


def improbable(found: Quantity, kind: str) -> str | None:
    """Whether a value is improbable for its kind of part: "improbable", "milli" where m was written; None if not.

    kind: resistor, trimmer, capacitor, inductor, fuse, rail, zener or load.
    """
    limits = _PROBABLE.get(kind)
    size = abs(found.value)
    if limits is None or (size == 0 and kind in ("resistor", "rail", "load")):
        return None
    least, most = limits
    small = bool(re.search(r"[0-9]\s*m(?!eg|Meg|in)", found.text))
    if least <= size <= most and not (small and kind in ("resistor", "trimmer", "capacitor")):
        return None
    return "milli" if small else "improbable"


# What is met on ordinary boards. Common practice, no source.
_PROBABLE: Mapping[str, tuple[float, float]] = {
    "resistor": (1e-3, 100e6), "trimmer": (1.0, 100e6), "capacitor": (0.1e-12, 1.0), "inductor": (1e-9, 10.0),
    "fuse": (1e-3, 100.0), "rail": (0.5, 500.0), "zener": (0.5, 400.0), "load": (1e-10, 20.0),
}


def _clean(text: str, unit: str) -> str:
    if unit not in UNITS:
        raise KeyError(f"no unit {unit!r}; known: {', '.join(u for u in UNITS if u)}")
    if len(text) > _LONGEST:
        raise _fault(text[:40] + "…", unit, f"a value has at most {_LONGEST} characters")
    return text.translate(_ALIKE).strip()


def _value(body: str, unit: str, text: str) -> tuple[float, str]:
    """The value of a text without its tolerance, and its tolerance letter if it carries one."""
    if "," in body:
        raise _fault(text, unit, f'the decimal sign is a point: "{body.replace(",", ".")}"')
    table = suffixes(unit)
    if found := _NUMBER.match(body):
        rest = body[found.end():].strip()
        suffix, letter = _split_letter(rest, unit)
        if suffix in table or (not UNITS[unit].bare and rest == "" and float(found[0]) == 0):
            return _scaled(found[0], table.get(suffix, 1.0), unit, text), letter
    letters = UNITS[unit].rkm or {}
    if (code := _RKM.fullmatch(body)) and code[3] in letters:
        suffix, letter = _split_letter(code[5].strip(), unit, after_code=True)
        if suffix == "" or suffix in UNITS[unit].names:
            return _scaled(f"{code[1]}{code[2] or 0}.{code[4]}", letters[code[3]], unit, text), letter
    raise _fault(text, unit, _hint(body, unit))


def _split_letter(rest: str, unit: str, after_code: bool = False) -> tuple[str, str]:
    """Take a tolerance letter off a suffix: ("kJ" → "k", "J"). A suffix that stands by itself stays whole."""
    names = UNITS[unit].names
    whole = rest in names if after_code else rest in suffixes(unit)
    if not whole and (after_code or len(rest) > 1) and rest[-1:] in LETTER_PERCENT and unit in _LETTERED:
        return rest[:-1].strip(), rest[-1]
    return rest, ""


def _scaled(digits: str, factor: float, unit: str, text: str) -> float:
    if math.isinf(float(digits)):
        raise _fault(text, unit, "that is larger than any number")
    if float(digits) == 0:
        return 0.0
    # By way of the decimal text, so that "4.7 n" is the same number as "4.7e-9".
    value = float(Decimal(digits) * Decimal(repr(factor)))
    if math.isinf(value):
        raise _fault(text, unit, "that is larger than any number")
    return value


def letter_tolerance(letter: str, value: float, unit: str) -> tuple[float, float]:
    """How far below and above `value` a tolerance letter of IEC 60062 reaches, in the unit of the value.

    Below 10 pF the letters B C D F G are picofarads, not percent.

    >>> letter_tolerance("J", 4700.0, "ohm")
    (235.0, 235.0)
    """
    if unit == "F" and abs(value) < 10e-12 and letter in _LETTER_PICOFARAD:
        band = _LETTER_PICOFARAD[letter] * 1e-12
        return band, band
    minus, plus = LETTER_PERCENT[letter]
    return abs(value) * minus / 100, abs(value) * plus / 100


def _stated_band(found: re.Match[str], value: float, unit: str, text: str) -> tuple[float, float]:
    if found["plus"] is not None:
        plus, minus = (_percent(found[side], unit, text) for side in ("plus", "minus"))
    elif found["percent"] is not None:
        plus = minus = _percent(found["percent"], unit, text)
    elif found["both"].endswith("%") and unit != "%":
        plus = minus = _percent(found["both"][:-1], unit, text)
    else:
        band = number(found["both"], unit)
        if band < 0:
            raise _fault(text, unit, "a tolerance is not negative")
        return band, band
    if min(minus, plus) < 0:
        raise _fault(text, unit, "a tolerance is not negative")
    if minus > 1:
        raise _fault(text, unit, "a tolerance of more than 100 % would change the sign of the value")
    return abs(value) * minus, abs(value) * plus


def _percent(digits: str, unit: str, text: str) -> float:
    try:
        return number(digits.strip() + " %", "%")
    except ValueFault as fault:
        raise _fault(text, unit, f'"{digits.strip()}" is no percentage') from fault


def _share_suffix(first: str, second: str) -> tuple[str, str]:
    """Both ends of a range with a unit: an end that is a bare number takes that of the other end."""
    tails = [end[m.end():] if (m := _NUMBER.match(end)) else None for end in (first, second)]
    if tails[0] == "" and tails[1]:
        return first + tails[1], second
    if tails[1] == "" and tails[0]:
        return first, second + tails[0]
    return first, second


def _hint(body: str, unit: str) -> str:
    found = _NUMBER.match(body)
    if not found:
        return "a value starts with a number"
    suffix = body[found.end():].strip()
    if not suffix:
        return f'the unit is missing: "{body} {UNITS[unit].sign}"'
    for known in suffixes(unit):
        if known.casefold() == suffix.casefold():
            return f'"{suffix}" is written "{known}"'
    if other := unit_of(suffix):
        return f'"{suffix}" makes it {UNITS[other].what}'
    near = get_close_matches(suffix, [s for s in suffixes(unit) if len(s) > 1], n=1)
    return f'"{suffix}" is no unit of {UNITS[unit].what}' + (f', the nearest is "{near[0]}"' if near else "")


def _fault(text: str, unit: str, hint: str) -> ValueFault:
    return ValueFault(text, f"{UNITS[unit].what} such as {UNITS[unit].examples}", hint)


def _tidy(value: float) -> float:
    """Drop the last digits of rounding, so that 5 V - 5 % is 4.75 V."""
    return float(f"{value:.14g}")


def _plain(value: float, digits: int) -> str:
    text = format(Decimal(f"{value:.{digits - 1}e}"), "f")
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


_SHOWN = ((1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"), (1e-12, "p"))


def _display_prefix(size: float, unit: str) -> tuple[str, float | None]:
    if size >= 1e12 or size < 1e-14:
        return "", None
    if unit == "V" and 0.1 <= size < 1:
        return "", 1.0
    if unit == "F" and 1e-3 <= size < 1e-2:
        return "µ", 1e-6
    return next(((prefix, factor) for factor, prefix in _SHOWN if size >= factor * 0.9999999), ("p", 1e-12))
