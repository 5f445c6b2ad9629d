"""The verdicts of the main job, on the examples and on circuits whose answer is plain."""

from __future__ import annotations

from pathlib import Path

import pytest

import netcheck

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def rack():
    report = netcheck.check(netcheck.load(EXAMPLES / "rack-sampler.yaml"), every=True)
    return {variant.name: variant for variant in report.variants}


def found(text):
    return netcheck.check(netcheck.loads(text)).variants[-1]


def said(variant, check, severity=None):
    return [f for f in variant.findings if f.check == check and severity in (None, str(f.severity))]


def test_the_pack_as_found_is_charged_within_its_window(rack):
    variant = rack["as found"]
    assert variant.verdict in ("ok", "caution")
    assert variant.cells["BT1"].shorts_to_charge == 0
    assert not variant.cells["BT1"].primary


def test_the_plain_swap_charges_a_lithium_cell(rack):
    variant = rack["plain-swap"]
    assert variant.verdict == "danger"
    (finding,) = said(variant, "charge-route", "danger")
    assert finding.parts == ("R1", "D3")
    assert finding.line == variant.findings[0].line
    cell = variant.cells["BT1"]
    assert cell.charge_A > 1e-3
    assert {("R1",), ("D3",)} <= {remedy.remove for remedy in cell.remedies}


def test_the_right_swap_holds(rack):
    variant = rack["coin-cell"]
    assert variant.verdict == "ok", [f.message for f in variant.findings if str(f.severity) != "note"]
    cell, load = variant.cells["BT1"], variant.loads["U1"]
    assert cell.shorts_to_charge == 1
    assert cell.fault.amps < 10e-3
    assert cell.life.years > 8
    assert load.carried_by_cell[0] == "stored"
    assert "running" not in load.carried_by_cell


def test_life_is_the_curve_walked_down_and_not_capacity_over_current(rack):
    cell = rack["coin-cell"].cells["BT1"]
    naive = 0.22 / (cell.drain_A["stored"] * 8760)
    assert cell.life.years < naive


def test_without_a_chance_to_charge_there_is_no_route():
    variant = found("""
title: a cell by itself
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  U1: {load: 2 uA, plus: CELL, minus: GND, works: 2.0 V to 3.6 V}
  U2: {load: 1 mA, plus: +5V, minus: GND}
""")
    cell = variant.cells["BT1"]
    assert cell.shorts_to_charge is None
    assert cell.routes == ()
    assert cell.charge_A == 0


def test_a_leaky_schottky_beyond_the_makers_share_is_danger():
    variant = found("""
title: power Schottky
rails: {+5V: 5 V}
conditions: {temperature: 50 °C}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N5817, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
""")
    assert variant.verdict == "danger"
    assert said(variant, "leakage", "danger")


def test_a_rail_schottky_that_drains_the_cell_is_told():
    variant = found("""
title: drains backwards
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  D2: {diode: 1N5817, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
""")
    (finding,) = said(variant, "back-feed")
    assert "D2" in finding.parts


def test_over_voltage_of_a_load():
    """DS1307 VBAT at most 3.5 V: Maxim/Dallas, DS1307 datasheet, recommended operating conditions."""
    variant = found("""
title: too much
rails: {+5V: 5 V}
parts:
  BT1: {cell: ER14250, plus: CELL, minus: GND}
  U1: {load: DS1307, plus: CELL, minus: GND}
  U2: {load: 1 mA, plus: +5V, minus: GND}
""")
    assert said(variant, "over-voltage", "danger")


def test_a_load_below_its_minimum_is_danger():
    variant = found("""
title: too little
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 1M, between: [CELL, VRAM]}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
""")
    assert said(variant, "backup-voltage", "danger")


def test_a_cell_above_the_rail_carries_the_load_while_live():
    variant = found("""
title: hand-over
rails: {+3V3: 3.3 V}
parts:
  BT1: {cell: ER14250, plus: CELL, minus: GND}
  D1: {diode: BAT85, anode: CELL, cathode: VRTC}
  D2: {diode: 1N4148, anode: +3V3, cathode: VRTC}
  U1: {load: 10 uA, plus: VRTC, minus: GND, works: 2.0 V to 3.6 V}
""")
    assert said(variant, "hand-over")
    assert "main on" in variant.loads["U1"].carried_by_cell


@pytest.mark.parametrize(("cell", "resistor", "severity"), [
    ("ML2032", "1k", "danger"),      # ends far above 3.3 V (Intersil TB456.0: permanent damage above it)
    ("NiCd-3x60", "2k2", None),
    ("NiCd-3x60", "33", "danger"),   # far above C/10 for good
])
def test_rechargeables_are_judged_by_their_window(cell, resistor, severity):
    variant = found(f"""
title: charger
rails: {{+5V: 5 V}}
parts:
  BT1: {{cell: {cell}, plus: CELL, minus: GND}}
  R1: {{resistor: {resistor}, between: [+5V, CHG]}}
  D3: {{diode: 1N4148, anode: CHG, cathode: CELL}}
""")
    dangers = said(variant, "charger", "danger")
    assert bool(dangers) is (severity == "danger")


def test_a_supercapacitor_holds_up_as_long_as_its_charge():
    """0.33 F at 10 µA: 33 000 s a volt (t = C dV / I)."""
    variant = found("""
title: hold-up
rails: {+5V: 5 V}
conditions: {temperature: 25 °C}
parts:
  BT1: {cell: supercap-0.33F, plus: CELL, minus: GND}
  R1: {resistor: 100, between: [+5V, CHG]}
  D3: {diode: 1N4148, anode: CHG, cathode: CELL}
  U1: {load: 10 uA, plus: CELL, minus: GND, works: 2.0 V to 5.5 V}
""")
    cell = variant.cells["BT1"]
    seconds = cell.life.years * 8760 * 3600
    assert seconds == pytest.approx(33_000 * (cell.end_of_charge_V - 2.0), rel=0.05)


def test_the_external_pack_past_the_blocking_diode():
    report = netcheck.check(netcheck.load(EXAMPLES / "terminal.yaml"), every=True)
    before, after = report.variants
    assert before.verdict == "danger"
    both = said(before, "charge-route", "danger")  # the pack charges the cell, and a flat pack is charged by it
    assert {finding.subject for finding in both} == {"BT1", "BT2"}
    assert all("R1" in finding.parts for finding in both)
    assert after.cells["BT1"].shorts_to_charge != 0


def test_one_resistor_both_ways_is_cured_by_a_diode():
    report = netcheck.check(netcheck.load(EXAMPLES / "clock-card.yaml"), mod="coin-cell")
    cell = report.variants[-1].cells["BT1"]
    assert report.variants[-1].verdict == "danger"
    assert not any(remedy.remove for remedy in cell.remedies)
    assert {"BT1.plus", "R1"} <= {remedy.insert_diode for remedy in cell.remedies}


def test_the_switched_backup_is_safe_only_without_its_charger():
    report = netcheck.check(netcheck.load(EXAMPLES / "logger.yaml"), every=True)
    mod = report.variants[-1]
    assert mod.cells["BT1"].shorts_to_charge == 1
    assert "Q1" in mod.cells["BT1"].shorts
    assert mod.loads["U1"].volts["stored"] > 2.5


def test_a_missing_simulator_leaves_the_graph_and_nothing_called_ok(monkeypatch):
    monkeypatch.setattr("netcheck.checks.survey.available", lambda: "the simulator library is not installed")
    report = netcheck.check(netcheck.load(EXAMPLES / "rack-sampler.yaml"), every=True)
    assert {variant.verdict for variant in report.variants} == {"unknown"}
    swap = report.variants[1].cells["BT1"]
    assert swap.shorts_to_charge == 0
    assert {("R1",), ("D3",)} <= {remedy.remove for remedy in swap.remedies}
    assert not report.safe


def test_two_blocking_diodes_alike_have_a_midpoint_all_the_same():
    """Two equal leakages in series leave the net between them to next to nothing; it must be solved, or told."""
    variant = found("""
title: two in series
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: MID}
  D3: {diode: 1N4148, anode: MID, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 1.8 V to 5.5 V}
""")
    assert not said(variant, "simulation", "unknown")
    assert variant.cells["BT1"].shorts_to_charge == 2
    assert variant.cells["BT1"].charge_A < 100e-9


def test_leakage_that_nothing_is_said_of_is_unknown():
    variant = found("""
title: no leakage stated
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: {points: [[1 mA, 0.62 V]]}, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
""")
    assert said(variant, "leakage", "unknown")
    assert variant.verdict == "unknown"
