"""A figure as text: its name says its unit, and `quantities/digits.py` how many digits it has."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from netcheck.quantities import digits
from netcheck.quantities.values import engineering


def figure(name: str, value: float, how: str = "") -> str:
    """A figure by its name; how: a number of digits, or a way to say it.

    >>> figure("volts_V", 0.0196), figure("leak_A", 1.234e-6, "2"), figure("margin_V", -0.02, "margin")
    ('19.6 mV', '1.2 µA', '20 mV short')
    >>> figure("share_maximum", 0.041, "capacity"), figure("share", 240.0, "capacity"), figure("left_count", 3)
    ('4.1 % of its capacity', '240 times its capacity', '3')
    """
    if how == "margin":
        return digits.margin(value)
    if how == "capacity" or (how == "alone" and value > 1):
        return digits.part_of(value, "its capacity")
    if how == "whole":
        return digits.part_of(value, "").rstrip()
    if how == "about":
        said = digits.duration(value)
        return f"about {said}" if said[0].isdigit() else said
    if how == "alone":
        how = ""
    unit = unit_of(name)
    if how == "meter":
        how = "4"
    return _SAID[unit](value) if not how else engineering(value, unit, int(how))


def band(low_name: str, low: float, high: float, how: str = "") -> str:
    """Two ends of one unit.

    >>> band("least_A", 6e-4, 1.2e-3)
    '0.6 to 1.2 mA'
    """
    return digits.band(low, high, unit_of(low_name), int(how or 3))


def unit_of(name: str) -> str:
    """The unit that the name of a figure says, the last of its words that is one."""
    if name.endswith("K_per_W"):
        return "K/W"
    return next(word for word in reversed(name.split("_")) if word in _SAID)


def _plainly(unit: str) -> Callable[[float], str]:
    return lambda value: engineering(value, unit)


_SAID: Mapping[str, Callable[[float], str]] = {
    "V": digits.volts, "A": digits.amps, "share": digits.share, "years": digits.duration, "h": digits.hours,
    "count": lambda value: f"{value:.0f}", "C": lambda value: f"{value:.0f} °C", "K": lambda value: f"{value:.0f} K",
    "times": lambda value: engineering(value, "", 2), "s": digits.seconds,
    **{unit: _plainly(unit) for unit in ("W", "ohm", "F", "H", "Hz", "K/W")},
}
"""How each unit is said."""
