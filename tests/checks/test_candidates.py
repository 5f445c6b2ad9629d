"""What is tried as a cure for each kind of finding, on findings and volts given by hand."""

from __future__ import annotations

import pytest
from made_points import UNKNOWN, given, made, point
from msgspec.structs import replace
from test_results import CELL, LOAD

import netcheck
from netcheck.checks.cures import by_graph, candidates, joints, remedy_words, stops
from netcheck.checks.drains import overfed
from netcheck.checks.results import VariantResult
from netcheck.conduction.routes import Route
from netcheck.findings import Finding, Severity
from netcheck.parts.catalogue import Catalogue

BOARD = """
title: a cell behind a resistor and a diode
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 2k2, between: [CELL, HOLD]}
  D1: {diode: 1N4001, anode: HOLD, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  D3: {diode: BZX55C5V6, anode: GND, cathode: VRAM}
  R2: {resistor: 100k, between: [VRAM, +5V]}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
  U2: {load: 2 uA, plus: HOLD, minus: GND, works: 2.0 V to 5.5 V, kept: no}
"""
STORED = point({"CELL": 3.0, "HOLD": 2.9, "VRAM": 2.6, "+5V": 0.0}, {
    "BT1": 2e-6, "R1": 2e-6, "D1": 2e-6, "U1": 2e-6, "R2": 0.0, "D2": 0.0})
FINDING = {"case": "not-stated", "state": "main off"}


def survey(text=BOARD):
    return made(text, {"main off": STORED}, point({"VRAM": 4.6, "HOLD": 3.0, "CELL": 3.0, "+5V": 5.0}))


def offered(*findings, cells=None, text=BOARD, answer=lambda key, circuit: UNKNOWN):
    """The words of what is tried, and whether all was; a cell that is not charged is not asked about."""
    result = VariantResult(name="as found", findings=findings, cells=cells or {})
    (found, whole), _ = given(candidates(survey(text), result), answer)
    assert [joints(one) for one in found] == sorted(joints(one) for one in found)
    return {str(one.extra or one.insert_diode or one.remove) for one in found}, whole


def about(check, subject="BT1", *parts, severity=Severity.CAUTION, **more):
    return Finding(check, severity, subject, **{**FINDING, "parts": parts, **more})


PLUS = "BT1.plus"


@pytest.mark.parametrize(("finding", "expected"), [
    (about("reversal", "BT1", "D1", "R1"), {"{'turn': 'BT1'}", "{'turn': 'D1'}"}),
    (about("keeps-nothing", "U1", "U1", "D1", "gone"), {"{'turn': 'D1'}"}),
    (about("leakage", "BT1", "D1", "D2", "D3", "R1"), {"{'replace': {'D1': '1N4148'}}"}),
    (about("backup-voltage", "U1"), {"{'replace': {'D1': '1N5711'}}", "{'replace': {'R1': 1000.0}}",
                                     "{'replace': {'R1': 360.0}}", "{'move': {'U2.plus': '+5V'}}"}),
    (about("short-circuit", "BT1", "R1"), {"('R1',)", "{'fit_resistor': {'at': 'BT1.plus', 'ohm': 1000.0}}"}),
    (about("short-circuit", "BT1", figures={"limit_A": 3e-3}), {"{'fit_resistor': {'at': 'BT1.plus', 'ohm': 1200.0}}"}),
    (about("short-circuit", "+5V", "R2"), {"('R2',)"}), (about("charger", "BT1"), set()),
    (about("back-feed", "BT1", "U2", "D1"),
     {"{'move': {'U2.plus': '+5V'}}", "{'replace': {'D1': '1N4148'}}", "('D1',)"}),
    (about("back-feed", "+5V", "R2", nets=("+5V",)), {"{'insert_diode': 'R2.2'}", "('R2',)"}),
    (about("back-feed", "+5V", "R2", "D1", nets=("VRAM",)),
     {"{'insert_diode': 'R2.1'}", "{'insert_diode': 'R2.2'}", "{'replace': {'D1': '1N4148'}}", "('D1',)", "('R2',)"}),
    (about("back-feed", "BT1", "D3"), {"('D3',)", "{'replace': {'D3': 'BZX55C6V2'}}",
                                       "{'replace': {'D3': 'BZX55C6V8'}}"}),
    (about("over-voltage", "U1"), {PLUS}), (about("over-voltage", "U1", state="main on"), set()),
    (about("over-voltage", "U1", state=None), set()), (about("over-voltage", "C9"), set()),
    (about("fault-current", "BT1"), {PLUS}), (about("fault-current", "gone"), set()),
    (about("hand-over", "U1"), set()), (about("reversal", "BT1", severity=Severity.NOTE), set()),
    (about("leakage", "BT1", "D1", severity=Severity.NOTE), set()),
])
def test_what_is_tried_follows_from_what_was_found(finding, expected):
    """1N4148 leaks less than a 1N4001, a 1N5711 drops less; a zener is there for its volts and is left."""
    assert offered(finding) == (expected, True)


def test_a_resistor_is_lowered_to_what_a_fault_needs_and_no_further_and_without_volts_nothing_is_known_of_the_way():
    usual = BOARD.replace("2k2", "1k")
    assert offered(about("backup-voltage", "U1"), text=usual)[0] == {
        "{'replace': {'D1': '1N5711'}}", "{'replace': {'R1': 360.0}}", "{'move': {'U2.plus': '+5V'}}"}
    assert "R1" not in str(offered(about("backup-voltage", "U1"), text=BOARD.replace("2k2", "330"))[0])
    found = made(BOARD, {"main off": UNKNOWN})
    (left, whole), _ = given(candidates(found, VariantResult(name="x", findings=(about("backup-voltage", "U1"),))),
                             lambda key, circuit: UNKNOWN)
    assert ([one.extra for one in left], whole) == ([{"move": {"U2.plus": "+5V"}}], True)


def test_the_resistor_in_the_lead_holds_a_fault_current_below_the_limit():
    """5.25 V into a cell of 2.0 V: 100 mA is 32.5 Ω; 10 mA needs 325 Ω in all, 5 % off the resistor counted."""
    figures = {"fault_charge_A": 0.1, "allowed_A": 0.01}
    (remedy, other, lower), _ = given(candidates(survey(), VariantResult(
        name="x", findings=(about("fault-current", "BT1", figures=figures),))), lambda key, circuit: UNKNOWN)[0]
    ohm = remedy.extra["fit_resistor"]["ohm"]
    assert remedy.extra == {"fit_resistor": {"at": "BT1.plus", "ohm": ohm}}
    assert 3.25 / (0.95 * ohm + 32.5) <= 0.01 < 3.25 / (0.95 * 0.9 * ohm + 32.5)
    assert [part.spec.name for step in other.steps for part in step.parts] == ["1N4148"]
    assert (lower.insert_diode, lower.words) == ("BT1.plus", "put a 1N5711 in BT1's plus lead")
    low = BOARD.replace("5 V ±5%", "2 V")
    assert offered(about("fault-current", "BT1", figures=figures), text=low)[0] == {PLUS}


CHARGER = BOARD + "  R3: {resistor: 1k, between: [+5V, CELL]}\n"
ROUTE = Route("+5V", "BT1", "main on", ("R3",), ("+5V", "CELL"), ())
ALONE = "".join(line for line in CHARGER.splitlines(keepends=True) if "U2" not in line)  # which R3 feeds
CHARGED = {"BT1": replace(CELL, routes=(ROUTE, replace(ROUTE, parts=("R1",), shorts=("D1",))))}


def test_what_stops_a_charge_comes_out_or_a_diode_goes_into_the_leads_or_in_place_of_the_resistor():
    danger = about("charge-route", "BT1", severity=Severity.DANGER)

    def stopped(key, circuit):
        return point({"CELL": 3.0}, {"BT1": 0.0})

    found, whole = offered(danger, cells=CHARGED, text=CHARGER, answer=stopped)
    assert whole
    assert {"('R3',)", "BT1.plus", "BT1.minus"} <= found
    assert any("R3" in one and one != "('R3',)" for one in found)
    assert not any("R1" in one for one in found)      # that way does not conduct
    assert "('R3',)" not in offered(danger, cells=CHARGED, text=CHARGER)[0]   # not solved: not known to stop it
    assert offered(replace(danger, severity=Severity.CAUTION), cells=CHARGED, text=CHARGER, answer=stopped)[0] == set()


def test_the_same_change_is_tried_once():
    twice = offered(about("leakage", "BT1", "D1"), about("back-feed", "BT1", "D1"), about("leakage", "BT2", "D1"))
    assert twice == ({"{'replace': {'D1': '1N4148'}}", "('D1',)"}, True)
    result = VariantResult(name="x", findings=(about("leakage", "BT1", "D1"), about("leakage", "BT1", "D1")))
    assert len(given(candidates(survey(), result), lambda key, circuit: UNKNOWN)[0][0]) == 1


def test_without_a_simulator_the_graph_tells_what_would_stop_a_charge_of_a_primary_cell():
    found = made(ALONE, missing="there is none")
    told = by_graph(found, VariantResult(name="x", findings=(), cells=CHARGED, loads={"U1": LOAD}))
    assert ("R3",) in {one.remove for one in told["BT1"]}
    assert {"BT1.plus", "BT1.minus"} <= {one.insert_diode for one in told["BT1"]}
    pack = {"BT1": replace(CHARGED["BT1"], primary=False)}
    assert by_graph(found, VariantResult(name="x", findings=(), cells=pack)) == {}


def test_what_would_stop_a_charge_that_is_allowed_is_known_as_well():
    found = survey(ALONE.replace("CR2032", "NiCd-3x60"))
    pack = replace(CHARGED["BT1"], primary=False)
    assert [one.remove for one in stops(found, "BT1", pack)] == [("R3",)]
    assert stops(found, "BT1", CHARGED["BT1"]) == ()
    assert stops(found, "BT1", replace(pack, routes=(replace(ROUTE, shorts=("D1",)),))) == ()


def test_a_board_of_one_cell_has_no_other_to_take_out_and_one_of_two_has():
    two = netcheck.loads(BOARD + "  BT2: {cell: CR2032, plus: HOLD, minus: GND}\n")
    found = VariantResult(name="x", findings=(about("charger", "BT1", "BT1", "BT2", "R1"),))
    (remedies, _), _ = given(candidates(made(two, {"main off": STORED}), found), lambda key, circuit: UNKNOWN)
    assert [one.remove for one in remedies] == [("BT2",)]


def words(*findings, text=BOARD):
    (found, _), _ = given(candidates(survey(text), VariantResult(name="x", findings=findings)),
                          lambda key, circuit: UNKNOWN)
    return [remedy_words(one) for one in found]


def test_a_second_diode_or_a_resistor_is_tried_with_a_first_diode_of_lower_drop_as_well():
    fault = about("fault-current", "BT1", "D1", figures={"fault_charge_A": 0.1, "allowed_A": 0.01})
    assert words(fault) == [
        "put 330 Ω in BT1's plus lead", "put a blocking diode in BT1's plus lead", "put a 1N5711 in BT1's plus lead",
        "fit a 1N5711 as D1 and put 330 Ω in BT1's plus lead", "fit a 1N5711 as D1 and put a 1N5711 in BT1's plus lead"]


def test_what_is_against_the_gravest_comes_before_what_takes_fewer_joints():
    found = words(about("leakage", "BT1", "D1", severity=Severity.DANGER), about("back-feed", "BT1", "R2"))
    assert found == ["fit a 1N4148 as D1", "remove R2", "put a diode between +5V and R2, its anode to +5V"]
    twice = words(about("leakage", "BT1", "D1", severity=Severity.DANGER), about("back-feed", "BT1", "R2", "D1"))
    assert twice == ["fit a 1N4148 as D1", "remove R2", "remove D1", "put a diode between +5V and R2, its anode to +5V"]


LAMP = BOARD + """
  R9: {resistor: 1k, between: [VRAM, LEDA]}
  D9: {diode: LED-red, anode: LEDA, cathode: GND}
  R8: {resistor: 47k, between: [VRAM, WP]}
  Q1: {transistor: 2N3904, collector: WP, base: B, emitter: GND}
  R6: {resistor: 10k, between: [+5V, B]}
  R7: {resistor: 22k, between: [VRAM, CS]}
  U4: {chip: 74HC00, pins: {1: CS, 7: GND, 14: +5V}, clamps: {to: +5V, from: [CS]}}
"""


def test_what_hangs_on_the_backed_up_net_may_hang_on_the_rail_and_what_is_switched_or_holds_a_chip_stays():
    lamp = words(about("back-feed", "BT1", "R9", "D9"), text=LAMP)
    assert lamp[:3] == ["feed R9 from +5V", "remove R9", "remove D9"]
    assert words(about("back-feed", "BT1", "R8", "Q1"), text=LAMP) == []
    assert words(about("back-feed", "BT1", "R7"), text=LAMP) == ["feed R7 from +5V"]


def test_a_load_with_too_many_volts_loses_a_part_of_the_way_from_that_rail_or_gets_a_zener():
    """Of the BZX55 that of 5.1 V stands at 5.4 V at most, that of 5.6 V at up to 6.0 V."""
    text = BOARD.replace("{+5V: 5 V ±5%}", "{+5V: 5 V ±5%, +12V: 12 V}") + (
        "  R3: {resistor: 10k, between: [+12V, A]}\n  D4: {diode: 1N4148, anode: A, cathode: VRAM}\n")
    beyond = about("over-voltage", "U1", state="main on", figures={"limit_V": 5.5}, severity=Severity.DANGER)
    assert words(beyond, text=text) == ["remove R3", "remove D4", "fit a BZX55C5V1 across U1's supply"]
    assert "{'fit': {'D5': 'BZX55C5V1'}}" in offered(beyond, text=text)[0]


def test_of_a_zener_with_none_of_more_volts_beside_it_only_what_else_helps_is_tried():
    largest = BOARD.replace("BZX55C5V6", largest_zener())
    assert words(about("back-feed", "BT1", "D3"), text=largest) == ["remove D3"]


def largest_zener():
    """That of the most volts that stands with the BZX55 in its maker's list."""
    listed = [one for one in Catalogue.standard().entries("diode") if one.name.startswith("BZX55")]
    return max(listed, key=lambda one: one.zener_V.value).name


def test_what_is_all_that_hangs_on_a_cell_is_not_moved_to_a_rail_which_would_leave_the_cell_with_nothing():
    lead = BOARD.replace("between: [CELL, HOLD]", "between: [CELL, N1]") + "  R3: {resistor: 10k, between: [N1, GND]}\n"
    drained = about("back-feed", "BT1", "R1", "R3")
    assert words(drained, text=lead) == ["remove R1", "remove R3"]
    beside = lead + "  R4: {resistor: 10M, between: [CELL, GND]}\n"
    assert words(drained, text=beside)[0] == "feed R1 from +5V"


def test_where_time_ended_before_the_stored_state_cures_are_tried_without_its_volts():
    whole = made(BOARD, otherwise=point({"VRAM": 4.6, "HOLD": 3.0, "CELL": 3.0, "+5V": 5.0}))
    kept = tuple(state for state in whole.states.states if state.live)
    cut = replace(whole, states=replace(whole.states, states=kept, untried=1))
    assert cut.resting(False) is None
    findings = tuple(about(check, "BT1", "D1", "R2") for check in ("back-feed", "backup-voltage", "leakage"))
    result = VariantResult(name="x", findings=findings)
    (found, _), _ = given(candidates(cut, result), lambda key, circuit: UNKNOWN)
    assert "remove R2" in [remedy_words(one) for one in found]


def test_where_nothing_is_against_the_gravest_a_few_of_the_others_are_tried():
    turned, lowered = about("reversal", "BT1", "D1", "D2", "D3"), about("backup-voltage", "U1")
    assert len(offered(turned, lowered)[0]) > 3
    untouched = about("rating", "R1", severity=Severity.DANGER)
    assert len(offered(untouched, turned, lowered)[0]) == 3
    assert len(offered(replace(turned, severity=Severity.DANGER))[0]) > 3


ROW = """
title: two cells in a row
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: MID}
  BT2: {cell: CR2032, plus: MID, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
"""
OVERFED = Finding("over-voltage", Severity.DANGER, "U1", "beyond", state="main off", figures={"limit_V": 5.5})


@pytest.mark.parametrize(("text", "volts", "expected"), [
    (ROW, 6.0, ["take BT2 out and put a wire in its place"]),
    (ROW, 5.4, ["fit a BZX55C5V1 across U1's supply"]),
    (BOARD.replace("CR2032", "ER14250").replace("HOLD, minus", "VRAM, minus"), 6.0, ["fit a CR2032 as BT1"]),
    (BOARD, 6.0, []),
])
def test_a_load_that_its_own_cells_give_too_many_volts_gets_fewer_of_them_and_no_zener(text, volts, expected):
    given_V = made(text, otherwise=point({"CELL": volts + 0.5, "MID": 3.2, "HOLD": volts, "VRAM": volts, "+5V": 0.0}))
    assert [remedy_words(one) for one in overfed(given_V, OVERFED)] == expected
