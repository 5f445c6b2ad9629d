"""A pack that holds a supply down: what its load gets when it is pulled."""

from __future__ import annotations

import pytest

import netcheck

CLAMPED = """
title: a pack is the clamp
rails: {+12V: 12 V ±5%}
parts:
  BT1: {cell: NiCd-3x60, plus: CELL, minus: GND}
  R1: {resistor: 8.2k, between: [+12V, CHG]}
  D3: {diode: 1N4148, anode: CHG, cathode: CELL}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
"""


def clamps(text):
    report = netcheck.check(netcheck.loads(text))
    return report.variants[-1], [f for f in report.variants[-1].findings if f.check == "clamp"]


def test_as_found_it_is_a_caution_with_the_volts():
    """12.6 V less two diodes that carry 2 µA is some 11.9 V (hot, high supply)."""
    variant, (found,) = clamps(CLAMPED)
    assert (str(found.severity), variant.verdict) == ("caution", "caution")
    assert found.figures["volts_V"] == pytest.approx(12.0, abs=0.4)
    assert found.parts == ("BT1", "U1")


def test_a_zener_that_clamps_in_its_place_silences_it():
    assert clamps(CLAMPED + "  D9: {diode: BZX55C5V1, anode: GND, cathode: VRAM}\n")[1] == []


def test_a_load_of_which_nothing_is_stated_cannot_be_judged():
    assert clamps(CLAMPED.replace(", works: 2.0 V to 5.5 V", ""))[1] == []


def test_a_coin_cell_in_its_place_is_a_danger():
    variant, _ = clamps(CLAMPED + "mods: {swap: {steps: [{replace: {BT1: {cell: CR2032}}}]}}\n")
    assert variant.verdict == "danger"
