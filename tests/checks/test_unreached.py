"""What a change cannot reach: what is found there stays, so that nothing that could lead no further is tried."""

from __future__ import annotations

import pytest
from test_proposal import FRAGMENT, judging, on_trial, removal

import netcheck
from netcheck.checks.cures import tried
from netcheck.checks.results import VariantResult
from netcheck.checks.standing import RANK
from netcheck.checks.unreached import best_rank, reached
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Step
from netcheck.solving import beside

BOARD = netcheck.loads("""
title: two sections and a part between supplies
rails: {+5V: 5 V, +12V: {volts: 12 V, when_off: open}}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  R1: {resistor: 1k, between: [+5V, A]}
  R2: {resistor: 1k, between: [A, GND]}
  R3: {resistor: 1k, between: [+12V, B]}
  R4: {resistor: 1k, between: [+12V, GND]}
mods:
  out: {steps: [{remove: [R1]}]}
  beside: {steps: [{fit: {R9: {resistor: 1k, between: [VRAM, GND]}}}]}
  between: {steps: [{fit: {R9: {resistor: 1k, between: [VRAM, A]}}}]}
  moved: {steps: [{move: {R2.2: B}}]}
  joined: {steps: [{join: [CELL, VRAM]}]}
""")


@pytest.fixture(autouse=True)
def all_here(monkeypatch):
    monkeypatch.setattr(beside, "_may_copy", lambda: False)


@pytest.mark.parametrize(("mod", "parts"), [
    ("out", {"R1", "R2"}), ("beside", {"BT1", "D1"}), ("between", {"BT1", "D1", "R1", "R2"}),
    ("moved", {"R1", "R2", "R3", "R4"}), ("joined", {"BT1", "D1"}),
])
def test_a_change_reaches_the_sections_of_its_parts_and_of_the_nets_that_they_come_to(mod, parts):
    """R3 and R4 meet at a rail that is left alone while it is off; what meets only at +5V and ground does not."""
    assert reached(BOARD, BOARD.mods[mod].steps) == parts


def found(*findings):
    return VariantResult(name="x", findings=tuple(
        Finding("backup-voltage", severity, subject, case="not-stated", parts=parts)
        for severity, subject, *parts in findings), loads={}, cells={})


def test_the_best_that_a_change_can_lead_to_is_the_gravest_that_it_does_not_reach():
    result = found((Severity.DANGER, "R1"), (Severity.FAILS, "BT1"), (Severity.CAUTION, "R3"), (Severity.NOTE, "R4"))
    steps = BOARD.mods["out"].steps
    assert RANK[best_rank(BOARD, result, steps)] == "fails"
    assert RANK[best_rank(BOARD, result, BOARD.mods["between"].steps)] == "caution"
    assert RANK[best_rank(BOARD, found((Severity.DANGER, "BT1", "R2"), (Severity.NOTE, "R3")), steps)] == "ok"
    assert RANK[best_rank(BOARD, found((Severity.DANGER, "VRAM")), steps)] == "ok"  # of a net nothing is said


ELSEWHERE = (Severity.UNKNOWN, "BT1")
BEFORE, AFTER = found(ELSEWHERE, (Severity.CAUTION, "R4")), found(ELSEWHERE)


def asked_for(remedies, offered, before=BEFORE, **by_removed):
    judge, asked = judging(**by_removed)
    best = [remedy.remove[0] for remedy, _ in tried(FRAGMENT, before, remedies, on_trial(judge), offered=offered)]
    return best, [gone for gone, failing in asked if not failing]


def test_where_the_best_alone_is_wanted_nothing_is_tried_that_could_lead_no_further():
    remedies = [removal("R1"), removal("R2"), removal("R3")]
    ends = {"R1": AFTER, "R2": AFTER, "R3": AFTER}
    assert asked_for(remedies, 1, **ends) == (["R1"], ["R1"])
    assert asked_for(remedies, 2, **ends)[1] == ["R1", "R2", "R3"]
    here = found((Severity.UNKNOWN, "R4"), (Severity.CAUTION, "R4"))  # where they reach it, each is tried
    assert asked_for(remedies, 1, here, **ends | {"R3": found()}) == (["R3"], ["R1", "R2", "R3"])


def test_what_takes_fewer_joints_or_reaches_what_is_grave_is_tried_all_the_same():
    both = removal("R1", "R2")
    assert asked_for([both, removal("R3")], 1, R1R2=AFTER, R3=AFTER) == (["R3"], ["R1R2", "R3"])
    assert asked_for([removal("R1"), removal("D1")], 1, R1=AFTER, D1=found()) == (["D1"], ["R1", "D1"])


def test_what_was_left_out_is_tried_where_the_first_does_not_hold_with_single_failures():
    harmful = found(ELSEWHERE, (Severity.CAUTION, "R4"), (Severity.CAUTION, "R3"))
    assert asked_for([removal("R1"), removal("R2")], 1, R1=(harmful, AFTER), R2=AFTER) == (["R2"], ["R1", "R2"])


def test_a_setting_reaches_the_section_of_what_is_set():
    board = netcheck.loads("title: t\nrails: {+5V: 5 V}\nparts:\n  JP1: {jumper: [A, GND]}\n"
                           "  R1: {resistor: 1k, between: [+5V, A]}\n  R2: {resistor: 1k, between: [+5V, GND]}\n")
    step = Step("set", board.parts["JP1"].mark, settings={"JP1": "on"})
    assert reached(board, (step,)) == {"JP1", "R1"}
