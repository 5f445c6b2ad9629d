"""The smallest sets of parts without which nothing is driven into a cell."""

from __future__ import annotations

import pytest
from made_points import UNKNOWN, given

import netcheck
from netcheck.checks import stopping
from netcheck.checks.stopping import stopping_sets
from netcheck.solving.asking import answered
from netcheck.solving.solved_states import survey

BOARD = """
title: chargers
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 1k, between: [+5V, CHG]}
  D3: {diode: 1N4148, anode: CHG, cathode: CELL}
"""
SECOND = "  R2: {resistor: 10k, between: [+5V, CELL]}\n"


def stopped(text, *routes):
    found = survey(netcheck.loads(text))
    sets, whole = answered(stopping_sets(found, found.fragment.parts["BT1"], routes))
    return {tuple(sorted(one)) for one in sets}, whole


def test_one_part_of_the_only_way_is_enough():
    assert stopped(BOARD, ("R1", "D3")) == ({("R1",), ("D3",)}, True)


def test_a_way_that_was_not_known_is_found_with_the_first_removed():
    assert stopped(BOARD + SECOND, ("R1", "D3")) == ({("R1", "R2"), ("D3", "R2")}, True)
    assert stopped(BOARD + SECOND, ("R2",)) == ({("R1", "R2"), ("D3", "R2")}, True)


def test_up_to_three_parts_and_no_more():
    three = BOARD + SECOND + "  R3: {resistor: 10k, between: [+5V, CELL]}\n"
    assert stopped(three, ("R1", "D3")) == ({("R1", "R2", "R3"), ("D3", "R2", "R3")}, True)
    assert stopped(three + "  R4: {resistor: 10k, between: [+5V, CELL]}\n", ("R1", "D3")) == (set(), True)


def test_the_cell_itself_is_not_taken_out_and_another_may_be():
    text = BOARD.replace("  R1: {resistor: 1k, between: [+5V, CHG]}\n",
                         "  BT2: {cell: alkaline-3xAA, plus: CHG, minus: GND}\n")
    assert stopped(text, ("BT2", "D3", "BT1")) == ({("BT2",), ("D3",)}, True)


def test_what_cannot_be_taken_out_is_no_cure():
    text = BOARD.replace("R1: {resistor: 1k, between: [+5V, CHG]}",
                         "U3: {regulator: {output: 5 V, back: blocked}, input: +5V, output: CHG, ground: GND}")
    assert stopped(text.replace("{+5V: 5 V}", "{+5V: 9 V}"), ("U3", "D3")) == ({("D3",)}, True)


def test_a_search_that_is_cut_short_says_so(monkeypatch):
    monkeypatch.setattr(stopping, "_MOST_TRIED", 1)
    assert stopped(BOARD, ("R1", "D3")) == ({("R1",)}, False)


def test_where_it_could_not_be_solved_nothing_counts_as_stopped():
    found = survey(netcheck.loads(BOARD))
    (sets, whole), keys = given(stopping_sets(found, found.fragment.parts["BT1"], [("R1",)]),
                                lambda key, circuit: UNKNOWN)
    assert (sets, whole) == ((), True)
    assert {corner for _, _, corner in keys} == {
        corner.name for corner in found.corners.charging("BT1")}
    assert {state for _, state, _ in keys} == {"main on", "main off"}


@pytest.mark.parametrize("word", ["plugged", "unplugged"])
def test_states_without_the_cell_are_not_asked_about(word):
    found = survey(netcheck.loads(BOARD.replace("minus: GND}\n  R1", "minus: GND, plugged: maybe}\n  R1")))
    _, keys = given(stopping_sets(found, found.fragment.parts["BT1"], [("R1",)]), lambda key, circuit: UNKNOWN)
    assert any(f"BT1 {word}" in state for _, state, _ in keys) is (word == "plugged")
