import pytest

from netcheck.simulation.elements import (
    Battery,
    Bipolar,
    Capacitance,
    Circuit,
    Draw,
    FieldEffect,
    Junction,
    Regulation,
    Resistance,
    Source,
)
from netcheck.simulation.topology import survey

V5 = Source("+5V", "+5V", "GND", 5.0)
V3 = Source("+3V3", "+3V3", "GND", 3.3)


def surveyed(*elements):
    return survey(Circuit(elements, "GND"))


def test_nets_come_in_order_of_mention_after_ground():
    assert surveyed(V5, Resistance("R1", "+5V", "A", 1.0)).nets == ("GND", "+5V", "A")


@pytest.mark.parametrize("element", [
    Resistance("X", "+5V", "A", 1.0), Junction("X", "A", "+5V", 1e-14, 1.0), Draw("X", "+5V", "A", 1e-6),
    Battery("X", "A", "+5V", 3.0, 1.0), FieldEffect("X", "A", "+5V", "+5V", False, 1.0, 1.0),
    Bipolar("X", "A", "+5V", "+5V", True, 1e-14, 100.0), Source("X", "A", "+5V", 1.0),
    Regulation("X", "+5V", "A", None, "GND", 3.3, "fixed", 0.5),
    Regulation("X", "+5V", "GND", "A", None, 1.25, "output-adjust", 1.0),
    Regulation("X", "+5V", "GND", "A", "GND", 1.25, "adjust-ground", 1.0),
])
def test_what_carries_direct_current(element):
    assert surveyed(V5, element).islands == ()


@pytest.mark.parametrize("element", [
    Capacitance("X", "+5V", "A", 1e-6),
    FieldEffect("X", "+5V", "A", "GND", True, 1.0, 1.0),
    Regulation("X", "+5V", "GND", "A", None, 1.25, "adjust-ground", 1.0),
])
def test_what_does_not(element):
    assert surveyed(V5, element).islands == (("A",),)


def test_an_island_is_named_whole():
    found = surveyed(V5, Resistance("R1", "A", "B", 1.0), Resistance("R2", "C", "B", 1.0),
                     Capacitance("C1", "D", "A", 1.0))
    assert found.islands == (("A", "B", "C"), ("D",))
    assert found.problem is None


@pytest.mark.parametrize(("elements", "problem"), [
    ([V5, V3, Resistance("JP1", "+5V", "+3V3", 0.0)], "+5V and +3V3 are joined directly by JP1"),
    ([V5, V3, Resistance("R1", "+5V", "A", 0.0), Resistance("R2", "A", "+3V3", 0.0)],
     "+5V and +3V3 are joined directly by R2"),
    ([V5, Resistance("R1", "GND", "+5V", 0.0)], "GND and +5V are joined directly by R1"),
    ([V5, Source("BAT", "+5V", "GND", 3.0)], "+5V is driven twice, by +5V and by BAT"),
    ([V5, Battery("BT1", "+5V", "GND", 3.0, 0.0)], "+5V is driven twice, by +5V and by BT1"),
    ([Source("A", "X", "X", 1.0)], "A is shorted: both its ends are on X"),
    ([V5, Resistance("R1", "+5V", "GND", -1.0)], "R1 has a resistance below 0 Ω (-1 Ω)"),
    ([V5, Resistance("R1", "+5V", "GND", 1.0), Resistance("R1", "+5V", "GND", 2.0)],
     "two elements are called R1"),
    ([V5, Junction("D1", "+5V", "GND", 0.0, 1.0)],
     "the saturation current and emission coefficient of D1 must be above zero"),
    ([V5, FieldEffect("Q1", "+5V", "G", "GND", True, 1.0, 1.0)],
     "the gate of Q1 floats (G has no path to ground)"),
    ([V5, Regulation("U1", "+5V", "GND", "ADJ", None, 1.25, "adjust-ground", 1.0)],
     "the adjust pin of U1 floats (ADJ has no path to ground)"),
])
def test_problems_in_plain_words(elements, problem):
    assert surveyed(*elements).problem == problem


@pytest.mark.parametrize("elements", [
    [V5, Source("+5VB", "+5VB", "GND", 5.0), Resistance("JP1", "+5V", "+5VB", 0.0)],  # as high as each other
    [V5, Resistance("R1", "+5V", "A", 0.0), Resistance("R2", "+5V", "A", 0.0)],
    [V5, V3, Resistance("JP1", "+5V", "+3V3", 1e-3)],
    [Battery("BT1", "A", "A", 3.0, 1.0)],
])
def test_what_is_odd_but_has_a_solution(elements):
    assert surveyed(*elements).problem is None
