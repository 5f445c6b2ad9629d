"""The handheld meter that probe sheets are written for: what it loads, what it drives, how far it errs.

Its figures are those of an ordinary true-rms handheld; each names its source.
Another meter's input resistance is given with `meter:` or `--meter`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from enum import Enum

from msgspec import Struct

from netcheck.parts.specs import Figure


class What(str, Enum):
    """What a meter can be set to."""

    VOLTS = "volts"
    AMPS = "amps"
    OHMS = "ohms"
    DIODE = "diode"

    def __str__(self) -> str:
        return self.value

    @property
    def unit(self) -> str:
        return {"volts": "V", "amps": "A", "ohms": "ohm", "diode": "V"}[self.value]

    @property
    def unpowered(self) -> bool:
        """Whether the meter drives the test itself, so that the board's power must be off."""
        return self in (What.OHMS, What.DIODE)


_MANUAL = "Fluke, 114, 115 and 117 Users Manual, p. 5"
_MEMORY = "Fluke, 114, 115 and 117 Users Manual, p. 4"

INPUT_OHM = 10e6
BURDEN_OHM, MOST_BURDEN_OHM = 1.8, 11.0
LEADS_OHM = 0.5

OHMS_TEST_V, MOST_OHMS_TEST_V, OHMS_TEST_A = 0.2, 0.7, 350e-6
"""Across what it measures: usual, most; and into a short. 0.2 V lies half-way, in ratio, between a tenth
of full scale and full scale (0.07 V to 0.7 V), which is where an autoranging meter works."""

DIODE_TEST_V, DIODE_TEST_A, LEAST_DIODE_TEST_A = 2.7, 1.2e-3, 0.5e-3
"""Open circuit; into a short, and the least that a meter in use drives."""

FIGURES: tuple[Figure, ...] = (
    Figure(_MANUAL, "seen", "input above 10 MΩ; ohms test below 0.7 V and 350 µA; diode test below 2.7 V and "
                            "1.2 mA, 2.000 V full scale"),
    Figure(_MEMORY, "memory", "0.5 % + 2 counts direct volts, 0.9 % + 2 ohms, 1.5 % + 3 amps"),
    Figure("Facom, 712 multimeter manual", "seen", "diode test 0.5 mA, 1.5 % + 2"),
    Figure("Fluke, article on burden voltage", "seen", "1.8 mV/mA to 11 mV/mA on the mA range"),
    Figure("Gvda, digital multimeter accuracy page", "seen", "leads 0.2 Ω to 0.5 Ω"),
)


class Accuracy(Struct, frozen=True):
    """Error as a share of the reading and in counts; the ranges as (full scale, one count), rising."""

    share: float
    counts: int
    ranges: tuple[tuple[float, float], ...]

    def count(self, value: float) -> float:
        """One count on the range that shows a value."""
        return next((step for full, step in self.ranges if abs(value) <= full), self.ranges[-1][1])

    def error(self, value: float) -> float:
        """How far the meter may err in showing a value.

        1 % + 2 counts at 100.0 V means 98.8 V to 101.2 V (Gvda, digital multimeter accuracy page):

        >>> round(Accuracy(0.01, 2, ((600.0, 0.1),)).error(100.0), 6)
        1.2
        """
        return self.share * abs(value) + self.counts * self.count(value)


ACCURACY: Mapping[What, Accuracy] = {
    What.VOLTS: Accuracy(0.005, 2, ((6.0, 1e-3), (60.0, 1e-2), (600.0, 0.1))),
    What.AMPS: Accuracy(0.015, 3, ((600e-6, 0.1e-6), (6e-3, 1e-6), (60e-3, 1e-5), (0.6, 1e-4), (10.0, 1e-2))),
    What.OHMS: Accuracy(0.009, 2, ((600.0, 0.1), (6e3, 1.0), (60e3, 10.0), (600e3, 100.0), (6e6, 1e3),
                                   (40e6, 1e4))),
    What.DIODE: Accuracy(0.015, 2, ((2.0, 1e-3),)),
}


def full_scale(what: What) -> float:
    """The most the meter can show [V, A or ohm]; ohms and diode tests above it read OL.

    >>> full_scale(What.DIODE)
    2.0
    """
    return ACCURACY[what].ranges[-1][0]


def overload(what: What, value: float) -> bool:
    """Whether the meter shows OL for a value of a test that it drives itself."""
    return what.unpowered and value >= full_scale(what)


def count(what: What, value: float) -> float:
    """One count [V, A or ohm] on the range that shows a value."""
    return ACCURACY[what].count(value)


def error(what: What, value: float) -> float:
    """How far the meter may err [V, A or ohm] in showing a value; not at all in showing OL."""
    return 0.0 if math.isinf(value) else ACCURACY[what].error(value)


def shown(what: What, value: float) -> float:
    """A value as the meter shows it: rounded to its counts, infinite for OL.

    >>> shown(What.VOLTS, 2.71349), shown(What.DIODE, 2.4)
    (2.713, inf)
    """
    if overload(what, value):
        return math.inf
    step = count(what, value)
    return float(f"{round(value / step) * step:.9g}")
