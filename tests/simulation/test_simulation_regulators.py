"""The regulator model state by state: regulation, dropout, limit, adjust pin open or grounded, light load, input off.

Formulas: Texas Instruments, LM317 data sheet SNVS774O (reference between output and adjust, VOUT = VREF·(1 + R2/R1) +
IADJ·R2; "if the load is below the minimum the output rises"), LM2941 data sheet SNVS770 (reference between adjust and
ground), TL431 data sheet SLVS543S (VKA = VREF·(1 + R1/R2) + IREF·R1).
"""

from __future__ import annotations

from itertools import product
from math import log

import pytest
from msgspec.structs import replace

from netcheck.parts.junction import thermal_V
from netcheck.simulation.elements import Battery, Circuit, Draw, OperatingPoint, Regulation, Resistance, Source
from netcheck.simulation.operating_point import solve

UPPER = Regulation("U1", "IN", "OUT", "ADJ", None, 1.25, "output-adjust", 1.5, 55e-6, limit_A=3.0)
LOWER = Regulation("U1", "IN", "OUT", "ADJ", "GND", 1.25, "adjust-ground", 0.5, 0.0, limit_A=2.0)
FIXED = Regulation("U1", "IN", "OUT", None, "GND", 5.0, "fixed", 2.0, limit_A=1.0)
SHUNT = Regulation("U1", "K", "GND", "REF", None, 2.495, "shunt", 0.0, 2e-6, limit_A=0.1)


def solved(*elements, temperature_C: float = 25.0) -> OperatingPoint:
    (point,) = solve([Circuit(tuple(elements), "GND", temperature_C)])
    assert point.problem is None
    assert not point.helped
    return point


def set_by(regulation: Regulation, top: float, bottom: float, *more, volts: float = 12.0) -> OperatingPoint:
    return solved(Source("V", "IN", "GND", volts), regulation, Resistance("R1", "OUT", "ADJ", top),
                  Resistance("R2", "ADJ", "GND", bottom), *more)


@pytest.mark.parametrize("amps", [0.0, 1e-3, 0.5, 1.9])
def test_it_holds_its_output_at_every_load(amps: float) -> None:
    load = Draw("U2", "OUT", "GND", amps)
    upper, lower = set_by(UPPER, 121.0, 200.0, load), set_by(LOWER, 620.0, 249.0, load)
    assert upper.volts["OUT"] == pytest.approx(1.25 * (1 + 200 / 121) + 55e-6 * 200, abs=1e-3)
    assert lower.volts["OUT"] == pytest.approx(1.25 * (1 + 620 / 249), abs=1e-3)
    assert upper.amps["U1"] == pytest.approx(amps + (upper.volts["OUT"] - upper.volts["ADJ"]) / 121, rel=1e-5)


@pytest.mark.parametrize(("regulation", "dropout"), [(UPPER, 1.5), (LOWER, 0.5)])
def test_it_drops_out_and_then_follows_its_input(regulation: Regulation, dropout: float) -> None:
    for volts in (4.0, 3.5, 3.0):
        point = set_by(regulation, 240.0, 720.0 if regulation is UPPER else 80.0, Draw("U2", "OUT", "GND", 0.5),
                       volts=volts)
        assert point.volts["OUT"] == pytest.approx(volts - dropout, abs=1e-3)


def test_past_its_limit_the_output_collapses_to_what_the_limit_carries() -> None:
    """A load of 1 Ω behind a limit of 3 A: 3 V; what is missing of the wanted volts adds a ten-thousandth in amps."""
    point = set_by(UPPER, 121.0, 364.0, Resistance("RL", "OUT", "GND", 1.0))
    divider = (point.volts["OUT"] - point.volts["ADJ"]) / 121
    assert point.amps["U1"] == pytest.approx(3.0, rel=1e-3)
    assert point.volts["OUT"] == pytest.approx(point.amps["U1"] - divider, rel=1e-6)


def test_a_constant_current_beyond_the_limit_has_an_answer_too() -> None:
    point = set_by(UPPER, 121.0, 200.0, Draw("U2", "OUT", "GND", 4.0))
    assert point.volts["OUT"] < 0.5
    assert point.amps["U1"] == pytest.approx(3.0, rel=2e-3)


@pytest.mark.parametrize("regulation", [UPPER, LOWER, replace(LOWER, adjust_A=40e-9)])
def test_an_adjust_pin_that_is_open_drives_the_output_up_to_the_input(regulation: Regulation) -> None:
    lifted = replace(regulation, adjust="U1.adjust")
    point = set_by(lifted, 240.0, 720.0, Draw("U2", "OUT", "GND", 0.1), volts=5.0)
    assert point.volts["OUT"] == pytest.approx(5.0 - regulation.dropout_V, abs=1e-2)


def test_an_open_adjust_pin_with_a_divider_inside_leaves_the_nominal_output() -> None:
    inner = replace(LOWER, adjust="U1.adjust", open_V=5.0)
    assert set_by(inner, 620.0, 249.0).volts["OUT"] == pytest.approx(5.0, abs=5e-3)
    outside = set_by(replace(LOWER, open_V=5.0), 620.0, 249.0)
    assert outside.volts["OUT"] == pytest.approx(1.25 * (1 + 620 / 249), abs=2e-3)


def test_a_grounded_adjust_pin_leaves_the_reference_or_drives_the_output_up() -> None:
    short = Resistance("S", "ADJ", "GND", 1e-3)
    assert set_by(UPPER, 121.0, 200.0, short).volts["OUT"] == pytest.approx(1.25, abs=1e-3)
    assert set_by(LOWER, 620.0, 249.0, short).volts["OUT"] == pytest.approx(11.5, abs=1e-2)


def test_below_its_minimum_load_the_output_rises_until_the_divider_takes_it() -> None:
    """5 mA that have nowhere to go but a divider of 240 Ω and 2 kΩ: 5 mA·2240 Ω + IADJ·2 kΩ."""
    light = set_by(replace(UPPER, idle_A=5e-3, adjust_A=50e-6), 240.0, 1500.0)
    assert light.volts["OUT"] == pytest.approx(1.25 * (1 + 1500 / 240) + 50e-6 * 1500, abs=2e-3)
    lighter = set_by(replace(UPPER, idle_A=5e-3, adjust_A=50e-6), 300.0, 1500.0)
    assert lighter.volts["OUT"] == pytest.approx(5e-3 * 1800 + 50e-6 * 1500, rel=1e-3)
    loaded = set_by(replace(UPPER, idle_A=5e-3, adjust_A=50e-6), 300.0, 1500.0, Draw("U2", "OUT", "GND", 5e-3))
    assert loaded.volts["OUT"] == pytest.approx(1.25 * 6 + 50e-6 * 1500, abs=2e-3)


def test_with_the_input_off_what_holds_the_output_up_flows_back_only_through_a_published_diode() -> None:
    """The diode: I = IS·exp(V/(kT/q)) behind 100 Ω, IS = 1e-14 A."""
    held = Battery("BT1", "OUT", "GND", 3.0, 100.0)
    blocked = set_by(UPPER, 1e6, 1e6, held, volts=0.0)
    assert abs(blocked.amps["U1"]) < 1e-10
    through = set_by(replace(UPPER, back=True), 1e6, 1e6, held, volts=0.0)
    amps = -through.amps["U1"]
    assert amps == pytest.approx((3.0 - through.volts["OUT"]) / 100, rel=1e-3)
    assert through.volts["OUT"] == pytest.approx(thermal_V(25.0) * log(amps / 1e-14), rel=1e-3)


def test_a_negative_regulator_is_the_mirror_image() -> None:
    regulation = replace(UPPER, idle_A=3e-3)
    for volts, amps in product((12.0, 4.0), (0.0, 0.5, 5.0)):
        above = set_by(regulation, 121.0, 364.0, Draw("U2", "OUT", "GND", amps), volts=volts)
        below = set_by(replace(regulation, negative=True), 121.0, 364.0, Draw("U2", "GND", "OUT", amps), volts=-volts)
        assert below.volts["OUT"] == pytest.approx(-above.volts["OUT"], rel=1e-5)
        assert below.amps["U1"] == pytest.approx(-above.amps["U1"], rel=1e-5)


def test_what_flows_out_of_a_ground_pin_lifts_the_output_of_a_fixed_one() -> None:
    """VO = VXX + (VXX/R1 + IQ)·R2, the resistors at the ground pin: application of the L78 sheet, ST, Doc ID 2143."""
    lifted = replace(FIXED, ground="G", ground_A=8e-3)
    point = solved(Source("V", "IN", "GND", 12.0), lifted, Resistance("R1", "OUT", "G", 500.0),
                   Resistance("R2", "G", "GND", 100.0))
    assert point.volts["OUT"] == pytest.approx(5 + (5 / 500 + 8e-3) * 100, abs=2e-3)


def test_a_shunt_reference_takes_what_its_volts_need() -> None:
    point = solved(Source("V", "IN", "GND", 12.0), Resistance("RS", "IN", "K", 1e3), SHUNT,
                   Resistance("R1", "K", "REF", 10e3), Resistance("R2", "REF", "GND", 10e3))
    assert point.volts["K"] == pytest.approx(2.495 * 2 + 2e-6 * 10e3, abs=1e-3)
    through_divider = (point.volts["K"] - 2.495) / 10e3
    assert point.amps["U1"] == pytest.approx((12 - point.volts["K"]) / 1e3 - through_divider, rel=1e-3)
    starved = solved(Source("V", "IN", "GND", 2.0), Resistance("RS", "IN", "K", 1e3), SHUNT,
                     Resistance("R1", "K", "REF", 10e3), Resistance("R2", "REF", "GND", 10e3))
    assert starved.volts["K"] == pytest.approx(2.0 * 20 / 21, abs=0.02)
    assert abs(starved.amps["U1"]) < 1e-9


def test_two_in_a_chain() -> None:
    first = replace(FIXED, name="U3", output="MID")
    point = solved(Source("V", "IN", "GND", 12.0), first, replace(UPPER, input="MID"),
                   Resistance("R1", "OUT", "ADJ", 121.0), Resistance("R2", "ADJ", "GND", 200.0),
                   Draw("U2", "OUT", "GND", 0.8))
    assert point.volts["MID"] == pytest.approx(5.0, abs=1e-3)
    assert point.volts["OUT"] == pytest.approx(1.25 * (1 + 200 / 121) + 55e-6 * 200, abs=1e-3)
    assert point.amps["U3"] == pytest.approx(point.amps["U1"] + 55e-6, rel=1e-5)
