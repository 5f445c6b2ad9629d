"""What the tracer wants to be true, on volts, currents and copper that are plain: the worst state decides."""

from __future__ import annotations

import pytest
from made_points import UNKNOWN, made, point, state_of, told

from netcheck.checks.expectations import expectation_findings, judge, linked

BOARD = """
title: expectations
rails: {+5V: 5 V}
parts:
  R1: {resistor: 1k, between: [+5V, A]}
  R2: {resistor: 1k, between: [A, GND]}
  R3: {resistor: 1k, between: [B, GND]}
  JP1: {jumper: [A, B], set: closed}
  JP2: {jumper: [B, C], set: open}
  SW1: {switch: [C, D], set: closed, fitted: no}
  U9: {chip: g, pins: {1: A, 2: GND}}
"""


def judged(wish, at=None, otherwise=None):
    found = made(f"{BOARD}expect:\n  - {wish}\n", at, otherwise or point({"A": 2.5, "B": 2.5, "+5V": 5.0},
                                                                          {"R1": 2.5e-3, "R2": -1e-3}))
    cases = judge(found)
    return cases[0], expectation_findings(found, cases)


@pytest.mark.parametrize(("wanted", "holds"), [
    ("2.5 V", True), ("2.55 V", True), ("2.56 V", False), ("2.45 V", False), ("2.452 V", True), ("2.4 V ±5%", True),
    ("2.5 V to 3 V", True), ("2 V to 2.5 V", True), ("2.51 V to 3 V", False), ("2 V to 2.49 V", False),
    ("at least 2.5 V", True), ("at most 2.4 V", False),
])
def test_volts_are_held_to_their_range_and_a_single_value_to_two_percent(wanted, holds):
    case, findings = judged(f"{{at: A, volts: {wanted}}}")
    assert (case.holds, case.found, case.case) == (holds, 2.5, "value")
    assert told(findings) == ([] if holds else [("expectation", findings[0].case, "fails")])
    for one in findings:
        assert (one.subject, one.state, one.line) == ("A", case.state, 13)


def test_what_was_wanted_is_said_with_its_unit_and_the_reason_that_the_file_gives():
    case, (finding,) = judged("{at: A, volts: 1.5, because: the memory needs it}")
    assert "1.5 V" in case.wanted
    assert "because the memory needs it" in finding.message
    case, (finding,) = judged("{at: A, volts: 1.4 V to 1.5 V}")
    assert "1.5 V" in case.wanted
    assert "1.5 V V" not in case.wanted
    assert "because" not in finding.message


def test_volts_may_be_asked_against_another_net():
    at = point({"A": 2.5, "B": 1.0}, {})
    assert judged("{at: A, against: B, volts: 1.5}", otherwise=at)[0].found == 1.5
    assert judged("{at: B, against: A, volts: -1.5}", otherwise=at)[0].holds
    for floating in ({"A": None, "B": 1.0}, {"A": 2.5, "B": None}):
        case, findings = judged("{at: A, against: B, volts: 1.5}", otherwise=point(floating))
        assert (case.holds, case.case) == (None, "floats")
        assert told(findings) == [("expectation", findings[0].case, "unknown")]


@pytest.mark.parametrize(("wanted", "through", "holds", "value"), [
    ("2.5 mA", "R1", True, 2.5e-3), ("1 mA", "R2", True, 1e-3), ("at most 1 mA", "R2", True, 1e-3),
    ("-1 mA", "R2", True, -1e-3), ("1.1 mA", "R2", False, 1e-3), ("0 mA", "R3", True, 0.0),
])
def test_current_is_told_by_its_size_unless_a_direction_is_asked_for(wanted, through, holds, value):
    case, _ = judged(f"{{through: {through}, amps: {wanted}}}")
    assert (case.holds, case.found) == (holds, value)


def test_the_worst_state_decides():
    """Failing before unknown before holding, whichever state comes first."""
    good, bad = point({"A": 2.5}), point({"A": 0.1})
    states = [state.name for state in made(BOARD).states.states]
    for wrong in (states[0], states[-1]):
        case, _ = judged("{at: A, volts: 2.5}", {wrong: bad}, good)
        assert (case.holds, case.state) == (False, wrong)
        case, findings = judged("{at: A, volts: 2.5}", {wrong: UNKNOWN}, good)
        assert (case.holds, case.state, case.case) == (None, wrong, "not-solved")
        assert told(findings)[0][2] == "unknown"
        other = next(name for name in states if name != wrong)
        case, _ = judged("{at: A, volts: 2.5}", {wrong: bad, other: UNKNOWN}, good)
        assert (case.holds, case.state) == (False, wrong)


def test_only_the_states_that_it_speaks_of_count():
    on = [name for name in (state.name for state in made(BOARD).states.states) if name.startswith("main on")]
    at = {name: point({"A": 2.5}) for name in on}
    case, _ = judged("{at: A, volts: 2.5, when: {main: on}}", at, point({"A": 0.0}))
    assert case.holds
    assert judged("{at: A, volts: 2.5, when: {main: on, JP1: closed}}", at, point({"A": 0.0}))[0].holds
    assert judged("{at: A, volts: 2.5, when: {JP1: closed}}", at, point({"A": 0.0}))[0].holds is False
    named = BOARD + "states: {up: {main: on}}\nexpect:\n  - {at: A, volts: 2.5, state: up}\n"
    assert judge(made(named, {"up": point({"A": 2.5})}, point({"A": 0.0})))[0].holds


def test_a_state_that_was_not_tried_leaves_it_unknown():
    found = made(BOARD + "states: {up: {main: on}}\nexpect:\n  - {at: A, volts: 2.5, state: up}\n")
    fewer = type(found)(found.fragment, type(found.states)(tuple(
        state for state in found.states.states if state.name != "up")), found.corners, found.points, None)
    (case,) = judge(fewer)
    assert (case.holds, case.case, case.state) == (None, "no-state", None)
    (finding,) = expectation_findings(fewer, [case])
    assert told([finding])[0][2] == "unknown"


@pytest.mark.parametrize(("wish", "holds", "word"), [
    ("{joined: [A, B], when: {JP1: closed}}", True, "joined"), ("{joined: [A, B], when: {JP1: open}}", False, "apart"),
    ("{apart: [A, B], when: {JP1: open}}", True, "apart"), ("{apart: [A, B], when: {JP1: closed}}", False, "joined"),
    ("{joined: [A, B, C], when: {JP1: closed, JP2: open}}", False, "partly joined"),
    ("{apart: [A, B, C], when: {JP1: closed, JP2: open}}", False, "partly joined"),
    ("{joined: [A, C], when: {JP1: closed, JP2: closed}}", True, "joined"),
    ("{joined: [C, D]}", False, "apart"), ("{joined: [+5V, A]}", False, "apart"),
])
def test_copper_joins_and_resistors_and_what_is_not_fitted_do_not(wish, holds, word):
    case, findings = judged(wish)
    assert (case.holds, case.found) == (holds, word)
    assert bool(findings) is not holds
    told(findings)
    for one in findings:
        assert one.nets == tuple(wish.split("[")[1].split("]")[0].split(", "))
        assert one.line == 13


def test_the_current_of_a_chip_is_not_known_and_through_what_is_not_there_none_flows():
    case, findings = judged("{through: U9, amps: 1 mA}")
    assert (case.holds, case.case) == (None, "current-not-known")
    assert told(findings)[0][2] == "unknown"
    assert judged("{through: SW1, amps: 0 mA}")[0].holds
    case, _ = judged("{through: R1, amps: 1 mA}", otherwise=UNKNOWN)
    assert (case.holds, case.case) == (None, "not-solved")


def test_the_graph_of_copper_holds_every_net():
    found = made(BOARD)
    closed = next(state for state in found.states.states if state.positions["JP1"] == "closed"
                  and state.positions["JP2"] == "closed")
    graph = linked(found, closed)
    assert set(graph.nodes) == set(found.fragment.nets)
    assert {frozenset(edge) for edge in graph.edges} == {frozenset("AB"), frozenset("BC")}
    assert state_of(found, closed.name) is closed


def test_an_entry_as_data_says_what_was_wanted_and_found():
    case, _ = judged("{at: A, volts: 2.5 V}")
    assert case.to_dict() == {"entry": 0, "holds": True, "found": 2.5, "words": case.words, "state": case.state,
                              "wanted": case.wanted}
    assert "2.5 V" in case.words
    assert "A" in case.wanted
