"""Charge routes, shorts to charge and feeds, on small circuits whose answer is plain."""

from __future__ import annotations

import pytest

import netcheck
from netcheck.conduction.graph import conduction
from netcheck.conduction.routes import charge_routes, distinct_routes, feeds
from netcheck.fragment.states import enumerate_states

BACKUP = """
title: backup
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
"""


def graphs(text):
    fragment = netcheck.loads(text)
    states = enumerate_states(fragment).states
    return fragment, {state.name: conduction(fragment, state) for state in states}


def best(text, state="main on", cell="BT1"):
    fragment, by_state = graphs(text)
    return charge_routes(fragment, by_state[state], fragment.parts[cell])


def test_a_resistor_and_a_diode_from_the_rail_conduct_into_the_cell():
    """Common practice, no source: such a charger is often just a resistor and a diode."""
    text = BACKUP + "  R1: {resistor: 470, between: [+5V, CHG]}\n  D3: {diode: 1N4148, anode: CHG, cathode: CELL}\n"
    (route,) = best(text)
    assert route.source == "+5V"
    assert route.parts == ("R1", "D3")
    assert route.nets == ("+5V", "CHG", "CELL", "GND") or route.nets == ("+5V", "CHG", "CELL")
    assert route.conducting


def test_one_blocking_diode_is_one_failure_away():
    (route,) = best(BACKUP)
    assert route.parts == ("D2", "D1")
    assert route.shorts == ("D1",)


def test_two_blocking_diodes_survive_any_single_failure():
    text = BACKUP.replace("D1: {diode: 1N4148, anode: CELL", "D4: {diode: 1N4148, anode: CELL, cathode: MID}\n"
                                                              "  D1: {diode: 1N4148, anode: MID")
    (route,) = best(text)
    assert set(route.shorts) == {"D1", "D4"}


def test_a_dead_rail_charges_nothing():
    assert best(BACKUP, "main off") == []


def test_blocking_in_the_minus_lead_counts_the_same():
    text = BACKUP.replace("plus: CELL, minus: GND", "plus: VRAM, minus: LOW").replace(
        "  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}", "  D1: {diode: 1N4148, anode: GND, cathode: LOW}")
    (route,) = best(text)
    assert route.parts == ("D2", "D1")
    assert route.shorts == ("D1",)


def test_a_diode_fitted_backwards_in_the_minus_lead_blocks_nothing():
    text = BACKUP.replace("plus: CELL, minus: GND", "plus: VRAM, minus: LOW").replace(
        "  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}", "  D1: {diode: 1N4148, anode: LOW, cathode: GND}")
    (route,) = best(text)
    assert route.conducting


def test_no_route_leads_through_ground_or_a_held_rail():
    text = """
title: held
rails: {+5V: 5 V, +12V: {volts: 12 V, supply: aux}}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 1k, between: [+12V, +5V]}
  D1: {diode: 1N4148, anode: CELL, cathode: +5V}
  R2: {resistor: 1k, between: [+12V, GND]}
"""
    fragment, by_state = graphs(text)
    routes = charge_routes(fragment, by_state["main on, aux on"], fragment.parts["BT1"])
    assert {route.source for route in routes} == {"+5V"}
    assert all(route.shorts == ("D1",) for route in routes)


def test_a_rail_below_the_cells_end_point_cannot_charge_it():
    assert best(BACKUP.replace("{+5V: 5 V}", "{+5V: 1.5 V}")) == []


@pytest.mark.parametrize(("zener", "conducts"), [("2.4 V", True), ("3.3 V", False), ("9.1 V", False)])
def test_a_zener_conducts_backwards_only_where_the_volts_reach_it(zener, conducts):
    text = BACKUP.replace("{diode: 1N4148, anode: CELL, cathode: VRAM}",
                          f"{{diode: {{zener: {zener}}}, anode: CELL, cathode: VRAM}}")
    (route,) = best(text)
    assert route.conducting is conducts


def test_a_chips_protection_diode_is_a_way_into_a_dead_rail_and_back():
    text = BACKUP.replace("  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}\n", "") + (
        "  R3: {resistor: 10k, between: [VRAM, IN]}\n"
        "  U5: {chip: bus driver, pins: {1: IN, 20: +5V, 10: GND}, clamps: {to: +5V, from: [IN]}}\n")
    fragment, by_state = graphs(text)
    (route,) = charge_routes(fragment, by_state["main on"], fragment.parts["BT1"])
    assert set(route.shorts) == {"U5", "D1"}


def test_a_transistor_whose_base_is_held_off_blocks_and_an_unknown_one_does_not():
    text = """
title: switched
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  Q1: {transistor: 2N3906, emitter: CELL, base: QB, collector: VMEM}
  R2: {resistor: 470k, between: [QB, BASE]}
  D1: {diode: 1N4148, anode: +5V, cathode: VMEM}
  U1: {load: 2 uA, plus: VMEM, minus: GND}
"""
    (held_off,) = best(text.replace("BASE", "+5V"))
    assert held_off.shorts == ("Q1",)
    (open_base,) = best(text.replace("BASE", "ELSEWHERE"))
    assert open_base.conducting


def test_a_body_diode_conducts_whatever_the_gate_does():
    text = """
title: ideal diode fitted the wrong way round
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  Q1: {transistor: BSS84, drain: +5V, gate: +5V, source: CELL}
"""
    (route,) = best(text)
    assert route.conducting
    (other_way,) = best(text.replace("drain: +5V, gate: +5V, source: CELL", "source: +5V, gate: +5V, drain: CELL"))
    assert not other_way.conducting


def test_another_cell_is_a_source():
    text = BACKUP + "  BT2: {cell: alkaline-3xAA, plus: EXT, minus: GND, plugged: maybe}\n" \
                    "  R5: {resistor: 100, between: [EXT, CELL]}\n"
    fragment, by_state = graphs(text)
    plugged = charge_routes(fragment, by_state["main off, BT2 plugged"], fragment.parts["BT1"])
    assert [(r.source, r.parts, r.conducting) for r in plugged] == [("BT2", ("R5",), True)]
    assert charge_routes(fragment, by_state["main off, BT2 unplugged"], fragment.parts["BT1"]) == []


def test_a_negative_rail_can_charge_a_cell_whose_plus_is_on_ground():
    text = """
title: below ground
rails: {-12V: -12 V}
parts:
  BT1: {cell: CR2032, plus: GND, minus: NEG}
  R1: {resistor: 1k, between: [NEG, -12V]}
"""
    (route,) = best(text)
    assert (route.source, route.parts, route.conducting) == ("-12V", ("R1",), True)


def test_parallel_routes_are_all_shown():
    text = BACKUP + ("  R1: {resistor: 470, between: [+5V, CELL]}\n"
                     "  R2: {resistor: 1k, between: [+5V, CELL]}\n")
    fragment, by_state = graphs(text)
    shown = distinct_routes(fragment, by_state.values(), fragment.parts["BT1"])
    assert {route.parts for route in shown if route.conducting} == {("R1",), ("R2",)}


def test_feeds_tell_rail_from_cell():
    fragment, by_state = graphs(BACKUP)
    live, dead = (feeds(fragment, by_state[name])["U1"] for name in ("main on", "main off"))
    assert live.by_rail
    assert live.by_cells == {"BT1"}
    assert not dead.by_rail
    assert dead.by_cells == {"BT1"}


def test_a_cell_that_cannot_return_its_current_feeds_nothing():
    text = BACKUP.replace("minus: GND}\n  D1", "minus: LOW}\n  D9: {diode: 1N4148, anode: LOW, cathode: GND}\n  D1")
    fragment, by_state = graphs(text)
    assert feeds(fragment, by_state["main off"])["U1"].by_cells == frozenset()
