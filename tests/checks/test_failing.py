"""One failed part that lets too many volts onto a load is told; one that does not is not."""

from __future__ import annotations

import pytest
from made_points import UNKNOWN, made, point, sound, state_of, told

import netcheck
from netcheck.checks.failing import failing_findings
from netcheck.checks.overloads import LARGE_W, PULLED_DOWN
from netcheck.parts.catalogue import cell_rules
from netcheck.parts.cell import volts as cell_volts
from netcheck.simulation.corner import Fault
from netcheck.solving.failures import Failure

ZENER = """
title: a zener holds a supply down
rails: {+12V: 12 V ±5%}
parts:
  R7: {resistor: 1k, between: [+12V, VDD]}
  D7: {diode: BZX55C4V7, anode: GND, cathode: VDD}
  U1: {load: 100 uA, plus: VDD, minus: GND, works: 2.0 V to 5.5 V, survives: 7 V}
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VDD}
"""


def findings(text, check):
    fragment = netcheck.loads(text)
    return [f for f in sound(netcheck.check(fragment).variants[-1].findings, fragment) if f.check == check]


def test_the_part_whose_failure_lets_the_supply_through_is_named_with_the_volts():
    """R7 short joins the load to the rail, 12.6 V at the high end; D7 open leaves 0.1 V less (closed form)."""
    (found,) = findings(ZENER, "fault-voltage")
    assert (str(found.severity), found.parts) == ("caution", ("R7", "D7", "U1"))
    assert found.figures["fault_V"] == pytest.approx(12.6, abs=0.1)


def test_a_load_that_survives_it_is_not_told():
    assert findings(ZENER.replace("survives: 7 V", "survives: 15 V"), "fault-voltage") == []


def test_a_load_whose_limit_is_not_stated_cannot_be_judged():
    assert findings(ZENER.replace(", works: 2.0 V to 5.5 V, survives: 7 V", ""), "fault-voltage") == []


COIN = """
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  U9: {load: 1 uA, plus: CELL, minus: GND, works: 2.0 V to 3.6 V}
"""
TWO_RAILS = """
title: a load between two rails
rails: {+5V: {volts: 5 V ±5%, supply: SUPPLY}, +12V: {volts: 12 V ±5%, supply: main}}
parts:
  U2: {load: 1 mA, plus: +12V, minus: +5V, works: 5 V to 9 V, kept: no}
""" + COIN.lstrip("\n")


def test_one_rail_of_a_supply_missing_is_a_failure_with_its_siblings_on():
    """12.6 V across U2 with +5V missing and held at 0 V by the rest of the board."""
    (found,) = findings(TWO_RAILS.replace("SUPPLY", "main"), "fault-voltage")
    assert (found.subject, found.words["failing"], found.words["how"]) == ("U2", "+5V", "missing")
    assert found.figures["fault_V"] == pytest.approx(12.6)
    assert "Should +5V be missing while the rest of its supply is on" in found.message


def test_a_rail_with_a_supply_of_its_own_cannot_be_missing():
    assert findings(TWO_RAILS.replace("SUPPLY", "second"), "fault-voltage") == []


def test_a_rail_that_floats_when_off_floats_when_it_is_missing():
    floats = TWO_RAILS.replace("supply: SUPPLY}", "supply: main, when_off: open}")
    assert findings(floats, "fault-voltage") == []


DRIVER = """
title: a transistor drives a resistor
rails: {+5V: {volts: 5 V, supply: main}, +12V: {volts: 12 V, supply: main}}
parts:
  Q1: {transistor: 2N3904, collector: C, base: B, emitter: GND}
  R1: {resistor: 100k, between: [+5V, B]}
  R2: {resistor: 33, power: 0.25 W, between: [K, C]}
  D1: {diode: 1N4148, anode: +12V, cathode: K}
""" + COIN.lstrip("\n")


def test_parts_that_a_shorted_transistor_takes_beyond_what_they_survive_are_told():
    """(12 - 1) V over 33 ohm: 0.33 A, more than 150 mA of a 1N4148, and 3.6 W in a quarter of a watt."""
    found = {one.subject: one for one in findings(DRIVER, "fault-part")}
    assert {name: (one.case, str(one.severity)) for name, one in found.items()} == {
        "D1": ("diode", "caution"), "R2": ("resistor", "caution")}
    assert found["D1"].figures["current_A"] == pytest.approx(0.33, abs=0.02)
    assert found["R2"].figures["power_W"] == pytest.approx(33 * found["D1"].figures["current_A"] ** 2, rel=0.01)
    assert all(one.words["failing"] == "Q1" for one in found.values())


def test_what_shorts_the_supply_or_is_there_to_bear_a_load_is_not_held_against_parts():
    across = DRIVER.replace("R2: {resistor: 33, power: 0.25 W,", "R2: {resistor: 0.1,")
    assert findings(across, "fault-part") == []
    by_load = DRIVER.replace("Q1: {transistor: 2N3904, collector: C, base: B, emitter: GND}",
                             "U5: {load: 1 mA, plus: C, minus: GND, works: 3 V to 15 V, kept: no}")
    assert findings(by_load.replace("  R1: {resistor: 100k, between: [+5V, B]}\n", ""), "fault-part") == []


REVERSES = """
title: a tantalum between two rails
rails: {+5V: {volts: 5 V, supply: main}, -5V: {volts: -5 V, supply: main}}
parts:
  R1: {resistor: 10k, between: [+5V, M]}
  R2: {resistor: 22k, between: [-5V, M]}
  C1: {capacitor: 10u, type: tantalum, rated: 16 V, plus: M, minus: GND}
""" + COIN.lstrip("\n")


def test_a_capacitor_that_a_missing_rail_reverses_is_told():
    """-5 V over 22k + 10k to 0 V: 1.56 V the wrong way round; as it should be it has +1.9 V."""
    (found,) = findings(REVERSES, "fault-part")
    assert (found.subject, found.case, found.words["failing"]) == ("C1", "reversed", "+5V")
    assert found.figures["fault_V"] == pytest.approx(5 * 10 / 32, rel=0.01)


def test_a_cell_that_a_failure_shorts_is_noted_and_with_a_resistor_not_at_all():
    bare = """
title: no resistor
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 1 m, between: [CELL, HOLD]}
  D1: {diode: 1N4148, anode: HOLD, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}
""".replace("1 m,", "1m,")
    (found,) = findings(bare, "fault-part")
    assert (found.subject, found.case, str(found.severity), found.words["failing"]) == ("BT1", "cell", "note", "D2")
    assert findings(bare.replace("1m,", "1k,"), "fault-part") == []


def test_a_failure_that_leaves_a_gate_floating_is_tried_with_the_gate_at_either_end():
    """With R3 open the gate may stand anywhere: at +5V the transistor shorts the memory's supply to ground."""
    floating = """
title: a gate held by one resistor
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 1k, between: [CELL, HOLD]}
  D1: {diode: 1N4148, anode: HOLD, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  Q1: {transistor: 2N7000, drain: N1, gate: G, source: GND}
  R3: {resistor: 100k, between: [G, GND]}
  R4: {resistor: 22, power: 0.25 W, between: [+5V, N1]}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}
"""
    variant = netcheck.check(netcheck.loads(floating)).variants[-1]
    assert variant.verdict == "caution"
    (found,) = (f for f in variant.findings if f.check == "fault-part" and f.subject == "R4")
    assert "R3" in (found.words["failing"], *found.words["others"])


BY_HAND = """
title: parts beside a diode that opens
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  BT2: {cell: NiCd-3x60, plus: PACK, minus: GND}
  C1: {capacitor: 100n, rated: 6.3 V, between: [A, GND]}
  C2: {capacitor: 100n, between: [A, GND]}
  R1: {resistor: 1k, power: 1 W, between: [B, GND]}
  R2: {resistor: 1k, between: [B, GND]}
  D1: {diode: 1N4148, anode: B, cathode: GND}
  D2: {diode: {IS: 1e-9, N: 1.8}, anode: B, cathode: GND}
  Q9: {transistor: npn, collector: A, base: B, emitter: +5V}
"""
EMPTY_V = cell_volts(netcheck.loads(BY_HAND).parts["BT1"].spec, 1.0, None)
OHM = 1000.0


def by_hand(volts, amps, sound_volts=None, charged=0.0):
    """What is told where Q9 opens and leaves these volts and currents; sound_volts: those before it."""
    before = UNKNOWN if sound_volts is None else point(sound_volts, {"BT1": -charged, "BT2": 0.0})
    found = made(BY_HAND, otherwise=before)
    state = state_of(found, "main on")
    failed = Failure(Fault("Q9", "open"), state, found.corners.hot, point(volts, amps))
    return [(one.subject, one.case, str(one.severity)) for one in sound(failing_findings(found, [failed]),
                                                                        found.fragment)]


@pytest.mark.parametrize(("volts", "amps", "harmed"), [
    ({"A": 6.3}, {}, []), ({"A": 6.31}, {}, ["C1 capacitor"]), ({"A": -6.31}, {}, ["C1 capacitor"]),
    ({"A": None}, {}, []),
    ({}, {"R1": (1 / OHM) ** 0.5 - 1e-6}, []), ({}, {"R1": -(1 / OHM) ** 0.5 - 1e-6}, ["R1 resistor"]),
    ({}, {"R2": (LARGE_W / OHM) ** 0.5 - 1e-6}, []), ({}, {"R2": (LARGE_W / OHM) ** 0.5 + 1e-6}, ["R2 resistor"]),
    ({}, {"D1": 0.15}, []), ({}, {"D1": 0.151}, ["D1 diode"]), ({}, {"D2": 9.0}, []),
    ({"CELL": PULLED_DOWN * EMPTY_V}, {"BT1": 0.1}, []),
    ({"CELL": PULLED_DOWN * EMPTY_V - 1e-3}, {"BT1": 0.1}, ["BT1 cell"]),
    ({"CELL": 0.1}, {"BT1": 0.0}, []), ({"CELL": 0.1}, {"BT1": -0.1}, []), ({"CELL": None}, {"BT1": 0.1}, []),
    ({"PACK": 0.1}, {"BT2": 0.1}, []),
])
def test_each_part_is_held_to_its_own_limit(volts, amps, harmed):
    """Ratings as the file or the sheet gives them; a rechargeable, or a cell that takes current, is not pulled down."""
    expected = [(*one.split(), "note" if "cell" in one else "caution") for one in harmed]
    assert by_hand(volts, amps) == expected
    assert by_hand(volts, amps, {"A": 0.0}) == expected


def test_what_is_beyond_its_limit_anyway_is_not_held_against_a_failure():
    assert by_hand({"A": 9.0}, {}, {"A": 7.0}) == []
    assert by_hand({"A": 9.0}, {}, {"A": 6.0}) == [("C1", "capacitor", "caution")]


def test_a_cell_that_is_charged_is_not_told_as_pulled_down_as_well():
    down = ({"CELL": 0.1}, {"BT1": 0.1}, {"CELL": 3.0})
    limit_A = cell_rules().leak_limit_A
    assert by_hand(*down, charged=limit_A) == [("BT1", "cell", "note")]
    assert by_hand(*down, charged=limit_A * 1.01) == []


def test_a_short_beside_the_junction_of_a_transistor_stops_the_supply_whichever_way_it_conducts():
    """D9 short leaves +5V over one junction to ground: that of a pnp from emitter to base, of an npn from the base."""
    for kind, emitter, base in (("pnp", "X", "GND"), ("npn", "GND", "X")):
        text = ("title: t\nrails: {+5V: 5 V}\nparts:\n  D9: {diode: 1N4148, anode: X, cathode: +5V}\n"
                f"  Q1: {{transistor: {kind}, collector: FAR, base: {base}, emitter: {emitter}}}\n"
                "  R1: {resistor: 1k, between: [FAR, GND], power: 1 W}\n")
        for turned in (False, True):
            found = made(text.replace(kind, {"pnp": "npn", "npn": "pnp"}[kind]) if turned else text)
            failed = Failure(Fault("D9", "short", ("anode", "cathode")), state_of(found, "main on"),
                             found.corners.hot, point({}, {"R1": 1.0}))
            harmed = told(failing_findings(found, [failed]))
            assert harmed == ([("fault-part", "resistor", "caution")] if turned else []), (kind, turned)
