"""In which order the columns stand: short bars, few crossings, charge routes falling to the right."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass

_CROSSING = 2.0
_UPSTREAM = 3.0
_WORK = 150_000


@dataclass(frozen=True, slots=True)
class Span:
    """The bars that one column touches, and the ones that its leads run across, by number from the top."""

    touched: tuple[int, ...]
    crossed: tuple[int, ...]


def best_order(spans: Sequence[Span], upstream: Sequence[tuple[int, int]] = (), seed: int = 1) -> list[int]:
    """Column numbers from left to right; the same input gives the same order.

    upstream: pairs of columns of which the first should stand left of the second.
    A local search by moving one column at a time, started from the columns
    sorted from the upper left to the lower right, then from seeded shuffles of
    the best order found, until its fixed allowance of work is spent.
    """
    chance = random.Random(seed)
    best = sorted(range(len(spans)), key=lambda c: (min(spans[c].touched), max(spans[c].touched), c))
    if len(spans) < 3:
        return best
    bars = 1 + max(bar for span in spans for bar in span.touched)
    size = sum(len(s.touched) + len(s.crossed) for s in spans) + len(upstream) + bars
    allowance = max(4 * len(spans), _WORK // size)
    lowest, spent = cost(best, spans, upstream), 0
    start = best
    while spent < allowance:
        found, price, used = _descend(start, spans, upstream, allowance - spent)
        spent += used
        if price < lowest:
            best, lowest = found, price
        start = _shaken(best, chance)
    return best


def cost(order: Sequence[int], spans: Sequence[Span], upstream: Sequence[tuple[int, int]] = ()) -> float:
    """Columns that the bars reach across, plus crossings, plus route steps that run to the left.

    >>> spans = [Span((0, 2), (1,)), Span((0, 1), ()), Span((1, 2), ())]
    >>> cost([0, 1, 2], spans), cost([1, 0, 2], spans)
    (4.0, 6.0)
    """
    place = [0] * len(order)
    for position, column in enumerate(order):
        place[column] = position
    first: dict[int, int] = {}
    last: dict[int, int] = {}
    for position, column in enumerate(order):
        for bar in spans[column].touched:
            first.setdefault(bar, position)
            last[bar] = position
    total = float(sum(last.values()) - sum(first.values()))
    for position, column in enumerate(order):
        for bar in spans[column].crossed:
            if bar in first and first[bar] < position < last[bar]:
                total += _CROSSING
    return total + sum(_UPSTREAM for left, right in upstream if place[left] > place[right])


def _descend(
    order: list[int], spans: Sequence[Span], upstream: Sequence[tuple[int, int]], allowance: int
) -> tuple[list[int], float, int]:
    """Move single columns to their best places until nothing gains or the allowance is spent."""
    lowest, used, gained = cost(order, spans, upstream), 1, True
    while gained and used < allowance:
        gained = False
        for column in list(order):
            rest = [c for c in order if c != column]
            for position in range(len(order)):
                trial = [*rest[:position], column, *rest[position:]]
                price = cost(trial, spans, upstream)
                used += 1
                if price < lowest:
                    order, lowest, gained = trial, price, True
            if used >= allowance:
                break
    return order, lowest, used


def _shaken(order: list[int], chance: random.Random) -> list[int]:
    shaken = list(order)
    for _ in range(max(2, len(order) // 4)):
        a, b = chance.randrange(len(shaken)), chance.randrange(len(shaken))
        shaken[a], shaken[b] = shaken[b], shaken[a]
    return shaken
