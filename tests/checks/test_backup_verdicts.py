"""The verdicts of the main job, on the examples and on circuits whose answer is plain."""

from __future__ import annotations

from pathlib import Path

import pytest

import netcheck
from netcheck.checks.charging import charging, charging_findings
from netcheck.checks.shorts import Shorts, shorts_to_charge
from netcheck.fragment.mods import apply
from netcheck.solving.asking import answered
from netcheck.solving.failures import failures, single_faults
from netcheck.solving.solved_states import survey

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
    lines = (EXAMPLES / "rack-sampler.yaml").read_text(encoding="utf-8").splitlines()
    assert "replace: {BT1: {cell: CR2032}}" in lines[finding.line - 1]
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


def test_a_load_below_its_minimum_fails():
    variant = found("""
title: too little
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 1M, between: [CELL, VRAM]}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
""")
    assert said(variant, "backup-voltage", "fails")


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
    """0.33 F at 10 µA and 3.06 µA of its own: 25 300 s a volt (t = C dV / I).

    Its own leakage from the voltage holding test of JIS C 5160-1: 5.0 to 4.2 V in 24 h.
    """
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
    assert seconds == pytest.approx(25_300 * (cell.end_of_charge_V - 2.0), rel=0.05)


def test_the_external_pack_past_the_blocking_diode():
    terminal = netcheck.load(EXAMPLES / "terminal.yaml")
    before, after = survey(terminal), survey(apply(terminal, "without-the-link"))
    # the pack charges the cell, and a flat pack is charged by it
    both = [one for cell in before.cells()
            for one in charging_findings(before, cell, charging(before, cell, []), Shorts(0))]
    assert {(one.subject, str(one.severity)) for one in both} == {("BT1", "danger"), ("BT2", "danger")}
    assert all("R1" in one.parts for one in both)
    assert not charging(after, after.fragment.parts["BT1"], []).charged


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
    monkeypatch.setattr("netcheck.solving.solved_states.available", lambda: "the simulator library is not installed")
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


SINGLE = """
title: one blocking diode
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: BAS70, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}
"""


def test_the_fault_current_is_that_of_the_worst_age_of_the_cell():
    """What a wire in the diode's place lets through is what its failing short lets through."""
    failed = found(SINGLE).cells["BT1"].fault.amps
    wired = found(SINGLE.replace("D1: {diode: BAS70, anode: CELL, cathode: VRAM}",
                                 "R1: {resistor: 1m, between: [CELL, VRAM]}")).cells["BT1"].charge_A
    assert failed == pytest.approx(wired, rel=0.01)
    assert failed > 50e-3


def test_two_cells_each_behind_its_diode_are_not_called_charged():
    board = survey(netcheck.loads(SINGLE + "  BT2: {cell: alkaline-3xAA, plus: EXT, minus: GND}\n"
                                           "  D3: {diode: BAS70, anode: EXT, cathode: VRAM}\n"))
    cell = board.fragment.parts["BT1"]
    failed = failures(board, single_faults(board.fragment))
    into = charging(board, cell, failed)
    assert not into.charged
    assert answered(shorts_to_charge(board, cell, into.charged, failed)).count == 1
    assert into.fault.amps > 10e-3  # a fresh pack into a flat cell, should D1 fail


def test_cells_in_series_are_a_source_together():
    variant = found("""
title: two in series
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  BT2: {cell: {chemistry: alkaline, volts: 1.5, capacity: 2 Ah, resistance: 1}, plus: MID, minus: GND}
  BT3: {cell: {chemistry: alkaline, volts: 1.5, capacity: 2 Ah, resistance: 1}, plus: TOP, minus: MID}
  R1: {resistor: 100, between: [TOP, CELL]}
""")
    assert variant.cells["BT1"].shorts_to_charge == 0
    assert said(variant, "charge-route", "danger")


def test_an_inline_lithium_cell_is_judged_by_the_usual_share():
    variant = found(SINGLE.replace("cell: CR2032", "cell: {chemistry: lithium-primary, volts: 3, capacity: 220 mAh, "
                                                   "resistance: 15, abnormal_charge: 1 A}")
                    .replace("BAS70", "1N5817"))
    assert said(variant, "leakage", "danger")


def test_a_protection_diode_is_a_part_that_may_fail_and_whose_leakage_is_not_known():
    variant = found("""
title: an input on the cell
rails: {+5V: {volts: 5 V, when_off: open}}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  U5: {chip: monitor, pins: {vcc: +5V, in: CELL}, clamps: {to: +5V, from: [CELL]}}
""")
    cell = variant.cells["BT1"]
    assert cell.shorts == ("U5",)
    assert (cell.fault.part, cell.fault.how) == ("U5", "short")
    assert cell.fault.amps > 50e-3
    assert said(variant, "leakage", "unknown")


def test_a_zener_at_the_cell_has_the_volts_between_the_two_across_it():
    zener = "diode: {zener: 5.1 V, points: [[1 mA, 0.7 V]], leakage: 10 nA at 3 V}"
    variant = found(SINGLE.replace("diode: BAS70", zener))
    assert variant.cells["BT1"].shorts_to_charge == 1
    given = found(SINGLE.replace("diode: BAS70", "diode: {IS: 2.5n, N: 1.75, RS: 0.57, BV: 2}"))
    assert given.cells["BT1"].shorts_to_charge == 0


def test_a_rechargeable_of_which_nothing_is_known_is_unknown():
    variant = found("""
title: unknown pack
rails: {+5V: 5 V}
parts:
  BT1: {cell: {chemistry: nickel-metal-hydride, volts: 3.6, capacity: 60 mAh, resistance: 1}, plus: CELL, minus: GND}
  R1: {resistor: 2, between: [+5V, CHG]}
  D3: {diode: 1N4148, anode: CHG, cathode: CELL}
""")
    assert said(variant, "charger", "unknown")


def test_a_supercapacitor_stands_at_what_charges_it():
    variant = found("""
title: charged through a diode
rails: {+5V: 5 V}
conditions: {temperature: 25 °C}
parts:
  BT1: {cell: supercap-0.33F, plus: VRTC, minus: GND}
  D2: {diode: 1N4148, anode: +5V, cathode: VRTC}
  U1: {load: 10 uA, plus: VRTC, minus: GND, works: 2.0 V to 5.5 V}
""")
    assert 4.4 < variant.loads["U1"].volts["main on"] < 4.8
    assert not said(variant, "hand-over")


def test_life_of_a_pack_on_a_header_ends_with_its_load():
    text = """
title: pack
rails: {+5V: 5 V}
parts:
  BT1: {cell: alkaline-3xAA, plus: EXT, minus: GND PLUGGED}
  D1: {diode: 1N4148, anode: EXT, cathode: VRTC}
  U1: {load: 2 uA, plus: VRTC, minus: GND, works: 3.5 V to 5.5 V}
"""
    lives = [found(text.replace(" PLUGGED", word)).cells["BT1"].life.years for word in ("", ", plugged: maybe")]
    assert lives[0] == pytest.approx(lives[1])


def test_a_shorted_supply_and_a_hot_resistor_are_told():
    variant = found("""
title: shorted
rails: {+5V: 5 V}
parts:
  JP1: {jumper: [+5V, GND]}
  R1: {resistor: 1, between: [+5V, GND]}
  U1: {load: 1 mA, plus: +5V, minus: GND, works: 4 V to 5.5 V}
""")
    assert said(variant, "short-circuit", "danger")
    assert said(variant, "over-power")


def test_nothing_to_judge_is_unknown():
    text = "title: empty\nrails: {+5V: 5 V}\nparts: {R1: {resistor: 1k, between: [+5V, GND]}}\n"
    assert found(text).verdict == "unknown"


def test_an_expectation_on_nets_that_a_mod_took_away_is_judged_all_the_same():
    text = SINGLE + "  R7: {resistor: 1k, between: [N2, GND]}\nexpect: [{apart: [N2, CELL]}]\n" \
                    "mods: {out: {steps: [{remove: [R7]}]}}\n"
    report = netcheck.check(netcheck.loads(text))
    assert [variant.expectations[0]["holds"] for variant in report.variants] == [True, True]
