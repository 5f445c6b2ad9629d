"""What a change cannot reach: what is found there stays, so that nothing that could lead no further is tried."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from test_proposal import on_trial
from test_results import LOAD

import netcheck
from netcheck.checks.cures import tried
from netcheck.checks.results import VariantResult
from netcheck.checks.standing import RANK
from netcheck.checks.unreached import best_rank, reached
from netcheck.conduction.remedies import Remedy, removal_steps
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
  R5: {resistor: 1k, between: [+5V, C]}
  D5: {diode: 1N4148, anode: C, cathode: GND}
  R6: {resistor: 1k, between: [+5V, E]}
  R7: {resistor: 1k, between: [E, GND]}
  U9: {chip: unknown, pins: {1: E}}
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
    result = found((Severity.DANGER, "R1"), (Severity.FAILS, "R5"), (Severity.CAUTION, "R3"), (Severity.NOTE, "R4"))
    steps = BOARD.mods["out"].steps
    assert RANK[best_rank(BOARD, result, steps)] == "fails"
    assert RANK[best_rank(BOARD, result, BOARD.mods["moved"].steps)] == "fails"
    assert RANK[best_rank(BOARD, found((Severity.DANGER, "R3"), (Severity.CAUTION, "R5")), steps)] == "danger"
    assert RANK[best_rank(BOARD, found((Severity.DANGER, "R5", "R2"), (Severity.NOTE, "R3")), steps)] == "ok"
    assert RANK[best_rank(BOARD, found((Severity.DANGER, "C")), steps)] == "ok"  # of a net nothing is said


def test_what_is_found_beside_a_cell_or_of_a_chip_may_change_with_what_is_done_elsewhere():
    """What loads a cell for good counts all loads; whether a chip matters goes by what it touches."""
    for subject in ("BT1", "D1", "U9"):
        assert RANK[best_rank(BOARD, found((Severity.UNKNOWN, subject)), BOARD.mods["out"].steps)] == "ok", subject


ELSEWHERE = (Severity.UNKNOWN, "D5")
BEFORE, AFTER = found(ELSEWHERE, (Severity.CAUTION, "R4")), found(ELSEWHERE)


def removal(*names):
    return Remedy(removal_steps(BOARD, names), remove=names)


def asked_for(remedies, offered, before=BEFORE, **by_removed):
    """The best that were offered, and what was tried without single failures; with them the first of two is found."""
    asked = []

    def judge(fragment, failing):
        gone = "".join(name for name in BOARD.parts if name not in {part.name for part in fragment.fitted})
        if not failing:
            asked.append(gone)
        end = by_removed[gone]
        return end[not failing] if isinstance(end, tuple) else end

    best = [remedy.remove[0] for remedy, _ in tried(BOARD, before, remedies, on_trial(judge, BOARD), offered=offered)]
    return best, asked


def test_where_the_best_alone_is_wanted_nothing_is_tried_that_could_lead_no_further():
    remedies = [removal("R1"), removal("R2"), removal("R3")]
    ends = {"R1": AFTER, "R2": AFTER, "R3": AFTER}
    assert asked_for(remedies, 1, **ends) == (["R1"], ["R1"])
    assert asked_for(remedies, 2, **ends)[1] == ["R1", "R2", "R3"]
    here = found((Severity.UNKNOWN, "R2"), (Severity.CAUTION, "R4"))  # where they reach it, each is tried
    assert asked_for(remedies[:2], 1, here, R1=found((Severity.UNKNOWN, "R2")), R2=found()) == (["R2"], ["R1", "R2"])


def test_what_takes_fewer_joints_or_reaches_what_is_grave_is_tried_all_the_same():
    both = removal("R1", "R2")
    assert asked_for([both, removal("R3")], 1, R1R2=AFTER, R3=AFTER) == (["R3"], ["R1R2", "R3"])
    assert asked_for([removal("R1"), removal("D5")], 1, R1=AFTER, D5=found()) == (["D5"], ["R1", "D5"])


def test_what_leaves_a_load_without_its_rail_does_not_end_the_trying():
    fed = VariantResult(name="x", findings=BEFORE.findings, loads={"U1": replace(LOAD, fed_by_rail=("on",))}, cells={})
    unfed = replace(fed, findings=AFTER.findings, loads={"U1": replace(LOAD, fed_by_rail=())})
    still = replace(fed, findings=AFTER.findings)
    assert asked_for([removal("R1"), removal("R2")], 1, fed, R1=unfed, R2=still)[1] == ["R1", "R2"]


def test_what_was_left_out_is_tried_where_the_first_does_not_hold_with_single_failures():
    harmful = found(ELSEWHERE, (Severity.CAUTION, "R4"), (Severity.CAUTION, "R3"))
    assert asked_for([removal("R1"), removal("R2")], 1, R1=(harmful, AFTER), R2=AFTER) == (["R2"], ["R1", "R2"])


def test_a_setting_reaches_the_section_of_what_is_set():
    board = netcheck.loads("title: t\nrails: {+5V: 5 V}\nparts:\n  JP1: {jumper: [A, GND]}\n"
                           "  R1: {resistor: 1k, between: [+5V, A]}\n  R2: {resistor: 1k, between: [+5V, GND]}\n")
    step = Step("set", board.parts["JP1"].mark, settings={"JP1": "on"})
    assert reached(board, (step,)) == {"JP1", "R1"}
