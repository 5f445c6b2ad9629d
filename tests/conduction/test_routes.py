"""Charge routes, shorts to charge and feeds, on small circuits whose answer is plain."""

from __future__ import annotations

import pytest

import netcheck
from netcheck.conduction.graph import conduction
from netcheck.conduction.routes import charge_routes, distinct_routes, feed_path, feeds
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


BELOW = """title: a load and a cell below ground
rails: {-12V: -12 V ±5%}
parts:
  R1: {resistor: 100, between: [-12V, VM]}
  D1: {diode: 1N4148, anode: VM, cathode: NB}
  BT1: {cell: CR2032, plus: GND, minus: NB}
  U1: {load: 5 mA, plus: GND, minus: VM}
  R2: {resistor: 1k, between: [GND, VP]}
  U2: {load: 5 mA, plus: VP, minus: GND}
"""


def test_what_leaves_a_load_into_a_negative_rail_or_a_cell_below_ground_feeds_it():
    fragment, by_state = graphs(BELOW)
    live, dead = (feeds(fragment, by_state[name]) for name in ("main on", "main off"))
    assert live["U1"].by_rail
    assert not dead["U1"].by_rail
    assert live["U1"].by_cells == dead["U1"].by_cells == {"BT1"}
    assert not live["U2"].by_rail  # both its ends lead to ground, or up from it
    assert feed_path(fragment, by_state["main on"], fragment.parts["U1"], "-12V") == (("R1", "VM", "-12V"),)
    assert feed_path(fragment, by_state["main on"], fragment.parts["U1"], "BT1") == (("D1", "VM", "NB"),)


def test_fewest_failures_come_before_fewest_parts():
    """One diode that blocks against four resistors that do not."""
    text = BACKUP.replace("  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}\n", "") + (
        "  D7: {diode: 1N4148, anode: CELL, cathode: +5V}\n"
        "  R1: {resistor: 1k, between: [+5V, A]}\n  R2: {resistor: 1k, between: [A, B]}\n"
        "  R3: {resistor: 1k, between: [B, C]}\n  R4: {resistor: 1k, between: [C, CELL]}\n")
    (route,) = best(text)
    assert (route.parts, route.shorts) == (("R1", "R2", "R3", "R4"), ())
    without = graphs(text)
    (blocked,) = charge_routes(without[0], without[1]["main on"], without[0].parts["BT1"], {"R2"})
    assert (blocked.parts, blocked.shorts) == (("D7",), ("D7",))


def test_the_shorter_of_two_open_ways_is_taken_and_the_best_source_comes_first():
    text = BACKUP.replace("{+5V: 5 V}", "{+5V: 5 V, +9V: 9 V, +3V: 3 V}") + (
        "  D9: {diode: 1N4148, anode: CELL, cathode: +9V}\n  R1: {resistor: 1k, between: [+3V, M]}\n"
        "  R2: {resistor: 1k, between: [M, CELL]}\n  R3: {resistor: 1k, between: [+3V, CELL]}\n")
    assert [(one.source, one.parts, len(one.shorts)) for one in best(text)] == [
        ("+3V", ("R3",), 0), ("+9V", ("D9",), 1), ("+5V", ("D2", "D1"), 1)]


def test_a_route_names_its_cell_its_state_and_its_nets_in_the_order_of_the_current():
    text = BACKUP.replace("minus: GND}\n  D1", "minus: LOW}\n  R8: {resistor: 1, between: [LOW, GND]}\n  D1") + (
        "  R1: {resistor: 470, between: [+5V, CELL]}\n")
    (route,) = best(text)
    assert (route.cell, route.state, route.parts, route.nets) == (
        "BT1", "main on", ("R1", "R8"), ("+5V", "CELL", "GND"))  # less the net of its minus


def test_a_cell_straight_on_a_rail_is_charged_through_no_part():
    (route,) = best(BACKUP.replace("plus: CELL, minus: GND}", "plus: +5V, minus: GND}"))
    assert (route.source, route.parts, route.nets) == ("+5V", (), ("+5V",))


def test_a_cell_with_its_plus_on_ground_is_not_charged_by_a_rail_above():
    assert best(BACKUP.replace("plus: CELL, minus: GND}", "plus: GND, minus: CELL}")) == []


def test_a_rail_must_stand_above_the_end_point_with_its_high_end():
    """CR2032: 2.0 V to its end point (FDK, Maxell): 2.0 V are not enough, 2.0 V and 5 % are."""
    fragment = netcheck.loads(BACKUP)
    end_V = fragment.parts["BT1"].spec.curve[-1].volts_V
    assert best(BACKUP.replace("{+5V: 5 V}", f"{{+5V: {end_V} V}}")) == []
    assert len(best(BACKUP.replace("{+5V: 5 V}", f"{{+5V: {end_V} V ±5%}}"))) == 1


def test_a_cell_between_two_rails_is_charged_by_their_difference():
    """5 V less 3.3 V are too little, 9 V less 3.3 V are enough."""
    text = BACKUP.replace("{+5V: 5 V}", "{+5V: TOP, +3V: 3.3 V}").replace(
        "plus: CELL, minus: GND}", "plus: CELL, minus: LOW}\n  R8: {resistor: 1k, between: [LOW, +3V]}\n"
        "  R9: {resistor: 1k, between: [+5V, CELL]}")
    assert best(text.replace("TOP", "5 V")) == []
    (route,) = best(text.replace("TOP", "9 V"))
    assert (route.source, route.parts, route.nets) == ("+5V", ("R9", "R8"), ("+5V", "CELL", "+3V"))


def test_two_zeners_in_a_row_break_down_only_if_the_volts_reach_both():
    """A CR2032 at its end point holds 2.0 V: 5 V leave 3.0 V, enough for 2.4 V and not for twice 2.4 V."""
    zeners = ("  D8: {diode: {zener: 2.4 V}, anode: CELL, cathode: MID}\n"
              "  D9: {diode: {zener: 2.4 V}, anode: MID, cathode: +5V}\n")
    text = BACKUP.replace("  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}\n", zeners)
    (route,) = best(text)
    assert set(route.shorts) == {"D8", "D9"}
    (higher,) = best(text.replace("{+5V: 5 V}", "{+5V: 7 V}"))
    assert higher.shorts == ()
    (one,) = best(text.replace("D9: {diode: {zener: 2.4 V}, anode: MID, cathode: +5V}",
                               "R9: {resistor: 1k, between: [MID, +5V]}"))
    assert one.shorts == ()


def test_a_failure_on_the_way_beside_a_zener_leaves_only_that_failure():
    text = BACKUP.replace("  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}\n",
                          "  D8: {diode: {zener: 2.4 V}, anode: CELL, cathode: MID}\n"
                          "  D9: {diode: 1N4148, anode: MID, cathode: +5V}\n")
    (route,) = best(text)
    assert route.shorts == ("D9",)


TWO = """
title: two cells
rails: {+1V: 1 V}
parts:
  BT1: {cell: CR2032, plus: A, minus: MINUS}
  BT2: {cell: CR2032, plus: B, minus: OTHER}
  R1: {resistor: 1k, between: [A, B]}
"""


def into(text, cell="BT1", state="main off"):
    return [(route.source, route.parts, route.nets, len(route.shorts)) for route in best(text, state, cell)]


def test_the_current_of_another_cell_must_find_its_way_back():
    """On one minus, through a resistor, through ground; a diode against it takes a failure."""
    one = TWO.replace("MINUS", "LOW").replace("OTHER", "LOW")
    assert into(one) == [("BT2", ("R1",), ("B", "A"), 0)]
    wired = TWO.replace("MINUS", "LOW").replace("OTHER", "LO2") + "  R2: {resistor: 1, between: [LOW, LO2]}\n"
    assert into(wired) == [("BT2", ("R1", "R2"), ("B", "A", "LO2"), 0)]
    held = TWO.replace("MINUS", "LOW").replace("OTHER", "LO2") + (
        "  R2: {resistor: 1, between: [LOW, GND]}\n  R3: {resistor: 1, between: [GND, LO2]}\n")
    assert into(held) == [("BT2", ("R1", "R2", "R3"), ("B", "A", "GND", "LO2"), 0)]
    assert into(TWO.replace("MINUS", "GND").replace("OTHER", "LO2")
                + "  R3: {resistor: 1, between: [GND, LO2]}\n")[0][1] == ("R1", "R3")
    assert into(TWO.replace("MINUS", "LOW").replace("OTHER", "GND")
                + "  R3: {resistor: 1, between: [GND, LOW]}\n")[0][1] == ("R1", "R3")
    against = wired.replace("R2: {resistor: 1, between: [LOW, LO2]}", "D2: {diode: 1N4148, anode: LO2, cathode: LOW}")
    assert into(against) == [("BT2", ("R1", "D2"), ("B", "A", "LO2"), 1)]
    assert into(TWO.replace("MINUS", "LOW").replace("OTHER", "LO2")) == []


def test_a_cell_that_cannot_reach_it_does_not_hide_the_next():
    text = TWO.replace("MINUS", "GND").replace("OTHER", "GND")
    for pins in ("plus: FAR, minus: GND", "plus: A, minus: FAR", "plus: GND, minus: FAR"):
        first = text.replace("  BT2:", f"  BT0: {{cell: CR2032, {pins}}}\n  BT2:")
        assert [route[0] for route in into(first)] == ["BT2"], pins


def test_a_weaker_cell_beside_it_counts_with_those_in_series():
    """Two of 1.5 V together stand above the 2.0 V of a flat CR2032, one alone does not."""
    cell = "{cell: {chemistry: alkaline, volts: 1.5, capacity: 1 Ah, resistance: 1}"
    one = TWO.replace("MINUS", "GND").replace("  BT2: {cell: CR2032, plus: B, minus: OTHER}\n",
                                              f"  BT2: {cell}, plus: B, minus: LOW}}\n")
    assert into(one + "  R3: {resistor: 1, between: [GND, LOW]}\n") == []
    both = into(one + f"  BT3: {cell}, plus: LOW, minus: GND}}\n")
    assert [route[0] for route in both] == ["BT2", "BT3"] or [route[0] for route in both] == ["BT2"]


def test_a_cell_whose_plus_is_held_pushes_nothing():
    assert into(TWO.replace("MINUS", "LOW").replace("OTHER", "LOW").replace("plus: B", "plus: GND").replace(
        "between: [A, B]", "between: [A, GND]")) == []


def test_the_ways_shown_are_those_that_conduct_and_the_nearest_blocked_ones():
    """Of eight resistors the first and one beside it. Of the blocked ways those of the fewest failures."""
    text = BACKUP.replace("{+5V: 5 V}", "{+5V: 5 V, +9V: 9 V}") + "".join(
        f"  R{n}: {{resistor: 1k, between: [+5V, CELL]}}\n" for n in range(1, 9))
    fragment, by_state = graphs(text + "  D9: {diode: 1N4148, anode: VRAM, cathode: +9V}\n")
    shown = distinct_routes(fragment, by_state.values(), fragment.parts["BT1"])
    assert sum(route.conducting for route in shown) == 2
    assert [route.conducting for route in shown] == sorted((route.conducting for route in shown), reverse=True)
    blocked = [route for route in shown if not route.conducting]
    assert [(route.source, len(route.shorts)) for route in blocked] == [("+9V", 2)]
    hidden = distinct_routes(fragment, by_state.values(), fragment.parts["BT1"], {f"R{n}" for n in range(1, 9)})
    assert {(route.source, len(route.shorts)) for route in hidden} == {("+5V", 1)}


def test_a_load_on_a_live_rail_or_from_ground_to_one_below_is_fed_by_rail():
    text = BACKUP.replace("{+5V: 5 V}", "{+5V: 5 V, -5V: {volts: -5 V, supply: main}}") + (
        "  U2: {load: 1 mA, plus: +5V, minus: GND}\n  U3: {load: 1 mA, plus: GND, minus: -5V}\n"
        "  U4: {load: 1 mA, plus: X, minus: GND}\n")
    fragment, by_state = graphs(text)
    live, dead = (feeds(fragment, by_state[name]) for name in ("main on", "main off"))
    assert [live[name].by_rail for name in ("U1", "U2", "U3", "U4")] == [True, True, True, False]
    assert [dead[name].by_rail for name in ("U1", "U2", "U3", "U4")] == [False] * 4
    assert live["U4"].by_cells == frozenset()


def test_a_cell_feeds_what_it_hangs_on_and_nothing_while_it_is_out_or_hidden():
    text = BACKUP.replace("minus: GND}\n  D1", "minus: GND, plugged: maybe}\n  D1") + (
        "  U2: {load: 1 mA, plus: CELL, minus: GND}\n")
    fragment, by_state = graphs(text)
    there, out = (feeds(fragment, by_state[f"main off, BT1 {word}"]) for word in ("plugged", "unplugged"))
    assert [there[name].by_cells for name in ("U1", "U2")] == [{"BT1"}, {"BT1"}]
    assert [out[name].by_cells for name in ("U1", "U2")] == [frozenset()] * 2
    hidden = feeds(fragment, by_state["main off, BT1 plugged"], {"D1"})
    assert [hidden[name].by_cells for name in ("U1", "U2")] == [frozenset(), {"BT1"}]
    gone = feeds(fragment, by_state["main off, BT1 plugged"], {"BT1"})
    assert gone["U2"].by_cells == frozenset()
    assert not feeds(fragment, by_state["main on, BT1 plugged"], {"D2"})["U1"].by_rail


def test_the_path_of_a_feed_names_part_and_nets_in_turn():
    fragment, by_state = graphs(BACKUP + "  R1: {resistor: 1k, between: [VRAM, VDD]}\n"
                                         "  U2: {load: 1 mA, plus: VDD, minus: GND}\n"
                                         "  U3: {load: 1 mA, plus: CELL, minus: GND}\n"
                                         "  U4: {load: 1 mA, plus: +5V, minus: GND}\n")
    live, dead = by_state["main on"], by_state["main off"]
    loads = fragment.parts
    assert feed_path(fragment, dead, loads["U2"], "BT1") == (("D1", "CELL", "VRAM"), ("R1", "VRAM", "VDD"))
    assert feed_path(fragment, live, loads["U1"], "+5V") == (("D2", "+5V", "VRAM"),)
    assert feed_path(fragment, dead, loads["U3"], "BT1") == ()      # it sits on the cell
    assert feed_path(fragment, live, loads["U4"], "BT1") == ()      # a rail holds it
    assert feed_path(fragment, dead, loads["U3"], "+5V") == ()      # D1 blocks
