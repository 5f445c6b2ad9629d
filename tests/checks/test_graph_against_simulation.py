"""Graph against simulation, as a property of random small boards.

Where no conducting route is found the simulated charge current never exceeds
the leakage of the blocked parts; where one is found, every offered remedy
stops it.
"""

from __future__ import annotations

import hypothesis.strategies as st
import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings

import netcheck
from netcheck.conduction.routes import charge_routes
from netcheck.fragment.model import Kind
from netcheck.fragment.mods import apply_steps
from netcheck.parts import diode
from netcheck.solving.solved_states import survey

NETS = ("+5V", "CELL", "A", "B", "GND")

two_nets = st.lists(st.sampled_from(NETS), min_size=2, max_size=2, unique=True)
one_part = st.one_of(
    st.tuples(st.just("resistor"), two_nets, st.sampled_from(["100", "1k", "47k"])),
    st.tuples(st.just("diode"), two_nets, st.sampled_from(["1N4148", "BAT54", "1N4001", "BAS70"])),
)
parts = st.lists(one_part, min_size=1, max_size=6)
few_parts = st.lists(one_part, min_size=1, max_size=3)  # every remedy is judged again, so a board must be small


def board(drawn):
    lines = ["title: random", "rails: {+5V: 5 V ±5%}", "conditions: {temperature: 10 to 50 °C}", "parts:",
             "  BT1: {cell: CR2032, plus: CELL, minus: GND}",
             "  U1: {load: 2 uA, plus: A, minus: GND}"]
    for number, (kind, (one, two), value) in enumerate(drawn):
        if kind == "resistor":
            lines.append(f"  R{number}: {{resistor: {value}, between: [{one}, {two}]}}")
        else:
            lines.append(f"  D{number}: {{diode: {value}, anode: {one}, cathode: {two}}}")
    return "\n".join(lines) + "\n"


def worst_charge(found):
    charge = [-found.at(state, corner).amps["BT1"]
              for state in found.states.states
              for corner in (found.corners.charge_flat, found.corners.charge_used, found.corners.leak_maximum)]
    return max(0.0, *charge)


def leakage_of_all(fragment):
    return sum(diode.at(part.spec, 50.0, leakage="maximum").leakage_A for part in fragment.of_kind(Kind.DIODE))


def conducting(found, fragment):
    return [route for one in found.conductions
            for route in charge_routes(fragment, one, fragment.parts["BT1"]) if route.conducting]


@settings(max_examples=40, deadline=None, derandomize=True, phases=[Phase.generate],
          suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(parts)
def test_no_conducting_route_means_no_more_than_leakage(drawn):
    fragment = netcheck.loads(board(drawn))
    found = survey(fragment)
    assert all(point.known for point in found.points.values()), [p.problem for p in found.points.values()]
    if not conducting(found, fragment):
        assert worst_charge(found) <= 1.3 * leakage_of_all(fragment) + 1e-9


@settings(max_examples=6, deadline=None, derandomize=True, phases=[Phase.generate],
          suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(few_parts)
def test_every_offered_remedy_stops_the_charging(drawn):
    fragment = netcheck.loads(board([("resistor", ["+5V", "B"], "1k"), ("diode", ["B", "CELL"], "1N4148"), *drawn]))
    cell = netcheck.check(fragment).variants[-1].cells["BT1"]
    assume(cell.charge_A > leakage_of_all(fragment))  # a resistor to ground may hold the source below the cell
    assert cell.shorts_to_charge == 0
    for remedy in cell.remedies:
        changed = apply_steps(fragment, remedy.steps)
        after = survey(changed)  # the simulator decides: a way of the graph may be held down by a divider
        assert worst_charge(after) <= 1.3 * leakage_of_all(changed) + 1e-9


def test_the_charger_of_the_property_does_charge():
    fragment = netcheck.loads(board([("resistor", ["+5V", "B"], "1k"), ("diode", ["B", "CELL"], "1N4148")]))
    cell = netcheck.check(fragment).variants[-1].cells["BT1"]
    assert cell.charge_A == pytest.approx((5.25 - 0.6 - 2.0) / 1000, rel=0.1)
    assert len(cell.remedies) >= 2
