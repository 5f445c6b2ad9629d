"""What a load gets, over states and corners, against what it needs and survives: on volts that are plain."""

from __future__ import annotations

import pytest
from made_points import UNKNOWN, made, point, state_of, told

import netcheck
from netcheck.checks.voltage import (
    across,
    carried,
    drops,
    load_result,
    net_volts,
    stands,
    unknown_points,
    voltage_findings,
)

BOARD = """
title: a cell and a rail
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
"""


def rest(volts, by_cell=True, amps=2e-6):
    """Stored: the load at these volts, its current from the cell."""
    return point({"CELL": 3.2, "VRAM": volts, "+5V": 0.0},
                 {"BT1": amps if by_cell else 0.0, "D1": amps if by_cell else 0.0, "D2": 0.0, "U1": amps})


def live(volts, cell_A=0.0, amps=2e-6):
    """Powered: the load at these volts, this much of its current from the cell."""
    return point({"CELL": 3.2, "VRAM": volts, "+5V": 5.0},
                 {"BT1": cell_A, "D1": cell_A, "D2": amps - cell_A, "U1": amps, "+5V": amps - cell_A})


def board(at=None, text=BOARD, stored=2.8, powered=4.5):
    return made(text, {"main off": rest(stored), "main on": live(powered), **(at or {})})


def judged(at=None, text=BOARD, **volts):
    found = board(at, text, **volts)
    load = found.fragment.parts["U1"]
    result = load_result(found, load)
    return result, voltage_findings(found, load, result)


def test_a_load_within_its_range_is_silent_and_its_figures_stand():
    result, findings = judged()
    assert findings == []
    assert (result.lowest_V, result.highest_V, result.margin_V) == (2.8, 4.5, pytest.approx(0.8))
    assert (result.needs_V, result.stands_V) == (2.0, 5.5)
    assert result.volts == {"main on": 4.5, "main off": 2.8}
    assert result.carried_by_cell == ("main off",)
    assert result.fed_by_rail == ("main on",)
    assert set(result.aged_V.values()) == {2.8}


@pytest.mark.parametrize("corner", ["room, fresh cell", "leakage, usual", "cold, fresh cell",
                                    "hot, low supply, fresh cell", "room, old cell", "cold, old cell", "hot, old cell"])
def test_the_least_volts_are_those_of_every_corner_hot_and_cold_old_and_fresh(corner):
    result, _ = judged({("main off", corner): rest(2.3)})
    assert result.lowest_V == 2.3
    assert result.margin_V == pytest.approx(0.3)


@pytest.mark.parametrize("corner", ["room, fresh cell", "leakage, usual", "hot, fresh cell",
                                    "cold, high supply, fresh cell", "charge, flat cell"])
def test_the_most_volts_are_those_of_every_corner_that_may_give_them(corner):
    assert judged({("main on", corner): live(5.3)})[0].highest_V == 5.3


def test_ages_are_told_apart():
    result, _ = judged({("main off", "room, fresh cell"): rest(2.9), ("main off", "room, old cell"): rest(2.7),
                        ("main off", "cold, fresh cell"): rest(2.6), ("main off", "hot, old cell"): rest(2.4)})
    assert result.aged_V == {"fresh": 2.9, "old": 2.7, "fresh at the worst": 2.6, "old at the worst": 2.4}


def test_what_is_not_known_at_one_corner_is_not_known():
    result, _ = judged({("main off", "hot, old cell"): UNKNOWN})
    assert (result.lowest_V, result.margin_V) == (None, None)
    assert result.highest_V == 4.5
    result, _ = judged({("main on", "hot, fresh cell"): UNKNOWN})
    assert result.highest_V is None
    floats, _ = judged({("main off", "room, fresh cell"): rest(None)})
    assert floats.lowest_V == 2.8
    assert floats.volts["main off"] is None


@pytest.mark.parametrize("corner", ["room, fresh cell", "leakage, usual"])
def test_with_typical_figures_below_what_it_needs_it_fails(corner):
    (found,) = judged({("main off", corner): rest(1.9)})[1]
    assert told([found]) == [("backup-voltage", "short-of-cell", "fails")]
    assert found.figures == {"volts_V": 1.9, "needs_V": 2.0, "taken_V": pytest.approx(found.figures["taken_V"])}
    assert (found.subject, found.state, found.states, found.nets, found.line) == (
        "U1", "main off", ("main off",), ("VRAM",), 8)
    assert found.parts == ("D1",)
    assert found.words == {"cell": "fresh" if corner == "room, fresh cell" else "half used", "taker": "D1",
                           "kind": "diode"}
    assert "diode of lower drop as D1" in found.advice
    assert judged({("main off", corner): rest(2.0)})[1][0].severity.value == "caution"


def test_the_lowest_of_its_states_is_told_and_all_of_them_named():
    (found,) = judged(stored=1.9, powered=1.8)[1]
    assert (found.case, found.state, found.states) == ("short-of-cell", "main on", ("main on", "main off"))
    text = BOARD.replace("  BT1: {cell: CR2032, plus: CELL, minus: GND}\n", "")
    (bare,) = judged(text=text, powered=1.8)[1]
    assert told([bare]) == [("backup-voltage", "short-of-rail", "fails")]
    assert bare.words == {}


@pytest.mark.parametrize(("margin", "told_of"), [(0.099, True), (0.101, False)])
def test_a_margin_below_a_tenth_of_a_volt_is_thin(margin, told_of):
    _, found = judged({("main off", "hot, old cell"): rest(2.0 + margin)})
    assert told(found) == ([("backup-voltage", "thin-by-diode", "caution")] if told_of else [])
    for one in found:
        assert one.figures == {"volts_V": 2.0 + margin, "needs_V": 2.0, "margin_V": pytest.approx(margin),
                               "used_share": 0.9}
        assert one.words == {"when": "old"}
        assert (one.subject, one.parts, one.nets, one.line) == ("U1", ("U1",), ("VRAM",), 8)


def test_a_thin_margin_says_whether_a_fresh_cell_has_it_and_whether_a_diode_stands_in_the_way():
    (fresh,) = judged({("main off", "cold, fresh cell"): rest(2.05), ("main off", "hot, old cell"): rest(2.01)})[1]
    assert (fresh.words, fresh.figures["volts_V"]) == ({"when": "fresh"}, 2.05)
    straight = BOARD.replace("D1: {diode: 1N4148, anode: CELL, cathode: VRAM}",
                             "D1: {resistor: 1k, between: [CELL, VRAM]}")
    (found,) = judged({("main off", "hot, old cell"): rest(2.01)}, straight)[1]
    assert found.case == "thin"
    text = BOARD.replace("  BT1: {cell: CR2032, plus: CELL, minus: GND}\n", "")
    (bare,) = judged({("main on", "cold, fresh cell"): live(2.05)}, text)[1]
    assert bare.words == {"when": "no cell"}
    told([fresh, found, bare])


def test_a_load_that_nothing_feeds_as_set_is_told():
    """Stored only if some state lets a cell feed it, live only with every supply on."""
    jumper = BOARD.replace("D1: {diode: 1N4148, anode: CELL, cathode: VRAM}",
                           "JP1: {jumper: [CELL, VRAM], set: open}")
    at = {state: rest(2.8) for state in ("main off, JP1 closed", "main off, JP1 open")}
    at |= {state: live(4.5) for state in ("main on, JP1 closed", "main on, JP1 open")}
    found = made(jumper, at)
    load = found.fragment.parts["U1"]
    findings = voltage_findings(found, load, load_result(found, load))
    assert told(findings) == [("backup-voltage", "not-fed", "fails")]
    assert (findings[0].state, findings[0].parts, findings[0].nets, findings[0].line) == (
        "main off, JP1 open", ("U1",), ("VRAM",), 8)
    spared = made(jumper.replace("works: 2.0 V to 5.5 V", "works: 2.0 V to 5.5 V, kept: no"), at)
    load = spared.fragment.parts["U1"]
    assert voltage_findings(spared, load, load_result(spared, load)) == []
    dead = BOARD.replace("  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}\n", "").replace(
        "plus: CELL, minus: GND}", "plus: OFF, minus: GND}")
    assert [one.state for one in judged(text=dead)[1] if one.case == "not-fed"] == ["main on"]


def test_a_load_that_need_not_be_kept_is_not_judged_while_off():
    text = BOARD.replace("works: 2.0 V to 5.5 V", "works: 2.0 V to 5.5 V, kept: no")
    result, found = judged(text=text, stored=0.5)
    assert (found, result.lowest_V) == ([], 4.5)
    result, found = judged(text=BOARD.replace("works: 2.0 V to 5.5 V", "works: 2.0 V to 5.5 V, kept: yes"), stored=0.5)
    assert result.lowest_V == 0.5
    assert found


def test_what_a_load_needs_may_not_be_stated():
    result, found = judged(text=BOARD.replace(", works: 2.0 V to 5.5 V", ""))
    assert told(found) == [("backup-voltage", "not-stated", "note")]
    assert found[0].line == 8
    assert (result.needs_V, result.stands_V, result.margin_V) == (None, None, None)
    parts = [netcheck.loads(BOARD.replace("works: 2.0 V to 5.5 V", words)).parts["U1"]
             for words in ("works: 2.0 V to 5.5 V", "works: 2.0 V to 5.5 V, survives: 7 V", "works: at least 2.0 V",
                           "survives: 7 V")]
    assert [stands(part) for part in parts] == [5.5, 7.0, None, 7.0]


def over(text=BOARD, nominal=4.5, at=None):
    return [one for one in judged({("main on", "room, fresh cell"): live(nominal), **(at or {})}, text)[1]
            if one.check == "over-voltage"]


def test_above_what_it_survives_it_is_a_danger_and_at_the_tolerances_a_caution():
    assert over(nominal=5.5) == []
    (danger,) = over(nominal=5.51)
    assert told([danger]) == [("over-voltage", "beyond", "danger")]
    assert danger.figures == {"volts_V": 5.51, "limit_V": 5.5}
    assert (danger.state, danger.states, danger.words) == ("main on", ("main on",), {"cells": ("BT1",)})
    assert (danger.subject, danger.parts, danger.nets, danger.line) == ("U1", ("U1",), ("VRAM",), 8)
    (caution,) = over(at={("main on", "hot, fresh cell"): live(5.6)})
    assert told([caution]) == [("over-voltage", "beyond", "caution")]
    assert (caution.figures["volts_V"], caution.words, caution.states) == (
        5.6, {"at": "tolerances", "cells": ("BT1",)}, ("main on",))


def test_between_what_it_works_with_and_what_it_survives_it_is_a_caution():
    text = BOARD.replace("works: 2.0 V to 5.5 V", "works: 2.0 V to 5.5 V, survives: 7 V")
    (caution,) = over(text, nominal=6.5)
    assert told([caution]) == [("over-voltage", "beyond-works", "caution")]
    assert caution.figures == {"volts_V": 6.5, "limit_V": 7.0, "works_V": 5.5}
    assert over(text, nominal=7.1)[0].severity.value == "danger"
    both = over(text, at={("main on", "hot, fresh cell"): live(7.2), ("main off", "hot, fresh cell"): rest(5.6)})
    assert (both[0].state, both[0].states, both[0].case) == ("main on", ("main on", "main off"), "beyond")
    assert over(BOARD.replace("works: 2.0 V to 5.5 V", "works: at least 2.0 V"), nominal=9.0) == []


def test_of_two_states_the_dangerous_one_is_told_though_the_other_has_more_at_the_tolerances():
    (found,) = over(nominal=5.6, at={("main off", "hot, fresh cell"): rest(9.0)})
    assert (found.state, found.states, found.figures["volts_V"]) == ("main on", ("main on",), 5.6)


def test_too_many_volts_are_told_also_where_another_state_or_corner_has_no_solution():
    (late,) = over(at={("main on", "room, fresh cell"): UNKNOWN, ("main on", "hot, fresh cell"): live(5.6)})
    assert told([late]) == [("over-voltage", "beyond", "caution")]
    assert (late.figures["volts_V"], late.words["at"]) == (5.6, "tolerances")
    (other,) = over(at={"main on": UNKNOWN, ("main on", "room, fresh cell"): UNKNOWN,
                        ("main off", "room, fresh cell"): rest(9.0)})
    assert told([other]) == [("over-voltage", "beyond-by-cell", "danger")]
    assert over(at={("main on", "room, fresh cell"): UNKNOWN}) == []


def hand_over(at=None, text=BOARD, powered=4.5):
    return [one for one in judged(at, text, powered=powered)[1] if one.check == "hand-over"]


def test_a_cell_that_gives_while_the_rail_is_live_is_told():
    (found,) = hand_over({("main on", "room, fresh cell"): live(3.0, 1e-6)})
    assert told([found]) == [("hand-over", "usual", "caution")]
    assert (found.subject, found.state, found.parts) == ("U1", "main on", ("BT1",))
    assert (found.nets, found.line) == (("VRAM",), 8)
    (low,) = hand_over({("main on", "cold, fresh cell"): live(3.0, 1e-6)})
    assert told([low]) == [("hand-over", "low-supply", "note")]
    assert hand_over({("main on", "hot, fresh cell"): live(3.0, 1e-6)}) == []
    assert hand_over() == []


def test_of_two_cells_the_one_that_gives_is_named():
    text = BOARD.replace("  D1:", "  BT2: {cell: CR2032, plus: OTHER, minus: GND}\n"
                                  "  D3: {diode: 1N4148, anode: OTHER, cathode: VRAM}\n  D1:")
    at = live(3.0, 1e-6)
    (found,) = hand_over({("main on", "room, fresh cell"): point(at.volts, {**at.amps, "BT2": 0.0, "D3": 0.0})}, text)
    assert found.parts == ("BT1",)


@pytest.mark.parametrize(("share", "told_of"), [(0.11, True), (0.09, False)])
def test_a_tenth_of_a_loads_current_is_carrying_it(share, told_of):
    assert bool(hand_over({("main on", "room, fresh cell"): live(3.0, share * 2e-6)})) is told_of


def test_a_supercapacitor_takes_back_what_it_gave():
    text = BOARD.replace("cell: CR2032", "cell: supercap-0.33F")
    assert hand_over({("main on", "room, fresh cell"): live(3.0, 1e-6)}, text) == []


def test_a_load_is_carried_by_what_arrives_from_a_cell():
    """No more than the cell gives, no more than each part on the way takes along, and not against the volts."""
    def told_of(given_A=2e-6, diode_A=2e-6, cell_V=3.2, drawn=2e-6, known=True):
        found = made(BOARD, {"main off": point({"CELL": cell_V, "VRAM": 2.8},
                                               {"BT1": given_A, "D1": diode_A, "U1": drawn}) if known else UNKNOWN})
        return carried(found, state_of(found, "main off"), found.fragment.parts["U1"])

    assert told_of()
    assert not told_of(given_A=1e-7)
    assert not told_of(diode_A=1e-7)
    assert not told_of(cell_V=2.7)
    assert not told_of(drawn=0.0)
    assert not told_of(given_A=-2e-6)
    assert not told_of(known=False)


def test_the_drops_are_those_of_the_parts_that_carry_the_loads():
    found = board(stored=2.8)
    assert drops(found, state_of(found, "main off")) == {"D1": pytest.approx(0.4)}
    assert drops(found, state_of(found, "main on")) == {"D2": pytest.approx(0.5)}
    shared = board({("main on", "room, fresh cell"): live(2.9, 1e-6)})
    assert set(drops(shared, state_of(shared, "main on"))) == {"D1", "D2"}
    small = board({("main on", "room, fresh cell"): live(2.9, 0.04 * 2e-6)})
    assert set(drops(small, state_of(small, "main on"))) == {"D2"}
    unknown = board({("main on", "room, fresh cell"): UNKNOWN})
    assert drops(unknown, state_of(unknown, "main on")) == {}
    idle = board({("main on", "room, fresh cell"): live(4.5, 0.0, 0.0)})
    assert drops(idle, state_of(idle, "main on")) == {}


def test_volts_are_from_plus_to_minus_and_none_where_one_floats():
    part = netcheck.loads(BOARD.replace("U1: {load: 2 uA, plus: VRAM, minus: GND",
                                        "U1: {load: 2 uA, plus: VRAM, minus: CELL")).parts["U1"]
    assert across(point({"VRAM": 5.0, "CELL": 3.0}), part) == 2.0
    assert across(point({"VRAM": None, "CELL": 3.0}), part) is None
    assert across(point({"VRAM": 5.0, "CELL": None}), part) is None
    found = board()
    assert net_volts(found, state_of(found, "main off")) == {"CELL": 3.2, "VRAM": 2.8, "+5V": 0.0, "GND": 0.0}


def test_every_reason_for_an_unknown_point_is_told_once_with_its_first_state():
    found = board()
    on, off = state_of(found, "main on"), state_of(found, "main off")
    other = type(UNKNOWN)(problem="a net floats")
    said = unknown_points(found, [(on, point()), (off, UNKNOWN), (on, UNKNOWN), (on, other)])
    assert told(said) == [("simulation", "state-unknown", "unknown")] * 2
    assert [(one.state, one.words["why"]) for one in said] == [
        ("main off", UNKNOWN.problem), ("main on", "a net floats")]
    assert unknown_points(found, [(on, point())]) == []


def test_too_many_volts_of_a_cell_alone_are_told_as_the_cells():
    (found,) = over(at={("main off", "room, fresh cell"): rest(5.6)})
    assert told([found]) == [("over-voltage", "beyond-by-cell", "danger")]
    assert (found.state, found.words["cells"]) == ("main off", ("BT1",))
    (works,) = over(BOARD.replace("works: 2.0 V to 5.5 V", "works: 2.0 V to 5.5 V, survives: 7 V"),
                    at={("main off", "room, fresh cell"): rest(5.6)})
    assert told([works]) == [("over-voltage", "beyond-works-by-cell", "caution")]


TWELVE = BOARD.replace("+5V: 5 V", "+12V: 12 V").replace("+5V", "+12V")


@pytest.mark.parametrize(("limits", "rail_V", "severity"), [
    ("", "12 V", "unknown"), ("", "7.7 V", "unknown"), ("", "6 V", None), ("survives: 7 V", "12 V", "danger"),
    ("survives: 15 V", "12 V", None), ("kept: no", "12 V", "unknown"),
])
def test_without_limits_it_is_unknown_from_where_logic_for_5_volts_would_not_stand_it(limits, rail_V, severity):
    """A rail up to 5 % high less the 0.3 V of a 1N4148 at 2 µA, against 7 V."""
    text = TWELVE.replace("12 V", rail_V).replace("works: 2.0 V to 5.5 V", limits).replace(", }", "}")
    (variant,) = netcheck.check(netcheck.loads(text)).variants
    found = [one for one in variant.findings if one.check == "over-voltage"]
    assert [str(one.severity) for one in found] == ([severity] if severity else [])
    noted = [one.case for one in variant.findings if one.check == "backup-voltage"]
    assert noted == ([] if severity else ["not-stated"])
