"""The elements of a circuit in an order that depends on the physics alone, not on names or on how they were listed.

Nets are told apart by what hangs on them, and by what hangs on their
neighbours, as far as that goes (colour refinement). Elements that are still
alike keep the order in which they came: nearly always they are alike in truth,
and where they are not, a circuit is solved once more than needed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from operator import attrgetter
from typing import Any

from netcheck.simulation.elements import (
    Battery,
    Bipolar,
    Capacitance,
    Draw,
    Element,
    FieldEffect,
    Junction,
    Regulation,
    Resistance,
    Source,
)

_ROUNDS = 4
_LEAST = float("-inf")  # stands for a value that is not there

_Form = tuple[Any, ...]


def ordered(elements: Sequence[Element], ground: str) -> list[Element]:
    """The elements in canonical order."""
    forms = [_form(element) for element in elements]
    rank = {form: place for place, form in enumerate(sorted({form for form, _ in forms}))}
    kinds = [rank[form] for form, _ in forms]
    pins = [nets for _, nets in forms]
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
    return [elements[place] for place in sorted(range(len(elements)), key=keys.__getitem__)]


def _form(element: Element) -> tuple[_Form, tuple[str, ...]]:
    """What an element is, apart from its name, and its nets."""
    place, values, nets = _PARTS[type(element)]
    found = values(element)
    pins = nets(element)
    if isinstance(element, Junction):
        found = (*found[:-1], _LEAST if found[-1] is None else found[-1])
    elif isinstance(element, Regulation):
        found = (*found, *(net is None for net in pins))
        pins = tuple(net for net in pins if net is not None)
    return (place, *found), pins


def _of(*fields: str) -> Callable[[Any], tuple[Any, ...]]:
    return attrgetter(*fields) if len(fields) > 1 else lambda element: (getattr(element, fields[0]),)


_PARTS: dict[type[Element], tuple[int, Callable[[Any], tuple[Any, ...]], Callable[[Any], tuple[Any, ...]]]] = {
    Source: (0, _of("volts"), _of("plus", "minus")),
    Battery: (1, _of("volts", "ohm"), _of("plus", "minus")),
    Resistance: (2, _of("ohm"), _of("a", "b")),
    Junction: (3, _of("saturation_A", "emission", "series_ohm", "leakage_A", "leakage_at_V", "leakage_power",
                      "breakdown_V"), _of("anode", "cathode")),
    Draw: (4, _of("amps", "at_V", "siemens", "knee_V"), _of("plus", "minus")),
    Bipolar: (5, _of("npn", "saturation_A", "gain"), _of("collector", "base", "emitter")),
    FieldEffect: (6, _of("n_channel", "threshold_V", "on_ohm"), _of("drain", "gate", "source")),
    Regulation: (7, _of("between", "reference_V", "dropout_V", "adjust_A"), _of("input", "output", "adjust", "ground")),
    Capacitance: (8, _of("farad"), _of("a", "b")),
}
