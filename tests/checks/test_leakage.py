"""What leaks into a primary cell, against what makers allow and the share of its capacity."""

from __future__ import annotations

import pytest

import netcheck
from netcheck.checks.leakage import hours_within
from netcheck.parts.catalogue import Catalogue

COIN = """
title: a coin cell behind its diode
rails: {+5V: 5 V ±5%}
conditions: CONDITIONS
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 1k, between: [CELL, HOLD]}
  D1: {diode: DIODE, anode: HOLD, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}
"""


def leaking(diode, conditions="{temperature: 10 to 50 °C}"):
    text = COIN.replace("DIODE", diode).replace("CONDITIONS", conditions)
    variant = netcheck.check(netcheck.loads(text)).variants[-1]
    return variant, [f for f in variant.findings if f.check == "leakage"]


def test_more_than_makers_allow_is_a_danger_with_its_state():
    """10 µA: Tadiran, safety page (UL 1642 and IEC 60086-4 measures)."""
    variant, (found,) = leaking("1N5817")
    assert str(found.severity) == "danger"
    assert found.figures["leakage_A"] > found.figures["limit_A"] == pytest.approx(10e-6)
    assert variant.dangerous_states == {"main on"}


def test_the_accepted_protections_are_ok_at_two_hours_a_day():
    for diode in ("1N4148", "BAS70"):
        variant, found = leaking(diode, "{temperature: 15 to 35 °C, powered: 2 h/day}")
        assert (variant.verdict, found) == ("ok", [])
        assert variant.cells["BT1"].hours_within["maximum"] > 2


def test_without_stated_hours_nothing_is_a_danger_because_of_hours():
    variant, found = leaking("BAT54", "{temperature: 50 °C}")
    assert variant.verdict == "caution"
    assert [str(finding.severity) for finding in found] == ["caution"]


def test_hours_within_the_share_by_hand():
    """3 % of 225 mAh over ten years of 365 days are 1.85 µAh a day, so 1 µA for 1.85 h (closed form)."""
    coin = Catalogue.standard().cell("CR2032")
    assert hours_within(1e-6, 0.0, 10, coin) == pytest.approx(0.03 * 0.225 / 3650 / 1e-6)
    assert hours_within(1e-9, 0.0, 10, coin) == 24
    assert hours_within(1e-6, 1e-6, 10, coin) == 0  # what leaks in while off alone is too much
    assert hours_within(None, 0.0, 10, coin) is None


def test_what_leaks_while_the_power_is_off_counts_in_those_hours():
    """A pack of 4.7 V leaks through BAT54 for the 23 hours off: more than for 1 hour on."""
    text = COIN.replace("DIODE", "BAT54").replace("CONDITIONS", "{powered: 1 h/day, years: 10}") + (
        "  BT2: {cell: alkaline-3xAA, plus: EXT, minus: GND}\n  D3: {diode: 1N4148, anode: EXT, cathode: VRAM}\n")
    cell = netcheck.check(netcheck.loads(text)).variants[-1].cells["BT1"]
    assert cell.leakage_share["typical"] > 0.03


def test_a_diode_of_which_nothing_is_known_makes_it_unknown():
    variant, (found,) = leaking("{points: [[1 mA, 0.6 V]]}")
    assert (variant.verdict, found.parts) == ("unknown", ("D1",))


def test_a_maximum_that_follows_a_curve_and_decides_is_told_to_be_no_guarantee():
    # 1N4148 data sheet, Vishay: 25 nA at most at 20 V and 25 °C; below that only its scattering limit is published
    # (document 85521, Fig. 4). Powered all day the guarantee would put in more than 3 % over ten years, the curve less.
    always = "{temperature: 10 to 50 °C, powered: 24 h/day, years: 10}"
    _, (found,) = leaking("1N4148", always)
    assert (found.case, str(found.severity), found.parts) == ("no-guarantee", "note", ("D1",))
    assert found.figures["share_maximum"] < 0.03 < found.figures["guaranteed_share"]
    assert found.figures["guaranteed_V"] == 20
    assert leaking("1N4148", "{temperature: 10 to 50 °C, powered: 2 h/day, years: 10}")[1] == []
    _, (beyond,) = leaking("BAT54", "{temperature: 10 to 50 °C, powered: 4 h/day, years: 10}")
    assert beyond.case == "worst-beyond-share"
    assert "Below 25 V the maximum of D1 follows a published curve" in beyond.message
    _, (plain,) = leaking("BAT42", "{temperature: 10 to 50 °C, powered: 4 h/day, years: 10}")
    assert "guarantee" not in plain.message
