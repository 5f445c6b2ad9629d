"""How long a cell lasts, against closed forms."""

from __future__ import annotations

import pytest
from made_points import UNKNOWN, given, made, point, told
from msgspec.structs import replace

import netcheck
from netcheck.checks.life import gives, hold_up, life, life_findings, may_be_over_at_once, self_discharge_A, walk
from netcheck.checks.results import Life

BOARD = """
title: a cell and its loads
rails: {+5V: 5 V}
conditions: CONDITIONS
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
  U2: {load: 1 uA, plus: VRAM, minus: GND, works: 1.0 V to 5.5 V}
"""


def board(conditions="{years: 5}", **points):
    return made(BOARD.replace("CONDITIONS", conditions), **points)


def drawing(amps, volts=2.5, **more):
    return point({"CELL": 3.0, "VRAM": volts}, {"BT1": amps, "U1": amps * 2 / 3, "U2": amps / 3, **more})


def lived(answer, conditions="{years: 5}", **more):
    found = board(conditions)
    return given(life(found, found.fragment.parts["BT1"], **more), answer)


CAPACITY = netcheck.loads(BOARD.replace("CONDITIONS", "{years: 5}")).parts["BT1"].spec.capacity_Ah
OWN_A = self_discharge_A(netcheck.loads(BOARD.replace("CONDITIONS", "{years: 5}")).parts["BT1"].spec)


def test_a_constant_current_takes_the_capacity_over_current_and_self_discharge():
    (found, problem), keys = lived(lambda key, circuit: drawing(3e-6))
    assert problem is None
    assert found.years == pytest.approx(CAPACITY / (3e-6 + OWN_A) / 8760)
    assert (found.used_at_end, found.ends_for) == (1.0, None)
    assert (found.taking, found.taker, found.taken_A) == ("load", "U1", pytest.approx(2e-6))
    assert found.least_years is None
    assert keys == [(0, ("main off", step / 10)) for step in range(11)]


def test_a_current_that_falls_is_walked_down_step_by_step():
    """From 4 µA to 2 µA in a line: ten steps, each at its mean current."""
    (found, _), _ = lived(lambda key, circuit: drawing(4e-6 - 2e-6 * key[1][1]))
    hours = sum(0.1 * CAPACITY / (4e-6 - 0.2e-6 * (step + 0.5) + OWN_A) for step in range(10))
    assert found.years == pytest.approx(hours / 8760)


def test_life_ends_where_the_first_load_gets_too_little_between_two_points():
    """3.0 V fresh, falling by 1.5 V over the whole curve: 2.0 V at two thirds; 1.5 V is enough for the other."""
    (found, _), _ = lived(lambda key, circuit: drawing(3e-6, 3.0 - 1.5 * key[1][1]))
    assert found.used_at_end == pytest.approx(2 / 3)
    assert (found.ends_for, found.least_V) == ("U1", 2.0)
    assert found.years == pytest.approx(2 / 3 * CAPACITY / (3e-6 + OWN_A) / 8760)
    (dead, _), _ = lived(lambda key, circuit: drawing(3e-6, 1.9))
    assert (dead.used_at_end, dead.years) == (0.0, 0.0)
    (whole, _), _ = lived(lambda key, circuit: drawing(3e-6, 2.0))
    assert whole.used_at_end == 1.0
    (floats, _), _ = lived(lambda key, circuit: drawing(3e-6, None))
    assert floats.used_at_end == 1.0


def test_hours_under_power_count_with_what_the_cell_gives_then():
    """A quarter of the day at nothing, or at 8 µA more."""
    def answer(live_A):
        return lambda key, circuit: drawing(3e-6 if key[1][0] == "main off" else live_A)

    conditions = "{years: 5, powered: 6 h/day}"
    (rests, _), keys = lived(answer(0.0), conditions)
    assert rests.years == pytest.approx(CAPACITY / (0.75 * 3e-6 + OWN_A) / 8760)
    assert {key[1][0] for key in keys} == {"main off", "main on"}
    (works, _), _ = lived(answer(11e-6), conditions)
    assert works.years == pytest.approx(CAPACITY / (0.75 * 3e-6 + 0.25 * 11e-6 + OWN_A) / 8760)
    (charged, _), _ = lived(answer(-1e-3), conditions)
    assert charged.years == pytest.approx(rests.years)


def test_the_least_life_is_that_of_makers_maximum_figures_with_the_most_or_the_least_drop():
    seen = {}

    def answer(key, circuit):
        corner, _ = key
        seen[corner] = circuit
        return drawing({0: 3e-6, 1: 6e-6, 2: 9e-6}[corner])

    (found, _), _ = lived(answer, worst=True)
    assert found.years == pytest.approx(CAPACITY / (3e-6 + OWN_A) / 8760)
    assert found.least_years == pytest.approx(CAPACITY / (9e-6 + OWN_A) / 8760)
    assert set(seen) == {0, 1, 2}
    drops = [next(one.saturation_A for one in seen[corner].elements if one.name == "D1") for corner in range(3)]
    assert drops[1] < drops[0] < drops[2]        # the more saturation current, the less drop


def test_a_cell_that_something_else_drains_says_what_takes_it():
    (back, _), _ = lived(lambda key, circuit: drawing(3e-6, U1=1e-7, U2=1e-7))
    assert back.taking == "back"
    assert back.taken_A == pytest.approx(2.8e-6)
    (leaks, _), _ = lived(lambda key, circuit: drawing(3e-6, U1=1e-7, U2=1e-7, **{"C1.leak": 2e-6}))
    assert (leaks.taking, leaks.taker, leaks.taken_A) == ("leakage", "C1", pytest.approx(2e-6))
    (own, _), _ = lived(lambda key, circuit: drawing(0.0, U1=0.0, U2=0.0))
    assert own.taken_A == pytest.approx(OWN_A)
    assert own.years == pytest.approx(CAPACITY / OWN_A / 8760)


def test_an_unsolved_point_leaves_the_life_unknown():
    (found, problem), _ = lived(lambda key, circuit: UNKNOWN if key[1][1] == 0.5 else drawing(3e-6))
    assert (found, problem) == (None, UNKNOWN.problem)


def test_nothing_that_draws_lasts_for_ever():
    found = board()
    cell = found.fragment.parts["BT1"]
    lasting = replace(cell, spec=replace(cell.spec, self_discharge_per_year=0.0))
    (result, _), _ = given(life(found, lasting), lambda key, circuit: drawing(0.0))
    assert result == Life(None, 1.0, shelf_years=cell.spec.shelf_years)
    (later, _), _ = given(life(found, lasting), lambda key, circuit: drawing(3e-6 if key[1][1] < 0.5 else 0.0))
    assert later.years is None


def test_a_measured_cell_is_walked_from_where_it_stands():
    found = board()
    cell = found.fragment.parts["BT1"]
    half_V = next(one.volts_V for one in cell.spec.curve if one.used >= 0.48)
    done, _ = given(walk(found, replace(cell, measured_V=half_V), found.corners.room), lambda key, _: drawing(1e-6))
    used = done.used
    assert used[0] > 0.3
    assert used[-1] == 1.0
    assert used[1] - used[0] == pytest.approx((1 - used[0]) / 10)


def test_a_cell_that_is_plugged_is_walked_in_the_state_with_it():
    text = BOARD.replace("CONDITIONS", "{years: 5}").replace("minus: GND}\n  D1", "minus: GND, plugged: maybe}\n  D1")
    found = made(text)
    done, keys = given(walk(found, found.fragment.parts["BT1"], found.corners.room), lambda key, _: drawing(1e-6))
    assert done.stored.name == "main off, BT1 plugged"
    assert {state for state, _ in keys} == {"main off, BT1 plugged"}


def test_self_discharge_is_a_share_of_the_capacity_a_year_or_the_published_current():
    spec = netcheck.loads(BOARD.replace("CONDITIONS", "{}")).parts["BT1"].spec
    assert self_discharge_A(spec) == pytest.approx(spec.capacity_Ah * spec.self_discharge_per_year / 8760)
    assert self_discharge_A(replace(spec, capacitance_leak_A=3e-6)) == 3e-6
    capacitor = replace(spec, capacitance_F=1.0, nominal_V=3.6, self_discharge_per_year=0.876)
    assert self_discharge_A(capacitor) == pytest.approx(1.0 * 3.6 / 3600 * 0.876 / 8760)


SUPERCAP = """
title: hold-up
rails: {+5V: 5 V}
parts:
  BT1: {cell: supercap-0.33F, plus: CELL, minus: GND}
  U1: {load: 10 uA, plus: CELL, minus: GND, works: 2.0 V to 5.5 V}
"""


def held(amps, charged_V=4.0, volts=None, text=SUPERCAP):
    found = made(text)
    cell = found.fragment.parts["BT1"]
    full, empty = cell.spec.curve
    curve = full, replace(empty, resistance_ohm=9.0 * full.resistance_ohm)
    cell = replace(cell, spec=replace(cell.spec, curve=curve))

    def answer(share, circuit):
        battery = next(one for one in circuit.elements if one.name == "BT1")
        assert battery.volts == pytest.approx(charged_V * (1 - share))
        assert battery.ohm == cell.spec.curve[0].resistance_ohm
        return point({"CELL": battery.volts if volts is None else volts}, {"BT1": amps, "U1": amps})

    (lasts, problem), _ = given(hold_up(found, cell, charged_V), answer)
    assert problem is None
    return lasts, self_discharge_A(cell.spec)


def test_a_capacitor_holds_up_for_c_dv_over_i():
    """0.33 F from 4.0 to 2.0 V at 10 µA and what it loses by itself: t = C dV / I."""
    found, own_A = held(10e-6)
    assert found.years * 8760 * 3600 == pytest.approx(0.33 * 2.0 / (10e-6 + own_A))
    assert (found.ends_for, found.used_at_end) == ("U1", pytest.approx(0.5))
    assert (found.taking, found.taker) == ("load", "U1")
    whole, own_A = held(10e-6, volts=3.0)
    assert whole.years * 8760 * 3600 == pytest.approx(0.33 * 4.0 * 0.9 / (10e-6 + own_A))
    assert held(10e-6, charged_V=0.0)[0] is None


def test_hold_up_that_could_not_be_solved_is_not_known_and_says_why():
    found = made(SUPERCAP)
    assert given(hold_up(found, found.fragment.parts["BT1"], 4.0), lambda share, _: UNKNOWN)[0] == (
        None, UNKNOWN.problem)


def test_what_a_cell_gives_in_each_state():
    found = board()
    text = BOARD.replace("CONDITIONS", "{}")
    found = made(text, {"main on": point({}, {"BT1": 5e-13}), "main off": point({}, {"BT1": -3e-6})})
    assert gives(found, found.fragment.parts["BT1"]) == {"main on": 0.0, "main off": -3e-6}
    unknown = made(text, {"main on": UNKNOWN}, point({}, {"BT1": 2e-6}))
    assert gives(unknown, found.fragment.parts["BT1"]) == {"main on": None, "main off": 2e-6}


def said(found, conditions="{years: 5}", spec=None):
    survey = board(conditions)
    cell = survey.fragment.parts["BT1"]
    cell = replace(cell, spec=replace(cell.spec, **spec)) if spec else cell
    return life_findings(survey, cell, found)


LASTS = Life(5.0, 1.0, "load", "U1", 2e-6)


@pytest.mark.parametrize(("years", "least", "cases"), [
    (5.0, None, []), (5.0, 5.0, []), (5.0, 4.9, ["worst-shorter"]), (4.9, 4.0, ["shorter"]), (4.9, None, ["shorter"]),
    (9.9, 9.0, []),
])
def test_a_life_shorter_than_wanted_is_told(years, least, cases):
    found = said(replace(LASTS, years=years, least_years=least), spec={"shelf_years": None})
    assert told(found) == [("life", case, "caution") for case in cases]
    for one in found:
        assert one.figures["life_years"] == years
        assert one.figures["wanted_years"] == 5.0
        assert (one.subject, one.line, one.words["years"]) == ("BT1", 6, "wanted")
    assumed = said(replace(LASTS, years=0.1), "{}", {"shelf_years": None})
    assert told(assumed) == [("life", "shorter", "note")]
    assert assumed[0].words == {"years": "assumed", "taking": "load", "taker": "U1", "asked": "U1"}
    assert "If U1 need not be kept" in assumed[0].advice
    itself = said(replace(LASTS, years=0.1, taking="itself", taker=""), "{}", {"shelf_years": None})
    assert "asked" not in itself[0].words
    worst = said(replace(LASTS, years=50.0, least_years=1.0), "{}", {"shelf_years": None})
    assert told(worst) == [("life", "worst-shorter", "note")]
    assert worst[0].figures["least_years"] == 1.0


KEPT = {"main off": point({"CELL": 3.0, "VRAM": 2.5, "+5V": 0.0}, {"BT1": 3e-6, "D1": 3e-6, "U1": 2e-6, "U2": 1e-6})}
DRAINED = {"main off": point({"CELL": 3.0, "VRAM": 2.5, "+5V": 0.0}, {
    "BT1": 9e-6, "D1": 9e-6, "D2": -6e-6, "+5V": -6e-6, "U1": 2e-6, "U2": 1e-6})}


def severities(years, conditions, answers, text=BOARD):
    found = made(text.replace("CONDITIONS", conditions), answers)
    return told(life_findings(found, found.fragment.parts["BT1"], replace(LASTS, years=years)))


@pytest.mark.parametrize(("years", "conditions", "case", "severity"), [
    (0.09, "{}", "shorter", "note"), (0.08, "{}", "at-once", "fails"),
    (0.51, "{years: 5}", "shorter", "caution"), (0.49, "{years: 5}", "shorter", "fails"),
    (0.08, "{years: 0.1}", "shorter", "caution"), (0.009, "{years: 0.1}", "shorter", "fails"),
])
def test_a_life_of_less_than_a_month_or_a_tenth_of_what_is_wanted_fails(years, conditions, case, severity):
    assert severities(years, conditions, KEPT) == [("life", case, severity)]


def test_what_is_given_for_nothing_and_ends_a_cell_at_once_is_what_fails():
    assert severities(0.09, "{}", DRAINED) == [("back-feed", "losses", "caution"), ("life", "shorter", "note")]
    assert severities(0.08, "{}", DRAINED) == [("back-feed", "losses", "fails")]
    assert severities(0.49, "{years: 5}", DRAINED) == [("back-feed", "losses", "fails")]


def test_a_cell_whose_loads_need_not_be_kept_may_be_empty_at_once():
    spared = BOARD.replace("5.5 V}", "5.5 V, kept: no}")
    assert severities(0.08, "{}", KEPT, spared) == [("life", "shorter", "note")]


@pytest.mark.parametrize(("amps", "over"), [(100e-6, False), (200e-6, True)])
def test_a_life_is_worked_out_where_a_fresh_cell_gives_half_of_itself_within_a_month(amps, over):
    """Half of 225 to 235 mAh within 730 h are 154 to 161 µA."""
    found = made(BOARD.replace("CONDITIONS", "{}"), {"main off": drawing(amps)})
    assert may_be_over_at_once(found, found.fragment.parts["BT1"]) is over


def test_beyond_its_shelf_life_nothing_is_promised_and_a_rechargeable_is_not_held_to_years():
    assert said(replace(LASTS, years=10.0), spec={"shelf_years": 10.0}) == []
    found = said(replace(LASTS, years=10.1), spec={"shelf_years": 10.0})
    assert told(found) == [("life", "beyond-shelf", "note")]
    assert found[0].figures == {"life_years": 10.1, "shelf_years": 10.0}
    assert found[0].line == 6
    assert said(replace(LASTS, years=1.0, least_years=0.5), spec={"shelf_years": None, "primary": False,
                                                                    "chemistry": "NiCd"}) == []
    assert said(None) == []
    assert said(replace(LASTS, years=None)) == []
