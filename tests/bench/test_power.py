"""What the check calls a danger is not powered: neither at rest nor in the settings of a regulator."""

from __future__ import annotations

import pytest

import netcheck
from netcheck.bench.probe_sheet import probe_sheet
from netcheck.judging import judge
from netcheck.reports.bench_text import sheet_text
from netcheck.reports.sheet import ends

BOARD = """title: A supply with two settings (invented)
rails: {+12V: 12 V ±5%}
parts:
  U1: {regulator: LM317, input: +12V, output: VA, adjust: ADJ, heatsink: 10 K/W}
  R1: {resistor: 240 ±1%, between: [VA, ADJ]}
  R2: {resistor: 750 ±1%, between: [ADJ, T1]}
  R3: {resistor: 560 ±1%, between: [T1, GND]}
  JP1: {jumper: [T1, GND], set: closed}
  C1: {capacitor: 22u, CAPACITOR}
  R9: {resistor: 560, between: [VA, GND]}
  U3: {load: {draws: 0.1 A at 5 V, most: 0.15 A}, plus: VA, minus: GND, works: 4.5 V to 9 V, survives: 12 V}
states: {on: {main: on}, off: {main: off}}
"""


def board(capacitor, more=""):
    return netcheck.loads(BOARD.replace("CAPACITOR", capacitor).replace("states:", f"{more}states:"))


def sheet_of(fragment):
    found = judge(fragment, cured=False)
    return probe_sheet(fragment, dangers=found.dangers, regulators=found.regulators)


def powered(sheet):
    return [probe.what_for for probe in sheet.probes if not probe.measurement.what.unpowered]


def test_settings_of_a_regulator_are_not_powered_with_a_capacitor_the_wrong_way_round():
    sheet = sheet_of(board("type: tantalum, rated: 25 V, plus: GND, minus: +12V"))
    assert powered(sheet) == []
    assert "C1" in sheet.stopped
    assert ends(sheet) == "Here the sheet ends: the power stays off"
    assert "Take C1 out first" in " ".join(sheet_text(sheet).split())


def test_a_setting_beyond_the_rating_of_a_capacitor_is_left_out_with_what_has_to_come_out_first():
    """5.2 V with the link closed, 8.1 V with it open."""
    sheet = sheet_of(board("type: wet, rated: 6.3 V, plus: VA, minus: GND"))
    assert powered(sheet) == ["JP1 closed"]
    (told,) = [one for one in sheet.left_out if "JP1 open" in one]
    assert "Take C1 out first" in told
    assert powered(sheet_of(board("type: wet, rated: 16 V, plus: VA, minus: GND")))[:2] == ["JP1 closed", "JP1 open"]


def test_a_danger_that_is_told_second_keeps_the_power_off_too():
    """The cell that is charged would let its empty holder be probed; the tantalum does not."""
    cell = "  BT1: {cell: CR2032, plus: BP, minus: GND}\n  R8: {resistor: 1k, between: [VA, BP]}\n"
    right, wrong = (sheet_of(board(f"type: tantalum, rated: 25 V, {ends}", cell)) for ends in (
        "plus: +12V, minus: GND", "plus: GND, minus: +12V"))
    assert "BT1 holder" in powered(right)
    assert powered(wrong) == []
    assert wrong.stopped.index("BT1") < wrong.stopped.index("C1")


def test_a_sheet_ends_with_the_danger_that_the_check_tells_first():
    fragment = netcheck.loads("""title: A coin cell on a charger (invented)
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 1k, between: [+5V, T]}
  JP1: {jumper: [T, CELL], set: open}
""")
    found = judge(fragment, cured=False)
    sheet = sheet_of(fragment)
    assert len(found.dangers) > 1
    assert sheet.stopped.startswith(found.dangers[0].message)
    assert ends(sheet) == "Here the sheet ends: no cell goes in"


PACK = """
title: a pack behind its charging resistor
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: NiCd-3x60, plus: PACK, minus: GND}
  R1: {resistor: OHM, between: [+5V, CHG]}
  D1: {diode: 1N4148, anode: CHG, cathode: PACK}
"""


@pytest.mark.parametrize(("ohm", "harmed"), [("510", False), ("47", True)])
def test_what_flows_into_a_short_is_held_to_what_a_full_pack_takes_only_where_that_takes_too_much(ohm, harmed):
    """(5 - 0.8) V / 510 ohm = 8.2 mA into a short, (5 - 0.7 - 4.05) V / 510 ohm = 0.5 mA into the pack."""
    fragment = netcheck.loads(PACK.replace("OHM", ohm))
    found = netcheck.check(fragment).variants[0]
    sheet = probe_sheet(fragment, dangers=found.dangers)
    (short,) = [one for one in sheet.probes if one.unit == "A" and "holder" in one.what_for]
    assert (bool(found.dangers), short.limit is not None) == (harmed, harmed)
