"""The elements of a circuit in an order that depends on the physics alone, not on names or on how they were listed.

Nets are told apart by what hangs on them, and by what hangs on their
neighbours, as far as that goes (colour refinement). Elements that are still
alike keep the order in which they came: nearly always they are alike in truth,
and where they are not, a circuit is solved once more than needed.
"""

from __future__ import annotations

from collections.abc import Sequence

from netcheck.simulation.elements import Element
from netcheck.simulation.memory import Memory
from netcheck.simulation.shapes import traits

_ROUNDS = 4

_Key = tuple[tuple[int, ...], tuple[int, ...], str]

_orders: Memory[_Key, tuple[int, ...]] = Memory(100_000)
"""By the ranks of the elements' values and their shapes: nothing else of the values has a say."""


def ordered(elements: Sequence[Element], ground: str) -> list[Element]:
    """The elements in canonical order."""
    found = traits(elements)
    rank = {form: place for place, form in enumerate(sorted({one.form for one in found}))}
    kinds = tuple([rank[one.form] for one in found])
    key = kinds, tuple([one.shape for one in found]), ground
    places = _orders.get(key)
    if places is None:
        places = _order(kinds, [one.pins for one in found], ground)
        _orders.put(key, places, len(places) + 1)
    return [elements[place] for place in places]


def _order(kinds: Sequence[int], pins: Sequence[tuple[str, ...]], ground: str) -> tuple[int, ...]:
    """The places of elements of these ranks between these nets in canonical order."""
    colour = {net: 0 for nets in pins for net in nets} | {ground: 1}
    for _ in range(_ROUNDS):
        around: dict[str, list[tuple[int, ...]]] = {net: [] for net in colour}
        for kind, nets in zip(kinds, pins, strict=True):
            seen = tuple(map(colour.__getitem__, nets))
            for pin, net in enumerate(nets):
                around[net].append((kind, pin, *seen))
        views = {net: (colour[net], *sorted(found)) for net, found in around.items()}
        order = {view: place for place, view in enumerate(sorted(set(views.values())))}
        settled = len(order) == len(set(colour.values()))
        colour = {net: order[view] for net, view in views.items()}
        if settled or len(order) == len(colour):
            break
    keys = [(kind, *map(colour.__getitem__, nets)) for kind, nets in zip(kinds, pins, strict=True)]
    return tuple(sorted(range(len(keys)), key=keys.__getitem__))
