"""What draws too much, on each side of every limit: on currents and volts that are plain."""

from __future__ import annotations

import pytest
from made_points import UNKNOWN, made, point, told
from msgspec.structs import replace

from netcheck.checks.overloads import excess_findings

HEAD = "title: t\nrails: {+5V: 5 V ±5%, -5V: {volts: -5 V, supply: main}}\nparts:\n"


def excess(part, amps=None, volts=None, at=None, more=""):
    where = point(volts or {}, amps or {})
    return excess_findings(made(f"{HEAD}  {part}\n{more}", at, where))


@pytest.mark.parametrize(("power", "milliamperes", "case"), [
    ("", 15.8, None), ("", 15.9, ("small-resistor", "caution")), ("", 99.9, ("small-resistor", "caution")),
    ("", 100.1, ("small-resistor", "danger")), (", power: 1 W", 31.6, None),
    (", power: 1 W", 31.7, ("resistor", "danger")), (", power: 1 W", -31.7, ("resistor", "danger")),
])
def test_a_resistor_beyond_its_power(power, milliamperes, case):
    """1 kilohm: 15.81 mA make a quarter of a watt, 31.62 mA one, 100 mA ten."""
    found = excess(f"R1: {{resistor: 1k, between: [A, B]{power}}}", {"R1": milliamperes / 1000})
    assert told(found) == ([("over-power", *case)] if case else [])
    for one in found:
        assert one.figures == {"power_W": pytest.approx((milliamperes / 1000) ** 2 * 1000),
                               "limit_W": 1.0 if power else 0.25}
        assert (one.subject, one.parts, one.nets, one.line) == ("R1", ("R1",), ("A", "B"), 4)
        assert one.states == ("main on", "main off")


@pytest.mark.parametrize(("power", "milliamperes", "other", "case"), [
    ("", 15.8, 0, None), ("", 15.9, 0, ("small-trimmer", "caution")), ("", 0, 15.9, ("small-trimmer", "caution")),
    ("", -15.9, 0, ("small-trimmer", "caution")), (", power: 1 W", 31.6, 31.6, None),
    (", power: 1 W", 31.7, 0, ("trimmer", "danger")),
])
def test_a_trimmers_track_bears_in_any_piece_what_its_power_allows_in_all(power, milliamperes, other, case):
    found = excess(f"RV1: {{trimmer: 1k, ends: [A, B], wiper: W, set: 50 %{power}}}",
                   {"RV1": milliamperes / 1000, "RV1.2": other / 1000})
    assert told(found) == ([("over-current", *case)] if case else [])
    for one in found:
        assert one.figures["limit_A"] == pytest.approx(((1.0 if power else 0.25) / 1000) ** 0.5)
        assert one.figures["current_A"] == pytest.approx(max(abs(milliamperes), abs(other)) / 1000)
        assert (one.subject, one.parts, one.nets, one.line) == ("RV1", ("RV1",), ("A", "W", "B"), 4) or \
            set(one.nets) == {"A", "B", "W"}


@pytest.mark.parametrize(("milliamperes", "over"), [(150, False), (151, True), (-151, False)])
def test_a_diode_beyond_its_rating(milliamperes, over):
    """1N4148: 150 mA for good (library/diodes.yaml: Vishay 1N4148, document 81857 rev 1.4)."""
    found = excess("D1: {diode: 1N4148, anode: A, cathode: B}", {"D1": milliamperes / 1000})
    assert told(found) == ([("over-current", "diode", "danger")] if over else [])
    for one in found:
        assert one.figures == {"current_A": 0.151, "limit_A": 0.15}
        assert (one.subject, one.parts, one.nets, one.line, one.words) == (
            "D1", ("D1",), ("A", "B"), 4, {"type": "1N4148"})
    assert excess("D1: {diode: {IS: 1e-9, N: 1.8}, anode: A, cathode: B}", {"D1": 5.0}) == []


def test_the_gravest_of_its_states_is_told_with_all_states_that_are_as_grave():
    at = {"main on": point({}, {"R1": 0.2}), "main off": point({}, {"R1": 0.02})}
    (one,) = excess("R1: {resistor: 1k, between: [A, B]}", at=at)
    assert (str(one.severity), one.state, one.states) == ("danger", "main on", ("main on",))


CELL = "BT1: {cell: CR2032, plus: A, minus: GND}"


@pytest.mark.parametrize(("volts", "milliamperes", "case"), [
    (3.2, 3.0, None), (3.2, 3.1, "cell-drained"), (2.4, 1.0, "cell"), (2.7, 1.0, None), (2.4, -1.0, None),
    (None, 5.0, None), (2.4, 0.0, None),
])
def test_a_cell_that_gives_more_than_it_may_or_is_pulled_down(volts, milliamperes, case):
    """CR2032: 3 mA for good at most (library/cells.yaml); below four fifths of its 3.3 V it counts as shorted."""
    found = excess(CELL, {"BT1": milliamperes / 1000, "R1": milliamperes / 1000}, {"A": volts},
                   more="  R1: {resistor: 10, between: [A, GND], power: 5 W}\n")
    assert told(found) == ([("short-circuit", case, "danger")] if case else [])
    for one in found:
        assert one.figures == {"current_A": pytest.approx(milliamperes / 1000), "volts_V": volts, "limit_A": 3e-3}
        assert (one.subject, one.parts, one.words, one.line) == ("BT1", ("BT1", "R1"), {"through": ("R1",)}, 4)


def test_through_a_load_it_is_overloaded_and_not_shorted():
    found = excess(CELL, {"BT1": 5e-3, "U1": 5e-3}, {"A": 2.0}, more="  U1: {load: 5 mA, plus: A, minus: GND}\n")
    assert told(found) == [("over-current", "cell", "caution")]
    assert found[0].parts == ("BT1", "U1")
    nowhere = excess(CELL, {"BT1": 5e-3}, {"A": 2.0})
    assert (nowhere[0].parts, nowhere[0].words) == (("BT1",), {"through": ()})


@pytest.mark.parametrize(("ohm", "short"), [("1", True), ("1.01", False), ("0.5", True)])
def test_up_to_an_ohm_between_two_fixed_volts_is_a_short(ohm, short):
    found = excess(f"R1: {{resistor: {ohm}, between: [+5V, GND], power: 50 W}}")
    assert told(found) == ([("short-circuit", "supply", "danger")] if short else [])
    for one in found:
        assert one.figures == {"ohm": float(ohm), "current_A": pytest.approx(5.25 / float(ohm))}
        assert (one.subject, one.parts, one.nets, one.state, one.states) == (
            "+5V", ("R1",), ("+5V", "GND"), "main on", ("main on",))
        assert (one.words, one.line) == ({"other": "GND"}, 2)


def test_a_short_is_the_least_resistance_there_is_and_adds_up_along_the_way():
    two = "  R2: {resistor: 0.6, between: [M, GND]}\n"
    (one,) = excess("R1: {resistor: 0.3, between: [+5V, M]}", more=two)
    assert (one.parts, one.figures["ohm"]) == (("R1", "R2"), pytest.approx(0.9))
    assert excess("R1: {resistor: 0.5, between: [+5V, M]}", more=two) == []
    (least,) = excess("R1: {resistor: 0.8, between: [+5V, GND]}",
                      more="  R2: {resistor: 0.2, between: [+5V, GND]}\n  R3: {resistor: 0.5, between: [+5V, GND]}\n")
    assert (least.parts, least.figures["ohm"]) == (("R2",), 0.2)
    (copper,) = excess("JP1: {jumper: [+5V, GND], set: closed, positions: {closed: 1-2}}")
    assert told([copper])[0][0] == "short-circuit"


SHORTED = """title: a jumper across a cell
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  JP1: {jumper: [CELL, GND], set: open, positions: {open: none, closed: 1-2}}
  BT2: {cell: CR2032, plus: OTHER, minus: GND, plugged: maybe}
  F1: {fuse: 1 A, between: [OTHER, GND]}
"""


def test_a_cell_that_copper_shorts_is_a_danger_where_nothing_could_be_solved_or_there_was_no_time():
    """verdicts.md, What must be seen, 3; no finding of harm is lost because another state could not be solved."""
    found = made(SHORTED, otherwise=UNKNOWN)
    every = {state.name for state in found.states.states}
    closed = {name for name in every if "JP1 closed" in name}
    plugged = {name for name in every if "BT2 plugged" in name}
    assert len(every) == 2 * len(closed) == 2 * len(plugged) == 8
    findings = excess_findings(found)
    assert told(findings) == [("short-circuit", "cell-by-copper", "danger")] * 2
    by_cell = {one.subject: one for one in findings}
    assert {name: set(one.states) for name, one in by_cell.items()} == {"BT1": closed, "BT2": plugged}
    one = by_cell["BT1"]
    assert (one.parts, one.words, one.line) == (("BT1", "JP1"), {"through": ("JP1",)}, 4)
    solved = made(SHORTED)
    assert excess_findings(solved) == []      # what the simulator says of those is told by its currents
    late = tuple(state for state in solved.states.states if state.name in closed)
    kept = replace(solved.states, states=tuple(one for one in solved.states.states if one not in late))
    (unreached,) = [one for one in excess_findings(replace(solved, states=kept, unreached=late))
                    if one.subject == "BT1"]
    assert set(unreached.states) == closed


def test_inductor_and_fuse_are_next_to_nothing_with_the_ohms_they_are_given():
    for part in ("L1: {inductor: 10 uH", "F1: {fuse: 1 A"):
        (one,) = excess(f"{part}, resistance: 0.5, between: [+5V, GND]}}")
        assert told([one]) == [("short-circuit", "supply", "danger")]
        assert one.figures == {"ohm": 0.5, "current_A": pytest.approx(5.25 / 0.5)}
        (one,) = excess(f"{part}, resistance: 0, between: [+5V, GND]}}")
        assert told([one]) == [("short-circuit", "supply-by-copper", "danger")]
        assert one.figures == {"ohm": 0.0}
        assert excess(f"{part}, resistance: 1.1, between: [+5V, GND]}}") == []


def test_rails_of_other_volts_are_shorted_as_well_and_a_dead_one_to_ground_is_not():
    found = excess("R1: {resistor: 0.5, between: [+5V, -5V]}")
    assert told(found) == [("short-circuit", "supply", "danger")]
    assert set(found[0].nets) == {"+5V", "-5V"}
    assert found[0].figures["current_A"] == pytest.approx(10.25 / 0.5)
    below = excess("R1: {resistor: 0.5, between: [GND, -5V]}")
    assert (below[0].subject, below[0].nets) == ("-5V", ("-5V", "GND"))
    assert excess("R1: {resistor: 0.5, between: [+5V, GND], fitted: no}") == []
    for part in ("C1: {capacitor: 1u, between: [+5V, GND]}", "D1: {diode: 1N4148, anode: +5V, cathode: GND}",
                 "R1: {resistor: 0.5, between: [+5V, +5V]}"):
        assert [one for one in excess(part) if one.check == "short-circuit"] == []


def test_the_state_as_set_is_told_first():
    text = "JP1: {jumper: [+5V, M], set: closed}"
    (one,) = excess(text, more="  R1: {resistor: 0.5, between: [M, GND]}\n")
    assert one.state == "main on, JP1 closed"
    assert one.parts == ("JP1", "R1")


def test_a_drain_beyond_what_is_given_for_good_is_not_called_a_short():
    (one,) = excess(CELL, {"BT1": 4.64e-3, "R1": 4.64e-3}, {"A": 3.09},
                    more="  R1: {resistor: 680, between: [A, GND], power: 5 W}\n")
    assert "drained too hard" in one.message
    assert "short" not in one.message
