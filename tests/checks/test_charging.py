"""Whether a cell is charged, by how much at the worst, and what one failure would do: on points that are plain."""

from __future__ import annotations

import pytest
from made_points import UNKNOWN, made, point, state_of, told
from msgspec.structs import replace

import netcheck
from netcheck.checks.charging import Charging, charging, charging_findings, ways_into
from netcheck.checks.leakage import NOTHING_KNOWN, Leakage
from netcheck.checks.results import FaultCurrent
from netcheck.checks.shorts import Shorts
from netcheck.clock import limited
from netcheck.conduction.routes import Route
from netcheck.simulation.corner import Fault
from netcheck.solving.failures import Failure
from netcheck.solving.flows import Flow
from netcheck.solving.solved_states import survey

CHARGER = """
title: charger
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 1k, between: [+5V, CELL]}
  U1: {load: 2 uA, plus: CELL, minus: GND, works: 1.5 V to 5.5 V}
"""
BLOCKED = CHARGER.replace("R1: {resistor: 1k, between: [+5V, CELL]}", "D1: {diode: 1N4148, anode: CELL, cathode: +5V}")
CORNERS = ("charge, flat cell", "charge, part-used cell", "hot, fresh cell")


def into(amps):
    """A point with so much into the cell, all of it from the rail through R1."""
    return point({"+5V": 5.0, "CELL": 3.0}, {"BT1": -amps, "R1": amps, "+5V": amps, "U1": 0.0})


REST = point({"+5V": 0.0, "CELL": 3.0}, {"BT1": 2e-6, "U1": 2e-6, "R1": 0.0})


def judged(at, text=CHARGER, failed=()):
    found = made(text, at, REST)
    return charging(found, found.fragment.parts["BT1"], failed)


@pytest.mark.parametrize("corner", CORNERS)
def test_the_corner_that_charges_hardest_decides(corner):
    found = judged({"main on": into(1e-3), ("main on", corner): into(2e-3)})
    assert (found.worst_A, found.worst_state, found.charged_in) == (2e-3, "main on", ("main on",))
    assert found.by_state == {"main on": 2e-3, "main off": 0.0}
    assert [(route.source, route.parts, route.state) for route in found.conducting] == [("+5V", ("R1",), "main on")]
    assert found.charged
    assert found.idle is None
    assert found.leakage.hot_A == NOTHING_KNOWN


def test_of_a_state_that_there_was_no_time_for_the_wiring_is_believed_and_the_worst_is_unknown():
    for text, charged_in in ((CHARGER, ("main on",)), (BLOCKED, ())):
        found = made(text, otherwise=REST)
        on, off = state_of(found, "main on"), state_of(found, "main off")
        found = replace(found, states=replace(found.states, states=(off,)), unreached=(on,))
        result = charging(found, found.fragment.parts["BT1"], ())
        assert (result.charged_in, result.worst_A) == (charged_in, None)
        assert [route.parts for route in result.conducting] == [("R1",)] * len(charged_in)


def test_what_was_neither_solved_nor_looked_at_in_time_is_unknown():
    found = made(CHARGER, otherwise=UNKNOWN)
    with limited(0.0):
        result = charging(found, found.fragment.parts["BT1"], ())
    assert result.worst_A is None
    assert result.by_state == {"main on": None, "main off": None}


@pytest.mark.parametrize("corner", CORNERS)
def test_an_unknown_state_leaves_the_worst_unknown_and_the_way_of_the_graph_is_believed(corner):
    found = judged({"main on": into(1e-3), ("main off", corner): UNKNOWN})
    assert found.worst_A is None
    assert found.by_state == {"main on": 1e-3, "main off": None}
    assert found.charged_in == ("main on",)
    unsolved = judged({("main on", corner): UNKNOWN})
    assert (unsolved.charged_in, unsolved.by_state["main on"], unsolved.worst_A) == (("main on",), None, None)
    assert [(route.source, route.parts) for route in unsolved.conducting] == [("+5V", ("R1",))]
    blocked = judged({("main on", corner): UNKNOWN}, BLOCKED)
    assert (blocked.charged_in, blocked.worst_A) == ((), None)


def test_current_that_makers_let_leak_is_no_charge_and_the_way_is_named():
    """1 µA is what cell makers aim for (facts of `leak_aim` in library/cells.yaml)."""
    found = judged({"main on": into(1e-6)})
    assert not found.charged
    assert (found.idle.source, found.idle.parts, found.idle.state) == ("+5V", ("R1",), "main on")
    assert found.worst_A == 1e-6
    assert judged({"main on": into(1.1e-6)}).charged
    quiet = judged({"main on": point({"+5V": 5.0, "CELL": 3.0}, {"BT1": 1e-6, "U1": 1e-6})})
    assert (quiet.worst_A, quiet.worst_state) == (0.0, None)


def test_a_way_backwards_through_a_zener_does_not_stand_idle():
    text = BLOCKED.replace("D1: {diode: 1N4148,", "D1: {diode: {zener: 2.4 V},")
    assert judged({}, text).idle is None
    assert judged({}, BLOCKED).idle is None


def test_what_blocks_is_named_and_the_nearest_blocked_way_is_shown():
    found = judged({}, BLOCKED)
    assert found.blocking == ("D1",)
    assert [(route.parts, route.conducting) for route in found.routes] == [(("D1",), False)]


def failure(amps, how="short", part="D1", known=True, plugged=None):
    fragment = netcheck.loads(BLOCKED)
    found = made(fragment)
    state = state_of(found, "main on")
    state = state if plugged is None else replace(state, plugged={"BT1": plugged})
    return Failure(Fault(part, how), state, found.corners.hot, into(amps) if known else UNKNOWN)


def test_the_hardest_single_failure_counts_and_one_that_could_not_be_solved_is_told():
    found = judged({}, BLOCKED, [failure(1e-3), failure(3e-3, "open", "D2"), failure(2e-3)])
    assert found.fault == FaultCurrent("D2", "open", 3e-3, "main on")
    assert found.fault_unknown is None
    unsolved = judged({}, BLOCKED, [failure(0, known=False), failure(1e-3)])
    assert unsolved.fault.amps == 1e-3
    assert unsolved.fault_unknown == f"D1 short: {UNKNOWN.problem}"
    own = judged({}, BLOCKED, [replace(failure(0, known=False), alone=into(4e-3)), failure(1e-3)])
    assert (own.fault.amps, own.fault_unknown) == (4e-3, None)  # the rest of the board has no solution, its section has
    assert judged({}, BLOCKED, [failure(1e-12)]).fault is None
    assert judged({}, BLOCKED, [failure(2e-12)]).fault is not None
    assert judged({}, BLOCKED, [failure(1e-3, plugged=False)]).fault is None
    assert judged({}, BLOCKED, [failure(1e-3, plugged=True)]).fault is not None


def test_the_ways_into_a_cell_are_the_widest_and_those_beside_it():
    cell = netcheck.loads(CHARGER).parts["BT1"]
    network = [Flow("+5V", "GND", "+5V", 3e-3), Flow("R1", "+5V", "CELL", 2e-3), Flow("R2", "+5V", "CELL", 1e-3)]
    assert [(way.elements, way.amps) for way in ways_into(cell, network)] == [
        (("+5V", "R1"), 2e-3), (("+5V", "R2"), 1e-3)]
    assert ways_into(cell, [replace(one, amps=1e-9) for one in network]) == []
    thin = [*network[:2], replace(network[2], amps=1e-9)]
    assert [way.elements for way in ways_into(cell, thin)] == [("+5V", "R1")]
    assert ways_into(cell, network[1:]) == []


def test_a_pack_that_pushes_is_the_source_of_its_way():
    text = CHARGER.replace("R1: {resistor: 1k, between: [+5V, CELL]}",
                           "BT2: {cell: alkaline-3xAA, plus: EXT, minus: GND}\n"
                           "  R1: {resistor: 1k, between: [EXT, CELL]}")
    found = survey(netcheck.loads(text))
    cell = found.fragment.parts["BT1"]
    route = charging(found, cell, []).conducting[0]
    assert (route.source, route.parts, route.nets) == ("BT2", ("R1",), ("EXT", "CELL"))
    (said,) = charging_findings(found, cell, charging(found, cell, []), Shorts(0))
    assert said.parts == ("BT2", "R1")
    assert said.figures["charge_A"] == pytest.approx(charging(found, cell, []).worst_A)


NONE = Leakage(NOTHING_KNOWN, NOTHING_KNOWN, NOTHING_KNOWN, NOTHING_KNOWN, NOTHING_KNOWN, {}, ())
ROUTE = Route("+5V", "BT1", "main on", ("R1",), ("+5V", "CELL"), ())


def result(**changes):
    return replace(Charging((), None, (), (), {}, 0.0, None, NONE, None, None), **changes)


def said(found, shorts=None, text=CHARGER, spec=None):
    board = made(text)
    cell = board.fragment.parts["BT1"]
    cell = replace(cell, spec=replace(cell.spec, **spec)) if spec else cell
    return charging_findings(board, cell, found, shorts or Shorts(None))


def test_a_charged_primary_cell_is_a_danger_with_its_way_and_its_current():
    found = said(result(routes=(ROUTE,), charged_in=("main on",), by_state={"main on": 2e-3, "main off": 0.0},
                        worst_A=2e-3, worst_state="main on"))
    assert told(found) == [("charge-route", "charged", "danger")]
    (one,) = found
    assert (one.subject, one.state, one.parts, one.nets, one.states) == (
        "BT1", "main on", ("R1",), ("+5V", "CELL"), ("main on",))
    assert one.figures == {"charge_A": 2e-3}
    assert one.words == {"source": "+5V", "through": ("R1",), "worst": "main on"}
    assert one.line == 5
    assert one.sources


def test_how_much_is_at_least_what_is_known_and_unknown_where_nothing_is():
    two = ("main on", "main off")
    least = said(result(routes=(ROUTE,), charged_in=two, by_state={"main on": None, "main off": 1e-3},
                        worst_A=None, worst_state="main off"))
    assert told(least) == [("charge-route", "charged-at-least", "danger")]
    assert least[0].figures == {"charge_A": 1e-3}
    nothing = said(result(routes=(ROUTE,), charged_in=("main on",), by_state={"main on": None}, worst_A=None))
    assert told(nothing) == [("charge-route", "charged-unknown", "danger")]
    assert (nothing[0].figures, nothing[0].state) == ({}, "main on")
    elsewhere = said(result(routes=(ROUTE,), charged_in=("main on",), by_state={"main on": 1e-3, "main off": 2e-3},
                            worst_A=2e-3, worst_state="main off"))
    assert elsewhere[0].state == "main on"
    direct = said(result(routes=(replace(ROUTE, parts=()),), charged_in=("main on",), by_state={"main on": 1e-3},
                         worst_A=1e-3, worst_state="main on"))
    assert direct[0].words["way"] == "direct"
    told(direct)


def test_a_way_that_stands_open_and_that_nothing_takes_is_a_caution():
    found = said(result(idle=ROUTE))
    assert told(found) == [("charge-route", "idle", "caution")]
    assert (found[0].state, found[0].parts, found[0].nets, found[0].line) == (
        "main on", ("R1",), ("+5V", "CELL"), 5)
    assert said(result()) == []
    (slight,) = said(result(idle=ROUTE, worst_A=0.3e-6))
    assert (slight.case, slight.figures) == ("slight", {"charge_A": 0.3e-6})
    assert "300 nA" in slight.message


@pytest.mark.parametrize(("amps", "case"), [(10e-3, ("within", "note")), (10.01e-3, ("beyond", "caution")),
                                            (50e-3, ("beyond", "caution")), (1e-9, None), (2e-9, ("within", "note"))])
def test_one_failure_is_held_against_the_limit_of_the_maker(amps, case):
    found = said(result(fault=FaultCurrent("D1", "short", amps, "main on")), Shorts(1),
                 spec={"abnormal_charge_A": 10e-3})
    assert told(found) == ([("fault-current", *case)] if case else [])
    for one in found:
        assert one.figures == {"fault_charge_A": amps, "allowed_A": 10e-3}
        assert (one.subject, one.state, one.parts, one.line) == ("BT1", "main on", ("D1",), 5)
        assert one.sources


def test_the_limit_of_a_coin_cell_is_that_of_its_maker():
    """CR2032: abnormal charging current 10 mA at most (library/cells.yaml, with its source)."""
    assert netcheck.loads(CHARGER).parts["BT1"].spec.abnormal_charge_A == pytest.approx(10e-3)


@pytest.mark.parametrize(("count", "told_of"), [(1, True), (0, True), (2, False), (None, False)])
def test_without_a_limit_it_is_told_where_one_failure_is_enough(count, told_of):
    found = said(result(fault=FaultCurrent("D1", "short", 1e-3, "main on")), Shorts(count),
                 spec={"abnormal_charge_A": None})
    assert told(found) == ([("fault-current", "limit-not-stated", "caution")] if told_of else [])
    assert not any(one.sources for one in found)


def test_a_charged_cell_is_not_told_of_failures_and_a_rechargeable_not_here():
    fault = FaultCurrent("D1", "short", 1.0, "main on")
    charged = result(routes=(ROUTE,), charged_in=("main on",), by_state={"main on": 1e-3}, worst_A=1e-3,
                     worst_state="main on", fault=fault)
    assert [case for _, case, _ in told(said(charged, Shorts(0)))] == ["charged"]
    assert said(charged, text=CHARGER.replace("CR2032", "NiCd-3x60")) == []
