"""The corners, what a survey answers, and which single failures are tried where."""

from __future__ import annotations

import pytest
from made_points import UNKNOWN, made, point, state_of
from msgspec.structs import replace

import netcheck
from netcheck.clock import limited
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.corner import Fault
from netcheck.simulation.elements import Draw
from netcheck.simulation.operating_point import forget
from netcheck.solving import failures as failure_runs
from netcheck.solving import solved_states
from netcheck.solving.failures import affordable_faults, failures, faults_of, single_faults
from netcheck.solving.solved_states import Corners, opposite_ends, settled, survey, too_large, turned_on

BOARD = """
title: one blocking diode
rails: {+5V: 5 V ±5%}
conditions: {temperature: 10 °C to 50 °C}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: BAS70, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}
"""
SECOND = ("  BT2: {cell: alkaline-3xAA, plus: EXT, minus: GND, plugged: maybe}\n"
          "  R9: {resistor: 1k, between: [EXT, VRAM]}\n")


def of(text):
    return Corners.of(netcheck.loads(text))


def told(corner):
    return (corner.temperature_C, corner.supply, corner.resistance, corner.used, corner.flat, corner.drop,
            corner.leakage, corner.draw)


def test_every_corner_is_what_its_name_says():
    """Temperature, supply, resistance, share used, cell alone flat, drop, leakage, draw."""
    corners = of(BOARD)
    assert {corner.name: told(corner) for corner in corners.everywhere} == {
        "room, fresh cell": (25, 0, 0, 0, None, "typical", "typical", "typical"),
        "room, old cell": (25, 0, 0, 0.9, None, "typical", "typical", "typical"),
        "cold, fresh cell": (10, -1, 1, 0, None, "maximum", "typical", "maximum"),
        "cold, old cell": (10, -1, 1, 0.9, None, "maximum", "typical", "maximum"),
        "hot, fresh cell": (50, 1, -1, 0, None, "minimum", "typical", "typical"),
        "hot, old cell": (50, -1, 1, 0.9, None, "maximum", "maximum", "maximum"),
        "hot, low supply, fresh cell": (50, -1, 1, 0, None, "maximum", "maximum", "maximum"),
        "cold, high supply, fresh cell": (10, 1, -1, 0, None, "minimum", "typical", "typical"),
        "charge, flat cell": (50, 1, -1, 1, None, "minimum", "typical", "typical"),
        "charge, part-used cell": (50, 1, -1, 0.3, None, "minimum", "typical", "typical"),
        "leakage, usual": (30, 0, 0, 0.5, None, "typical", "typical", "typical"),
        "leakage, typical": (50, 1, 0, 1, None, "typical", "typical", "typical"),
        "leakage, maximum": (50, 1, 0, 1, None, "typical", "maximum", "typical"),
    }
    assert corners.usual == corners.leak_usual


@pytest.mark.parametrize(("range_", "room"), [("-10 °C to 15 °C", 15), ("30 °C to 60 °C", 30), ("0 °C to 70 °C", 25)])
def test_room_lies_within_the_temperatures_of_the_board(range_, room):
    assert of(BOARD.replace("10 °C to 50 °C", range_)).room.temperature_C == room


def names(corners):
    return [corner.name for corner in corners]


def test_the_least_and_the_most_volts_are_looked_for_hot_and_cold_old_and_fresh():
    corners = of(BOARD)
    fresh = ["room, fresh cell", "leakage, usual", "cold, fresh cell", "hot, low supply, fresh cell"]
    assert names(corners.lowest_fresh) == fresh
    assert names(corners.lowest) == [*fresh, "room, old cell", "cold, old cell", "hot, old cell"]
    assert names(corners.highest) == ["room, fresh cell", "leakage, usual", "hot, fresh cell",
                                      "cold, high supply, fresh cell", "charge, flat cell"]


def test_two_cells_that_touch_are_each_flat_alone_as_well():
    corners = of(BOARD + SECOND)
    alone = [(corner.name, *told(corner)) for corner in corners.one_flat]
    assert alone == [(f"charge, {name} alone flat", 50, 1, -1, 0, name, "minimum", "typical", "typical")
                     for name in ("BT1", "BT2")]
    leaks = [(corner.name, *told(corner)) for corner in corners.leak_one_flat]
    assert leaks == [(f"leakage, {kind}, {name} alone flat", 50, 1, 0, 0, name, "typical", kind, "typical")
                     for name in ("BT1", "BT2") for kind in ("typical", "maximum")]
    assert set(names((*corners.one_flat, *corners.leak_one_flat))) <= set(names(corners.everywhere))
    assert names(corners.charging("BT2")) == ["charge, flat cell", "charge, part-used cell", "hot, fresh cell",
                                              "charge, BT2 alone flat", "room, fresh cell"]
    assert names(corners.leaking("BT2", "typical")) == ["leakage, typical", "leakage, typical, BT2 alone flat"]
    assert names(corners.leaking("BT1", "maximum")) == ["leakage, maximum", "leakage, maximum, BT1 alone flat"]
    assert of(BOARD).one_flat == ()


def ends_of(*volts):
    rails = ", ".join(f"R{n}: {{volts: {text}}}" for n, text in enumerate(volts))
    return opposite_ends(netcheck.loads(f"title: t\nrails: {{{rails}}}\nparts:\n"
                                        "  U1: {load: 1 mA, plus: R0, minus: GND}\n"))


def test_rails_with_tolerances_stand_at_opposite_ends():
    assert ends_of("5 V ±5%") == ()
    assert ends_of("5 V ±5%", "9 V") == ()
    assert ends_of("5 V ±5%", "9 V ±5%") == ((("R0", 1.0), ("R1", -1.0)), (("R0", -1.0), ("R1", 1.0)))
    three = ends_of("5 V ±5%", "9 V ±5%", "12 V ±5%")
    assert len(three) == len(set(three)) == 6
    assert all({place for _, place in ends} == {1.0, -1.0} for ends in three)
    four = [dict(ends) for ends in ends_of("5 V ±5%", "9 V ±5%", "12 V ±5%", "15 V ±5%")]
    assert len(four) == 8
    assert {"R0": 1.0, "R1": -1.0, "R2": -1.0, "R3": -1.0} in four
    assert {"R0": 1.0, "R1": 1.0, "R2": -1.0, "R3": 1.0} in four


def test_corners_of_opposite_ends_are_those_of_a_flat_cell_and_count_for_charge_and_most_volts():
    text = BOARD.replace("{+5V: 5 V ±5%}", "{+5V: 5 V ±5%, +9V: 9 V ±5%}")
    corners = of(text)
    assert names(corners.opposite) == ["charge, flat cell, +5V high and +9V low",
                                       "charge, flat cell, +5V low and +9V high"]
    assert corners.opposite[0].ends == (("+5V", 1.0), ("+9V", -1.0))
    assert told(corners.opposite[0]) == told(corners.charge_flat)
    for among in (corners.charging("BT1"), corners.highest, corners.everywhere):
        assert set(corners.opposite) <= set(among)


def test_current_into_a_cell_is_never_negative_and_unknown_where_the_point_is():
    found = made(BOARD + SECOND, {
        ("main on, BT2 plugged", "charge, flat cell"): point({}, {"BT1": -2e-3}),
        ("main on, BT2 plugged", "hot, fresh cell"): point({}, {"BT1": 2e-3}),
        ("main on, BT2 plugged", "charge, part-used cell"): point({}, {"BT1": -1e-12}),
        ("main on, BT2 unplugged", "charge, flat cell"): UNKNOWN,
    })
    on, out = (state_of(found, f"main on, BT2 {word}") for word in ("plugged", "unplugged"))
    cell, pack, corners = found.fragment.parts["BT1"], found.fragment.parts["BT2"], found.corners
    assert found.into(on, corners.charge_flat, cell) == 2e-3
    assert found.into(on, corners.hot, cell) == 0.0
    assert found.into(on, corners.charge_used, cell) == 0.0     # the solver's rounding
    assert found.into(out, corners.charge_flat, cell) is None
    assert found.into(out, corners.charge_flat, pack) == 0.0    # it is not on the board
    assert found.at(out, corners.charge_flat) is UNKNOWN


def test_the_board_rests_as_set_with_all_supplies_on_or_off_and_named_states_first():
    text = BOARD.replace("{+5V: 5 V ±5%}", "{+5V: 5 V ±5%, +9V: {volts: 9 V, supply: aux}}") + SECOND + (
        "  JP1: {jumper: [VRAM, X], set: open}\n  R3: {resistor: 1k, between: [X, GND]}\n"
        "states: {asleep: {main: off, aux: off, BT2: unplugged}}\n")
    found = made(text)
    assert found.resting(False).name == "asleep"
    live = found.resting(True)
    assert (set(live.supplies.values()), live.plugged, live.positions) == ({True}, {"BT2": False}, {"JP1": "open"})
    closed = next(state for state in found.states.states if state.positions["JP1"] == "closed")
    plugged = next(state for state in found.states.states if state.plugged["BT2"] and state.positions["JP1"] == "open")
    assert [found.as_set(state) for state in (live, plugged, closed)] == [True, True, False]
    assert [found.is_resting(state) for state in (live, plugged, closed)] == [True, False, False]
    assert [cell.name for cell in found.cells()] == ["BT1", "BT2"]
    assert [load.name for load in found.loads()] == ["U1"]
    assert found.feeds[live.name, "U1"].by_rail
    assert not found.feeds["asleep", "U1"].by_rail
    assert found.conduction(live).state is live
    assert found.conduction_of("asleep").state.name == "asleep"
    assert made(BOARD + "states: {on: {main: on}}\n").resting(False).name == "main off"


TRANSISTOR = """
title: t
rails: {+5V: 5 V}
parts:
  Q1: {transistor: KIND, PINS}
  R1: {resistor: 1k, between: [E, X]}
"""


@pytest.mark.parametrize(("kind", "control_V", "ends_V", "on"), [
    ("npn", 0.46, (5.0, 0.0), True), ("npn", 0.45, (5.0, 0.0), False), ("npn", 0.0, (-0.5, 3.0), True),
    ("pnp", 4.5, (0.0, 5.0), True), ("pnp", 4.6, (0.0, 5.0), False), ("pnp", 0.0, (0.0, -1.0), False),
    ("npn", None, (5.0, 0.0), None), ("npn", 0.6, (None, 0.0), None), ("pnp", 0.6, (0.0, None), None),
])
def test_a_bipolar_transistor_is_on_with_a_junction_forward_by_more_than_045_volts(kind, control_V, ends_V, on):
    text = TRANSISTOR.replace("KIND", kind).replace("PINS", "collector: C, base: B, emitter: E")
    part = netcheck.loads(text).parts["Q1"]
    assert turned_on(part, point({"B": control_V, "C": ends_V[0], "E": ends_V[1]})) is on


@pytest.mark.parametrize(("kind", "gate_V", "ends_V", "on"), [
    ("n", 1.65, (5.0, 0.0), True), ("n", 1.55, (5.0, 0.0), False), ("n", 1.65, (0.0, 5.0), True),
    ("p", 3.35, (0.0, 5.0), True), ("p", 3.45, (0.0, 5.0), False),
])
def test_a_mosfet_is_on_above_eight_tenths_of_its_threshold(kind, gate_V, ends_V, on):
    text = TRANSISTOR.replace("KIND", f"{{polarity: {kind}-channel, threshold: 2 V}}").replace(
        "PINS", "drain: D, gate: G, source: E")
    part = netcheck.loads(text).parts["Q1"]
    assert turned_on(part, point({"G": gate_V, "D": ends_V[0], "E": ends_V[1]})) is on


SWITCHED = BOARD.replace("D1: {diode: BAS70, anode: CELL, cathode: VRAM}",
                         "Q1: {transistor: npn, collector: VRAM, base: B, emitter: CELL}\n"
                         "  R1: {resistor: 10k, between: [B, X]}\n  R2: {resistor: 10k, between: [X, VRAM]}")


def channel(flat, used, room):
    """What is known of Q1 with these volts from its base to its emitter at the three corners."""
    def biased(volts):
        return point({"B": volts, "CELL": 0.0, "VRAM": 5.0}) if volts is not None else UNKNOWN

    found = made(SWITCHED, {"charge, flat cell": biased(flat), "charge, part-used cell": biased(used),
                            "room, fresh cell": biased(room)})
    return found.conductions[0].channels.get("Q1")


def test_a_transistor_is_known_off_only_where_every_corner_that_charges_hardest_says_so():
    assert channel(0.0, 0.0, 0.0) is False
    assert [channel(0.6, 0.0, 0.0), channel(0.0, 0.6, 0.0), channel(0.0, 0.0, 0.6)] == [True] * 3
    assert [channel(None, 0.0, 0.0), channel(0.0, 0.0, None)] == [None] * 2


def faults(part, more=""):
    fragment = netcheck.loads(f"title: t\nrails: {{+5V: 5 V}}\nparts:\n  X1: {part}\n"
                              f"  R9: {{resistor: 1k, between: [A, +5V]}}\n{more}")
    return [(one.how, one.pins or one.nets or one.pin) for one in faults_of(fragment.parts["X1"], "GND")]


@pytest.mark.parametrize(("part", "expected"), [
    ("{diode: 1N4148, anode: A, cathode: B}", [("short", ("anode", "cathode")), ("open", None)]),
    ("{resistor: 1k, between: [A, B]}", [("short", ("1", "2")), ("open", None)]),
    ("{resistor: 1k, between: [A, A]}", [("open", None)]),
    ("{inductor: 1u, between: [A, B]}", [("short", ("1", "2")), ("open", None)]),
    ("{fuse: 1 A, between: [A, B]}", [("short", ("1", "2")), ("open", None)]),
    ("{capacitor: 1u, between: [A, B]}", [("short", ("1", "2"))]),
    ("{load: 1 mA, plus: A, minus: B}", [("short", ("plus", "minus"))]),
    ("{cell: CR2032, plus: A, minus: B}", []),
    ("{jumper: [A, B]}", []),
    ("{transistor: npn, collector: A, base: B, emitter: C}",
     [("short", ("collector", "base")), ("short", ("collector", "emitter")), ("short", ("base", "emitter")),
      ("open", None)]),
    ("{trimmer: 10k, ends: [A, B], wiper: C}",
     [("short", pair) for pair in (("1", "2"), ("1", "wiper"), ("2", "wiper"))] +
     [("open", None), ("open", "wiper"), ("open", "1"), ("open", "2")]),
    ("{relay: 167, coil: [A, GND], common: B, rest: C}",
     [("short", ("common", "rest")), ("short", ("coil1", "coil2")), ("open", None), ("open", "coil1")]),
    ("{chip: g, pins: {1: A, 2: B}, clamps: {to: B, from: [A]}}", [("short", ("A", "B")), ("short", ("A", "GND"))]),
    ("{chip: g, pins: {1: A, 2: B}, paths: [{from: 1, to: 2, by: diode}]}", [("short", ("A", "B"))]),
    ("{chip: g, pins: {1: A, 2: A}, paths: [{from: 1, to: 2, by: diode}]}", []),
    ("{chip: g, pins: {1: A, 2: B}}", []),
])
def test_a_part_fails_as_its_kind_can(part, expected):
    assert sorted(faults(part), key=str) == sorted(expected, key=str)


def test_faults_of_loads_and_chips_are_tried_first():
    fragment = netcheck.loads(BOARD + "  U2: {chip: g, pins: {1: VRAM, 2: +5V}, clamps: {to: +5V, from: [VRAM]}}\n"
                                      "  R3: {resistor: 1k, between: [VRAM, GND], fitted: no}\n")
    assert [fault.part for fault in single_faults(fragment)] == ["U1", "U2", "U2", "BT1", "BT1", "D1", "D1", "D2", "D2"]


def test_a_board_that_is_too_large_is_not_simulated_and_says_how_large(monkeypatch):
    fragment = netcheck.loads(BOARD)
    assert too_large(fragment) is None
    monkeypatch.setattr(solved_states, "_MOST_PARTS", 4)
    assert too_large(fragment) is None
    monkeypatch.setattr(solved_states, "_MOST_PARTS", 3)
    assert too_large(fragment).startswith("4 parts")
    found = survey(fragment)
    assert found.missing == too_large(fragment)
    assert found.engine
    assert {one.problem for one in found.points.values()} == {found.missing}
    assert failures(found, single_faults(fragment)) == []


@pytest.fixture(scope="module")
def surveyed():
    return survey(netcheck.loads(BOARD))


def test_every_state_is_solved_at_every_corner(surveyed):
    assert set(surveyed.points) == {(state.name, corner.name) for state in surveyed.states.states
                                    for corner in surveyed.corners.everywhere}
    on = state_of(surveyed, "main on")
    assert surveyed.at(on, surveyed.corners.cold).volts["+5V"] == pytest.approx(4.75)
    assert surveyed.at(on, surveyed.corners.hot).volts["+5V"] == pytest.approx(5.25)
    assert surveyed.missing is None
    assert surveyed.engine


def test_a_section_holds_its_cell_as_loaded_as_on_the_whole_board():
    """The load of the other cell counts as well: where the board is cut changes nothing."""
    fragment = netcheck.loads(BOARD + "  BT2: {cell: CR2032, plus: C2, minus: GND}\n"
                                      "  U2: {load: 3 mA, plus: C2, minus: GND}\n")
    found = made(fragment)
    state, corner = state_of(found, "main off"), found.corners.cold_old
    part = found.circuit(fragment.parts["BT1"], state, corner)
    whole = circuit_of(fragment, state, corner)
    assert {one.name for one in part.elements} >= {"BT1", "D1", "U1"}
    assert "U2" not in {one.name for one in part.elements}
    assert set(part.elements) <= set(whole.elements)


def test_states_that_the_time_does_not_reach_are_counted_as_untried_and_one_is_kept():
    states = made(BOARD + SECOND).states
    every = states.states
    assert len(every) == 4
    for late, kept in ([], 4), (every[2:], 2), (every[1:], 1), (every, 1):
        left = solved_states._before(replace(states, untried=3), late)
        assert (left.states, left.untried) == (every[:kept], 3 + 4 - kept)
    forget()
    with limited(1e-9):
        found = survey(netcheck.loads(BOARD + SECOND))
    assert (found.states.states[0].name, len(found.states.states), found.states.untried) == (every[0].name, 1, 3)
    assert not any(point.known for point in found.points.values())


def test_a_failure_is_tried_with_a_flat_and_a_fresh_cell_and_with_a_part_used_one_where_it_charges_hard(surveyed):
    fault = Fault("D1", "short", ("anode", "cathode"))
    found = failures(surveyed, [fault, Fault("D2", "open")])
    assert [(one.fault.part, one.state.name, one.corner.name) for one in found] == [
        (part, state, corner) for part in ("D1", "D2") for state in ("main on", "main off")
        for corner in ("charge, flat cell", "charge, part-used cell", "hot, fresh cell")
        if corner != "charge, part-used cell" or (part, state) == ("D1", "main on")]
    by_age = {one.corner.name: -one.point.amps["BT1"] for one in found
              if one.fault is fault and one.state.name == "main on"}
    assert max(by_age, key=by_age.get) != "charge, flat cell"   # a flat cell has the most resistance
    assert min(by_age.values()) > 10e-3
    opened = next(one for one in found if one.fault.how == "open" and one.state.name == "main on")
    assert opened.point.volts["VRAM"] < surveyed.at(opened.state, opened.corner).volts["VRAM"]


def test_a_short_between_two_held_nets_charges_nothing_and_is_left_out():
    found = survey(netcheck.loads(BOARD + "  C1: {capacitor: 1u, between: [+5V, GND]}\n"
                                          "  C2: {capacitor: 1u, between: [VRAM, GND]}\n"
                                          "  U4: {chip: g, pins: {1: +5V}, clamps: {to: GND, from: [+5V]}}\n"))
    tried = {one.fault.part for one in failures(found, [*faults_of(found.fragment.parts["C1"], "GND"),
                                                        *faults_of(found.fragment.parts["U4"], "GND"),
                                                        *faults_of(found.fragment.parts["C2"], "GND")])}
    assert tried == {"C2"}


def test_of_two_cells_each_is_flat_alone_where_the_failed_part_can_reach_it():
    found = made(BOARD + SECOND + "  BT3: {cell: CR2032, plus: FAR, minus: GND}\n"
                                  "  R7: {resistor: 1k, between: [FAR, GND]}\n")
    assert names(failure_runs._fault_corners(found, "D1"))[3:] == ["charge, BT1 alone flat", "charge, BT2 alone flat"]
    assert names(failure_runs._fault_corners(found, "R7"))[3:] == []
    assert len(failure_runs._fault_corners(found, None)) == 5


def test_failures_on_the_routes_into_a_cell_are_tried_before_others(monkeypatch):
    chain = "".join(f"  R{n}: {{resistor: 1k, between: [+5V, N{n}]}}\n  L{n}: {{load: 1 mA, plus: N{n}, minus: GND}}\n"
                    for n in range(1, 6))
    found = made(BOARD.replace("  BT1", chain + "  BT1"))
    every = single_faults(found.fragment)
    assert affordable_faults(found, every) == (every, 0)
    monkeypatch.setattr(failure_runs, "_MOST_FAULT_WORK", 0)
    tried, left = affordable_faults(found, every)
    assert (len(tried), left) == (6, len(every) - 6)
    assert [fault.part for fault in tried[:4]] == ["D1", "D1", "D2", "D2"]


def test_a_charger_ends_where_next_to_no_current_flows():
    found = made(BOARD)
    circuit = settled(found.fragment, state_of(found, "main on"), found.corners.hot, found.fragment.parts["BT1"])
    assert [one for one in circuit.elements if one.name == "BT1"] == [Draw("BT1", "CELL", "GND", 1e-6)]
    assert circuit.temperature_C == 50


SUPERCAP = """
title: hold-up
rails: {+5V: 5 V}
parts:
  BT1: {cell: supercap-0.33F, plus: CELL, minus: GND}
  D3: {diode: 1N4148, anode: +5V, cathode: CELL}
  U1: {load: 10 uA, plus: CELL, minus: GND, works: 2.0 V to 5.5 V}
"""


def test_a_supercapacitor_stands_at_the_volts_its_own_supply_charges_it_to():
    """5 V less the drop of a 1N4148 at some microamperes, 0.35 to 0.5 V."""
    full_V = survey(netcheck.loads(SUPERCAP)).fragment.parts["BT1"].measured_V
    assert 4.5 < full_V < 4.65
    measured = SUPERCAP.replace("minus: GND}\n  D3", "minus: GND, voltage: 3.1 V}\n  D3")
    assert survey(netcheck.loads(measured)).fragment.parts["BT1"].measured_V == 3.1
    most_V = netcheck.loads(SUPERCAP).parts["BT1"].spec.curve[0].volts_V
    assert survey(netcheck.loads(SUPERCAP.replace("5 V}", "9 V}"))).fragment.parts["BT1"].measured_V == most_V
    assert survey(netcheck.loads(BOARD)).fragment.parts["BT1"].measured_V is None
