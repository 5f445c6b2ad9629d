"""What is not known of a chip and could change the answer."""

from __future__ import annotations

import pytest
from made_points import made, sound, told

import netcheck
from netcheck.checks.chips import retention_findings, told_once, unstated_chips
from netcheck.findings import Finding, Severity
from netcheck.simulation.elements import Lacking

BOARD = """
title: a chip at a cell
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 1k, between: [CELL, VBAT]}
  U2: CHIP
  R2: {resistor: 1k, between: [FAR, GND]}
"""


def chips(chip, more=""):
    return unstated_chips(netcheck.loads(BOARD.replace("CHIP", chip) + more))


@pytest.mark.parametrize(("chip", "nets"), [
    ("{chip: g, pins: {1: VBAT, 2: +5V, 3: GND}}", ("VBAT", "+5V")),
    ("{chip: g, pins: {1: VBAT, 2: FAR, 3: GND}}", ("VBAT", "FAR")),
    ("{chip: g, pins: {1: CELL, 2: VBAT}}", ("CELL", "VBAT")),
    ("{chip: g, pins: {1: VBAT, 2: ALONE, 3: GND}}", None),
    ("{chip: g, pins: {1: FAR, 2: +5V, 3: GND}}", None),
    ("{chip: g, pins: {1: VBAT, 2: VBAT, 3: GND}}", None),
    ("{chip: g, pins: {1: VBAT, 2: +5V}, paths: [{from: 2, to: 1, by: diode}]}", None),
    ("{chip: g, pins: {1: VBAT, 2: +5V}, clamps: {to: +5V, from: [VBAT]}}", None),
])
def test_a_chip_between_a_cell_and_something_else_is_unknown_until_its_ways_are_stated(chip, nets):
    found = chips(chip)
    assert told(found) == ([("not-judged", "chip-at-cell", "unknown")] if nets else [])
    for one in found:
        assert (one.subject, one.parts, one.nets, one.line) == ("U2", ("U2",), nets, 7)
        assert (one.words["touched"], one.words["others"]) == (nets[0], nets[1:])


def test_the_way_that_is_to_be_stated_has_the_pins_of_that_chip():
    (one,) = chips("{chip: g, pins: {17: VBAT, 40: +5V, VSS: GND}}")
    assert "paths: [{from: 40, to: 17, by: switch}]" in one.advice


def test_a_cell_is_reached_through_parts_but_not_through_a_rail_ground_a_chip_or_a_part_left_out():
    chip = "{chip: g, pins: {1: FAR, 2: +5V}}"
    assert chips(chip, "  R3: {resistor: 1k, between: [VBAT, FAR]}\n")
    assert not chips(chip, "  R3: {resistor: 1k, between: [VBAT, +5V]}\n  R4: {resistor: 1k, between: [+5V, FAR]}\n")
    assert not chips(chip, "  U3: {chip: g, pins: {1: VBAT, 2: FAR}, paths: [{from: 2, to: 1, by: diode}]}\n")
    assert not chips(chip, "  R3: {resistor: 1k, between: [VBAT, FAR], fitted: no}\n")
    assert not chips(chip, "  J1: {connector: unknown, pins: {1: VBAT, 2: FAR}}\n")


MEMORY = """
title: a memory
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: LOAD, plus: VRAM, minus: GNDSELECTED}
"""


def memory(load, selected="", text=MEMORY):
    return retention_findings(made(text.replace("LOAD", load).replace("SELECTED", selected)))


def test_a_memory_of_the_library_is_asked_of_whether_or_not_anything_is_said():
    assert told(memory("SRAM-62256")) == [("retention", "not-traced", "note")]
    assert memory("SRAM-62256", ", selected: held") == []
    assert told(memory("SRAM-62256", ", selected: floating")) == [("retention", "floating", "caution")]


@pytest.mark.parametrize(("selected", "case"), [
    (", selected: floating", ("floating", "caution")), (", selected: held", None), ("", None)])
def test_how_a_memory_is_selected_is_asked_of_what_a_cell_keeps(selected, case):
    found = memory("2 uA", selected)
    assert told(found) == ([("retention", *case)] if case else [])
    for one in found:
        assert (one.subject, one.parts, one.line) == ("U1", ("U1",), 8)
    unbacked = MEMORY.replace("anode: CELL, cathode: VRAM", "anode: VRAM, cathode: CELL")
    assert memory("2 uA", selected, unbacked) == []


CHARGERS = """
title: two ways through a chip of which the resistance is not known
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  U1: {chip: g, pins: {1: +5V, 2: CELL, 3: OUT},
       paths: [{from: 1, to: 2, by: switch, ohms: 2k}, {from: 1, to: 3, by: charger}, {from: 3, to: 2, by: charger}]}
"""


def lacking(element):
    return Lacking("some figure is missing", element)


def unknown(subject, why, state=None, severity=Severity.UNKNOWN):
    return Finding("charge-route", severity, subject, case="not-solved", state=state, words={"why": why})


def test_what_fails_for_one_way_through_a_chip_is_told_once_in_place_of_the_first():
    fragment = netcheck.loads(CHARGERS)
    assert [path.ohm for path in fragment.parts["U1"].paths] == [2e3, None, None]
    other = unknown("BT1", "it does not settle")
    mild = unknown("BT1", lacking("U1.path3"), severity=Severity.CAUTION)
    third = [unknown("BT1", lacking("U1.path3"), state) for state in ("main on", "main off")]
    board = unknown("a title", lacking("U1.path3"), "main on")
    found = told_once([other, third[0], mild, third[1], board], fragment)
    assert (found[0], found[2], len(found)) == (other, mild, 3)
    (one,) = sound(found[1:2], fragment)
    assert (one.check, one.case, str(one.severity), one.subject) == ("charger", "no-ohms", "unknown", "U1")
    assert (one.parts, one.nets) == (("U1", "BT1"), ("OUT", "CELL"))
    assert "main on" in one.message
    assert "main off" in one.message
    assert "BT1" in one.message
    assert "from 3 to 2" in one.advice
    second = unknown("BT1", lacking("U1.path2"))
    assert [each.case for each in told_once([second, *third], fragment)] == ["no-ohms", "no-ohms"]
    assert told_once([other, mild], fragment) == [other, mild]
    known = unknown("BT1", lacking("U1.path1"))
    assert told_once([known], fragment) == [known]
