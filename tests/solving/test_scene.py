"""A state of a variant for a drawing: its point, and the ways into its cells."""

from __future__ import annotations

import pytest

import netcheck
from netcheck.fragment.states import enumerate_states
from netcheck.solving import scene as scenes
from netcheck.solving.scene import reference, scene

BOARD = """
title: a charger
rails: {+5V: 5 V, +9V: {volts: 9 V, supply: aux}}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND, voltage: 3.2 V}
  R1: {resistor: 1k, between: [+5V, CELL]}
  BT2: {cell: alkaline-3xAA, plus: EXT, minus: GND, plugged: maybe}
  R2: {resistor: 100, between: [EXT, CELL]}
  D1: {diode: 1N4148, anode: CELL, cathode: +9V}
  JP1: {jumper: [CELL, X], set: closed}
  R3: {resistor: 1M, between: [X, GND]}
"""


@pytest.fixture(scope="module")
def fragment():
    return netcheck.loads(BOARD)


def test_the_reference_is_as_found_with_most_supplies_on_as_set_and_nothing_plugged(fragment):
    state = reference(fragment).state
    assert (state.supplies, state.positions, state.plugged) == (
        {"main": True, "aux": True}, {"JP1": "closed"}, {"BT2": False})


def test_the_nets_of_a_reference_stand_as_in_every_state_or_in_the_named_ones_of_each_variant(fragment):
    """R1 open leaves CELL to BT1 and what D1 leaks: within its 3.2 V less a diode's drop of nothing."""
    found = reference(fragment)
    assert found.point.volts["+9V"] == 9.0
    assert len(found.stood) == 1 + len(enumerate_states(fragment).states)
    assert found.stood[0] == found.point.volts
    text = BOARD.replace("set: closed", "set: open") + (
        "states: {asleep: {main: off, aux: off, JP1: closed, BT2: unplugged}}\n"
        "mods: {out: {steps: [{remove: R1}]}}\n")
    named = reference(netcheck.loads(text))
    assert named.state.positions == {"JP1": "open"}
    assert [round(volts["+5V"]) for volts in named.stood] == [5, 0, 0]
    cell_V = [volts["CELL"] for volts in named.stood]
    assert cell_V[0] > 3.2 > cell_V[2] > cell_V[1]  # charged; feeding R1 and R3; R1 is out of it


def test_a_scene_has_the_nominal_point_and_the_ways_that_conduct_named_from_the_cell_that_pushes(fragment):
    """5 V over 1 kilohm and some 15 ohm into 3.2 V: 1.8 mA."""
    state = next(one for one in enumerate_states(fragment).states
                 if one.name == "main on, aux off, JP1 closed, BT2 plugged")
    found = scene(fragment, state, marked=True)
    assert (found.fragment, found.state, found.marked) == (fragment, state, True)
    assert found.point.volts["+5V"] == 5.0
    assert set(found.routes) == {("R1", "BT1"), ("BT2", "R2", "BT1"), ("R1", "R2", "BT2"), ("BT1", "R2", "BT2")}
    assert not scene(fragment, state).marked


def test_without_a_simulator_the_point_says_so_and_the_ways_are_told_all_the_same(fragment, monkeypatch):
    monkeypatch.setattr(scenes, "available", lambda: "there is none")
    assert reference(fragment).point.problem == "there is none"
    found = scene(fragment, reference(fragment).state)
    assert found.point.problem == "there is none"
    assert ("R1", "BT1") in found.routes
