"""A row of the probe sheet in words: the one place that says what to measure, what to expect and within which band."""

from __future__ import annotations

import math

from netcheck.bench import meter
from netcheck.bench.meter import What
from netcheck.bench.sheet import Probe
from netcheck.quantities import digits
from netcheck.quantities.values import engineering

_DIGITS = 3
_BAND_DIGITS = 2


def where(probe: Probe) -> str:
    """What to measure, and between which nets."""
    one = probe.measurement
    if one.through is not None:
        return f"{probe.what_for}, meter in series"
    if one.what is What.VOLTS and probe.what_for.split(", ")[0] == one.at:
        return probe.what_for
    test = {What.VOLTS: "", What.AMPS: " short-circuit", What.OHMS: "", What.DIODE: " diode test"}[one.what]
    return f"{probe.what_for}{test}, {one.at} to {one.against}"


def reading(what: What, value: float) -> str:
    """A reading, three digits; OL where the meter shows that, and 0 for less than a count.

    >>> reading(What.VOLTS, 2.71349), reading(What.OHMS, math.inf), reading(What.AMPS, 1e-9)
    ('2.71 V', 'OL', '0 A')
    """
    if math.isinf(value):
        return "OL"
    return _none(what) if abs(value) < meter.count(what, value) else engineering(value, what.unit, _DIGITS)


def band(what: What, low: float, high: float) -> str:
    """Two ends with one unit, two digits each, rounded outward so that nothing right falls outside.

    >>> band(What.VOLTS, 4.724, 5.278), band(What.DIODE, math.inf, math.inf), band(What.OHMS, 442.3, 498.6)
    ('4.7 to 5.3 V', 'OL', '440 to 500 Ω')
    """
    if math.isinf(low):
        return "OL"
    low = 0.0 if abs(low) < 3 * meter.count(what, low) and low <= 0 <= high else low
    if math.isinf(high):
        return f"{engineering(_outward(low, -1), what.unit, _BAND_DIGITS)} to OL"
    return digits.band(_outward(low, -1), _outward(high, 1), what.unit, _BAND_DIGITS)


def limit(probe: Probe) -> str:
    """What more than the limit means; empty without one."""
    if probe.limit is None:
        return ""
    most, cell = engineering(probe.limit, probe.unit, _BAND_DIGITS), probe.what_for.partition(" ")[0]
    if probe.forbidden:
        return f"Limit {most}. THE BOARD AS DRAWN GIVES MORE THAN THAT: DO NOT FIT {cell}."
    return f"Limit {most}: more than this, do not fit {cell}."


def _none(what: What) -> str:
    return f"0 {'Ω' if what is What.OHMS else what.unit}"


def _outward(value: float, side: int) -> float:
    if value == 0:
        return 0.0
    step = 10.0 ** (math.floor(math.log10(abs(value))) - _BAND_DIGITS + 1)
    return (math.floor if side < 0 else math.ceil)(round(value / step, 6)) * step
