"""The units that a bench value may carry, and every spelling of them that is read."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from msgspec import Struct

PREFIXES: Mapping[str, float] = {
    "p": 1e-12, "n": 1e-9, "u": 1e-6, "µ": 1e-6, "μ": 1e-6, "m": 1e-3,
    "k": 1e3, "K": 1e3, "M": 1e6, "Meg": 1e6, "meg": 1e6, "G": 1e9,
}


class Unit(Struct, frozen=True):
    """One unit: `names` are its spellings with their factor, the first one is printed.

    prefixes: whether SI prefixes may stand before a name, or alone. bare:
    whether a number without any unit is beyond doubt. rkm: the letters that
    may stand for the decimal point (IEC 60062) with their factor.
    """

    names: Mapping[str, float]
    what: str
    examples: str
    prefixes: bool = True
    bare: bool = True
    rkm: Mapping[str, float] | None = None

    @property
    def sign(self) -> str:
        return next(iter(self.names))


def _names(*spellings: str, **factors: float) -> dict[str, float]:
    return {**dict.fromkeys(spellings, 1.0), **factors}


_SMALL = {p: PREFIXES[p] for p in ("p", "n", "u", "µ", "μ", "m")}

UNITS: Mapping[str, Unit] = {
    "V": Unit(_names("V", "v", "volt", "volts"), "a voltage", '"5 V", "3V6" or "-12 V ±5%"', rkm={"V": 1.0}),
    "A": Unit(_names("A", "amp", "amps", "ampere", "amperes"), "a current", '"2 uA" or "10 mA"',
              rkm={"A": 1.0}),
    "ohm": Unit(
        _names("Ω", "ohm", "ohms", "Ohm", "Ohms", "R", "E"), "a resistance",
        '"470", "4.7k", "4k7" or "10 kΩ ±1%"',
        rkm={"L": 1e-3, "R": 1.0, "Ω": 1.0, "k": 1e3, "K": 1e3, "M": 1e6, "G": 1e9, **_SMALL},
    ),
    "F": Unit(_names("F", "farad", "farads"), "a capacitance", '"100n", "2u2" or "47 µF ±20%"',
              rkm={"F": 1.0, **_SMALL}),
    "H": Unit(_names("H", "henry", "henries"), "an inductance", '"10u", "4u7" or "1 mH"',
              rkm={"H": 1.0, **_SMALL}),
    "W": Unit(_names("W", "watt", "watts"), "a power", '"0.25 W" or "250 mW"'),
    "Ah": Unit(_names("Ah"), "a charge capacity", '"220 mAh" or "2.4 Ah"'),
    "eV": Unit(_names("eV"), "an energy gap", '"1.11 eV"'),
    "Hz": Unit(_names("Hz"), "a frequency", '"100 kHz"'),
    "s": Unit(_names("s", "second", "seconds", ms=1e-3, us=1e-6, µs=1e-6, min=60.0, h=3600.0),
              "a time", '"10 s" or "20 ms"', prefixes=False),
    "°C": Unit(_names("°C", "℃", "C", "degC"), "a temperature", '"25 °C"', prefixes=False),
    "h": Unit(_names("h", "hour", "hours", "hr", "hrs", kh=1e3, min=1 / 60, d=24.0, day=24.0, days=24.0),
              "a time in hours", '"2000 h"', prefixes=False),
    "h/day": Unit(
        {**dict.fromkeys(("h/day", "h/d", "h a day", "h per day", "hours a day", "hours/day",
                          "hours per day", "h", "hours"), 1.0), "h/week": 1 / 7, "h a week": 1 / 7},
        "hours a day", '"2 h/day"', prefixes=False),
    "year": Unit(
        _names("years", "year", "y", "yr", "yrs", "a", months=1 / 12, month=1 / 12), "a time in years",
        '"10" or "10 years"', prefixes=False),
    "K/W": Unit(_names("K/W", "°C/W", "C/W", "℃/W", "degC/W"), "a thermal resistance", '"20 K/W"',
                prefixes=False),
    "%": Unit({"%": 1e-2, "ppm": 1e-6, "percent": 1e-2}, "a percentage", '"5 %"',
              prefixes=False, bare=False),
    "": Unit({"": 1.0}, "a plain number", '"100" or "0.5"', prefixes=False),
}


@cache
def suffixes(unit: str) -> Mapping[str, float]:
    """Everything that may follow the number, with its factor to the base unit.

    >>> suffixes("A")["uA"], suffixes("ohm")["k"]
    (1e-06, 1000.0)
    """
    known = UNITS[unit]
    table = dict(known.names)
    if known.bare:
        table[""] = 1.0
    if known.prefixes:
        for prefix, factor in PREFIXES.items():
            table[prefix] = factor
            for name in known.names:
                table.setdefault(prefix + name, factor)
    return table


def unit_of(suffix: str) -> str | None:
    """The unit that a suffix belongs to beyond doubt, or None ("k" alone tells no unit)."""
    if suffix in PREFIXES:
        return None
    return next((unit for unit in UNITS if unit and suffix and suffix in suffixes(unit)), None)
