"""What changes when a part is open or short: the difference between two operating points, in the terms of the bench."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from msgspec import Struct

from netcheck.fragment.model import Fragment, Kind
from netcheck.simulation.elements import OperatingPoint

FELT_V = 0.02
"""A net whose volts move by less is said not to change: below it two nets are level in the drawing, too."""

FELT_A = 1e-6
"""A current of a cell or a rail that moves by less is leakage (common practice, no source)."""

_SHARE = 0.05


class Effect(Struct, frozen=True):
    """One thing that is otherwise: `what` is cell, load, rail or net, `name` which; before and after in V or A.

    A load and a net change their volts, a cell and a rail the current that they give (below 0: they take it).
    None: it floats, or is not there.
    """

    what: str
    name: str
    before: float | None
    after: float | None

    @property
    def size(self) -> float:
        """How much it changes, in multiples of what is felt."""
        if self.before is None or self.after is None:
            return float("inf") if self.before != self.after else 0.0
        return abs(self.after - self.before) / (FELT_V if self.what in ("load", "net") else FELT_A)


def effects(fragment: Fragment, before: OperatingPoint, after: OperatingPoint) -> list[Effect]:
    """What a person would notice, cells and loads first, each the strongest first; nothing where one is not known."""
    if not (before.known and after.known):
        return []
    order = ("cell", "load", "rail", "net")
    return sorted(_felt(fragment, before, after), key=lambda one: (order.index(one.what), -one.size))


def _felt(fragment: Fragment, before: OperatingPoint, after: OperatingPoint) -> Iterator[Effect]:
    for part in fragment.of_kind(Kind.CELL):
        if part.name in before.amps and part.name in after.amps:
            yield from _amps("cell", part.name, before, after)
    for part in fragment.of_kind(Kind.LOAD):
        yield from _moved("load", part.name, across(before, part.pins), across(after, part.pins))
    for net in fragment.rails:
        if net in before.amps and net in after.amps:
            yield from _amps("rail", net, before, after)
    for net in fragment.nets:
        if net in before.volts:
            yield from _moved("net", net, before.volts[net], after.volts.get(net))


def _amps(what: str, name: str, before: OperatingPoint, after: OperatingPoint) -> Iterator[Effect]:
    was, now = before.amps[name], after.amps[name]
    if abs(now - was) > max(FELT_A, _SHARE * min(abs(was), abs(now))):
        yield Effect(what, name, was, now)


def _moved(what: str, name: str, was: float | None, now: float | None) -> Iterator[Effect]:
    if (was is None) != (now is None) or (was is not None and now is not None and abs(now - was) > FELT_V):
        yield Effect(what, name, was, now)


def across(point: OperatingPoint, pins: Mapping[str, str]) -> float | None:
    """Volts from plus to minus; None where either is not known."""
    plus, minus = point.volts.get(pins["plus"]), point.volts.get(pins["minus"])
    return None if plus is None or minus is None else plus - minus
