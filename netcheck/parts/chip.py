"""A chip of the library against the pins that somebody traced."""

from __future__ import annotations

from collections.abc import Iterable

from netcheck.parts.specs import ChipSpec


def traced_pin(spec: ChipSpec, pin: str, traced: Iterable[str]) -> str | None:
    """The traced pin that is this one of the library, by its name or its number; None where it was not traced.

    >>> traced_pin(ChipSpec("X", (("VBAT", "3"),)), "VBAT", ["1", "3"])
    '3'
    """
    spellings = {pin.casefold(), dict(spec.pins).get(pin, pin).casefold()}
    return next((one for one in traced if one.casefold() in spellings), None)


def decisive(spec: ChipSpec) -> tuple[str, ...]:
    """The pins that have to be traced before it is known which ways lead through the chip."""
    return tuple(dict.fromkeys((spec.cell, *(pin for way in spec.ways for pin in (way.start, way.end)))))


def missing_pins(spec: ChipSpec, traced: Iterable[str]) -> tuple[str, ...]:
    """Those of them that were not traced, with their numbers; all of a chip that the library does not hold are."""
    numbers, known = dict(spec.pins), list(traced)
    return tuple(pin if numbers.get(pin, pin) == pin else f"{pin} (pin {numbers[pin]})"
                 for pin in decisive(spec) if traced_pin(spec, pin, known) is None)


def settled(spec: ChipSpec, traced: Iterable[str]) -> bool:
    """Whether the library knows every way through a chip traced with these pins."""
    return bool(spec.pins) and not missing_pins(spec, traced)
