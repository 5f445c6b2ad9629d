"""How many parts must fail short, with circuits answered by hand: what is asked, and which answer is believed."""

from __future__ import annotations

from itertools import combinations, pairwise

import pytest
from made_points import given, made, point

from netcheck.checks.shorts import Shorts, _together, shorts_to_charge
from netcheck.simulation.corner import Fault
from netcheck.simulation.elements import OperatingPoint
from netcheck.solving.failures import Failure

BOARD = """
title: two diodes in a row
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: MID}
  D3: {diode: 1N4148, anode: MID, cathode: +5V}
  C1: {capacitor: 1u, between: [MID, GND]}
"""


def charging(circuit, amps=1e-3):
    """A point in which everything of the circuit that joins carries this current into the cell."""
    volts = {"CELL": 3.0, "MID": 4.0, "FAR": 4.5, "+5V": 5.0}
    found = {}
    for element in circuit.elements:
        ends = [getattr(element, name, None) for name in ("a", "b")]
        if None not in ends:
            found[element.name] = amps if volts.get(ends[0], 0.0) >= volts.get(ends[1], 0.0) else -amps
    return point(volts, {**dict.fromkeys(("BT1",), -amps), "+5V": amps, **found})


def asked(answer, charged=False, failed=(), text=BOARD, missing=None):
    found = made(text, None, OperatingPoint(), missing)
    return given(shorts_to_charge(found, found.fragment.parts["BT1"], charged, failed), answer)


def nothing(key, circuit):
    return point({"CELL": 3.0, "MID": 3.0, "+5V": 5.0}, {"BT1": 0.0})


def test_a_charged_cell_needs_none_and_without_a_simulator_the_graph_guesses():
    assert asked(nothing, charged=True) == (Shorts(0), [])
    assert asked(nothing, missing="there is none") == (Shorts(2, ("D3", "D1")), [])
    alone = BOARD.replace("cathode: +5V", "cathode: X")
    assert asked(nothing, text=alone, missing="there is none")[0] == Shorts(None)
    assert asked(nothing, text=alone)[0] == Shorts(None)


def test_a_pair_that_the_simulator_confirms_is_told_in_the_order_of_the_file():
    pair = frozenset(("D1", "D3"))
    result, keys = asked(lambda key, circuit: charging(circuit) if key[0] == pair else nothing(key, circuit))
    assert result == Shorts(2, ("D1", "D3"))
    assert {key[0] for key in keys} == {pair}
    assert {key[2] for key in keys} == {"main on", "main off"}


def test_where_the_pairs_of_the_graph_do_not_charge_others_are_tried_once_each():
    result, keys = asked(nothing)
    assert result == Shorts(None)
    assert {key[0] for key in keys} == {frozenset(pair) for pair in (("D1", "D3"), ("D1", "C1"), ("D3", "C1"))}
    assert len(keys) == len(set(keys))


def test_one_failure_that_drives_current_is_enough_the_hardest_of_them():
    found = made(BOARD)
    state = next(one for one in found.states.states if one.live)

    def failure(part, amps, how="short", problem=None):
        fault = Fault(part, how, ("anode", "cathode"))
        circuit = found.circuit(found.fragment.parts["BT1"], state, found.corners.hot, faults=(fault,))
        here = charging(circuit, amps)
        both = point(here.volts, {**here.amps, "D1": -amps, "D3": -amps})
        return Failure(fault, state, found.corners.hot, OperatingPoint(problem=problem) if problem else both)

    assert asked(nothing, failed=[failure("D1", 1e-3)])[0] == Shorts(1, ("D1",))
    for order in ((0, 1), (1, 0)):
        both = [failure("D1", 1e-3), failure("D3", 2e-3)]
        assert asked(nothing, failed=[both[place] for place in order])[0] == Shorts(1, ("D3",))
    assert asked(nothing, failed=[failure("D1", 1e-3, "open")])[0] == Shorts(None)
    assert asked(nothing, failed=[failure("D1", 1e-3, problem="none")])[0] == Shorts(None)


def test_a_failure_counts_by_the_way_that_it_opens():
    """A capacitor lets direct current through only once it is short."""
    text = BOARD + "  C9: {capacitor: 1u, between: [+5V, CELL]}\n"
    found = made(text)
    state = next(one for one in found.states.states if one.live)
    here = point({"CELL": 3.0, "MID": 3.0, "+5V": 5.0}, {"BT1": -1e-3, "C9": 1e-3, "+5V": 1e-3})
    failed = [Failure(Fault("C9", how, ("1", "2")), state, found.corners.hot, here) for how in ("short", "open")]
    assert asked(nothing, failed=failed[:1], text=text)[0] == Shorts(1, ("C9",))
    assert asked(nothing, failed=failed[1:], text=text)[0] == Shorts(None)


def test_everything_that_can_fail_short_is_tried_in_pairs():
    text = BOARD + ("  R1: {resistor: 1k, between: [MID, X]}\n  U1: {load: 1 uA, plus: X, minus: GND}\n"
                    "  Q1: {transistor: npn, collector: X, base: B, emitter: GND}\n"
                    "  U2: {chip: gate, pins: {1: X, 2: B}, clamps: {to: X, from: [B]}}\n")
    _, keys = asked(nothing, text=text)
    others = ("D1", "D3", "C1", "R1", "U1", "Q1", "U2")
    assert {key[0] for key in keys} == {frozenset(pair) for pair in combinations(others, 2)}


def test_three_diodes_in_a_row_need_three_also_where_the_simulator_confirms_none():
    text = BOARD.replace("anode: MID, cathode: +5V}", "anode: MID, cathode: FAR}\n"
                         "  D4: {diode: 1N4148, anode: FAR, cathode: +5V}")
    every = frozenset(("D1", "D3", "D4"))
    result, keys = asked(lambda key, circuit: charging(circuit) if key[0] == every else nothing(key, circuit),
                         text=text)
    assert result == Shorts(3, ("D1", "D3", "D4"))
    assert every in {key[0] for key in keys}
    assert set(asked(nothing, text=text)[0].parts) == every


def chains(*lengths):
    """A board of chains of blocking diodes, each from a rail of its own to the cell, with the names of each."""
    names = [[f"D{chain}{place}" for place in range(length)] for chain, length in enumerate(lengths)]
    rails = [f"  +{chain}V: {{volts: 5 V, supply: s{chain}}}" for chain in range(len(names))]
    lines = ["title: chains", "rails:", *rails,
             "parts:", "  BT1: {cell: CR2032, plus: CELL, minus: GND}"]
    for chain, one in enumerate(names):
        nets = ["CELL", *(f"N{name}" for name in one[:-1]), f"+{chain}V"]
        lines += [f"  {name}: {{diode: 1N4148, anode: {near}, cathode: {far}}}"
                  for name, (near, far) in zip(one, pairwise(nets), strict=True)]
    return "\n".join(lines) + "\n", names


@pytest.mark.parametrize(("lengths", "least"), [((2, 2, 2, 2), 2), ((4, 4, 3, 4), 3)])
def test_of_sets_that_all_charge_the_smallest_is_told_and_of_those_the_first_by_name(lengths, least):
    """Not the one that happens to come first: the answer must be the same each time."""
    text, names = chains(*lengths)
    every = {frozenset(one): f"+{chain}V" for chain, one in enumerate(names)}

    def answer(key, circuit):
        if key[0] not in every:
            return point({"CELL": 3.0}, {"BT1": 0.0})
        amps = {one.name: -1e-3 for one in circuit.elements if hasattr(one, "a")}  # from the rail's end to the cell's
        rails = {one.name: 1e-3 for one in circuit.elements if one.name == every[key[0]]}
        return point({"CELL": 3.0}, {"BT1": -1e-3, **rails, **amps})

    tried = [parts for parts in dict.fromkeys(key[0] for key in asked(nothing, text=text)[1]) if parts in every]
    assert tried == sorted(every, key=lambda parts: (len(parts), sorted(parts)))
    result, _ = asked(answer, text=text)
    first = min((one for one in names if len(one) == least), key=sorted)
    assert result == Shorts(least, tuple(first))


def test_every_combination_of_ways_to_fail_short():
    one, two, three = (Fault(name, "short") for name in "abc")
    assert list(_together([[one, two], [three]])) == [(one, three), (two, three)]
    assert list(_together([[one], []])) == []
    assert list(_together([])) == [()]
