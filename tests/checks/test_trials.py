"""Changes on trial: judged once each, whatever their steps' order, and the best told before the others are known."""

from __future__ import annotations

import pytest
from test_proposal import BAD, CAREFUL, FRAGMENT, OK, judging, removal

from netcheck.checks.cures import tried
from netcheck.checks.trials import trials
from netcheck.fragment.model import Step
from netcheck.solving import beside

ONE, TWO, THREE = (removal(name).steps for name in ("R1", "R2", "R3"))


@pytest.fixture(autouse=True)
def all_here(monkeypatch):
    monkeypatch.setattr(beside, "_may_copy", lambda: False)


def test_what_comes_to_the_same_is_judged_once():
    judge, asked = judging(R1R2=CAREFUL)
    with trials(FRAGMENT, judge) as trying:
        assert trying.after((*ONE, *TWO)) == trying.after((*TWO, *ONE)) == trying.on(ONE).after(TWO) == CAREFUL
        assert trying.on(ONE).on(TWO).after((), failing=False) == CAREFUL
    assert asked == [("R1R2", True), ("R1R2", False)]


def test_steps_that_cannot_be_done_and_what_was_cut_short_lead_nowhere():
    gone = Step("remove", FRAGMENT.parts["R1"].mark, names=("R99",))
    with trials(FRAGMENT, judging()[0]) as trying:
        assert trying.after((gone,)) is None
        assert [after for _, after in trying.in_turn([(gone,), (gone,)], failing=False, what="")] == [None, None]


def test_what_is_expected_and_dropped_is_not_judged():
    judge, asked = judging(R1=OK, R2=OK, R3=OK)
    with trials(FRAGMENT, judge) as trying:
        trying.ahead(ONE, then=[trying.trial(TWO)])  # without a copy they are only expected
        trying.drop([ONE])
        assert trying.after(THREE) == OK
        assert trying.after(ONE) == OK
    assert asked == [("R3", True), ("R1", True)]


def test_the_best_is_told_as_soon_as_it_is_sure():
    remedies = [removal(name) for name in ("R1", "R2", "R3")]
    judge, asked = judging(R1=CAREFUL, R2=OK, R3=CAREFUL)
    with trials(FRAGMENT, judge) as trying:
        found = tried(FRAGMENT, BAD, remedies, trying)
        assert next(found)[0].remove == ("R2",)
        assert [gone for gone, failing in asked if failing] == ["R2"]
        assert [remedy.remove for remedy, _ in found] == [("R1",), ("R3",)]
    judge, asked = judging(R1=CAREFUL, R2=(CAREFUL, OK), R3=CAREFUL)  # with failures it is no better than the others
    with trials(FRAGMENT, judge) as trying:
        assert next(tried(FRAGMENT, BAD, remedies, trying))[0].remove == ("R2",)
        assert [gone for gone, failing in asked if failing] == ["R2", "R1", "R3"]
