"""A jumper in the wrong place must not harm the cell, and if it does it is told."""

from __future__ import annotations

import pytest

import netcheck
from netcheck.checks.overloads import LARGE_A

CLEAR = """
title: a clear position that shorts
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: BAS70, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  JP1: {jumper: [NC1, VRAM, GND], positions: {normal: 1-2, clear: 2-3}, set: POSITION}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
"""


def findings(text, check):
    return [f for f in netcheck.check(netcheck.loads(text)).variants[-1].findings if f.check == check]


def about(subject, found):
    return [finding for finding in found if finding.subject == subject]


def test_a_shorted_cell_is_told_with_the_parts_that_carry_it():
    (found,) = about("BT1", findings(CLEAR.replace("POSITION", "normal"), "short-circuit"))
    assert str(found.severity) == "danger"
    assert all("clear" in state for state in found.held_in)
    assert {"D1", "JP1"} <= set(found.parts)


def test_a_board_that_stands_so_by_itself_is_dangerous():
    (found,) = about("BT1", findings(CLEAR.replace("POSITION", "clear"), "short-circuit"))
    assert str(found.severity) == "danger"


def test_a_supply_that_nothing_but_a_diode_holds_off_ground_is_shorted():
    """1N4148: IF 300 mA at most; Vishay 1N4148, document 81857 rev 1.4, absolute maximum ratings."""
    (found,) = about("+5V", findings(CLEAR.replace("POSITION", "normal"), "short-circuit"))
    assert (found.case, found.parts, found.words["weakest"]) == ("supply-by-diodes", ("D2", "JP1"), "D2")
    assert found.figures["current_A"] > 1.0 > found.figures["limit_A"]
    assert "main on" in (found.state or "")
    assert findings(CLEAR.replace("POSITION", "normal"), "over-current") == []  # the short says what D2 stands


THROUGH = """
title: diodes across a supply
rails: {+5V: 5 V ±5%, -12V: -12 V}
parts:
  D3: {diode: 1N5817, anode: +5V, cathode: X}
  D4: {diode: 1N5817, anode: X, cathode: Y}
  R1: {resistor: OHM, between: [Y, GND]}
  D5: {diode: BZX55C3V3, anode: GND, cathode: +5V}
  U1: {load: 2 uA, plus: +5V, minus: GND, works: 2.0 V to 5.5 V}
"""


@pytest.mark.parametrize(("ohm", "short"), [("0.5", True), ("4", False)])
def test_a_supply_shorted_through_diodes_is_told_with_its_route_and_what_limits_it_is_no_short(ohm, short):
    """4 Ω still burn both diodes, for 1 A at most, and are told of each; the zener's 1.7 V pass milliamperes alone."""
    text = THROUGH.replace("OHM", ohm)
    shorted, burnt = findings(text, "short-circuit"), {one.subject for one in findings(text, "over-current")}
    assert [one.parts for one in shorted] == ([("D3", "D4", "R1")] if short else [])
    assert burnt == (set() if short else {"D3", "D4"})


def test_a_diode_the_wrong_way_round_below_ground_shorts_the_negative_rail():
    text = THROUGH.replace("OHM", "1k").replace("D5: {diode: BZX55C3V3, anode: GND, cathode: +5V}",
                                                "D5: {diode: 1N4001, anode: GND, cathode: -12V}")
    (found,) = findings(text, "short-circuit")
    assert (found.subject, found.words["other"], found.parts) == ("-12V", "GND", ("D5",))
    assert "-12V" in found.message


def test_the_load_is_not_to_be_kept_alive_where_somebody_clears_it():
    assert not [f for f in findings(CLEAR.replace("POSITION", "normal"), "backup-voltage")
                if str(f.severity) == "danger"]


@pytest.mark.parametrize("joins", [
    "JP9: {jumper: [+5V, GND], set: closed}", "R9: {resistor: 0, between: [+5V, GND]}",
    "R9: {resistor: 0.01, between: [+5V, GND]}", "F9: {fuse: 1 A, between: [+5V, GND]}",
    "L9: {inductor: bead, between: [+5V, GND]}", "L9: {inductor: 10u, between: [+5V, GND]}"])
def test_a_dead_short_of_a_supply_has_one_answer_whatever_makes_it(joins):
    variant = netcheck.check(netcheck.loads(CLEAR.replace("POSITION", "normal") + f"  {joins}\n")).variants[-1]
    (found,) = [f for f in variant.findings if f.check == "short-circuit" and f.case != "supply-by-diodes"
                and f.subject == "+5V"]
    assert (str(found.severity), found.parts, variant.verdict) == ("danger", (joins.split(":")[0],), "danger")
    assert found.state in variant.dangerous_states


def test_a_resistor_between_supply_and_ground_that_is_no_short_is_none():
    text = CLEAR.replace("POSITION", "normal").replace("clear: 2-3", "clear: none")
    assert findings(text + "  R9: {resistor: 100, between: [+5V, GND], power: 1 W}\n", "short-circuit") == []


def test_a_cell_that_gives_more_than_it_may_for_good():
    """29 mA through 100 ohm and the 12 ohm of FDK (50 mA for 15 s), where a coin cell gives 3 mA at most for good."""
    text = CLEAR.replace("POSITION", "normal").replace("clear: 2-3", "clear: none")
    (found,) = findings(text + "  R8: {resistor: 100, between: [CELL, GND]}\n", "short-circuit")
    assert found.parts == ("BT1", "R8")
    assert found.figures["current_A"] == pytest.approx(3.25 / 112, rel=0.02)


def test_nothing_is_said_of_a_board_without_excess():
    text = CLEAR.replace("POSITION", "normal").replace("clear: 2-3", "clear: none")
    assert findings(text, "short-circuit") == []
    assert findings(text, "over-current") == []


UNRATED = """
title: diode of which no rating is stated across a supply
rails: {+5V: VOLTS V}
parts:
  R1: {resistor: OHM, between: [+5V, A]}
  D1: {diode: {IS: 1 nA, N: 1.5}, anode: A, cathode: GND}
"""


@pytest.mark.parametrize(("volts", "ohm", "told"), [
    ("5", "0.05", [("short-circuit", "supply-by-any-diodes", 80)]),  # (5 - 1) V / 0.05 ohm
    ("60", "1.5", [("over-current", "any-diode", 39)]),              # (60 - 1) V / 1.5 ohm
    ("5", "10", []),
])
def test_a_diode_of_which_no_rating_is_stated_is_held_to_what_none_stands(volts, ohm, told):
    """About 1 V on a junction of 1 nA and n = 1.5 (Shockley: 1.5 * 25.7 mV * ln(80 A / 1 nA))."""
    found = [one for check in ("short-circuit", "over-current")
             for one in findings(UNRATED.replace("VOLTS", volts).replace("OHM", ohm), check)]
    assert [(one.check, one.case) for one in found] == [(check, case) for check, case, _ in told]
    for one, (_, _, amps) in zip(found, told, strict=True):
        assert (str(one.severity), one.figures["limit_A"]) == ("danger", LARGE_A)
        assert one.figures["current_A"] == pytest.approx(amps, rel=0.05)
