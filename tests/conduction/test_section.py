"""What of a big fragment hangs together with its cells and loads."""

from __future__ import annotations

import netcheck
from netcheck.conduction.section import around
from netcheck.fragment.model import Kind

BOARD = """
title: several sections
rails: {+5V: 5 V, +9V: {volts: 9 V, supply: aux, when_off: open}}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 1k, between: [CELL, A]}
  R2: {resistor: 1k, between: [A, +5V]}
  C1: {capacitor: 1u, between: [A, B]}
  R3: {resistor: 1k, between: [B, GND]}
  R4: {resistor: 1k, between: [FAR, +5V]}
  R5: {resistor: 1k, between: [FAR, GND]}
  R6: {resistor: 1k, between: [+9V, A]}
  R7: {resistor: 1k, between: [+9V, OTHER]}
  R8: {resistor: 1k, between: [OFF, FAR]}
  R9: {resistor: 1k, between: [A, OFF], fitted: no}
  U1: {load: 1 mA, plus: +5V, minus: GND}
  U2: {chip: gate, pins: {1: A, 2: FAR, 3: GND}}
  U3: {chip: gate, pins: {1: IN, 2: FAR}, clamps: {to: +5V, from: [IN]}}
  R10: {resistor: 1k, between: [IN, B]}
"""


def names(fragment):
    return set(fragment.parts)


def test_ground_and_a_rail_that_is_low_when_off_part_what_hangs_together():
    """A rail that floats when off joins what hangs on it; a chip only by its protection diodes."""
    found = names(around(netcheck.loads(BOARD)))
    assert {"BT1", "R1", "R2", "C1", "R3", "R6", "R7", "R10", "U3", "U1"} <= found
    assert not {"R4", "R5", "R8", "U2"} & found


def test_nets_that_are_asked_for_bring_their_own_section():
    found = names(around(netcheck.loads(BOARD), {"FAR"}))
    assert {"R4", "R5", "R8", "BT1"} <= found


def test_a_held_net_that_is_asked_for_brings_nothing_with_it():
    assert names(around(netcheck.loads(BOARD), {"GND", "+5V"})) == names(around(netcheck.loads(BOARD)))


def test_other_kinds_have_their_sections_and_each_of_them_is_kept_itself():
    found = names(around(netcheck.loads(BOARD), (), (Kind.LOAD,)))
    assert found == {"U1"}
    assert "BT1" in names(around(netcheck.loads(BOARD), {"B"}, (Kind.LOAD,)))


def test_what_is_kept_is_as_it_was_and_nothing_else_of_the_fragment_changes():
    whole = netcheck.loads(BOARD)
    part = around(whole)
    assert all(part.parts[name] is whole.parts[name] for name in part.parts)
    assert (part.title, part.rails, part.ground) == (whole.title, whole.rails, whole.ground)
