"""A cell that a rail drives on when it is flat is in danger."""

from __future__ import annotations

import pytest

import netcheck

REVERSED = """
title: a holder the wrong way round
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: GND, minus: CELL}
  R5: {resistor: 2.2k, between: [+5V, CELL]}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}
"""


def reversals(text):
    variant = netcheck.check(netcheck.loads(text)).variants[-1]
    return variant, [f for f in variant.findings if f.check == "reversal"]


def test_a_cell_in_series_with_a_rail_is_driven_into_reversal():
    """Flat, 5.25 V over 2.2 kΩ and the 45 Ω of a flat cell still drive 2.3 mA (closed form)."""
    variant, (found,) = reversals(REVERSED)
    assert variant.verdict == "danger"
    assert found.figures["reversed_A"] == pytest.approx(5.25 / 2245, rel=0.01)
    assert variant.dangerous_states == {"main on"}


def test_a_cell_that_only_gives_to_its_load_is_not():
    text = REVERSED.replace("plus: GND, minus: CELL", "plus: CELL, minus: GND").replace(
        "R5: {resistor: 2.2k, between: [+5V, CELL]}", "R5: {resistor: 2.2k, between: [CELL, VRAM]}")
    assert reversals(text)[1] == []


def test_leakage_drives_nothing_into_reversal():
    text = REVERSED.replace("R5: {resistor: 2.2k, between: [+5V, CELL]}",
                            "D5: {diode: 1N4148, anode: CELL, cathode: +5V}")
    assert reversals(text)[1] == []


IN_A_ROW = """
title: two in a row
parts:
  BT1: {cell: CR2032, plus: CELL, minus: CM}
  BT2: {cell: OTHER, plus: CM, minus: GND}
  R6: {resistor: 1k, between: [CELL, VRAM]}
  U1: {load: 2 mA, plus: VRAM, minus: GND, works: 1.5 V to 9 V}
"""


def gravity(text):
    """Subject to severity of what is said of reversal."""
    found = reversals(text)[1]
    assert all({"BT1", "BT2"} <= {one.subject, *one.parts} for one in found)
    return {one.subject: str(one.severity) for one in found}


def test_two_cells_alike_in_series_are_a_caution():
    assert gravity(IN_A_ROW.replace("OTHER", "CR2032")) == {"BT1": "caution", "BT2": "caution"}


def test_a_cell_in_series_with_one_that_outlasts_it_is_a_danger():
    """225 mAh of a CR2032 are gone long before the 2 Ah and more of three AA cells, whose 4.5 V then reverse it."""
    found = gravity(IN_A_ROW.replace("OTHER", "alkaline-3xAA"))
    assert found["BT1"] == "danger"
    assert found.get("BT2", "caution") == "caution"


def test_a_used_cell_among_fresh_ones_is_a_danger():
    text = IN_A_ROW.replace("OTHER", "CR2032").replace("minus: CM}", "minus: CM, voltage: 2.5 V}")
    assert gravity(text)["BT1"] == "danger"
