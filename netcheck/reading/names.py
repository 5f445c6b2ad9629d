"""One line for several parts: "C1, C4-C9" stands for C1 and C4 to C9."""

from __future__ import annotations

import re
from collections.abc import Iterator

from netcheck.reading.mistakes import Faults
from netcheck.reading.yaml_nodes import Scalar

MOST_NAMES = 400
_RANGE = re.compile(r"(\D*)([0-9]+)\s*[-–…]\s*(\D*)([0-9]+)")
_HALF = "write both ends in full, as in C4-C9"


def names_of(key: Scalar, faults: Faults) -> list[Scalar]:
    """The designators that a key stands for, each at the place of the key; mistakes are told and left out."""
    found = [name for piece in key.text.split(",") for name in _names(piece.strip(), key, faults)]
    if len(found) > MOST_NAMES:
        faults.add(key.mark, key.text, f"at most {MOST_NAMES} parts on a line")
        return []
    return [Scalar(name, key.mark, key.plain) for name in found]


def _names(piece: str, key: Scalar, faults: Faults) -> Iterator[str]:
    found = _RANGE.fullmatch(piece)
    if found is None:
        yield piece
        return
    first, low, second, high = found.groups()
    if not first:  # a name that begins with a digit is a name
        yield piece
    elif not second and int(low) >= int(high):
        yield piece  # such as RN3-1, a part of a network
    elif first != second:
        faults.add(key.mark, piece, "a range with one prefix, such as C4-C9", hint="" if second else _HALF)
    elif int(low) >= int(high):
        faults.add(key.mark, piece, "a range whose numbers rise, such as C4-C9")
    elif int(high) - int(low) > MOST_NAMES:
        faults.add(key.mark, piece, f"at most {MOST_NAMES} parts on a line")
    else:
        yield from (f"{first}{number}" for number in range(int(low), int(high) + 1))
