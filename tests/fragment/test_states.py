"""States: how many there are by hand, which come first, and what is left out when they are too many."""

from __future__ import annotations

from math import prod

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.fragment.model import Fragment
from netcheck.fragment.states import choices, enumerate_states, joined_pins
from netcheck.reading.reader import loads

CELL = ("{cell: {chemistry: alkaline, volts: 3, capacity: 1 Ah, resistance: 1}, plus: A, minus: GND, "
        "plugged: maybe}")


def board(supplies: int = 1, two: int = 0, three: int = 0, loose: int = 0, states: str = "") -> Fragment:
    lines = ["title: t", "rails: {" + ", ".join(f"+{n}V: {{volts: {n + 1}, supply: s{n}}}"
                                                 for n in range(supplies)) + "}", "parts:"]
    lines += [f"  JP{n}: {{jumper: [A, B{n}]}}" for n in range(two)]
    lines += [f"  JP{100 + n}: {{jumper: [A, B{n}, GND], set: 2-3}}" for n in range(three)]
    lines += [f"  BT{n}: {CELL}" for n in range(loose)]
    return loads("\n".join([*lines, states]) + "\n" if len(lines) > 3 or states else "\n".join(lines[:2]))


@pytest.mark.parametrize(("supplies", "two", "three", "loose", "count"), [
    (1, 0, 0, 0, 2), (2, 0, 0, 0, 4), (1, 1, 0, 0, 4), (1, 0, 1, 0, 6), (2, 1, 1, 1, 48), (1, 3, 0, 0, 16),
])
def test_every_combination_once(supplies: int, two: int, three: int, loose: int, count: int) -> None:
    found = enumerate_states(board(supplies, two, three, loose))
    assert (len(found.states), found.untried) == (count, 0)
    assert len({state.name for state in found.states}) == count


def test_names_and_order() -> None:
    names = [state.name for state in enumerate_states(board(1, 0, 1, 1)).states]
    assert names[:2] == ["s0 on, JP100 2-3, BT0 plugged", "s0 off, JP100 2-3, BT0 plugged"]
    assert "s0 off, JP100 absent, BT0 unplugged" in names


def test_named_states_come_first_under_their_names() -> None:
    found = enumerate_states(board(2, 1, 0, 1, "states: {run: {s0: on, JP0: closed}, rest: {BT0: plugged}}"))
    run, rest, *others = found.states
    assert (run.name, run.supplies, run.positions, run.plugged) == (
        "run", {"s0": True, "s1": False}, {"JP0": "closed"}, {"BT0": False})
    assert (rest.supplies, rest.positions, rest.plugged) == (
        {"s0": False, "s1": False}, {"JP0": "open"}, {"BT0": True})
    assert len(others) == 14
    assert found.untried == 0


def test_two_names_for_one_state_are_both_kept() -> None:
    found = enumerate_states(board(1, 0, 0, 0, "states: {a: {s0: on}, b: {s0: on}}"))
    assert [state.name for state in found.states] == ["a", "b", "s0 off"]
    assert found.untried == 0


def test_name_that_looks_like_another_state_is_kept_apart() -> None:
    found = enumerate_states(board(1, 0, 0, 0, "states: {s0 off: {s0: on}}"))
    assert [state.name for state in found.states] == ["s0 off", "s0 off (unnamed)"]


def test_beyond_the_limit_single_changes_come_first_and_the_rest_is_counted() -> None:
    fragment = board(2, 20, 0, 0, "states: {run: {s0: on, JP0: closed, JP1: closed, JP2: closed}}")
    found = enumerate_states(fragment, limit=100)
    assert len(found.states) == 100
    assert found.untried == 2**22 - 100
    assert found.states[0].name == "run"
    changed = [list(state.positions.values()).count("closed") for state in found.states[1:]]
    assert changed[:4] == [0] * 4
    assert changed[4:84] == [1] * 80
    assert set(changed[84:]) == {2}


def test_no_choice_at_all() -> None:
    (state,) = enumerate_states(loads("title: t")).states
    assert state.name == "as it stands"
    assert not state.live


@given(st.integers(0, 3), st.integers(0, 4), st.integers(0, 2), st.integers(0, 2), st.integers(1, 60))
def test_tried_and_untried_are_all(supplies: int, two: int, three: int, loose: int, limit: int) -> None:
    found = enumerate_states(board(supplies, two, three, loose), limit)
    assert found.stands_for == prod([2] * (supplies + two + loose) + [3] * three)
    assert found.untried in (0, found.stands_for - len(found.states))
    assert len(found.states) <= limit
    if found.stands_for <= min(limit, 64):
        assert len(found.states) == found.stands_for


def apart(jumpers: int, more: str = "") -> Fragment:
    """Jumpers that do not touch each other, each between a rail and a net of its own."""
    parts = "".join(f"  JP{n}: {{jumper: [+5V, N{n}]}}\n  R{n}: {{resistor: 1k, between: [N{n}, GND]}}\n"
                    for n in range(jumpers))
    return loads(f"title: t\nrails: {{+5V: 5 V}}\nparts:\n{parts}{more}")


def test_twenty_jumpers_that_do_not_touch_each_other_leave_nothing_untried() -> None:
    found = enumerate_states(apart(20))
    assert (found.untried, found.stands_for) == (0, 2 ** 21)
    assert len(found.states) == 2 + 2 * 20
    for n in range(20):
        assert {(s.supplies["main"], s.positions[f"JP{n}"]) for s in found.states} == {
            (on, position) for on in (True, False) for position in ("open", "closed")}


def test_jumpers_that_touch_each_other_are_multiplied() -> None:
    """R100 couples the nets of two of them."""
    found = enumerate_states(apart(20, "  R100: {resistor: 1k, between: [N3, N4]}\n"))
    assert found.untried == 0
    assert {(s.positions["JP3"], s.positions["JP4"]) for s in found.states if s.live} == {
        (one, other) for one in ("open", "closed") for other in ("open", "closed")}


def test_what_the_file_asks_of_two_jumpers_together_is_tried_together() -> None:
    wish = "expect: [{at: N1, volts: 5 V, when: {JP3: closed, JP9: closed}}]\n"
    found = enumerate_states(apart(20, wish))
    assert any(s.positions["JP3"] == s.positions["JP9"] == "closed" for s in found.states)
    assert found.untried == 0


def test_a_great_many_ways_in_one_group_are_told_as_untried() -> None:
    packs = "".join(f"  BT{n}: {{cell: CR2032, plus: N0, minus: GND, plugged: maybe}}\n" for n in range(12))
    found = enumerate_states(apart(1, packs))
    assert found.untried == 2 ** 14 - len(found.states) > 0
    assert len(found.states) <= 512


def test_thirty_supplies_are_not_multiplied() -> None:
    rails = ", ".join(f"+{n}V: {{volts: {n + 1} V, supply: s{n}}}" for n in range(30))
    parts = "".join(f"  R{n}: {{resistor: 1k, between: [+{n}V, GND]}}\n" for n in range(30))
    found = enumerate_states(loads(f"title: t\nrails: {{{rails}}}\nparts:\n{parts}"))
    assert (found.untried, found.stands_for) == (0, 2 ** 30)
    assert {tuple(s.supplies.values()) for s in found.states} >= {(True,) * 30, (False,) * 30}


def test_joined_pins_and_choices() -> None:
    parts = board(1, 1, 1).parts
    assert joined_pins(parts["JP0"], "closed") == (("1", "2"),)
    assert joined_pins(parts["JP0"], "open") == joined_pins(parts["JP100"], "absent") == ()
    assert choices(parts["JP0"]) == ("open", "closed")
    assert choices(parts["JP100"]) == ("2-3", "1-2", "absent")


def test_switch_is_never_absent() -> None:
    part = loads("title: t\nparts: {S1: {switch: [A, B, C]}}").parts["S1"]
    assert choices(part) == ("1-2", "2-3")
