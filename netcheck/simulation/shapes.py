"""What of a circuit does not change with its values: most circuits that are asked for differ in values alone.

Two elements are of one shape where they are of a kind, bear one name, lie between the same nets, and are alike in what
decides how a circuit hangs together or whether it may be run (ideal or not, 0 Ω or not). What depends on shapes alone
is worked out once for all circuits of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import count
from math import isfinite
from operator import attrgetter
from typing import Any

from msgspec import Struct

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
from netcheck.simulation.memory import Memory

_LEAST = float("-inf")  # stands for a value that is not there


class Traits(Struct, frozen=True):
    """An element, the number of its shape, what it is apart from its name and nets, and those nets.

    finite: none of its values is infinite or not a number. Numbers of shapes mean nothing by themselves.
    """

    element: Element
    shape: int
    form: tuple[Any, ...]
    pins: tuple[str, ...]
    finite: bool


_traits: Memory[int, Traits] = Memory(100_000)
_shapes: Memory[tuple[object, ...], int] = Memory(100_000)
_numbers = count()
"""Elements are told apart as objects, which are kept with what is known of them."""


def traits(elements: Sequence[Element]) -> list[Traits]:
    """The traits of each element."""
    get = _traits.get
    return [get(id(element)) or _told(element) for element in elements]


def shapes(elements: Sequence[Element]) -> tuple[int, ...]:
    """Equal for elements of the same shapes in the same order."""
    get = _traits.get
    return tuple([(get(id(element)) or _told(element)).shape for element in elements])


def _told(element: Element) -> Traits:
    place, values, nets = _PARTS[type(element)]
    pins: tuple[str | None, ...] = nets(element)
    found: tuple[Any, ...] = values(element)
    if isinstance(element, Junction):
        found = (*found[:-1], _LEAST if found[-1] is None else found[-1])
    elif isinstance(element, Regulation):
        found = (*found, *(net is None for net in pins))
    finite = all(isfinite(value) for value in map(element.__getattribute__, element.__struct_fields__)
                 if isinstance(value, float))
    one = Traits(element, _shape(element, pins), (place, *found), tuple(net for net in pins if net is not None), finite)
    _traits.put(id(element), one, 1)
    return one


def _shape(element: Element, pins: tuple[str | None, ...]) -> int:
    key = (type(element), element.name, pins, _decides(element))
    known = _shapes.get(key)
    if known is None:
        known = next(_numbers)
        _shapes.put(key, known, 1)
    return known


def _decides(element: Element) -> object:
    """What of its values decides how the circuit hangs together, or whether it may be run."""
    if isinstance(element, (Resistance, Battery)):
        return element.ohm == 0, element.ohm < 0
    if isinstance(element, Junction):
        return element.saturation_A <= 0 or element.emission <= 0
    if isinstance(element, Regulation):
        return element.between, bool(element.ground_A)
    return None


def _of(*fields: str) -> Any:
    return attrgetter(*fields) if len(fields) > 1 else lambda element: (getattr(element, fields[0]),)


_PARTS: dict[type[Element], tuple[int, Any, Any]] = {
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
