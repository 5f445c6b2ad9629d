"""A cell as a clamp, forced discharge, and what keeps nothing alive: on points given by hand."""

from __future__ import annotations

import pytest
from made_points import UNKNOWN, given, made, point, told
from msgspec.structs import replace

from netcheck.checks.clamp import clamping
from netcheck.checks.keeps import keeps, turn_steps
from netcheck.checks.reversal import _outlasts, reversals
from netcheck.fragment.mods import apply_steps
from netcheck.parts.catalogue import cell_rules
from netcheck.parts.cell import volts

CLAMPED = """
title: a pack is the clamp
rails: {+12V: 12 V ±5%}
parts:
  BT1: {cell: NiCd-3x60, plus: CELL, minus: GND}
  R1: {resistor: 8.2k, between: [+12V, CELL]}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
"""


def clamps(out, there=4.0, text=CLAMPED, variant=None, corner=None):
    found = made(text, None, point({"VRAM": there}) if there is not None else UNKNOWN)
    if variant:
        found = replace(found, fragment=replace(found.fragment, variant=variant))

    def answer(key, circuit):
        assert "BT1" not in {element.name for element in circuit.elements}
        volts = out if corner is None or key[1] == corner else 4.0
        return UNKNOWN if volts is None else point({"VRAM": volts})

    findings, keys = given(clamping(found, found.fragment.parts["BT1"]), answer)
    assert {corner for _, corner in keys} == {"room, fresh cell", "hot, fresh cell"}
    return findings


def test_what_was_not_solved_without_the_cell_is_unknown_beside_what_is_known():
    """No harm goes unseen because another corner could not be solved, and none is ruled out by it."""
    (one,) = clamps(None)
    assert told([one]) == [("clamp", "not-solved", "unknown")]
    assert (one.subject, one.state, one.nets, one.line) == ("U1", "main on", ("VRAM",), 8)
    assert one.words == {"cell": "BT1", "why": UNKNOWN.problem}
    jumper = CLAMPED + "  JP1: {jumper: [VRAM, X], set: open}\n  R2: {resistor: 1M, between: [X, GND]}\n"
    found = made(jumper, None, point({"VRAM": 4.0}))
    both, _ = given(clamping(found, found.fragment.parts["BT1"]),
                    lambda key, _: point({"VRAM": 9.0}) if key[0] == "main on, JP1 open" else UNKNOWN)
    assert told(both) == [("clamp", "rechargeable", "caution"), ("clamp", "not-solved", "unknown")]
    assert both[1].state == "main on, JP1 closed"
    for corner in ("room, fresh cell", "hot, fresh cell"):     # one of the two tells of the state
        one_corner, _ = given(clamping(found, found.fragment.parts["BT1"]),
                              lambda key, _, corner=corner: UNKNOWN if key[1] == corner else point({"VRAM": 4.0}))
        assert one_corner == []
    assert clamps(None, text=CLAMPED.replace(", works: 2.0 V to 5.5 V", "")) == []


@pytest.mark.parametrize("corner", ["room, fresh cell", "hot, fresh cell"])
def test_what_stands_above_its_limit_only_without_the_cell_is_told(corner):
    found = clamps(5.51, corner=corner)
    assert told(found) == [("clamp", "rechargeable", "caution")]
    (one,) = found
    assert one.figures == {"volts_V": 5.51, "limit_V": 5.5}
    assert (one.subject, one.state, one.states, one.parts, one.nets, one.line, one.words) == (
        "U1", "main on", ("main on",), ("BT1", "U1"), ("VRAM",), 8, {"cell": "BT1"})


def test_what_stays_below_or_stands_above_it_anyway_is_not_its_clamp():
    assert clamps(5.5) == []
    assert clamps(9.0, there=5.51) == []
    assert told(clamps(9.0, there=5.5)) == [("clamp", "rechargeable", "caution")]
    assert told(clamps(9.0, there=None)) == [("clamp", "rechargeable", "caution")]
    assert clamps(None, there=None) == []    # that state is told as unknown in any case
    assert clamps(9.0, text=CLAMPED.replace(", works: 2.0 V to 5.5 V", "")) == []


def test_the_most_volts_of_all_states_and_corners_are_told_of_each_load_that_has_a_limit():
    text = CLAMPED.replace("  U1:", "  U0: {load: 1 uA, plus: VRAM, minus: GND}\n"
                                     "  JP1: {jumper: [VRAM, X], set: open}\n"
                                     "  R2: {resistor: 1M, between: [X, GND]}\n  U1:")
    found = made(text, None, point({"VRAM": 4.0}))
    stands = {("main on, JP1 closed", "room, fresh cell"): 9.0, ("main on, JP1 closed", "hot, fresh cell"): 6.0,
              ("main on, JP1 open", "room, fresh cell"): 7.0, ("main on, JP1 open", "hot, fresh cell"): 8.0}
    for turned in (False, True):    # whichever state comes first
        volts = {(name.replace("closed", "x").replace("open", "closed").replace("x", "open") if turned else name,
                  corner): value for (name, corner), value in stands.items()}
        points = {key: point({"VRAM": value}) for key, value in volts.items()}
        (one,), _ = given(clamping(found, found.fragment.parts["BT1"]), lambda key, _, points=points: points[key])
        assert (one.subject, one.figures["volts_V"], len(one.states)) == ("U1", 9.0, 2)
        assert one.state == ("main on, JP1 open" if turned else "main on, JP1 closed")


def test_a_pack_that_may_be_unplugged_is_pulled_out_where_it_is_plugged():
    found = made(CLAMPED.replace("minus: GND}\n  R1", "minus: GND, plugged: maybe}\n  R1"))
    _, keys = given(clamping(found, found.fragment.parts["BT1"]), lambda key, circuit: UNKNOWN)
    assert {state for state, _ in keys} == {"main on, BT1 plugged"}


def test_a_primary_cell_put_there_by_a_mod_is_a_danger():
    text = CLAMPED.replace("NiCd-3x60", "CR2032")
    assert told(clamps(9.0, text=text)) == [("clamp", "primary", "caution")]
    assert told(clamps(9.0, text=text, variant="swap")) == [("clamp", "primary", "danger")]
    assert told(clamps(9.0, variant="swap")) == [("clamp", "rechargeable", "caution")]


SERIES = """
title: a rail in series with a cell
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: +5V}
  R1: {resistor: 1k, between: [CELL, GND]}
"""


def driven(amps, now=3e-3, text=SERIES):
    found = made(text, {("main on", "charge, flat cell"): UNKNOWN if now is None else point({}, {"BT1": now})})

    def answer(key, circuit):
        battery = next(element for element in circuit.elements if element.name == "BT1")
        assert battery.volts == 0.0
        assert battery.ohm == found.fragment.parts["BT1"].spec.curve[-1].resistance_ohm
        given_A = amps if key == "main on" else 0.0
        return point({}, {"BT1": given_A, "R1": given_A, "+5V": given_A}) if given_A is not None else UNKNOWN

    return given(reversals(found, found.fragment.parts["BT1"]), answer)[0]


def test_a_rail_that_drives_a_flat_cell_on_is_a_danger():
    limit_A = cell_rules().leak_aim_A
    assert driven(limit_A) == []
    found = driven(limit_A * 1.01)
    assert told(found) == [("reversal", "driven", "danger")]
    (one,) = found
    assert one.figures == {"reversed_A": pytest.approx(limit_A * 1.01), "gives_A": 3e-3}
    assert (one.subject, one.state, one.states, one.parts, one.line) == (
        "BT1", "main on", ("main on",), ("BT1", "R1"), 5)
    assert one.words == {"source": "+5V", "through": ("R1",)}
    assert "gives_A" not in driven(1e-3, now=-1e-3)[0].figures
    assert "gives_A" not in driven(1e-3, now=None)[0].figures
    (unsolved,) = driven(None)
    assert told([unsolved]) == [("reversal", "not-solved", "unknown")]
    assert (unsolved.subject, unsolved.state, unsolved.line) == ("BT1", "main on", 5)
    assert unsolved.words == {"why": UNKNOWN.problem}
    assert driven(-1e-3) == []


def test_the_state_that_drives_it_hardest_is_told_with_all_that_do():
    found = made(SERIES + "  JP1: {jumper: [CELL, X], set: open}\n  R2: {resistor: 1k, between: [X, GND]}\n")
    amps = {"main on, JP1 open": 2e-3, "main on, JP1 closed": 3e-3}

    def answer(key, circuit):
        through = amps.get(key, 0.0)
        return point({}, {"BT1": through, "R1": through, "+5V": through})

    (one,) = given(reversals(found, found.fragment.parts["BT1"]), answer)[0]
    assert (one.state, set(one.states), one.figures["reversed_A"]) == ("main on, JP1 closed", set(amps), 3e-3)
    assert "gives_A" not in one.figures


def test_what_has_no_solution_with_the_cell_flat_is_unknown_beside_the_state_that_drives_it():
    text = SERIES + "  JP1: {jumper: [CELL, X], set: open}\n  R2: {resistor: 1k, between: [X, GND]}\n"

    def answer(key, circuit):
        return UNKNOWN if key == "main on, JP1 closed" else point({}, dict.fromkeys(("BT1", "R1", "+5V"), 2e-3))

    for at, expected in (({}, ["driven", "not-solved"]), ({"main on, JP1 closed": UNKNOWN}, ["driven"])):
        found = made(text, at)
        cases = given(reversals(found, found.fragment.parts["BT1"]), answer)[0]
        assert [one.case for one in cases] == expected


@pytest.mark.parametrize(("driver", "driver_V", "driven_V", "outlasts"), [
    ("alkaline-3xAA", None, None, True), ("alkaline-3xAA", "nearly empty", None, False),
    ("alkaline-3xAA", "nearly empty", "nearly empty", True), ("CR2032", None, None, False),
    ("CR2032", None, "nearly empty", True), ("CR2032", "nearly empty", None, False), ("supercap-1F", None, None, False),
])
def test_a_cell_outlasts_another_by_what_is_left_in_it(driver, driver_V, driven_V, outlasts):
    """Three AA cells that have used 98 % hold some 0.05 Ah, less than half of a CR2032's 0.225 Ah."""
    parts = made("title: t\nparts:\n  BT1: {cell: CR2032, plus: A, minus: B}\n"
                 f"  BT2: {{cell: {driver}, plus: B, minus: GND}}\n").fragment.parts

    def standing(part, wanted):
        return replace(part, measured_V=volts(part.spec, 0.98, None)) if wanted else part

    assert _outlasts(standing(parts["BT2"], driver_V), standing(parts["BT1"], driven_V)) is outlasts


KEPT = """
title: a cell behind a diode
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: VRAM, cathode: CELL}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
  U2: {load: 2 uA, plus: OTHER, minus: GND}
"""


def lost(first, second, helps=None, text=KEPT, known=True):
    stored = point({"VRAM": first, "OTHER": second, "CELL": 3.2})
    found = made(text, {"main off": stored if known else UNKNOWN})

    def answer(key, circuit):
        return UNKNOWN if helps == "unknown" else point({"VRAM": 2.6 if key == helps else 0.0, "OTHER": 0.0})

    findings, keys = given(keeps(found), answer)
    return findings, keys


def test_where_no_load_is_kept_it_is_told_once_with_what_would_help_turned_round():
    found, keys = lost(0.99, 0.49, "D1")
    assert told(found) == [("keeps-nothing", "no-load-turned", "fails")]
    (one,) = found
    assert (one.subject, one.state, one.parts, one.line) == ("BT1", "main off", ("D1", "U1", "U2"), 5)
    assert (one.words["turned"], one.words["cells"], one.words["loads"]) == ("D1", ("BT1",), ("U1", "U2"))
    assert one.figures == {"loads_0_V": 0.99, "loads_1_V": 0.49}
    assert set(keys) == {"BT1", "D1", "D2"}
    floats, _ = lost(0.2, None)
    assert told(floats) == [("keeps-nothing", "no-load", "fails")]
    assert floats[0].figures == {"loads_0_V": 0.2, "loads_1_V": 0.0}
    assert told(lost(0.0, 0.0, "unknown")[0]) == [("keeps-nothing", "no-load", "fails")]


def test_half_of_what_a_load_needs_or_half_a_volt_is_being_alive():
    for alive in ((1.0, 0.0), (0.0, 0.5)):
        assert lost(*alive)[0] == []
    assert lost(0.0, 0.0, known=False)[0] == []
    assert lost(0.0, 0.0, text=KEPT.replace("  BT1: {cell: CR2032, plus: CELL, minus: GND}\n", ""))[0] == []
    maybe = made(KEPT.replace("CELL, minus: GND}", "CELL, minus: GND, plugged: maybe}"), None, point({"VRAM": 0.0}))
    assert given(keeps(maybe), lambda key, circuit: UNKNOWN) == ([], [])


def test_a_load_that_is_to_be_kept_is_told_by_itself():
    text = KEPT.replace("plus: OTHER, minus: GND}", "plus: OTHER, minus: GND, kept: yes}")
    found, _ = lost(2.6, 0.2, text=text)
    assert told(found) == [("keeps-nothing", "load", "fails")]
    (one,) = found
    assert (one.subject, one.parts, one.nets, one.line, one.figures) == ("U2", ("U2",), ("OTHER",), 9, {"volts_V": 0.2})
    (turned,), _ = lost(0.2, 2.0, "D1", text.replace("5.5 V}", "5.5 V, kept: yes}"))
    assert told([turned]) == [("keeps-nothing", "load-turned", "fails")]
    assert turned.parts == ("U1", "D1")
    spared = KEPT.replace("minus: GND, works: 2.0 V to 5.5 V}", "minus: GND, works: 2.0 V to 5.5 V, kept: no}")
    assert lost(0.0, 2.0, text=spared)[0] == []


def test_a_part_is_turned_round_by_moving_each_pin_to_the_net_of_the_other():
    fragment = made(KEPT).fragment
    (step,) = turn_steps(fragment, "D1")
    assert (step.action, step.mark, step.moves) == (
        "move", fragment.parts["D1"].mark, {("D1", "anode"): "CELL", ("D1", "cathode"): "VRAM"})


def test_a_cell_is_lifted_before_it_is_turned_round_so_that_nothing_shorts_it_meanwhile():
    fragment = made(KEPT.replace("plus: OTHER", "plus: BT1_LIFTED")).fragment
    first, second = turn_steps(fragment, "BT1")
    (lifted,) = first.moves.values()
    assert lifted.startswith("BT1_LIFTED")
    assert lifted not in fragment.nets
    assert [step.mark for step in (first, second)] == [fragment.parts["BT1"].mark] * 2
    between = apply_steps(fragment, (first,)).parts["BT1"].pins
    assert (between["plus"], between["minus"]) == (lifted, "GND")
    assert apply_steps(fragment, (first, second)).parts["BT1"].pins == {"plus": "GND", "minus": "CELL"}
