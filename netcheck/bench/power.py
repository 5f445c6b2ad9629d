"""Which dangers keep the power off while cells, or the loads of a regulator, are out of their places."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any

from netcheck.findings import Finding
from netcheck.fragment.model import Fragment, Kind
from netcheck.fragment.states import State

_WITH_THE_CELL = ("charge-route", "leakage", "fault-current", "forced-discharge", "charger", "reversal")
"""Checks whose danger needs the cell in its place: its empty holder may be probed, and is what proves it."""

_IN_NO_STATE = ("link-mistake", "connector")
"""Checks whose danger is in no state of the board, but in what somebody does to it."""

CAPACITOR = ("polarity", "rating")
"""Checks whose danger is gone with the capacitor out."""

_WITH_THE_LOADS = "setting"


def stopping(dangers: Sequence[Finding]) -> tuple[Finding, ...]:
    """Those that end a sheet before cells and loads go in: all that are in some state of the board."""
    return tuple(one for one in dangers if one.held_in or one.check not in _IN_NO_STATE)


def keeping_off(
    fragment: Fragment, dangers: Sequence[Finding], state: State | None, out: Collection[str] = (),
    regulators: Mapping[str, Any] | None = None,
) -> tuple[Finding, ...]:
    """The dangers that a state has on with every cell and these loads out: with any it is not powered.

    state: None for one that the check did not try, which may have every danger of the others. A danger of no state
    in particular is in each.
    """
    return tuple(one for one in stopping(dangers)
                 if (state is None or not one.held_in or state.name in one.held_in)
                 and not _gone(fragment, one, out, regulators or {}))


def _gone(fragment: Fragment, danger: Finding, out: Collection[str], regulators: Mapping[str, Any]) -> bool:
    """Whether a danger needs a cell, or a load that is out."""
    if danger.check in _WITH_THE_CELL:
        return True
    if danger.check == "short-circuit":  # of a cell, not of a supply
        return danger.subject in fragment.parts and fragment.parts[danger.subject].kind is Kind.CELL
    if danger.check == _WITH_THE_LOADS:
        return danger.subject in regulators and set(regulators[danger.subject]["windows_V"]) <= set(out)
    return danger.check == "over-voltage" and danger.subject in out


def capacitors_of(dangers: Sequence[Finding]) -> Iterator[str]:
    """The capacitors without which these dangers would be gone; none where one of them would stay."""
    if all(one.check in CAPACITOR for one in dangers):
        yield from dict.fromkeys(one.subject for one in dangers)
