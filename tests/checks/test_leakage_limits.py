"""Leakage into a primary cell on each side of every limit, on currents that are plain."""

from __future__ import annotations

import pytest
from made_points import UNKNOWN, made, point, told
from msgspec.structs import replace

import netcheck
from netcheck.checks.leakage import (
    NOTHING_KNOWN,
    Leakage,
    allowed_share,
    hours_within,
    leakage,
    leakage_findings,
    leaked_share,
    live_hours_a_day,
    most,
    powered_hours,
    unstated,
)
from netcheck.parts.catalogue import cell_rules

BOARD = """
title: one blocking diode
rails: {+5V: 5 V ±5%}
conditions: CONDITIONS
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: +5V}
  U1: {load: 2 uA, plus: CELL, minus: GND}
"""
TEXT = BOARD.replace("CONDITIONS", "{temperature: 10 °C to 50 °C, years: 10, powered: 6 h/day}")


def into(amps):
    return point({"+5V": 5.0, "CELL": 3.0}, {"BT1": -amps, "D1": -amps, "+5V": amps, "U1": 0.0})


def leaks(at, text=TEXT, charged=False, missing=None):
    found = made(text, at, into(0.0), missing)
    return leakage(found, found.fragment.parts["BT1"], charged)


def test_each_figure_is_of_its_own_corner_and_state():
    """Microamperes: 1 usual, 2 typical when hot and flat, 4 with the makers' maximum; a hundredth while off."""
    found = leaks({("main on", "leakage, usual"): into(1e-6), ("main on", "leakage, typical"): into(2e-6),
                   ("main on", "leakage, maximum"): into(4e-6), ("main off", "leakage, usual"): into(1e-8),
                   ("main off", "leakage, typical"): into(2e-8), ("main off", "leakage, maximum"): into(4e-8)})
    assert found.hot_A == {"typical": 2e-6, "maximum": 4e-6}
    assert found.live_A == {"typical": 1e-6, "maximum": 4e-6}
    assert found.off_A == {"typical": 1e-8, "maximum": 4e-8}
    assert found.by_state == {"main on": 2e-6, "main off": 2e-8}
    assert found.parts == ("D1",)
    hours = 10 * 365 * 24
    capacity = netcheck.loads(TEXT).parts["BT1"].spec.capacity_Ah
    assert found.share == {
        "typical": pytest.approx(hours * (1e-6 * 0.25 + 1e-8 * 0.75) / capacity),
        "maximum": pytest.approx(hours * (4e-6 * 0.25 + 4e-8 * 0.75) / capacity)}
    spec = netcheck.loads(TEXT).parts["BT1"].spec
    assert found.hours_within == {
        "typical": hours_within(1e-6, 1e-8, 10, spec), "maximum": hours_within(4e-6, 4e-8, 10, spec)}


def test_the_worst_state_and_the_cell_flat_alone_count():
    pack = TEXT + ("  BT2: {cell: alkaline-3xAA, plus: EXT, minus: GND, plugged: maybe}\n"
                   "  D3: {diode: 1N4148, anode: EXT, cathode: CELL}\n")
    found = leaks({("main off, BT2 plugged", "leakage, typical, BT1 alone flat"): into(3e-6),
                   ("main off, BT2 plugged", "leakage, maximum, BT1 alone flat"): into(5e-6),
                   ("main off, BT2 plugged", "leakage, typical, BT2 alone flat"): into(9e-6)}, pack)
    assert found.hot_A == {"typical": 3e-6, "maximum": 5e-6}
    assert found.off_A == {"typical": 0.0, "maximum": 5e-6}
    assert found.by_state["main off, BT2 plugged"] == 3e-6


@pytest.mark.parametrize(("corner", "unknown"), [
    ("leakage, usual", {"live typical", "share typical"}),
    ("leakage, typical", {"hot typical"}),
    ("leakage, maximum", {"hot maximum", "live maximum", "share maximum"}),
])
def test_what_could_not_be_solved_is_not_known(corner, unknown):
    found = leaks({("main on", corner): UNKNOWN})
    figures = {f"{name} {kind}": values[kind] for name, values in
               (("hot", found.hot_A), ("live", found.live_A), ("share", found.share)) for kind in values}
    assert {name for name, value in figures.items() if value is None} == unknown


def test_nothing_is_known_of_a_charged_cell_or_without_a_simulator():
    nothing = Leakage(NOTHING_KNOWN, NOTHING_KNOWN, NOTHING_KNOWN, NOTHING_KNOWN, NOTHING_KNOWN, {}, ())
    assert leaks({}, charged=True) == nothing
    assert leaks({}, missing="no simulator") == nothing
    assert NOTHING_KNOWN == {"typical": None, "maximum": None}
    assert leaks({}).parts == ()


def test_the_largest_of_some_is_unknown_where_one_is_and_where_there_is_none():
    assert [most([1.0, 3.0, 2.0]), most([1.0, None]), most([])] == [3.0, None, None]


def test_hours_are_those_stated_or_four_a_day():
    stated, unstated_ = netcheck.loads(TEXT), netcheck.loads(BOARD.replace("CONDITIONS", "{years: 5}"))
    assert (live_hours_a_day(stated), live_hours_a_day(unstated_), live_hours_a_day(unstated_, 1.0)) == (6, 4, 1)
    assert powered_hours(stated) == 6 * 365 * 10
    assert powered_hours(unstated_) == 4 * 365 * 5
    assert powered_hours(unstated_, 1.0) == 365 * 5


def test_share_and_hours_need_currents_and_a_capacity():
    fragment = netcheck.loads(TEXT)
    spec = fragment.parts["BT1"].spec
    assert leaked_share(None, fragment, spec) is None
    assert leaked_share(1e-6, fragment, spec, None) is None
    assert leaked_share(1e-6, fragment, replace(spec, capacity_Ah=0.0)) is None
    assert leaked_share(1e-6, fragment, spec) == pytest.approx(6 * 3650 * 1e-6 / spec.capacity_Ah)
    assert hours_within(1e-6, None, 10, spec) is None
    assert hours_within(1e-6, 0.0, 10, replace(spec, capacity_Ah=0.0)) is None
    a_day_Ah = allowed_share(spec) * spec.capacity_Ah / 3650
    assert hours_within(a_day_Ah, a_day_Ah / 48, 10, spec) == pytest.approx((0.5 * a_day_Ah) / (a_day_Ah * 47 / 48))
    assert hours_within(a_day_Ah / 24, 0.0, 10, spec) == 24
    assert hours_within(1e-7, a_day_Ah / 24, 10, replace(spec, capacity_Ah=spec.capacity_Ah)) < 24
    assert hours_within(a_day_Ah / 12, a_day_Ah / 12, 10, replace(spec, leak_share=0.06 * 3)) == 24


def test_the_share_is_that_of_the_type_or_the_usual_one():
    spec = netcheck.loads(TEXT).parts["BT1"].spec
    assert allowed_share(replace(spec, leak_share=0.01)) == 0.01
    assert allowed_share(replace(spec, leak_share=None)) == cell_rules().leak_share


def said(text=TEXT, blocking=(), **changes):
    fields = {"hot_A": {"typical": 1e-7, "maximum": 2e-7}, "live_A": {}, "off_A": {},
              "share": {"typical": 0.0, "maximum": 0.0}, "hours_within": {"typical": 24.0, "maximum": 24.0},
              "by_state": {"main on": 1e-7, "main off": 0.0}, "parts": ("D1",)}
    found = made(text)
    return leakage_findings(found, found.fragment.parts["BT1"], Leakage(**{**fields, **changes}), blocking)


ALLOWED = allowed_share(netcheck.loads(TEXT).parts["BT1"].spec)
LIMIT_A = cell_rules().leak_limit_A


@pytest.mark.parametrize(("typical", "maximum", "case"), [
    (0.0, ALLOWED, None), (0.0, ALLOWED * 1.001, "worst-beyond-share"), (ALLOWED, ALLOWED * 2, "worst-beyond-share"),
    (ALLOWED * 1.001, ALLOWED * 2, "beyond-share"),
])
def test_beyond_the_share_it_is_a_caution_with_makers_maximum_figures_too(typical, maximum, case):
    found = said(share={"typical": typical, "maximum": maximum})
    assert told(found) == ([("leakage", case, "caution")] if case else [])
    for one in found:
        assert one.figures == {"leakage_A": 1e-7, "leakage_maximum_A": 2e-7, "share": typical, "share_maximum": maximum,
                               "hours_within_h": 24.0, "hours_within_worst_h": 24.0, "allowed_share": ALLOWED,
                               "service_years": 10.0, "guaranteed_V": 20.0}
        assert (one.subject, one.parts, one.nets, one.line, one.words) == (
            "BT1", ("D1",), ("CELL", "GND"), 6, {"curved": ("D1",)})


def test_hours_that_nobody_stated_are_told_with_it():
    found = said(BOARD.replace("CONDITIONS", "{years: 3}"), share={"typical": 1.0, "maximum": 1.0}, parts=())
    assert told(found) == [("leakage", "beyond-share", "caution")]
    assert (found[0].figures["assumed_h"], found[0].figures["service_years"]) == (4.0, 3.0)
    assert found[0].words == {"blocks": "what"}


def test_beyond_what_makers_allow_it_is_a_danger_in_the_states_that_pass_it():
    assert said(hot_A={"typical": LIMIT_A, "maximum": LIMIT_A * 9}) == []
    found = said(hot_A={"typical": LIMIT_A * 3, "maximum": LIMIT_A * 9},
                 by_state={"main on": LIMIT_A * 2, "main off": LIMIT_A * 3, "third": LIMIT_A})
    assert told(found) == [("leakage", "beyond-limit", "danger")]
    (one,) = found
    assert (one.state, one.states) == ("main off", ("main off", "main on"))
    assert (one.figures["limit_A"], one.figures["warm_C"], one.figures["leakage_A"]) == (LIMIT_A, 50, LIMIT_A * 3)
    assert (one.subject, one.parts, one.nets, one.line) == ("BT1", ("D1",), ("CELL", "GND"), 6)
    assert one.sources


def test_what_is_known_to_be_too_much_is_a_danger_beside_what_is_not_known():
    """verdicts.md, The words: no finding of harm is lost because another state could not be solved."""
    found = leaks({("main on", "leakage, typical"): into(LIMIT_A * 2), ("main off", "leakage, typical"): UNKNOWN})
    assert found.hot_A["typical"] is None
    here = made(TEXT)
    findings = leakage_findings(here, here.fragment.parts["BT1"], found, ())
    assert told(findings) == [("leakage", "beyond-limit", "danger"), ("leakage", "not-solved", "unknown")]
    assert (findings[0].figures["leakage_A"], findings[0].states) == (LIMIT_A * 2, ("main on",))
    alone = TEXT + ("  BT2: {cell: alkaline-3xAA, plus: EXT, minus: GND}\n"
                    "  D3: {diode: 1N4148, anode: EXT, cathode: CELL}\n")
    corners = {("main on", "leakage, typical"): UNKNOWN,
               ("main on", "leakage, typical, BT1 alone flat"): into(LIMIT_A * 2)}
    assert leaks(corners, alone).by_state["main on"] == LIMIT_A * 2
    text = TEXT + "  D8: {diode: {points: [[1 mA, 0.6 V]]}, anode: CELL, cathode: +5V}\n"
    both = said(text, blocking=("D1", "D8"), hot_A={"typical": LIMIT_A * 2, "maximum": LIMIT_A * 2},
                by_state={"main on": LIMIT_A * 2, "main off": 0.0})
    assert told(both) == [("leakage", "beyond-limit", "danger"), ("leakage", "not-stated", "unknown")]


@pytest.mark.parametrize("missing", [
    {"hot_A": {"typical": None, "maximum": 1.0}}, {"share": {"typical": None, "maximum": 0.0}},
    {"share": {"typical": 0.0, "maximum": None}}])
def test_what_is_not_known_is_told_and_never_called_fine(missing):
    found = said(**missing)
    assert told(found) == [("leakage", "not-solved", "unknown")]
    assert found[0].line == 6


def test_a_blocking_part_of_which_nothing_is_said_makes_it_unknown():
    text = TEXT + ("  D8: {diode: {points: [[1 mA, 0.6 V]]}, anode: CELL, cathode: +5V}\n"
                   "  D9: {diode: {IS: 1e-9, N: 1.8}, anode: CELL, cathode: +5V}\n"
                   "  Q1: {transistor: npn, collector: CELL, base: X, emitter: +5V}\n"
                   "  Q2: {transistor: {polarity: npn, cutoff: 50 nA}, collector: CELL, base: X, emitter: +5V}\n"
                   "  U2: {chip: g, pins: {1: CELL, 2: +5V}}\n"
                   "  U3: {chip: g, pins: {1: CELL, 2: +5V}, paths: [{from: 1, to: 2, by: diode}]}\n"
                   "  R1: {resistor: 1k, between: [CELL, X]}\n")
    fragment = netcheck.loads(text)
    names = ("D1", "D8", "D9", "Q1", "Q2", "U2", "U3", "R1")
    blank = {name for name in names if unstated(fragment, [name])}
    assert {"D8", "U2"} <= blank
    assert not {"D1", "D9", "Q2", "U3", "R1"} & blank
    assert unstated(fragment, ("D8", "D1", "U2")) == ("D8", "U2")
    found = said(text, blocking=("D1", "D8", "U2"), share={"typical": 1.0, "maximum": 1.0})
    assert told(found) == [("leakage", "not-stated", "unknown")]
    assert (found[0].parts, found[0].line) == (("D8", "U2"), 6)
