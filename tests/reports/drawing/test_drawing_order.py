"""The search for the order of the columns."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.reports.drawing.order import Span, best_order, cost


def span(*bars: int) -> Span:
    touched = tuple(sorted(set(bars)))
    return Span(touched, tuple(b for b in range(touched[0], touched[-1]) if b not in touched))


_SPANS = st.lists(st.lists(st.integers(0, 5), min_size=1, max_size=3).map(lambda b: span(*b)), max_size=6)


@settings(max_examples=40, deadline=None)
@given(_SPANS)
def test_no_order_of_a_few_columns_is_better(spans: list[Span]) -> None:
    found = best_order(spans)
    assert sorted(found) == list(range(len(spans)))
    assert cost(found, spans) == min(cost(p, spans) for p in permutations(range(len(spans))))


@pytest.mark.parametrize("seed", [1, 2])
def test_the_same_input_gives_the_same_order(seed: int) -> None:
    spans = [span(i % 5, (3 * i) % 7) for i in range(40)]
    assert best_order(spans, seed=seed) == best_order(spans, seed=seed)


def test_a_charge_route_falls_to_the_right() -> None:
    spans = [span(2, 3), span(1, 2), span(0, 1)]
    assert best_order(spans, upstream=[(2, 1), (1, 0)]) == [2, 1, 0]


def test_search_beats_the_order_it_starts_from() -> None:
    spans = [span(i % 7, (i * i + 2) % 11) for i in range(20)]
    start = sorted(range(20), key=lambda c: (min(spans[c].touched), max(spans[c].touched), c))
    assert cost(best_order(spans), spans) < cost(start, spans)
