"""A deadline for everything: what is not solved by then is told, and never taken for good."""

import netcheck
from netcheck.clock import limited
from netcheck.simulation.elements import Circuit, Resistance, Source
from netcheck.simulation.operating_point import forget, solve

BOARD = """
title: a board without time
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}
"""


def circuit(volts):
    return Circuit((Source("V", "A", "GND", volts), Resistance("R", "A", "GND", 1.0)), "GND")


def test_what_is_left_when_the_time_is_used_up_was_not_tried_and_is_tried_again_later():
    forget()
    with limited(1e-9):
        (late,) = solve([circuit(3.0)])
    assert "were used up" in late.problem
    assert solve([circuit(3.0)])[0].amps["R"] == 3.0


def test_the_sooner_of_two_limits_holds():
    forget()
    with limited(1e-9), limited(100.0):
        assert not solve([circuit(3.0)])[0].known
    with limited(100.0), limited(None):
        assert solve([circuit(3.0)])[0].known


def test_a_check_without_time_is_unknown():
    forget()
    variant = netcheck.check(netcheck.loads(BOARD), deadline_s=1e-9).variants[-1]
    assert variant.verdict == "unknown"
    assert any("used up" in finding.message for finding in variant.findings)


def test_without_time_no_cure_is_tried_and_what_the_graph_knows_is_told():
    """Trying cures takes the graph's and the judge's own time, which no limit on the simulator would end."""
    forget()
    charged = BOARD + "  R1: {resistor: 1k, between: [+5V, CELL]}\n"
    for seconds, tried in ((1e-9, False), (None, True)):
        variant = netcheck.check(netcheck.loads(charged), deadline_s=seconds).variants[-1]
        cell = variant.cells["BT1"]
        assert (cell.proposal is not None) == tried
        assert {remedy.verdict is not None for remedy in cell.remedies} <= {tried}
        assert variant.verdict == "danger"
