"""A deadline that cuts the judgement short never makes a verdict milder, nor a danger out of a safe board."""

import pytest
from verdict_boards import table

import netcheck
from netcheck.judging import forget_judged
from netcheck.simulation.operating_point import forget

SECONDS = (1e-6, 0.03)
"""Nothing is solved; on a fast machine some of the states are."""


def said(board, name, seconds):
    forget()
    forget_judged()
    return netcheck.check(netcheck.loads(board.text), mod=name, deadline_s=seconds).variants[-1].verdict


@pytest.mark.parametrize("seconds", SECONDS)
def test_a_dangerous_board_is_a_danger_or_unknown_however_short_the_time(seconds):
    dangerous = [(board, name) for board in table() for name, expected in board.variants.items()
                 if expected.verdicts == ("danger",)]
    assert len(dangerous) > 50
    wrong = [(board.name, name, verdict) for board, name in dangerous
             if (verdict := said(board, name, seconds)) not in ("danger", "unknown")]
    assert not wrong


def test_without_any_time_a_board_that_is_no_danger_is_unknown():
    others = [(board, name) for board in table() for name, expected in board.variants.items()
              if "danger" not in expected.verdicts]
    assert len(others) > 50
    wrong = [(board.name, name, verdict) for board, name in others
             if (verdict := said(board, name, SECONDS[0])) != "unknown"]
    assert not wrong
