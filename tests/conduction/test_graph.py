"""The ways for current through each kind of part, which nets are held, and which transistors are plainly off."""

from __future__ import annotations

import gc
import math

import pytest

import netcheck
from netcheck.conduction.graph import Outlet, conduction, held_nets, plainly_off, present, ways
from netcheck.fragment.states import enumerate_states


def board(*parts, rails="{+5V: 5 V ±5%}", more=""):
    return netcheck.loads(f"title: t\nrails: {rails}\nparts:\n" + "".join(f"  {part}\n" for part in parts) + more)


def state_of(fragment, name=None):
    states = enumerate_states(fragment).states
    return next((state for state in states if state.name == name), None) if name else states[0]


def edges(fragment, name=None, channels=None, without=()):
    """Part to its ways in the graph: (tail, head) to (failures, volts); an outlet with an arrow behind its net."""
    found = {}
    graph = conduction(fragment, state_of(fragment, name), channels, without).graph
    for tail, head, part, data in graph.edges(keys=True, data=True):
        tail = f"{tail.net}>" if isinstance(tail, Outlet) else tail
        found.setdefault(part, {})[tail, head] = data["failures"], data["volts_V"]
    return found


def plain(found):
    """Ways without breakdown, as failures alone."""
    assert all(volts == 0.0 for _, volts in found.values())
    return {way: failures for way, (failures, _) in found.items()}


BOTH = {("A", "B"): 0, ("B", "A"): 0}


@pytest.mark.parametrize(("part", "expected"), [
    ("X1: {resistor: 1k, between: [A, B]}", BOTH),
    ("X1: {inductor: 10u, between: [A, B]}", BOTH),
    ("X1: {fuse: 1 A, between: [A, B]}", BOTH),
    ("X1: {jumper: [A, B], set: closed}", BOTH),
    ("X1: {switch: [A, B], set: closed}", BOTH),
    ("X1: {capacitor: 1u, between: [A, B]}", {("A", "B"): 1, ("B", "A"): 1}),
    ("X1: {capacitor: 1u, plus: A, minus: B}", {("A", "B"): 1, ("B", "A"): 1}),
    ("X1: {diode: 1N4148, anode: A, cathode: B}", {("A", "B"): 0, ("B", "A"): 1}),
    ("X1: {cell: CR2032, plus: A, minus: B}", BOTH),
    ("X1: {load: 1 mA, plus: A, minus: B}", {("A", "B"): 0, ("B", "A"): 1}),
    ("X1: {regulator: LM317, input: A, output: B, adjust: C}", BOTH),
    ("X1: {regulator: {output: 5 V, back: blocked}, input: A, output: B, ground: C}", {("A", "B"): 0, ("B", "A"): 1}),
    ("X1: {regulator: {output: -5 V, back: blocked}, input: A, output: B, ground: C}", {("B", "A"): 0, ("A", "B"): 1}),
    ("X1: {regulator: {output: -5 V}, input: A, output: B, ground: C}", BOTH),
    ("X1: {regulator: TL431, output: A, ground: B, adjust: C}", BOTH),
    ("X1: {transistor: npn, collector: A, base: C, emitter: B}",
     {**BOTH, ("C", "A"): 0, ("A", "C"): 1, ("C", "B"): 0, ("B", "C"): 1}),
    ("X1: {transistor: pnp, collector: A, base: C, emitter: B}",
     {**BOTH, ("A", "C"): 0, ("C", "A"): 1, ("B", "C"): 0, ("C", "B"): 1}),
    ("X1: {transistor: n-channel, drain: A, gate: C, source: B}",
     {**BOTH, ("A", "C"): 1, ("C", "A"): 1, ("B", "C"): 1, ("C", "B"): 1}),
    ("X1: {transistor: p-channel, drain: A, gate: C, source: B}",
     {**BOTH, ("A", "C"): 1, ("C", "A"): 1, ("B", "C"): 1, ("C", "B"): 1}),
    ("X1: {trimmer: 10k, ends: [A, B], wiper: C}",
     {("A", "C"): 0, ("C", "A"): 0, ("B", "C"): 0, ("C", "B"): 0}),
    ("X1: {relay: 167, coil: [A, B], common: C, rest: D, work: E, set: rest}",
     {**BOTH, ("C", "D"): 0, ("D", "C"): 0, ("C", "E"): 1, ("E", "C"): 1}),
    ("X1: {relay: 167, coil: [A, B], common: C, rest: D, work: E, set: pulled}",
     {**BOTH, ("C", "D"): 1, ("D", "C"): 1, ("C", "E"): 0, ("E", "C"): 0}),
    ("X1: {relay: 167, coil: [A, B], common: C, work: E, set: rest}", {**BOTH, ("C", "E"): 1, ("E", "C"): 1}),
    ("X1: {chip: gate, pins: {1: A, 2: B}, paths: [{from: 1, to: 2, by: diode}]}", {("A", "B"): 0, ("B", "A"): 1}),
    ("X1: {chip: gate, pins: {1: A, 2: B}, paths: [{from: 1, to: 2, by: switch}]}", BOTH),
    ("X1: {chip: gate, pins: {1: A, 2: B}, paths: [{from: 1, to: 2, by: switch, when: {main: off}}]}",
     {("A", "B"): 1, ("B", "A"): 1}),
    ("X1: {chip: gate, pins: {1: A, 2: B}, clamps: {to: B, from: [A]}}",
     {("A", "B"): 0, ("B", "A"): 1, ("GND>", "A"): 0, ("A", "GND"): 1}),
    ("X1: {chip: gate, pins: {1: A, 2: B}}", {}),
    ("X1: {connector: unknown, pins: {1: A, 2: B}}", {}),
])
def test_ways_through_a_part(part, expected):
    fragment = board(part, "R9: {resistor: 1k, between: [+5V, Z]}")
    state = next(one for one in enumerate_states(fragment).states
                 if one.live and one.positions == {name: p.position for name, p in fragment.parts.items()
                                                   if name in one.positions})
    assert plain(edges(fragment, state.name).get("X1", {})) == expected


@pytest.mark.parametrize(("polarity", "on_to_off"), [
    ("transistor: npn, collector: A, base: C, emitter: B", {("A", "B"), ("B", "A")}),
    ("transistor: n-channel, drain: A, gate: C, source: B", {("A", "B")}),   # its body diode leads from B to A
    ("transistor: p-channel, drain: A, gate: C, source: B", {("B", "A")}),   # its body diode leads from A to B
])
def test_a_channel_that_is_off_takes_its_failure(polarity, on_to_off):
    fragment = board(f"X1: {{{polarity}}}")
    on, off = (plain(edges(fragment, channels={"X1": known})["X1"]) for known in (True, False))
    assert {way for way in on if on[way] != off[way]} == on_to_off
    assert all(off[way] == 1 for way in on_to_off)


@pytest.mark.parametrize(("zener", "failures", "volts"), [("4.7 V", 0, 4.465), ("12 V", 1, 0.0)])
def test_a_zener_breaks_down_only_below_the_volts_there_are(zener, failures, volts):
    """5.25 V are the most there is; a zener is taken at its lower limit, 5 % below."""
    fragment = board(f"D1: {{diode: {{zener: {zener} ±5%}}, anode: A, cathode: B}}",
                     "R1: {resistor: 1k, between: [+5V, B]}")
    assert edges(fragment)["D1"]["B", "A"] == (failures, pytest.approx(volts))


def test_the_volts_there_are_count_cells_and_rails_below_ground():
    """5.25 V, 12.6 V below ground and 3.3 V of a fresh CR2032 are 21 V, without the cell 17.85 V."""
    rails = "{+5V: 5 V ±5%, -12V: {volts: -12 V ±5%, supply: main}}"
    zener = "D1: {diode: {zener: 19 V}, anode: A, cathode: B}"
    cell = "BT1: {cell: CR2032, plus: A, minus: C, plugged: maybe}"
    fragment = board(zener, cell, rails=rails)
    assert edges(fragment, "main on, BT1 plugged")["D1"]["B", "A"][0] == 0
    assert edges(fragment, "main on, BT1 unplugged")["D1"]["B", "A"][0] == 1
    assert edges(fragment, "main off, BT1 plugged")["D1"]["B", "A"][0] == 1


def test_the_easiest_of_a_parts_ways_between_two_nets_counts():
    """Both inputs of a chip on one net, one of them a way that is open: it is open."""
    fragment = board("X1: {chip: g, pins: {1: A, 2: B, 3: A}, paths: [{from: 1, to: 2, by: diode, when: {main: off}}, "
                     "{from: 3, to: 2, by: diode}]}")
    assert plain(edges(fragment, "main on")["X1"])["A", "B"] == 0
    assert plain(edges(fragment, "main on")["X1"])["B", "A"] == 1


def test_a_part_that_is_left_out_unfitted_or_unplugged_has_no_way():
    fragment = board("R1: {resistor: 1k, between: [A, B]}", "R2: {resistor: 1k, between: [A, B], fitted: no}",
                     "BT1: {cell: CR2032, plus: A, minus: B, plugged: maybe}")
    assert set(edges(fragment, "main on, BT1 plugged")) == {"R1", "BT1"}
    assert set(edges(fragment, "main on, BT1 unplugged")) == {"R1"}
    assert set(edges(fragment, "main on, BT1 plugged", without=("R1",))) == {"BT1"}
    state = state_of(fragment, "main on, BT1 unplugged")
    assert [present(fragment.parts[name], state) for name in ("R1", "R2", "BT1")] == [True, False, False]


def test_a_part_with_both_ends_on_one_net_is_no_way():
    assert edges(board("R1: {resistor: 1k, between: [A, A]}", "R2: {resistor: 1k, between: [A, B]}")).keys() == {"R2"}


def test_every_net_stands_in_the_graph_and_held_ones_twice():
    fragment = board("R1: {resistor: 1k, between: [+5V, B]}", "R2: {resistor: 1k, between: [B, GND]}")
    found = conduction(fragment, state_of(fragment, "main on"))
    assert set(found.graph.nodes) == {"+5V", "B", "GND", Outlet("+5V"), Outlet("GND")}
    assert found.start("+5V") == Outlet("+5V")
    assert found.start("B") == "B"
    assert set(edges(fragment, "main on")["R1"]) == {("+5V>", "B"), ("B", "+5V")}


def test_a_rail_is_held_while_it_is_live_and_when_off_where_it_is_low_then():
    rails = "{+5V: 5 V ±5%, +9V: {volts: 9 V, supply: aux, when_off: open}}"
    fragment = board("R1: {resistor: 1k, between: [+5V, +9V]}", rails=rails)

    def told(name):
        return {net: (held.low_V, held.high_V, held.live)
                for net, held in held_nets(fragment, state_of(fragment, name)).items()}

    ground = {"GND": (0.0, 0.0, False)}
    five, nine = (pytest.approx(4.75), pytest.approx(5.25), True), (9.0, 9.0, True)
    assert told("main on, aux on") == {**ground, "+5V": five, "+9V": nine}
    assert told("main on, aux off") == {**ground, "+5V": five}
    assert told("main off, aux on") == {**ground, "+5V": (0.0, 0.0, False), "+9V": nine}
    assert {net: held.net for net, held in held_nets(fragment, state_of(fragment, "main on, aux on")).items()} == {
        "GND": "GND", "+5V": "+5V", "+9V": "+9V"}


@pytest.mark.parametrize(("transistor", "tie", "off"), [
    ("npn, collector: A, base: C, emitter: B", "GND", True),
    ("npn, collector: A, base: C, emitter: B", "+5V", False),
    ("n-channel, drain: A, gate: C, source: B", "GND", True),
    ("pnp, collector: A, base: C, emitter: B", "+5V", True),
    ("pnp, collector: A, base: C, emitter: B", "GND", False),
    ("p-channel, drain: A, gate: C, source: B", "+5V", True),
    ("p-channel, drain: A, gate: C, source: B", "+3V", False),
    ("npn, collector: A, base: C, emitter: B", "ELSEWHERE", False),
])
def test_a_control_pin_tied_to_the_end_that_turns_it_off_is_plainly_off(transistor, tie, off):
    """Through resistors, however many, and through a fuse; not through what only conducts one way."""
    rails = "{+5V: 5 V ±5%, +3V: 3 V}"
    fragment = board(f"Q1: {{transistor: {transistor}}}", "R1: {resistor: 1k, between: [C, M]}",
                     f"F1: {{fuse: 1 A, between: [M, {tie}]}}", "D1: {diode: 1N4148, anode: C, cathode: +5V}",
                     "R7: {resistor: 1k, between: [+3V, +5V]}", rails=rails)
    state = state_of(fragment, "main on")
    assert plainly_off(fragment, state, held_nets(fragment, state)) == ({"Q1": False} if off else {})


def test_two_ties_must_both_turn_it_off():
    parts = ("Q1: {transistor: npn, collector: A, base: C, emitter: B}", "R1: {resistor: 1k, between: [C, GND]}")
    alone, both = board(*parts), board(*parts, "R2: {resistor: 1k, between: [C, +5V]}")
    for fragment, off in ((alone, {"Q1": False}), (both, {})):
        state = state_of(fragment, "main on")
        assert plainly_off(fragment, state, held_nets(fragment, state)) == off


def test_a_tie_leads_through_no_held_net():
    fragment = board("Q1: {transistor: npn, collector: A, base: C, emitter: B}",
                     "R1: {resistor: 1k, between: [C, GND]}", "R2: {resistor: 1k, between: [GND, +5V]}")
    state = state_of(fragment, "main on")
    assert plainly_off(fragment, state, held_nets(fragment, state)) == {"Q1": False}


def test_a_gate_on_ground_itself_is_plainly_off_and_one_that_a_cell_lifts_is_not_high():
    """With the rail off 3.3 V of the cell are the most; a P-channel gate at 0 V is then not off."""
    fragment = board("Q1: {transistor: n-channel, drain: A, gate: GND, source: B}",
                     "Q2: {transistor: p-channel, drain: A, gate: +5V, source: B}",
                     "BT1: {cell: CR2032, plus: A, minus: GND}")
    on, off = (state_of(fragment, name) for name in ("main on", "main off"))
    assert plainly_off(fragment, on, held_nets(fragment, on)) == {"Q1": False, "Q2": False}
    assert plainly_off(fragment, off, held_nets(fragment, off)) == {"Q1": False}


def test_a_rail_below_the_cell_turns_nothing_plainly_off():
    fragment = board("Q2: {transistor: p-channel, drain: A, gate: +3V, source: B}",
                     "BT1: {cell: ER14250, plus: A, minus: GND}", rails="{+3V: 3.3 V}")
    state = state_of(fragment, "main on")
    assert plainly_off(fragment, state, held_nets(fragment, state)) == {}


def test_a_transistor_that_is_not_on_the_board_is_not_off():
    fragment = board("Q1: {transistor: npn, collector: A, base: GND, emitter: B, fitted: no}")
    state = state_of(fragment, "main on")
    assert plainly_off(fragment, state, held_nets(fragment, state)) == {}


def test_channels_that_are_known_are_kept_and_beat_what_is_plain():
    fragment = board("Q1: {transistor: npn, collector: A, base: GND, emitter: B}",
                     "Q2: {transistor: npn, collector: A, base: GND, emitter: B}")
    found = conduction(fragment, state_of(fragment, "main on"), {"Q1": True})
    assert found.channels == {"Q1": True, "Q2": False}
    assert found.state.name == "main on"


def test_the_collector_runs_again_afterwards_and_stays_off_where_it_was():
    fragment = board("R1: {resistor: 1k, between: [A, B]}")
    conduction(fragment, state_of(fragment))
    assert gc.isenabled()
    gc.disable()
    try:
        conduction(fragment, state_of(fragment))
        assert not gc.isenabled()
    finally:
        gc.enable()


def test_without_bias_or_volts_given_a_channel_conducts_and_every_zener_breaks_down():
    fragment = board("D1: {diode: {zener: 300 V}, anode: A, cathode: B}",
                     "Q1: {transistor: npn, collector: A, base: C, emitter: B}")
    state = state_of(fragment)
    zener, channel = (list(ways(fragment.parts[name], state, "GND")) for name in ("D1", "Q1"))
    assert [(way.tail, way.head, way.failures) for way in zener] == [("A", "B", 0), ("B", "A", 0)]
    assert math.isclose(zener[1].volts_V, 300, rel_tol=0.1)
    assert [way.failures for way in channel if {way.tail, way.head} == {"A", "B"}] == [0, 0]
