"""How many parts must fail short before a cell is charged, held to brute force by simulation."""

from __future__ import annotations

from itertools import combinations

import netcheck
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.operating_point import solve
from netcheck.solving.failures import single_faults
from netcheck.solving.flows import driven
from netcheck.solving.solved_states import survey

BOARDS = {
    "one": ("D1: {diode: 1N4148, anode: CELL, cathode: VRAM}",),
    "two": ("D1: {diode: 1N4148, anode: CELL, cathode: MID}", "D3: {diode: 1N4148, anode: MID, cathode: VRAM}"),
    "beside a zener": ("D1: {diode: 1N4148, anode: CELL, cathode: MID}",
                       "D3: {diode: 1N4148, anode: MID, cathode: VRAM}",
                       "D5: {diode: BZX55C5V6, cathode: +5V, anode: MID}"),
    "charged": ("R1: {resistor: 10k, between: [+5V, CELL]}",),
}


def board(lines):
    return "\n".join(["title: shorts", "rails: {+5V: 5 V ±5%}", "parts:",
                      "  BT1: {cell: CR2032, plus: CELL, minus: GND}",
                      "  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}",
                      "  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}",
                      *(f"  {line}" for line in lines)]) + "\n"


def by_brute_force(fragment):
    """The least number of parts that, short, let current be driven into the cell: every set is simulated."""
    found = survey(fragment)
    shorts = [fault for fault in single_faults(fragment) if fault.how == "short" and fault.part != "BT1"]
    cell = fragment.parts["BT1"]
    for count in range(3):
        sets = [one for one in combinations(shorts, count) if len({fault.part for fault in one}) == count]
        circuits = [circuit_of(fragment, state, found.corners.charge_flat, faults=one)
                    for one in sets for state in found.states.states]
        points = solve(circuits)
        if any(driven(circuit, point, "BT1", cell.pins["plus"], cell.pins["minus"])
               for circuit, point in zip(circuits, points, strict=True)):
            return count
    return None


def test_the_least_number_is_that_of_brute_force():
    for name, lines in BOARDS.items():
        fragment = netcheck.loads(board(lines))
        cell = netcheck.check(fragment).variants[-1].cells["BT1"]
        assert cell.shorts_to_charge == by_brute_force(fragment), name
        assert len(cell.shorts) == cell.shorts_to_charge, name


def test_no_way_at_all_has_no_number():
    fragment = netcheck.loads("title: alone\nrails: {+5V: 5 V}\nparts:\n"
                              "  BT1: {cell: CR2032, plus: CELL, minus: GND}\n"
                              "  U1: {load: 2 uA, plus: CELL, minus: GND, works: 2.0 V to 3.6 V}\n")
    assert netcheck.check(fragment).variants[-1].cells["BT1"].shorts_to_charge is None


def test_a_rail_that_another_raises_drives_current_all_the_same():
    """With +5V fed through R1 more than it gives, its own source takes current in; D1 short charges the cell anyhow."""
    lines = board(("D1: {diode: 1N4148, anode: CELL, cathode: VRAM}", "R1: {resistor: 470, between: [+5V, +12V]}"))
    fragment = netcheck.loads(lines.replace("+5V: 5 V ±5%", "+5V: 5 V ±5%, +12V: 12 V ±5%"))
    cell = netcheck.check(fragment).variants[0].cells["BT1"]
    assert (cell.shorts_to_charge, cell.shorts) == (1, ("D1",))
