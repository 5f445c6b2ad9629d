"""Which parts of a fragment can influence each other, in whatever position anything stands and whatever fails.

Parts that meet only at held nets (ground, and rails that are near 0 V when they are off) cannot: each such group
has only the supplies, jumpers and packs that touch it. So the ways in which a board can stand need not be multiplied
over its groups: when every group has stood in every way of its own, nothing new can happen.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from msgspec import Struct

from netcheck.fragment.kinds import COPPER, MOVABLE
from netcheck.fragment.model import Fragment, Kind, Part


class Group(Struct, frozen=True):
    """Parts that can influence each other, with the supplies that they hang on.

    moves: which of them can be put in positions or may be plugged, or what a wish of the file couples with them.
    """

    parts: tuple[str, ...]
    supplies: tuple[str, ...]
    moves: tuple[str, ...]


def groups(fragment: Fragment) -> tuple[Group, ...]:
    """The groups of a fragment, in the order of their first parts. Linear in its size."""
    held = held_always(fragment)
    sets = _Sets()
    for part in fragment.fitted:
        for net in coupled_nets(part):
            if net not in held:
                sets.join(("part", part.name), ("net", net))
        for name in _controls(part):
            if name in fragment.parts:
                sets.join(("part", part.name), ("part", name))
    for names, nets in _wishes(fragment):
        together = [("part", name) for name in names] + [("net", net) for net in nets if net not in held]
        for one in together[1:]:
            sets.join(together[0], one)
    found: dict[tuple[str, str], list[Part]] = {}
    for part in fragment.fitted:
        found.setdefault(sets.top(("part", part.name)), []).append(part)
    return tuple(_group(fragment, members) for members in found.values())


def held_always(fragment: Fragment) -> frozenset[str]:
    """The nets whose volts are fixed in every state."""
    return frozenset({fragment.ground, *(rail.net for rail in fragment.rails.values() if rail.when_off == "low")})


def coupled_nets(part: Part) -> tuple[str, ...]:
    """The nets that a part can couple with each other; of a chip those of the ways through it that are known."""
    if part.kind is Kind.CONNECTOR:
        return ()
    if part.kind is not Kind.CHIP:
        return part.nets
    clamped = (part.clamp.to, *part.clamp.inputs) if part.clamp else ()
    through = (net for path in part.paths
               for net in (part.pins.get(path.start), part.pins.get(path.end), *path.when_volts) if net is not None)
    return (*clamped, *through)


def _controls(part: Part) -> Iterator[str]:
    """What else the ways through a part depend on: supplies and parts by name."""
    for path in part.paths:
        yield from path.when


def _group(fragment: Fragment, members: list[Part]) -> Group:
    on = {fragment.rails[net].supply for part in members for net in coupled_nets(part) if net in fragment.rails}
    on |= {rail.supply for part in members for rail in fragment.rails.values() if rail.net == part.pulled_by}
    on |= {name for part in members for name in _controls(part)}
    return Group(
        tuple(part.name for part in members),
        tuple(supply for supply in fragment.supplies if supply in on),
        tuple(part.name for part in members if part.kind in MOVABLE or part.plugged is None),
    )


def _wishes(fragment: Fragment) -> Iterator[tuple[list[str], list[str]]]:
    """Parts and nets of which the file asks something together, so that they are looked at together."""
    copper = list(fragment.of_kind(*COPPER))
    for wish in fragment.expectations:
        names = [name for name in (*wish.when, wish.through or "") if name in fragment.parts]
        nets = [net for net in (*wish.joined, *wish.apart, wish.at, wish.against) if net is not None]
        yield names + _joining(copper, (*wish.joined, *wish.apart)), nets
    for feature in fragment.features:
        nets = [net for group in (*feature.joined, *feature.apart) for net in group]
        volts = [net for wanted in feature.volts for net in (wanted.at, wanted.against) if net is not None]
        yield _joining(copper, nets), nets + volts


def _joining(copper: Iterable[Part], nets: Iterable[str]) -> list[str]:
    """The jumpers and the like that could join these nets with something, over held nets as well."""
    sets = _Sets()
    wanted = {("net", net) for net in nets}
    parts = list(copper)
    for part in parts:
        for net in part.nets:
            sets.join(("part", part.name), ("net", net))
    tops = {sets.top(net) for net in wanted}
    return [part.name for part in parts if sets.top(("part", part.name)) in tops]


class _Sets:
    """Disjoint sets."""

    def __init__(self) -> None:
        self._above: dict[tuple[str, str], tuple[str, str]] = {}

    def top(self, one: tuple[str, str]) -> tuple[str, str]:
        above = self._above.setdefault(one, one)
        while above != one:
            self._above[one] = one = self._above[above]
            above = self._above[one]
        return one

    def join(self, one: tuple[str, str], other: tuple[str, str]) -> None:
        a, b = self.top(one), self.top(other)
        if a != b:
            self._above[b] = a
