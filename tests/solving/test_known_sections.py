"""A section that stood so before is not built again; one of which a part changed is, and the others are not."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

import netcheck
from netcheck.fragment.model import Step
from netcheck.fragment.mods import apply_steps
from netcheck.simulation.operating_point import forget
from netcheck.solving import failures as failing
from netcheck.solving import solved_states

BOARD = """
title: two sections
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND}
  R5: {resistor: 1k ±5%, between: [+5V, X]}
  R6: {resistor: 2k2, between: [X, GND]}
"""


@pytest.fixture
def asked(monkeypatch):
    """The names of the parts in every circuit that is built."""
    found = []
    for room in (solved_states, failing):
        def solve(circuits, real=room.solve, **_):
            made = list(circuits)
            found.extend({element.name for element in circuit.elements} for circuit in made)
            return real(made)
        monkeypatch.setattr(room, "solve", solve)
    forget()
    return found


def points(found):
    return {(state.name, corner.name): found.at(state, corner)
            for state in found.states.states for corner in found.corners.everywhere}


def without(fragment, name):
    return apply_steps(fragment, (Step("remove", fragment.parts[name].mark, names=(name,)),))


def test_the_states_of_an_unchanged_section_are_not_built_again(asked):
    fragment = netcheck.loads(BOARD)
    first = points(solved_states.survey(fragment))
    assert any("D1" in names for names in asked)
    assert any("R5" in names for names in asked)
    asked.clear()
    assert points(solved_states.survey(fragment)) == first
    assert asked == []
    changed = points(solved_states.survey(without(fragment, "D2")))
    assert asked
    assert not any("R5" in names for names in asked)
    assert all(changed[key].amps["R5"] == point.amps["R5"] for key, point in first.items())
    assert any(changed[key].volts["VRAM"] != point.volts["VRAM"] for key, point in first.items())


def test_other_corners_and_other_lasting_loads_are_built_again(asked):
    fragment = netcheck.loads(BOARD)
    solved_states.survey(fragment)
    asked.clear()
    warm = netcheck.loads(BOARD + "conditions: {temperature: 0 °C to 60 °C}\n").conditions
    solved_states.survey(replace(fragment, conditions=warm))
    assert any("R5" in names for names in asked)
    asked.clear()
    solved_states.survey(without(fragment, "U1"))  # what lasts loads the cell of any section
    assert any("R5" in names for names in asked)


def test_a_failure_that_was_tried_is_not_built_again(asked):
    fragment = netcheck.loads(BOARD)
    found = solved_states.survey(fragment)
    faults = failing.single_faults(fragment)
    first = failing.failures(found, faults)
    asked.clear()
    again = failing.failures(solved_states.survey(fragment), faults)
    assert asked == []
    assert [(one.fault, one.state, dict(one.point.amps)) for one in again] == [
        (one.fault, one.state, dict(one.point.amps)) for one in first]
    changed = without(fragment, "D2")
    after = failing.failures(solved_states.survey(changed), failing.single_faults(changed))
    assert not any("R5" in names for names in asked)
    assert {one.fault.part for one in after} == {"BT1", "D1", "U1", "R5", "R6"}
    forget()
    failing.failures(found, faults[2:4])
    mixed = failing.failures(found, faults)  # some known, some not: each keeps its own point
    assert [dict(one.point.amps) for one in mixed] == [dict(one.point.amps) for one in first]
