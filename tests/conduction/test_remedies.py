"""Remedies: the smallest removals, and the places for a series diode."""

from __future__ import annotations

import pytest

import netcheck
from netcheck.conduction import remedies
from netcheck.conduction.graph import conduction
from netcheck.conduction.remedies import (
    Remedy,
    diode_candidates,
    diode_places,
    free_name,
    keeps_feeds,
    lead_resistor,
    lead_steps,
    next_designator,
    removal_steps,
    removals,
    replaced_diode,
    series_diode,
)
from netcheck.conduction.routes import Feed, distinct_routes
from netcheck.fragment.model import Kind
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


def test_removals_come_in_the_order_of_the_file_and_the_smallest_alone():
    assert removals(*prepared(CHARGER)).sets == (("R1",), ("D3",))
    turned = CHARGER.replace("  R1: {resistor: 470, between: [+5V, CHG]}\n", "").replace(
        "  D1:", "  R1: {resistor: 470, between: [+5V, CHG]}\n  D1:")
    assert removals(*prepared(turned)).sets == (("D3",), ("R1",))
    two = CHARGER.replace("R1: {resistor: 470, between: [+5V, CHG]}",
                          "R1: {resistor: 470, between: [+5V, CHG]}\n  R4: {resistor: 1k, between: [+5V, CHG]}")
    assert removals(*prepared(two)).sets == (("D3",),)


def test_what_nothing_charges_needs_no_removal():
    found = removals(*prepared(CHARGER.replace("  D3: {diode: 1N4148, anode: CHG, cathode: CELL}\n", "")))
    assert (found.sets, found.complete) == ((), True)


def test_a_search_that_is_cut_short_says_so(monkeypatch):
    text = CHARGER + "".join(f"  R{n}: {{resistor: 10k, between: [+5V, CELL]}}\n" for n in (4, 5))
    assert removals(*prepared(text)).complete
    assert len(removals(*prepared(text)).sets) == 2
    monkeypatch.setattr(remedies, "_MOST_TRIED", 4)
    found = removals(*prepared(text))
    assert not found.complete
    monkeypatch.setattr(remedies, "_MOST_TRIED", 400)
    monkeypatch.setattr(remedies, "_MOST_WORK", 10)   # the larger the graphs, the fewer, four at least
    assert not removals(*prepared(text)).complete
    assert removals(*prepared(CHARGER)).sets == (("R1",), ("D3",))


def test_a_load_may_change_from_cell_to_cell_and_from_nothing_to_anything_but_loses_no_rail():
    rail, cell, other = Feed(True, frozenset()), Feed(False, frozenset({"BT1"})), Feed(False, frozenset({"BT2"}))
    both, nothing = Feed(True, frozenset({"BT1"})), Feed(False, frozenset())
    kept = {(before, after): keeps_feeds({("s", "U1"): before}, {("s", "U1"): after})
            for before in (rail, cell, both, nothing) for after in (rail, cell, other, both, nothing)}
    lost = {pair for pair, keeps in kept.items() if not keeps}
    assert lost == {(rail, cell), (rail, other), (rail, nothing), (cell, rail), (cell, nothing),
                    (both, cell), (both, other), (both, nothing)}
    assert not keeps_feeds({("s", "U1"): rail, ("t", "U1"): rail}, {("s", "U1"): rail, ("t", "U1"): nothing})


def test_a_diode_where_it_would_starve_a_load_is_not_offered():
    """With the charge resistor the only feed, a diode in its place towards the rail starves the load."""
    assert places(CHARGER) == {"BT1.plus", "BT1.minus", "R1"}
    text = SHARED.replace("  U1: {load: 2 uA, plus: VRTC", "  U1: {load: 2 uA, plus: CELL")
    assert "R1" not in places(text)


def test_the_steps_of_a_diode_in_a_lead_move_the_pin_and_fit_the_diode_between():
    fragment, _, cell = prepared(CHARGER)
    diode = Catalogue.standard().diode("1N4148")
    for pin, pins in (("plus", {"anode": "BT1_PLUS", "cathode": "CELL"}),
                      ("minus", {"anode": "GND", "cathode": "BT1_MINUS"})):
        (move, fit), name = lead_steps(fragment, cell, pin, diode)
        assert (move.action, move.moves, move.mark) == ("move", {("BT1", pin): f"BT1_{pin.upper()}"}, cell.mark)
        assert (fit.action, fit.mark) == ("fit", cell.mark)
        (fitted,) = fit.parts
        assert (fitted.name, fitted.pins, fitted.spec, fitted.mark) == ("D4", pins, diode, cell.mark)
        assert name == "D4"


def test_a_diode_in_place_of_a_resistor_takes_its_nets_either_way():
    fragment, graphs, cell = prepared(CHARGER)
    routes = distinct_routes(fragment, graphs, cell)
    diode = Catalogue.standard().diode("1N4148")
    candidates = diode_candidates(fragment, cell, [route.parts for route in routes], diode)
    assert [one.insert_diode for one in candidates] == ["BT1.plus", "BT1.minus", "R1", "R1"]
    steps = [one.steps for one in candidates[2:]]
    assert [(remove.action, remove.names, remove.mark) for remove, _ in steps] == [
        ("remove", ("R1",), fragment.parts["R1"].mark)] * 2
    assert [fit.parts[0].pins for _, fit in steps] == [
        {"anode": "+5V", "cathode": "CHG"}, {"anode": "CHG", "cathode": "+5V"}]
    assert all(fit.action == "fit" and fit.mark == fragment.parts["R1"].mark for _, fit in steps)
    many = CHARGER + "".join(f"  R{n}: {{resistor: 10k, between: [+5V, CELL]}}\n" for n in (4, 5, 6))
    found = diode_candidates(netcheck.loads(many), cell, [["R1", "D3"], ["R4"], ["R5"], ["R6"], ["R1"]], diode)
    assert [one.insert_diode for one in found[2:]] == ["R1", "R1", "R4", "R4", "R5", "R5"]


def test_places_in_resistors_are_tried_up_to_six_and_fewer_in_a_large_circuit(monkeypatch):
    chain = "".join(f"  R{n}: {{resistor: 100, between: [N{n}, N{n + 1}]}}\n" for n in range(1, 9))
    text = (CHARGER.replace("  R1: {resistor: 470, between: [+5V, CHG]}\n", chain)
            .replace("anode: CHG, cathode: CELL", "anode: N9, cathode: N10") +
            "  R10: {resistor: 1, between: [+5V, N1]}\n  R11: {resistor: 1, between: [N10, CELL]}\n")
    assert places(text) == {"BT1.plus", "BT1.minus", "R10", "R1", "R2", "R3", "R4", "R5"}
    _, graphs, _ = prepared(text)
    monkeypatch.setattr(remedies, "_MOST_WORK", 2 * sum(one.graph.number_of_edges() for one in graphs))
    assert places(text) == {"BT1.plus", "BT1.minus", "R10", "R1"}


def test_other_changes_are_steps_with_words_and_their_data():
    fragment = netcheck.loads(CHARGER)
    diode = Catalogue.standard().diode("BAT54")
    other = replaced_diode(fragment, "D1", diode)
    (step,) = other.steps
    assert (step.action, step.parts[0].spec, step.parts[0].pins) == ("replace", diode, fragment.parts["D1"].pins)
    assert (other.words, other.extra) == ("fit a BAT54 as D1", {"replace": {"D1": "BAT54"}})
    series = series_diode(fragment, "R1", "CHG", diode)
    move, fit = series.steps
    assert (move.action, move.moves) == ("move", {("R1", "2"): "R1_2"})
    assert fit.parts[0].pins == {"anode": "CHG", "cathode": "R1_2"}
    assert series.extra == {"insert_diode": "R1.2"}
    assert "R1" in series.words
    assert {step.mark for step in (step, move, fit)} == {fragment.parts["D1"].mark, fragment.parts["R1"].mark}


def test_a_resistor_in_a_lead_has_five_percent_and_a_name_of_its_own():
    fragment, _, cell = prepared(CHARGER)
    (move, fit), fitted = lead_resistor(fragment, cell, "plus", 4700.0)
    assert (move.action, move.moves, move.mark) == ("move", {("BT1", "plus"): "BT1_PLUS"}, cell.mark)
    assert (fit.action, fit.parts, fit.mark) == ("fit", (fitted,), cell.mark)
    value = fitted.spec.resistance
    assert (fitted.name, fitted.kind, fitted.pins) == ("R2", Kind.RESISTOR, {"1": "BT1_PLUS", "2": "CELL"})
    assert (value.value, value.low, value.high, value.unit) == (4700.0, 4465.0, pytest.approx(4935.0), "ohm")
    assert value.text == "4.7k ±5%"


def test_new_names_are_free():
    fragment = netcheck.loads(CHARGER.replace("CHG", "BT1_PLUS"))
    assert [next_designator(fragment, letter) for letter in ("R", "D", "BT", "Q")] == ["R2", "D4", "BT2", "Q1"]
    (move, _), _ = lead_steps(fragment, fragment.parts["BT1"], "plus", Catalogue.standard().diode("BAT54"))
    assert move.moves == {("BT1", "plus"): "BT1_PLUS_"}
    assert free_name("A", ("A", "A_", "A__")) == "A___"


def test_a_remedy_as_data_says_what_it_removes_or_where_its_diode_goes():
    step = removal_steps(netcheck.loads(CHARGER), ("R1", "D3"))
    assert (step[0].action, step[0].names) == ("remove", ("R1", "D3"))
    judged = {"verdict": "ok", "lowest_V": 2.5, "life_years": 9.0, "because": "so"}
    assert Remedy(step, remove=("R1", "D3"), **judged).to_dict() == {"remove": ["R1", "D3"], **judged}
    assert Remedy(step, insert_diode="R1").to_dict() == {
        "insert_diode": "R1", "verdict": None, "lowest_V": None, "life_years": None, "because": ""}
    assert Remedy(step, remove=("R1",), extra={"replace": 1}, **judged).to_dict() == {"replace": 1, **judged}
