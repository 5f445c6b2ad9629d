"""The currents of an operating point as flows between nets, and the ways through them."""

from __future__ import annotations

from pathlib import Path

import pytest

import netcheck
from netcheck.parts.zener import Knee
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.elements import (
    Battery,
    Bipolar,
    Capacitance,
    Circuit,
    Draw,
    FieldEffect,
    Junction,
    OperatingPoint,
    Regulation,
    Resistance,
    Source,
)
from netcheck.solving.flows import (
    DRIVEN_A,
    Flow,
    Way,
    driven,
    flows,
    leaking_on,
    own_flows,
    part_of,
    parts_on,
    turned,
    ways,
    widest,
)
from netcheck.solving.solved_states import survey

EXAMPLES = Path(__file__).parents[2] / "examples"


def of(element, amps, volts=None):
    """The flows of one element at a current and, for junctions, volts."""
    point = OperatingPoint(volts or {}, {element.name: amps})
    return [(one.tail, one.head, one.amps, one.leaking) for one in flows(Circuit((element,), "GND"), point)]


@pytest.mark.parametrize("element", [
    Resistance("X", "A", "B", 1.0), Draw("X", "A", "B", 1.0), FieldEffect("X", "A", "G", "B", True, 1.0, 1.0),
    Regulation("X", "A", "B", None, "GND", 5.0, "fixed", 1.0), Source("X", "B", "A", 1.0), Battery("X", "B", "A", 3, 1),
])
def test_a_current_flows_from_its_first_net_to_its_second_and_turned_the_other_way(element):
    """Sources deliver out of plus: through them the current goes from minus to plus."""
    assert of(element, 2.0) == [("A", "B", 2.0, False)]
    assert of(element, -2.0) == [("B", "A", 2.0, False)]
    assert of(element, 0.0) == []


def test_a_capacitor_carries_nothing_and_an_unknown_point_has_no_flows():
    assert of(Capacitance("X", "A", "B", 1e-6), 1.0) == []
    circuit = Circuit((Resistance("X", "A", "B", 1.0),), "GND")
    assert flows(circuit, OperatingPoint(amps={"X": 1.0}, problem="no result")) == []
    assert flows(circuit, OperatingPoint(amps={})) == []


@pytest.mark.parametrize(("name", "leaking"), [
    ("C1.leak", True), ("C1.leak.back", True), ("Q1.off", True), ("U1", False), ("leak", False), ("C1.leakage", False)])
def test_what_a_blocking_part_passes_is_leakage_by_its_name(name, leaking):
    assert of(Draw(name, "A", "B", 1.0), 1e-6) == [("A", "B", 1e-6, leaking)]
    assert of(Draw(name, "A", "B", 1.0), -1e-6) == [("B", "A", 1e-6, leaking)]


DIODE = Junction("X", "A", "B", 1e-12, 1.8, leakage_A=25e-9, leakage_at_V=20.0)
ZENER = Junction("X", "A", "B", 1e-15, 1.0, leakage_A=1e-7, leakage_at_V=1.0, knees=(Knee(3.3, 0.1, 1e-3),))


def test_a_diode_drives_forwards_and_leaks_backwards_up_to_its_published_leakage():
    back = {"A": 0.0, "B": 5.0}
    assert of(DIODE, 1e-3, {"A": 0.6, "B": 0.0}) == [("A", "B", 1e-3, False)]
    assert of(DIODE, -20e-9, back) == [("B", "A", 20e-9, True)]
    leaks, drives = of(DIODE, -1e-3, back)
    assert leaks == ("B", "A", pytest.approx(25e-9, rel=1e-3), True)
    assert drives == ("B", "A", pytest.approx(1e-3 - leaks[2]), False)
    assert sum(one[2] for one in of(DIODE, -25.1e-9, back)) == pytest.approx(25.001e-9, rel=1e-2)
    assert len(of(DIODE, -25.1e-9, back)) == 1      # within 1 % it is the same leakage


def test_what_a_zener_passes_before_its_knee_is_leakage_below_what_may_leak_into_a_cell():
    """2 µA is the most that makers allow to leak into a cell (library/cells.yaml, rules)."""
    from netcheck.parts.catalogue import cell_rules

    limit_A = cell_rules().leak_limit_A
    assert of(ZENER, -0.9 * limit_A, {"A": 0.0, "B": 2.5}) == [("B", "A", pytest.approx(0.9 * limit_A), True)]
    kinds = [one[3] for one in of(ZENER, -1e-3, {"A": 0.0, "B": 3.3})]
    assert kinds == [True, False]


def test_a_transistors_currents_are_those_of_its_law():
    """NPN: Ic of a saturation current of 1 fA at 0.65 V is 98 µA (25 °C), the base takes a hundredth of it."""
    for npn, sign in ((True, 1.0), (False, -1.0)):
        element = Bipolar("Q", "C", "B", "E", npn, 1e-15, 100.0)
        found = flows(Circuit((element,), "GND"), OperatingPoint({"C": sign * 5.0, "B": sign * 0.65, "E": 0.0}, {}))
        told = {(one.tail, one.head): one.amps for one in found if one.amps > 1e-9}
        collector, base = (("C", "E"), ("B", "E")) if npn else (("E", "C"), ("E", "B"))
        assert told[collector] == pytest.approx(98e-6, rel=0.1)
        assert told[base] == pytest.approx(told[collector] / 100, rel=0.05)
        assert set(told) == {collector, base}
    unknown = OperatingPoint({"C": None, "B": 0.65, "E": 0.0}, {})
    assert flows(Circuit((element,), "GND"), unknown) == []


def net(*steps):
    """Flows written as "A>B" with amperes; R1, R2, … in turn, or named."""
    found = []
    for number, (where, amps, *more) in enumerate(steps, 1):
        tail, head = where.split(">")
        found.append(Flow(more[0] if more else f"R{number}", tail, head, amps, bool(more[1:])))
    return found


def test_the_widest_way_is_that_of_the_largest_least_current():
    found = net(("A>B", 5.0), ("B>C", 1.0), ("A>D", 2.0), ("D>C", 3.0), ("C>A", 9.0))
    assert widest(found, "A", "C") == Way(("R3", "R4"), ("A", "D", "C"), 2.0)
    assert widest(found, "A", "C", ("R3",)) == Way(("R1", "R2"), ("A", "B", "C"), 1.0)
    assert widest(found, "A", "C", ("R3", "R2")) is None
    assert widest(found, "A", "A") == Way((), ("A",), float("inf"))
    assert widest(net(("A>B", 5.0, "D1", "leaking"), ("A>B", 1.0, "R2")), "A", "B").elements == ("R2",)
    assert widest(net(("B>A", 5.0)), "A", "B") is None


def test_a_wider_way_found_later_replaces_a_narrow_one():
    found = net(("A>B", 1.0), ("A>D", 4.0), ("D>B", 4.0), ("B>C", 4.0))
    assert widest(found, "A", "C") == Way(("R2", "R3", "R4"), ("A", "D", "B", "C"), 4.0)


def test_ways_take_the_flows_apart_widest_first():
    found = net(("A>B", 3.0), ("B>C", 2.0), ("B>C", 1.0), ("A>C", 0.5))
    assert [(way.elements, way.amps) for way in ways(found, "A", "C")] == [
        (("R1", "R2"), 2.0), (("R1", "R3"), 1.0), (("R4",), 0.5)]
    assert len(ways(found, "A", "C", most=2)) == 2
    assert [way.elements for way in ways(found, "A", "C", ("R2",))] == [("R1", "R3"), ("R4",)]
    leaking = net(("A>B", 1e-6, "D1", "leaking"))
    assert ways(leaking, "A", "B") == [Way(("D1",), ("A", "B"), 1e-6)]
    rest = ways(net(("A>B", 1.0005), ("B>C", 1.0)), "A", "C")
    assert [way.amps for way in rest] == [1.0]          # half a thousandth is the rounding of the sum


def test_leaking_elements_of_the_way_that_leaks_most():
    found = net(("A>B", 2e-6, "D1", "leaking"), ("B>C", 2e-6, "R2"), ("A>C", 1e-6, "D3", "leaking"))
    assert leaking_on(found, "A", "C") == ("D1",)
    assert leaking_on(found, "A", "C", ("D1",)) == ("D3",)
    assert leaking_on(found, "C", "A") == ()


LOOP = Circuit((Source("RAIL", "V", "GND", 5.0), Resistance("R1", "V", "P", 200.0),
                Battery("BT1", "P", "GND", 3.0, 1.0)), "GND")


def charged(amps):
    return OperatingPoint({"V": 5.0, "P": 3.0, "GND": 0.0}, {"RAIL": amps, "R1": amps, "BT1": -amps})


def test_a_cell_is_driven_by_what_goes_all_the_way_round_beyond_the_solvers_resolution():
    assert driven(LOOP, charged(1e-3), "BT1", "P", "GND") == Way(("RAIL", "R1"), ("GND", "V", "P"), 1e-3)
    assert driven(LOOP, charged(1.1e-9), "BT1", "P", "GND") is not None
    assert driven(LOOP, charged(1e-9), "BT1", "P", "GND") is None
    assert driven(LOOP, charged(-1e-3), "BT1", "P", "GND") is None
    assert driven(LOOP, OperatingPoint(problem="no result"), "BT1", "P", "GND") is None
    thin = OperatingPoint(charged(1e-3).volts, {"RAIL": 1e-10, "R1": 1e-3, "BT1": -1e-3})
    assert driven(LOOP, thin, "BT1", "P", "GND") is None


def test_a_way_is_told_from_what_pushes_hardest():
    circuit = Circuit((Source("LOW", "A", "GND", 1.0), Source("HIGH", "B", "A", 5.0), Battery("BT2", "C", "D", 3, 1)),
                      "GND")
    way = Way(("R1", "LOW", "HIGH", "R2"), ("P", "GND", "A", "B", "Q"), 1.0)
    assert turned(way, circuit) == Way(("HIGH", "R2", "R1", "LOW"), ("B", "Q", "P", "GND", "A"), 1.0)
    against = Way(("R1", "HIGH", "BT2"), ("P", "B", "D", "C"), 1.0)   # through HIGH from plus to minus
    assert turned(against, circuit).elements == ("BT2", "R1", "HIGH")
    none = Way(("R1", "R2"), ("P", "X", "Q"), 1.0)
    assert turned(none, circuit) == none
    assert turned(Way((), ("P",), 1.0), circuit) == Way((), ("P",), 1.0)


def test_an_element_stands_for_its_part_however_many_it_takes():
    fragment = netcheck.loads("title: t\nrails: {+5V: 5 V}\nparts:\n  R1: {resistor: 1k, between: [+5V, A]}\n"
                              "  U1: {load: 1 mA, plus: A, minus: GND}\n")
    assert [part_of(fragment, name) for name in ("R1", "R1.2", "R1.a.b", "U1", "U1.leak", "+5V", "U2", "X.2")] == [
        "R1", "R1", "R1", "U1", "U1", None, None, None]
    assert parts_on(fragment, ("R1.2", "+5V", "U1", "R1")) == ("R1", "U1")


def test_what_comes_together_leaves_mixed_in_proportion():
    """Cells of 3 mA and 1 mA meet at X, of which a load takes half: 1.5 mA and 0.5 mA of it are theirs."""
    found = [Flow("BT1", "GND", "A", 3e-3), Flow("BT2", "GND", "B", 1e-3), Flow("D1", "A", "X", 3e-3),
             Flow("D2", "B", "X", 1e-3), Flow("U1", "X", "GND", 2e-3), Flow("R1", "X", "+5V", 2e-3),
             Flow("+5V", "+5V", "GND", 2e-3)]
    for cell, plus, through, amps in (("BT1", "A", "D1", 3e-3), ("BT2", "B", "D2", 1e-3)):
        own = {flow.element: flow.amps for flow in own_flows(found, cell, plus, "GND")}
        assert own == {through: pytest.approx(amps), "U1": pytest.approx(amps / 2), "R1": pytest.approx(amps / 2),
                       "+5V": pytest.approx(amps / 2)}
    rail = [Flow("+5V", "GND", "+5V", 3e-3), Flow("R1", "+5V", "A", 3e-3), Flow("BT1", "GND", "A", 1e-3),
            Flow("U1", "A", "GND", 4e-3)]
    assert [(flow.element, flow.amps) for flow in own_flows(rail, "BT1", "A", "GND")] == [("U1", pytest.approx(1e-3))]
    charged = [Flow("+5V", "GND", "+5V", 3e-3), Flow("R1", "+5V", "A", 3e-3), Flow("BT1", "A", "GND", 3e-3)]
    assert own_flows(charged, "BT1", "A", "GND") == []


def test_a_cell_in_series_with_another_gives_through_it():
    found = [Flow("BT1", "M", "A", 1e-3), Flow("BT2", "GND", "M", 1e-3), Flow("U1", "A", "GND", 1e-3)]
    assert {flow.element: flow.amps for flow in own_flows(found, "BT1", "A", "M")} == {"U1": 1e-3, "BT2": 1e-3}


@pytest.mark.parametrize("example", sorted(EXAMPLES.glob("*.yaml")), ids=lambda path: path.stem)
def test_all_that_a_cell_gives_comes_back_to_its_minus_and_none_of_it_is_more_than_what_flows(example):
    """Kirchhoff's law holds of each cell's own currents as well; what is less than 1 nA is the solver's own."""
    found = survey(netcheck.load(example))
    room = found.corners.room
    for state in found.states.states:
        point = found.at(state, room)
        whole = flows(circuit_of(found.fragment, state, room), point)
        for cell in found.cells():
            given = max(0.0, point.amps.get(cell.name, 0.0))
            plus, minus = cell.pins["plus"], cell.pins["minus"]
            own = own_flows(whole, cell.name, plus, minus)
            if given < DRIVEN_A:
                continue
            back = sum(flow.amps for flow in own if flow.head == minus)
            assert back == pytest.approx(given, rel=1e-3, abs=DRIVEN_A), (state.name, cell.name)
            left = {(one.element, one.tail, one.head): one.amps for one in whole}
            assert all(one.amps <= left[one.element, one.tail, one.head] * (1 + 1e-6) for one in own)
