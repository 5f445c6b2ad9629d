"""Figures as every report prints them: how many digits, which unit, which word. The only place that decides it.

Volts and currents have three significant digits, margins and bands two. Volts below 0.1 V are millivolts. What is
less than anybody can measure is 0, without a sign. All values in SI units, shares as parts of 1, times in years.
"""

from __future__ import annotations

import math

from netcheck.quantities.values import engineering

_NO_VOLTS = 1e-4
"""Volts below this are printed as 0: no meter on a board tells them from it."""

_NO_AMPS = 1e-12
"""Currents below this are the solver's rounding."""

_NOTHING = {"V": _NO_VOLTS, "A": _NO_AMPS}

_TIMES_FROM = 3.0
"""From this many times a limit on, a figure is told as times the limit, no longer in percent."""

HOURS_A_YEAR = 8760.0
_SPANS = ((1.0, "year"), (1 / 12, "month"), (1 / 365, "day"), (1 / HOURS_A_YEAR, "hour"),
          (1 / HOURS_A_YEAR / 60, "minute"))

UNKNOWN = "unknown"
FLOATS = "-"


def volts(value: float | None, digits: int = 3) -> str:
    """Volts.

    >>> volts(2.9312), volts(0.0196), volts(-1e-6), volts(0.774), volts(-0.0821), volts(-0.000755)
    ('2.93 V', '19.6 mV', '0 V', '0.774 V', '-82.1 mV', '-0.755 mV')
    """
    if value is None:
        return UNKNOWN
    if abs(value) < _NO_VOLTS:
        return "0 V"
    if abs(value) < 1e-3:
        return f"{'-' if value < 0 else ''}{_significant(abs(value) * 1e3, digits)} mV"
    return engineering(value, "V", digits)


def amps(value: float | None, digits: int = 3) -> str:
    """A current.

    >>> amps(1.1234e-3), amps(0.0), amps(-2e-15), amps(None)
    ('1.12 mA', '0 A', '0 A', 'unknown')
    """
    if value is None:
        return UNKNOWN
    return "0 A" if abs(value) < _NO_AMPS else engineering(value, "A", digits)


def margin(value: float | None) -> str:
    """Volts to spare, or missing.

    >>> margin(0.774), margin(-0.0196), margin(0.00001)
    ('0.77 V to spare', '20 mV short', 'nothing to spare')
    """
    if value is None:
        return UNKNOWN
    if abs(value) < _NO_VOLTS:
        return "nothing to spare"
    return f"{volts(abs(value), 2)} {'to spare' if value > 0 else 'short'}"


def band(low: float, high: float, unit: str, digits: int = 2) -> str:
    """Two ends with one unit, that of the higher end.

    >>> band(0.0212, 3.14, "V"), band(4.68, 5.31, "V", 3), band(6e-4, 1.2e-3, "A"), band(2.0, 2.0, "V")
    ('0.021 to 3.1 V', '4.68 to 5.31 V', '0.6 to 1.2 mA', '2 V')
    >>> band(-1.23e-19, 2e-9, "V"), band(-1e-19, 3.3, "V")
    ('0 V', '0 to 3.3 V')
    """
    low, high = (0.0 if abs(end) < _NOTHING.get(unit, 0.0) else end for end in (low, high))
    first, last = engineering(low, unit, digits), engineering(high, unit, digits)
    if first == last:
        return last
    if math.isinf(low) or math.isinf(high):
        return f"{first} to {last}"
    number, _, sign = last.partition(" ")
    one = float(number)
    factor = high / one if one else 1.0
    scale = 10.0 ** round(math.log10(abs(factor))) if factor else 1.0
    return f"{_significant(low / scale, digits)} to {number} {sign}"


def _significant(value: float, digits: int) -> str:
    rounded = float(f"{value:.{digits - 1}e}")
    return "0" if rounded == 0 else f"{rounded:.10f}".rstrip("0").rstrip(".") if abs(rounded) < 1e6 else f"{rounded:g}"


def share(value: float | None) -> str:
    """A part of a whole.

    >>> share(0.0153), share(0.5), share(0.0), share(0.00004)
    ('1.5 %', '50 %', '0 %', 'under 0.01 %')
    """
    if value is None:
        return UNKNOWN
    return "under 0.01 %" if 0 < value < 1e-4 else engineering(value, "%", 2)


def part_of(value: float, whole: str) -> str:
    """A part of a whole, in percent up to all of it and as times the whole beyond.

    >>> part_of(0.041, "its capacity"), part_of(240.8, "its capacity")
    ('4.1 % of its capacity', '240 times its capacity')
    """
    return f"{share(value)} of {whole}" if value <= 1 else f"{engineering(value, '', 2)} times {whole}"


def against(value: float | None, limit: float, what: str) -> str:
    """A share beside the most that it may be: in percent, or as so many times the limit, never both.

    >>> against(0.041, 0.03, "share"), against(7.2, 0.03, "share"), against(0.015, 0.03, "share")
    ('4.1 %, where 3 % is the most', '240 times the share', '1.5 % of the 3 % allowed')
    """
    if value is None:
        return UNKNOWN
    if limit > 0 and value >= _TIMES_FROM * limit:
        return f"{engineering(value / limit, '', 2)} times the {what}"
    said = share(limit)
    return f"{share(value)}, where {said} is the most" if value > limit else f"{share(value)} of the {said} allowed"


def hours(value: float) -> str:
    """Hours, of a day or of use.

    >>> hours(1.85), hours(0.0), hours(23.7), hours(0.25)
    ('1.9 h', 'no time', '24 h', '0.25 h')
    """
    return "no time" if value < 1 / 60 else f"{_significant(value, 2)} h"


def seconds(value: float) -> str:
    """A time on an oscilloscope's scale.

    >>> seconds(0.0042), seconds(3e-5), seconds(2.0)
    ('4.2 ms', '30 µs', '2 s')
    """
    if value >= 1:
        return engineering(value, "s")
    return f"{engineering(value * 1e3, '')} ms" if value >= 1e-3 else f"{engineering(value * 1e6, '')} µs"


def duration(years: float | None) -> str:
    """A time in the unit one would say it in.

    >>> duration(11.7), duration(0.49), duration(1.0), duration(3e-6), duration(1e-9), duration(math.inf)
    ('12 years', '5.9 months', '12 months', '1.6 minutes', 'no time at all', 'no end')
    """
    if years is None:
        return UNKNOWN
    if math.isinf(years):
        return "no end"
    for size, word in _SPANS:
        if years >= (2 * size if word != "minute" else size):
            return f"{_significant(years / size, 2)} {word}s"
    return "under a minute" if years > _SPANS[-1][0] / 60 else "no time at all"


def durations(least: float | None, most: float | None) -> str:
    """A range of times, its unit once where both have it.

    >>> durations(0.49, 12), durations(3, 12), durations(12, 12.1), durations(None, 12)
    ('5.9 months to 12 years', '3 to 12 years', '12 years', '12 years')
    """
    if least is not None and most is not None and least > most:
        least, most = most, least
    first, last = duration(least), duration(most)
    if least is None or first == last:
        return last
    number, _, unit = first.partition(" ")
    return f"{number} to {last}" if last.endswith(f" {unit}") else f"{first} to {last}"
