"""Remedies: the smallest removals, and the places for a series diode."""

from __future__ import annotations

import netcheck
from netcheck.conduction.graph import conduction
from netcheck.conduction.remedies import diode_places, removals
from netcheck.conduction.routes import distinct_routes
from netcheck.fragment.states import enumerate_states
from netcheck.parts.catalogue import Catalogue

CHARGER = """
title: charger
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 470, between: [+5V, CHG]}
  D3: {diode: 1N4148, anode: CHG, cathode: CELL}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND}
"""

SHARED = """
title: one resistor both ways
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 1k, between: [VRTC, CELL]}
  D1: {diode: 1N4148, anode: +5V, cathode: VRTC}
  U1: {load: 2 uA, plus: VRTC, minus: GND}
"""


def prepared(text):
    fragment = netcheck.loads(text)
    graphs = [conduction(fragment, state) for state in enumerate_states(fragment).states]
    return fragment, graphs, fragment.parts["BT1"]


def places(text):
    fragment, graphs, cell = prepared(text)
    routes = distinct_routes(fragment, graphs, cell)
    diode = Catalogue.standard().diode("1N4148")
    return {remedy.insert_diode for remedy in diode_places(fragment, graphs, cell, routes, diode)}


def test_removing_either_part_of_a_charger_stops_it():
    """Common practice, no source: removing either the resistor or the diode stops such a charger."""
    found = removals(*prepared(CHARGER))
    assert set(found.sets) == {("R1",), ("D3",)}
    assert found.complete


def test_a_part_that_feeds_a_load_is_not_offered_for_removal():
    assert removals(*prepared(SHARED)).sets == ()


def test_a_shared_resistor_is_cured_by_a_diode_in_a_lead_or_in_its_place():
    assert places(SHARED) == {"BT1.plus", "BT1.minus", "R1"}


def test_two_chargers_need_two_parts_out():
    text = CHARGER + "  R4: {resistor: 10k, between: [+5V, CELL]}\n"
    found = removals(*prepared(text))
    assert set(found.sets) == {("R1", "R4"), ("D3", "R4")}


def test_four_parallel_chargers_are_more_than_three_parts_can_cure():
    text = CHARGER + "".join(f"  R{n}: {{resistor: 10k, between: [+5V, CELL]}}\n" for n in (4, 5, 6))
    assert removals(*prepared(text)).sets == ()
    assert places(text) == {"BT1.plus", "BT1.minus"}
