"""Slips with the links: one forgotten, two where one is meant, a cap turned round; and what moves with the power on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from netcheck.fragment.model import Part
from netcheck.fragment.states import ABSENT, joined_pins
from netcheck.supply.results import Mistake, Setting

NEAR = 0.02
"""How near a setting must come to a wanted output to be meant, where the file does not say."""


def mistakes(
    settings: Sequence[Setting], links: Sequence[Part], wanted: Sequence[float], within: float | None
) -> Iterator[Mistake]:
    """The slips that lead from a setting that is meant to one that takes a load beyond what it survives.

    Meant are the settings nearest to the wanted outputs; with none wanted, all that harm nothing.
    """
    harmful = {_key(one): one for one in settings if one.harmed}
    if not harmful:
        return
    for setting in meant(settings, wanted, within):
        for link in links:
            for position in (*link.positions, ABSENT):
                other = {**setting.positions, link.name: position}
                if position != setting.positions[link.name] and (found := harmful.get(tuple(other.items()))):
                    yield Mistake(link.name, _what(link, setting.positions[link.name], position),
                                  setting.positions, found.positions, found.output_V, found.harmed)


def meant(settings: Sequence[Setting], wanted: Sequence[float], within: float | None) -> list[Setting]:
    """The settings that somebody would choose."""
    safe = [one for one in settings if one.output_V is not None and not one.harmed]
    if not wanted or not safe:
        return safe
    nearest = [min(safe, key=lambda one: abs((one.output_V or 0.0) - volts)) for volts in wanted]
    limit = NEAR if within is None else within
    return [one for volts, one in zip(wanted, nearest, strict=True)
            if abs((one.output_V or 0.0) - volts) <= limit * abs(volts)]


def _key(setting: Setting) -> tuple[tuple[str, str], ...]:
    return tuple(setting.positions.items())


def _what(link: Part, was: str, now: str) -> str:
    if link.travel:
        return f"turned to {now}"
    joined_before, joined_now = bool(_pairs(link, was)), bool(_pairs(link, now))
    if joined_before and not joined_now:
        return "forgotten"
    return "put as well" if joined_now and not joined_before else "turned round"


def _pairs(link: Part, position: str) -> tuple[tuple[str, str], ...]:
    return joined_pins(link, position) if position == ABSENT or position in link.positions else ()
