"""One group of parts as a fragment of its own, and what a change of it makes of the whole."""

from __future__ import annotations

import netcheck
from netcheck.fragment.states import enumerate_states
from netcheck.simulation.elements import Circuit, OperatingPoint, Source
from netcheck.solving.sections import cells_together, overlaid, sections, united

BOARD = """
title: two groups
rails: {+5V: 5 V, +9V: {volts: 9 V, supply: aux}}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  JP1: {jumper: [VRAM, X]}
  BT2: {cell: alkaline-3xAA, plus: X, minus: GND, plugged: maybe}
  R1: {resistor: 1k, between: [+9V, FAR]}
  JP2: {jumper: [FAR, Y]}
  BT3: {cell: CR2032, plus: Y, minus: GND}
  U5: {chip: g, pins: {1: FAR, 2: +9V}, clamps: {to: +9V, from: [FAR, Y]}}
"""


def test_parts_that_cannot_influence_each_other_are_sections_of_their_own():
    fragment = netcheck.loads(BOARD)
    states = enumerate_states(fragment).states
    found = sections(fragment, states)
    assert set(found) == set(fragment.parts)
    one, other = found["D1"], found["R1"]
    assert set(one.fragment.parts) == {"BT1", "D1", "D2", "JP1", "BT2"}
    assert set(other.fragment.parts) == {"R1", "JP2", "BT3", "U5"}
    assert found["BT2"] is one
    assert (one.size, other.size) == (5, 8)     # a chip counts with two diodes for each input


def test_a_section_has_one_state_for_each_way_it_can_stand_and_each_supply_that_checks_ask_of():
    fragment = netcheck.loads(BOARD)
    states = enumerate_states(fragment).states
    assert len(states) == 32
    one, other = (sections(fragment, states)[name] for name in ("D1", "R1"))
    ways = {(state.live, state.supplies["main"], state.positions["JP1"], state.plugged["BT2"]) for state in one.states}
    assert len(ways) == len(one.states) == 12
    ways = {(state.live, state.supplies["aux"], state.positions["JP2"]) for state in other.states}
    assert len(ways) == len(other.states) == 6


def test_cells_are_together_where_they_share_a_group():
    assert cells_together(netcheck.loads(BOARD)) == ["BT1", "BT2"]
    assert cells_together(netcheck.loads(BOARD.replace("[VRAM, X]", "[Z, X]"))) == []


def test_a_changed_section_is_laid_over_the_whole_and_its_rails_are_added_up():
    whole = OperatingPoint({"A": 1.0, "B": 2.0}, {"R1": 1.0, "R2": 2.0, "+5V": 3.0, "+9V": 7.0})
    before = OperatingPoint({"A": 1.0}, {"R1": 1.0, "+5V": 1.0})
    after = OperatingPoint({"A": 0.5}, {"R1": 4.0, "+5V": 4.5})
    found = overlaid(whole, before, after, ("+5V", "+9V"))
    assert found.volts == {"A": 0.5, "B": 2.0}
    assert found.amps == {"R1": 4.0, "R2": 2.0, "+5V": 6.5, "+9V": 7.0}
    assert not found.helped
    assert found.known


def test_what_was_not_solved_or_not_well_is_not_known_better_in_the_whole():
    fine, helped = OperatingPoint({}, {}), OperatingPoint({}, {}, helped=True)
    assert [overlaid(*points, ()).helped for points in (
        (helped, fine, fine), (fine, fine, helped), (fine, fine, fine))] == [True, True, False]
    for place in range(3):
        points = [fine, fine, fine]
        points[place] = OperatingPoint(problem=f"problem {place}")
        assert overlaid(*points, ()).problem == f"problem {place}"


def test_two_elements_of_one_name_in_different_sections_are_told():
    rails = Circuit((Source("+5V", "+5V", "GND", 5.0),), "GND")
    one = OperatingPoint({"A": 1.0}, {"R9": 1.0, "RV1.2": 1.0, "+5V": 1.0})
    other = OperatingPoint({"B": 1.0}, {"RV1.2": 2.0, "+5V": 2.0})
    assert united(rails, [one, other]).problem == "two elements are called RV1.2"
    other = OperatingPoint({"B": 1.0}, {"RV2": 2.0, "+5V": 2.0}, helped=True)
    assert united(rails, [one, other]) == OperatingPoint(
        {"GND": 0.0, "+5V": 5.0, "A": 1.0, "B": 1.0}, {"+5V": 3.0, "R9": 1.0, "RV1.2": 1.0, "RV2": 2.0}, helped=True)
    assert united(rails, [one, OperatingPoint(problem="why")]).problem == "why"
