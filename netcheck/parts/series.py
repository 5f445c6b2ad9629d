"""Preferred numbers, IEC 60063: the E series E3 to E192."""

from __future__ import annotations

import math
from functools import cache

SIZES = (3, 6, 12, 24, 48, 96, 192)

# Where the standard departs from its own rule: the eight values of E24 that are
# older than the rule (index in E24), and one of E192.
_E24_KEPT = {10: 27, 11: 30, 12: 33, 13: 36, 14: 39, 15: 43, 16: 47, 22: 82}
_E192_KEPT = {185: 920}


@cache
def series(size: int) -> tuple[int, ...]:
    """The values of E3, E6, E12, E24 (two figures) or E48, E96, E192 (three figures).

    The rule: value k of series N is 10**(k/N), rounded, k = 0 … N-1; E48 and
    E96 are every fourth and every second value of E192, E3 … E12 of E24.
    Source: IEC 60063:2015. Raises ValueError for another size.

    >>> series(12)
    (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)
    """
    if size not in SIZES:
        raise ValueError(f"E{size} is no series of preferred numbers: E{', E'.join(map(str, SIZES))} are")
    full, figures, kept = (24, 10, _E24_KEPT) if size <= 24 else (192, 100, _E192_KEPT)
    values = [kept.get(k, round(figures * 10 ** (k / full))) for k in range(full)]
    return tuple(values[::full // size])


def nearest(value: float, size: int) -> float:
    """The preferred value nearest to `value` (above 0, any unit) by ratio.

    >>> nearest(319.0, 24), nearest(4700.0, 96)
    (330.0, 4750.0)
    """
    if not 0 < value < math.inf:
        raise ValueError(f"{value:g} has no preferred value near it: a value above 0 is expected")
    decade = math.floor(math.log10(value))
    figures = 1 if size <= 24 else 2
    candidates = (float(f"{number}e{power - figures}")
                  for power in (decade - 1, decade, decade + 1) for number in series(size))
    return min(candidates, key=lambda candidate: abs(math.log(candidate / value)))


def is_preferred(value: float, size: int) -> bool:
    """Whether a value is one of the series, in any decade.

    >>> is_preferred(4700.0, 24), is_preferred(4600.0, 24)
    (True, False)
    """
    return value > 0 and math.isclose(nearest(value, size), value, rel_tol=1e-6)


def at_least(value: float, size: int) -> float:
    """The least standard value not below `value` (> 0).

    >>> at_least(325.0, 24), at_least(330.0, 24), at_least(9.2e3, 24)
    (330.0, 330.0, 10000.0)
    """
    found = nearest(value, size)
    step = 10 ** (0.5 / size)
    while found < value * (1 - 1e-9):
        value *= step
        found = nearest(value, size)
    return found
