"""Every state of a board is the union of its sections: what is solved apart equals the board solved in one piece."""

from __future__ import annotations

import random

import netcheck
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.operating_point import solve
from netcheck.solving.solved_states import survey

PIECES = (
    "  JP{n}: {{jumper: [A{n}, +5V, +12V]}}\n  R{n}: {{resistor: 4k7 ±5%, between: [A{n}, B{n}]}}\n"
    "  D{n}: {{diode: 1N4148, anode: B{n}, cathode: C{n}}}\n  U{n}: {{load: 1 mA, plus: C{n}, minus: GND}}\n",
    "  BT{n}: {{cell: CR2032, plus: A{n}, minus: GND}}\n  R{n}: {{resistor: 100k, between: [A{n}, GND]}}\n",
    "  BT{n}: {{cell: CR2032, plus: A{n}, minus: GND}}\n  D{n}: {{diode: BAT85, anode: A{n}, cathode: B{n}}}\n"
    "  D10{n}: {{diode: 1N4148, anode: +5V, cathode: B{n}}}\n  U{n}: {{load: 2 uA, plus: B{n}, minus: GND}}\n",
    "  R{n}: {{resistor: 1k ±5%, between: [-9V, A{n}]}}\n  R10{n}: {{resistor: 2k2, between: [A{n}, GND]}}\n",
    "  R{n}: {{resistor: 10k, between: [FAR, A{n}]}}\n  D{n}: {{diode: 1N4148, anode: A{n}, cathode: +12V}}\n",
    "  BT{n}: {{cell: alkaline-3xAA, plus: A{n}, minus: GND, plugged: maybe}}\n"
    "  R{n}: {{resistor: 1k, between: [A{n}, B{n}]}}\n"
    "  RV{n}: {{trimmer: 10k, ends: [B{n}, +5V], wiper: GND}}\n",
)
RAILS = ("rails: {+5V: 5 V ±5%, +12V: {volts: 12 V ±10%, supply: b}, -9V: {volts: -9 V, supply: c}, "
         "FAR: {volts: 3 V, supply: b, when_off: open}}")


def boards(count, seed):
    dice = random.Random(seed)
    for number in range(count):
        parts = "".join(dice.choice(PIECES).format(n=n) for n in range(1, dice.randint(2, 5)))
        yield netcheck.loads(f"title: board {number}\n{RAILS}\nparts:\n{parts}")


def test_the_whole_is_the_union_of_its_sections():
    apart = 0
    for fragment in boards(12, seed=5):
        found = survey(fragment)
        apart += len(set(found.sections.values())) > 1
        keys = [(state, corner) for state in found.states.states for corner in found.corners.everywhere]
        keys = random.Random(7).sample(keys, 60)
        for (state, corner), whole in zip(keys, solve([circuit_of(found.fragment, *key) for key in keys]), strict=True):
            point = found.at(state, corner)
            assert (point.problem, point.helped) == (whole.problem, whole.helped)
            for one, other in ((point.volts, whole.volts), (point.amps, whole.amps)):
                assert set(one) == set(other), fragment.title
                for name, value in other.items():
                    assert value == one[name] or abs(value - one[name]) <= 1e-9 * abs(value) + 1e-18, name
    assert apart >= 8


def test_a_section_alone_is_its_part_of_the_whole():
    fragment = next(one for one in boards(40, seed=9) if one.parts.keys() >= {"BT1", "R1", "U2"})
    found = survey(fragment)
    cell = fragment.parts["BT1"]
    for state in (one for one in found.states.states if one.plugged.get("BT1", True)):
        alone = found.around(cell, state, found.corners.hot)
        assert "U2" not in alone.amps
        assert alone.amps["BT1"] == found.at(state, found.corners.hot).amps["BT1"]
        (point,) = solve([found.circuit(cell, state, found.corners.hot)])
        assert abs(point.amps["BT1"] - alone.amps["BT1"]) <= 1e-9 * abs(alone.amps["BT1"])
