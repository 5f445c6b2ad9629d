"""What can fail alone beyond parts short and open: a rail that is missing, a cell, and a gate that is left floating."""

from __future__ import annotations

import random
from collections import defaultdict

import pytest

import netcheck
from netcheck.clock import limited
from netcheck.parts.cell import is_dead
from netcheck.simulation.corner import Fault
from netcheck.simulation.operating_point import forget
from netcheck.solving import failures as failing
from netcheck.solving.failures import ABSENT, failures, single_faults
from netcheck.solving.missing_rails import MISSING, without_rail
from netcheck.solving.solved_states import survey

BOARD = """
title: a relay on one of two rails
rails: {+5V: {volts: 5 V ±5%, supply: main}, +12V: {volts: 12 V ±5%, supply: main}, VB: {volts: 3.3 V, supply: other}}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  BT2: {cell: CR2032, plus: EXT, minus: GND, plugged: maybe}
  K1: {relay: 167, coil: [+12V, GND], common: VRAM, rest: HOLD, work: +5V}
  R1: {resistor: 1k, between: [CELL, HOLD]}
  R2: {resistor: 10k, between: [EXT, HOLD]}
  R3: {resistor: 1M, between: [VB, VRAM]}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}
"""


@pytest.fixture(scope="module")
def found():
    return survey(netcheck.loads(BOARD))


def test_only_rails_with_siblings_can_be_missing_and_cells_fail_shorted_or_absent(found):
    faults = {(one.part, one.how) for one in single_faults(found.fragment)}
    assert {part for part, how in faults if how == MISSING} == {"+5V", "+12V"}
    assert {(part, how) for part, how in faults if part.startswith("BT")} == {
        ("BT1", "short"), ("BT1", ABSENT), ("BT2", "short")}


def test_of_a_cell_that_fails_shorted_nothing_is_left_between_its_pins(found):
    (fault,) = [one for one in single_faults(found.fragment) if (one.part, one.how) == ("BT1", "short")]
    assert set(fault.pins) == {"plus", "minus"}
    shorted = failures(found, [fault])
    assert shorted
    for failure in shorted:
        assert failure.point.volts["CELL"] == pytest.approx(0.0, abs=0.1), failure.state.name


def test_a_missing_rail_is_off_by_itself_and_what_follows_it_is_at_rest(found):
    on = next(state for state in found.states.states if all(state.supplies.values()))
    assert on.positions["K1"] == "pulled"
    board, state = without_rail(found.fragment, "+12V", on)
    assert state.positions["K1"] == "rest"
    assert [state.supplies[board.rails[net].supply] for net in ("+5V", "+12V", "VB")] == [True, False, True]
    assert without_rail(found.fragment, "+5V", on)[1].positions["K1"] == "pulled"


def test_with_the_coil_without_its_rail_the_cell_carries_the_load_beside_the_live_rail(found):
    """Pulled, VRAM is +5V; at rest BT1 feeds it through 1 kΩ: 3.2 V less 1 mV a microampere."""
    missing = [one for one in failures(found, [Fault("+12V", MISSING)])
               if one.state.supplies["main"] and one.corner.name == "hot, fresh cell"]
    assert missing
    for one in missing:
        assert 2.9 < one.point.volts["VRAM"] < 3.4
        assert one.point.volts["+5V"] == pytest.approx(5.25)
        assert one.point.volts["+12V"] == 0


def test_a_shorted_cell_has_no_volts_and_an_absent_one_gives_nothing(found):
    off = [one for one in failures(found, [Fault("BT1", "short", ("plus", "minus")), Fault("BT1", ABSENT)])
           if not one.state.live and one.corner.name == "hot, fresh cell"]
    assert {one.fault.how for one in off} == {"short", ABSENT}
    for one in off:
        if one.fault.how == "short":
            assert abs(one.point.volts["CELL"]) < 1e-3
        else:
            assert one.point.amps.get("BT1", 0.0) == 0


def test_a_cell_that_may_be_unplugged_is_shorted_only_where_it_is_plugged(found):
    tried = failures(found, [Fault("BT2", "short", ("plus", "minus"))])
    assert {one.state.plugged["BT2"] for one in tried} == {True}
    assert {one.state.name for one in tried} == {
        state.name for state in found.states.states if state.plugged["BT2"]}


def test_a_gate_that_floats_stands_at_ground_and_at_the_lowest_and_the_highest_held_net():
    """With its pull-down open, a gate may stand anywhere between the rails: only at the upper one is Q1 on."""
    found = survey(netcheck.loads("""
title: a switch whose gate is pulled down
rails: {+5V: 5 V, -12V: -12 V}
parts:
  R1: {resistor: 100k, between: [G, GND]}
  R2: {resistor: 10k, between: [+5V, OUT]}
  R3: {resistor: 10k, between: [-12V, GND]}
  Q1: {transistor: {polarity: n-channel, threshold: 2 V, on: 5}, drain: OUT, gate: G, source: GND}
"""))
    tried = [one.point for one in failures(found, [Fault("R1", "open")])
             if one.state.live and one.corner.name == "hot, fresh cell"]
    stood = sorted((round(point.volts["G"]), round(point.volts["OUT"], 1)) for point in tried)
    assert stood == [(-12, 5.0), (0, 5.0), (5, 0.0)]


def test_failures_that_the_time_did_not_reach_are_unknown_and_none_is_missing(found):
    faults = single_faults(found.fragment)
    known = failures(found, faults)
    forget()
    with limited(1e-9):
        late = failures(found, faults)
    assert {(one.fault, one.state.name, one.corner.name) for one in late} >= {
        (one.fault, one.state.name, one.corner.name) for one in known}
    assert not any(one.point.known for one in late)
    assert all("used up" in one.point.problem for one in late)


def random_board(dice):
    """A cell or two with resistors, diodes, loads and a zener around a memory and its rail."""
    nets = ["+5V", "GND", "VRAM", "CELL", "EXT", "MID"]
    parts = [f"  BT1: {{cell: {dice.choice(('CR2032', 'NiCd-3x60', 'ER14250'))}, plus: CELL, minus: GND}}",
             f"  BT2: {{cell: alkaline-3xAA, plus: EXT, minus: {dice.choice(('GND', 'MID'))}}}"][:dice.randint(1, 2)]
    for place in range(1, dice.randint(4, 7)):
        one, other = dice.sample(nets, 2)
        parts.append(dice.choice((
            f"  D{place}: {{diode: {dice.choice(('1N4148', 'BAT85'))}, anode: {one}, cathode: {other}}}",
            f"  R{place}: {{resistor: {dice.choice(('47', '1k', '100k'))}, between: [{one}, {other}]}}",
            f"  D{place}: {{diode: BZX55C5V1, anode: {one}, cathode: {other}}}",
            f"  U{place}: {{load: {dice.choice(('2 uA', '5 mA'))}, plus: {one}, minus: {other}}}")))
    return "title: t\nrails: {+5V: 5 V ±5%}\nparts:\n" + "\n".join(parts) + "\n"


def extremes(failed):
    """By fault, state and what is measured in its section: the least and the most over the corners."""
    seen = defaultdict(list)
    for one in failed:
        for what, value in (*one.alone.volts.items(), *one.alone.amps.items()):
            if value is not None:
                seen[one.fault, one.state.name, what].append(value)
    return {key: (min(values), max(values)) for key, values in seen.items()}


def test_part_used_cells_are_left_out_only_where_all_they_show_lies_between_flat_and_fresh_ones(monkeypatch):
    left_out = 0
    for seed in range(60):
        found = survey(netcheck.loads(random_board(random.Random(seed))))
        faults = single_faults(found.fragment)
        some = failures(found, faults)
        with monkeypatch.context() as patched:
            patched.setattr(failing, "_spent", lambda *_: None)
            every = failures(found, faults)
        if not all(one.point.known for one in every):
            continue
        left_out += len(every) - len(some)
        outside, inside = extremes(every), extremes(some)
        assert outside.keys() == inside.keys()
        for key, (least, most) in outside.items():
            slack = 1e-9 + 1e-5 * max(abs(least), abs(most))
            assert inside[key][0] - slack <= least, (seed, key)
            assert most <= inside[key][1] + slack, (seed, key)
    assert left_out > 500


def test_of_three_cells_in_a_row_part_used_ones_are_never_left_out():
    """Behind a blocking diode that fails short, 9 V push more into three half-full cells than into any one flat one."""
    found = survey(netcheck.loads("""
title: three in a row
rails: {+9V: 9 V}
parts:
  D1: {diode: 1N4148, anode: TOP, cathode: +9V}
  BT1: {cell: BR2032, plus: TOP, minus: A}
  BT2: {cell: BR2032, plus: A, minus: B}
  BT3: {cell: BR2032, plus: B, minus: GND}
"""))
    shorted = failures(found, [Fault("D1", "short", ("anode", "cathode"))])
    into = {one.corner.name: -one.point.amps["BT1"] for one in shorted if one.state.live}
    assert max(into, key=into.get) == "charge, part-used cell"


def test_a_pack_is_dead_where_the_meter_found_less_than_empty():
    """Three NiCd cells are empty at 3.0 V (1.0 V a cell); 0.3 V are dead, 2.9 V are not, and a lithium cell is flat."""
    cells = netcheck.loads("title: t\nparts:\n  BT1: {cell: NiCd-3x60, plus: A, minus: GND}\n"
                           "  BT2: {cell: CR2032, plus: B, minus: GND}\n").parts
    assert [is_dead(cells["BT1"].spec, volts) for volts in (0.3, 2.9, None)] == [True, False, False]
    assert not is_dead(cells["BT2"].spec, 0.3)
