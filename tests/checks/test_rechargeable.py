"""A rechargeable's charger against the window of its type: each side of every limit."""

from __future__ import annotations

import pytest
from made_points import UNKNOWN, given, made, point, told
from msgspec.structs import replace

import netcheck
from netcheck.checks.rechargeable import Charge, charge, charge_findings
from netcheck.parts.specs import CellSpec

BOARD = """
title: charger
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CELL, plus: CELL, minus: GND}
  R1: {resistor: 1k, between: [+5V, CHG]}
  D3: {diode: 1N4148, anode: CHG, cathode: CELL}
"""


def cell(name):
    return netcheck.loads(BOARD.replace("cell: CELL", f"cell: {name}")).parts["BT1"]


def windowed(name):
    part = cell(name)
    assert isinstance(part.spec, CellSpec)
    return part, part.spec.trickle, part.spec.charge_window


NICKEL = "NiCd-3x60"
LITHIUM = "ML2032"


def said(part, found, conducting=True, worst_A=None):
    return told(charge_findings(part, found, conducting, worst_A))


def charged(trickle_A=None, end_V=None, low_end_V=None):
    return Charge(trickle_A, end_V, low_end_V, "main on")


def test_the_lasting_current_is_judged_on_each_side_of_every_limit():
    part, window, _ = windowed(NICKEL)
    harmful, most, least = window.harmful_A, window.most_A, window.least_A
    lost = part.spec.capacity_Ah * part.spec.self_discharge_per_year / 8760
    assert 0 < lost < least < most < harmful
    cases = {
        harmful * 1.001: ("trickle-harms", "danger"), harmful: ("trickle-ages", "caution"),
        most * 1.001: ("trickle-ages", "caution"), most: ("trickle-inside", "note"),
        least: ("trickle-inside", "note"), least * 0.999: ("trickle-low", "note"), lost: ("trickle-low", "note"),
        lost * 0.999: ("trickle-short", "caution"), 0.0: ("no-trickle", "caution"),
    }
    assert {amps: said(part, charged(amps)) for amps in cases} == {
        amps: [("charger", *case)] for amps, case in cases.items()}


def test_a_finding_on_the_current_carries_its_limits_its_state_and_its_source():
    part, window, _ = windowed(NICKEL)
    (found,) = charge_findings(part, charged(window.harmful_A * 2), True, None)
    assert found.figures == {"trickle_A": window.harmful_A * 2, "limit_A": window.harmful_A}
    assert (found.subject, found.state, found.parts, found.nets, found.line) == (
        "BT1", "main on", ("BT1",), ("CELL", "GND"), part.mark.line)
    assert found.sources == tuple(dict.fromkeys(
        one.source.partition(": ")[0] for one in part.spec.figures if one.of.startswith("trickle")))
    assert found.sources
    (inside,) = charge_findings(part, charged(window.most_A), True, None)
    assert inside.figures == {"trickle_A": window.most_A, "least_A": window.least_A, "most_A": window.most_A}
    (ages,) = charge_findings(part, charged(window.harmful_A), True, None)
    assert ages.figures["limit_A"] == window.most_A
    (low,) = charge_findings(part, charged(window.least_A * 0.99), True, None)
    assert low.figures["least_A"] == window.least_A
    (short,) = charge_findings(part, charged(1e-9), True, None)
    assert short.figures["loses_A"] == pytest.approx(part.spec.capacity_Ah * part.spec.self_discharge_per_year / 8760)


def test_the_end_of_charge_is_judged_by_its_highest_and_its_lowest_volts():
    part, _, window = windowed(LITHIUM)
    low, high = window.low, window.high
    assert said(part, charged(end_V=high + 0.001, low_end_V=low)) == [("charger", "end-too-high-lithium", "danger")]
    assert said(part, charged(end_V=high, low_end_V=low)) == [("charger", "end-inside", "note")]
    assert said(part, charged(end_V=high, low_end_V=low - 0.001)) == [("charger", "end-too-low", "caution")]
    assert said(part, charged(end_V=high + 0.001, low_end_V=low - 0.001))[0][1] == "end-too-high-lithium"
    assert said(part, charged(end_V=high, low_end_V=None)) == [("charger", "end-inside", "note")]
    assert said(part, charged(end_V=None)) == []
    (over,) = charge_findings(part, charged(end_V=3.6, low_end_V=3.1), True, None)
    assert over.figures == {"end_V": 3.6, "least_V": low, "most_V": high}
    assert (over.state, over.parts, over.nets, over.line) == ("main on", ("BT1",), ("CELL", "GND"), part.mark.line)
    assert over.sources
    (under,) = charge_findings(part, charged(end_V=3.0, low_end_V=2.0), True, None)
    assert under.figures["end_V"] == 2.0
    nickel = replace(part, spec=replace(part.spec, lithium=False))
    assert said(nickel, charged(end_V=high + 0.1, low_end_V=low))[0] == ("charger", "end-too-high", "danger")


def test_a_flat_lithium_rechargeable_stands_no_more_than_its_limit_and_nickel_does():
    part, window, _ = windowed(LITHIUM)
    if window is None:   # its maker gives a window of volts alone
        part, window, _ = windowed(NICKEL)
        part = replace(part, spec=replace(part.spec, chemistry="ML"))
    assert part.spec.lithium
    harmful = window.harmful_A
    hard = ("charger", "too-hard-when-flat", "danger")
    found = [one for one in charge_findings(part, charged(), True, harmful * 1.001) if one.case == hard[1]]
    assert told(found) == [hard]
    assert found[0].figures == {"charge_A": harmful * 1.001, "limit_A": harmful}
    assert (found[0].parts, found[0].nets, found[0].line) == (("BT1",), ("CELL", "GND"), part.mark.line)
    assert found[0].sources
    assert hard not in said(part, charged(), worst_A=harmful)
    assert hard not in said(part, charged(), worst_A=None)
    nickel, window, _ = windowed(NICKEL)
    assert said(nickel, charged(), worst_A=window.harmful_A * 2) == []


def test_what_is_not_charged_or_of_which_nothing_is_known_is_told():
    part, _, _ = windowed(NICKEL)
    assert said(part, charged(0.0), conducting=False) == [("charger", "not-charged", "caution")]
    bare = replace(part, spec=replace(part.spec, trickle=None, charge_window=None))
    assert said(bare, charged(1e-3)) == [("charger", "not-stated", "unknown")]
    assert said(cell("CR2032"), charged(1e-3)) == []
    assert said(part, charged(None)) == []      # told as unsolved elsewhere
    assert {one.line for one in charge_findings(bare, charged(1e-3), True, None)} == {part.mark.line}


def answers(full=1e-3, high=(4.5, 0.0), low=(4.0, 0.0)):
    def answer(key, circuit):
        which, _ = key
        if which == "full":
            return point({}, {"BT1": -full})
        plus, minus = high if which == "high" else low
        return point({"CELL": plus, "GND": minus})
    return answer


def test_the_figures_are_the_worst_of_the_live_states_with_the_cell_in():
    text = BOARD.replace("cell: CELL", f"cell: {NICKEL}").replace("{+5V: 5 V ±5%}",
                                                                  "{+5V: 5 V, +9V: {volts: 9 V, supply: aux}}")
    found = made(text + "  R2: {resistor: 1k, between: [+9V, CHG]}\n")
    part = found.fragment.parts["BT1"]
    by_state = {"main on, aux on": (2e-3, 4.5, 4.2), "main on, aux off": (3e-3, 4.4, 4.3),
                "main off, aux on": (1e-3, 4.3, 4.1)}

    def answer(key, circuit):
        which, state = key
        amps, high, low = by_state[state]
        return point({}, {"BT1": -amps}) if which == "full" else point({"CELL": high if which == "high" else low})

    (worst, problem), keys = given(charge(found, part), answer)
    assert worst == Charge(3e-3, 4.5, 4.3, "main on, aux off")
    assert problem is None
    assert set(keys) == {(which, state) for which in ("full", "high", "low") for state in by_state}
    _, alike = given(charge(apart := made(text), apart.fragment.parts["BT1"]), answer)
    assert {state for _, state in alike} == {"main on, aux on", "main off, aux on"}  # the cell does not see aux


def test_its_circuits_are_hot_and_high_with_the_cell_full_and_cold_and_low():
    found = made(BOARD.replace("cell: CELL", f"cell: {NICKEL}") + "conditions: {temperature: 10 °C to 40 °C}\n")
    part = found.fragment.parts["BT1"]
    seen = {}

    def answer(key, circuit):
        seen[key[0]] = circuit
        return answers()(key, circuit)

    given(charge(found, part), answer)
    rail = {which: next(one.volts for one in circuit.elements if one.name == "+5V") for which, circuit in seen.items()}
    assert rail == {"full": pytest.approx(5.25), "high": pytest.approx(5.25), "low": pytest.approx(4.75)}
    assert {which: circuit.temperature_C for which, circuit in seen.items()} == {"full": 40, "high": 40, "low": 10}
    full_V = part.spec.curve[0].volts_V
    assert next(one.volts for one in seen["full"].elements if one.name == "BT1") == pytest.approx(full_V)


@pytest.mark.parametrize("unknown", ["full", "high", "low"])
def test_what_could_not_be_solved_is_not_known_and_says_why(unknown):
    found = made(BOARD.replace("cell: CELL", f"cell: {NICKEL}"))
    answer = answers()
    result, _ = given(charge(found, found.fragment.parts["BT1"]),
                      lambda key, circuit: UNKNOWN if key[0] == unknown else answer(key, circuit))
    assert result == (Charge(None, None, None, None), UNKNOWN.problem)


def test_harm_is_told_also_where_another_state_has_no_solution_and_nothing_else_then():
    text = BOARD.replace("{+5V: 5 V ±5%}", "{+5V: 5 V, +9V: {volts: 9 V, supply: aux}}")
    for name, limit, window in ((NICKEL, cell(NICKEL).spec.trickle.harmful_A, None),
                                (LITHIUM, None, cell(LITHIUM).spec.charge_window.high)):
        found = made(text.replace("cell: CELL", f"cell: {name}") + "  R2: {resistor: 1k, between: [+9V, CHG]}\n")
        part = found.fragment.parts["BT1"]
        for factor in (1.0, 1.01):
            amps, end_V = (limit or 0.0) * factor, (window or 0.0) * factor

            def answer(key, circuit, amps=amps, end_V=end_V):
                which, state = key
                if state == "main on, aux on":
                    return UNKNOWN
                return point({}, {"BT1": -amps}) if which == "full" else point({"CELL": end_V})

            (result, problem), _ = given(charge(found, part), answer)
            assert problem == UNKNOWN.problem
            harm = factor > 1
            assert (result.trickle_A, result.end_V) == (amps if harm and limit else None,
                                                        end_V if harm and window else None)
            assert [one[2] for one in said(part, result)] == (["danger"] if harm else [])
            assert (result.state is not None) is harm


def test_current_out_of_the_cell_is_no_charge_and_a_floating_end_has_no_volts():
    found = made(BOARD.replace("cell: CELL", f"cell: {NICKEL}"))
    part = found.fragment.parts["BT1"]
    (result, _), _ = given(charge(found, part), answers(full=-1e-3, low=(None, 0.0)))
    assert result == Charge(0.0, None, None, "main on")


def test_a_primary_cell_and_a_board_without_supply_ask_for_nothing():
    for text in (BOARD.replace("cell: CELL", "cell: CR2032"),
                 BOARD.replace("cell: CELL", f"cell: {NICKEL}").replace("rails: {+5V: 5 V ±5%}\n", "").replace(
                     "+5V", "X")):
        found = made(text)
        assert given(charge(found, found.fragment.parts["BT1"]), answers()) == (
            (Charge(0.0, None, None, None), None), [])
