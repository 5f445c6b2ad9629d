"""Names in a row, as a sentence has them."""

from __future__ import annotations

import re
from collections.abc import Sequence


def listed(words: Sequence[str], joint: str = "and") -> str:
    """A list in words.

    >>> listed(["R1", "D3", "BT1"])
    'R1, D3 and BT1'
    """
    return f" {joint} ".join(filter(None, [", ".join(words[:-1]), *words[-1:]]))


_NUMBERED = re.compile(r"([A-Za-z]+)([0-9]+)")
_RUN = 3
"""From this many designators in a row on, they are told as a range."""


def designators(names: Sequence[str]) -> str:
    """Designators in words, runs of them as ranges.

    >>> designators(["U1", "U2", "U3", "U7"]), designators(["U1", "U2"]), designators(["CELL"])
    ('U1-U3 and U7', 'U1 and U2', 'CELL')
    """
    runs: list[list[str]] = []
    for name in names:
        before, here = (_NUMBERED.fullmatch(one) for one in ((runs[-1][-1] if runs else ""), name))
        if before and here and before[1] == here[1] and int(here[2]) == int(before[2]) + 1:
            runs[-1].append(name)
        else:
            runs.append([name])
    return listed([word for run in runs for word in ([f"{run[0]}-{run[-1]}"] if len(run) >= _RUN else run)])
