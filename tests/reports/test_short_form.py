"""The short form names as many ways as there are lines for, and the best alone before none."""

from __future__ import annotations

import pytest

from netcheck.reports.text import _fitted, _Item

BOTH, BEST = ("What to do: Remove R1. Or: turn", "D1 round."), ("What to do: Remove R1.",)
ITEM = _Item("danger", ("DANGER   BT1",), (BOTH, BEST))


@pytest.mark.parametrize(("room", "advice"), [
    (3, BOTH), (2, BEST), (1, ())])
def test_of_several_ways_the_best_is_said_where_there_is_a_line_for_it_alone(room, advice):
    assert list(_fitted([ITEM], room, 60)) == ["DANGER   BT1", *advice]
