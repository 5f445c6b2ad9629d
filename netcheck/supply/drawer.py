"""The resistors that there are to choose from: a series of preferred numbers, or the values in a drawer."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct

from netcheck.parts.series import SIZES, series
from netcheck.quantities.values import ValueFault, quantity

LOWEST_OHM, HIGHEST_OHM = 10.0, 1e6
"""The decades of a series that feedback resistors come from."""

_LINE = re.compile(r"-?\s*(?P<value>[^,;:#x\s]+(?:\s*[kKMmΩ]\w*)?)"
                   r"\s*(?:[,;:x\s]\s*(?P<count>\d+)\s*(?:pieces|pcs|x)?)?\s*$")


class DrawerFault(ValueError):
    """A list of values that cannot be used; the message says where and what was expected."""


class Value(Struct, frozen=True):
    """A resistance that can be had: one resistor, or two alike in parallel or in series.

    each: the resistors' own value in ohms. how: "one", "parallel" or "series". there: how many of them there are
    (None: as many as one wants).
    """

    ohm: float
    each: float
    how: str = "one"
    there: int | None = None

    @property
    def takes(self) -> int:
        return 1 if self.how == "one" else 2


def of_series(size: int) -> list[Value]:
    """Every value of a series of preferred numbers (IEC 60063) between 10 Ω and 1 MΩ, both included.

    >>> [value.ohm for value in of_series(3)[:4]], len(of_series(24))
    ([10.0, 22.0, 47.0, 100.0], 121)
    """
    if size not in SIZES:
        raise DrawerFault(f"E{size} is no series of preferred numbers: E{', E'.join(map(str, SIZES))} are")
    figures = 1 if size <= 24 else 2
    found = [float(f"{number}e{power - figures}") for power in range(1, 7) for number in series(size)]
    return [Value(ohm, ohm) for ohm in found if LOWEST_OHM <= ohm <= HIGHEST_OHM]


def of_lines(text: str, name: str = "the drawer") -> list[Value]:
    """A drawer: a value a line, with how many of it there are where that matters; what follows a # is a remark.

    >>> [(value.ohm, value.there) for value in of_lines("3.6k 4\\n7k5, 2  # old ones\\n15k")]
    [(3600.0, 4), (7500.0, 2), (15000.0, None)]
    """
    found: dict[float, int | None] = {}
    for number, line in enumerate(text.splitlines(), 1):
        words = line.split("#", 1)[0].strip()
        if not words:
            continue
        match = _LINE.match(words)
        try:
            ohm = quantity(match["value"] if match else words, "ohm").value
        except ValueFault as fault:
            raise DrawerFault(f"{name}:{number}: {fault}: a value and how many there are, such as 3.6k 4") from fault
        if ohm <= 0:
            raise DrawerFault(f"{name}:{number}: {words!r}: a resistance above 0 Ω")
        count = int(match["count"]) if match and match["count"] else None
        before = found.get(ohm, 0)
        found[ohm] = None if count is None or before is None else before + count
    if not found:
        raise DrawerFault(f"{name}: no value in it: one a line and how many there are, such as 3.6k 4")
    return [Value(ohm, ohm, "one", there) for ohm, there in sorted(found.items()) if there != 0]


def with_pairs(values: Sequence[Value]) -> list[Value]:
    """The values, and those that two alike make in parallel or in series where no single one is the same."""
    singles = {round(value.ohm, 6) for value in values}
    pairs: dict[float, Value] = {}
    for value in _pairs(values):
        pairs.setdefault(round(value.ohm, 6), value)
    return sorted([*values, *(value for ohm, value in pairs.items() if ohm not in singles)],
                  key=lambda value: value.ohm)


def _pairs(values: Sequence[Value]) -> Iterator[Value]:
    for value in values:
        if value.there is None or value.there >= 2:
            yield Value(value.ohm / 2, value.each, "parallel", value.there)
            yield Value(value.ohm * 2, value.each, "series", value.there)


def enough(chosen: Sequence[Value]) -> bool:
    """Whether there are as many resistors as a choice takes."""
    taken: dict[float, int] = {}
    there: Mapping[float, int | None] = {value.each: value.there for value in chosen}
    for value in chosen:
        taken[value.each] = taken.get(value.each, 0) + value.takes
    return all(there[each] is None or count <= (there[each] or 0) for each, count in taken.items())
