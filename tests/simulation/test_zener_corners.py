"""A zener in the circuit: its tolerance both ways, its knee below its volts, and what ngspice makes of it."""

import pytest

import netcheck
from netcheck.fragment.states import enumerate_states
from netcheck.parts.zener import knee
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.corner import Corner
from netcheck.simulation.elements import Junction
from netcheck.simulation.operating_point import solve

BOARD = """
title: clamp
rails: {+5V: SUPPLY}
parts:
  R1: {resistor: 1k, between: [+5V, VRAM]}
  D4: {diode: ZENER, cathode: VRAM, anode: GND}
  U1: {load: 2 uA, plus: VRAM, minus: GND}
"""


def circuit(zener, volts="9 V", **corner):
    fragment = netcheck.loads(BOARD.replace("ZENER", zener).replace("SUPPLY", volts))
    state = next(one for one in enumerate_states(fragment).states if one.live)
    return fragment, circuit_of(fragment, state, Corner("c", **corner))


def junction(made):
    return next(element for element in made.elements if isinstance(element, Junction))


@pytest.mark.parametrize(("corner", "end"), [
    ({}, "typical"), ({"supply": 1.0}, "minimum"), ({"leakage": "maximum"}, "maximum"),
    ({"supply": 1.0, "leakage": "maximum"}, "maximum"), ({"supply": -1.0}, "typical"),
])
def test_a_high_corner_has_its_zener_high_and_a_leaky_one_has_it_low(corner, end):
    fragment, made = circuit("BZX55C5V6", **corner)
    assert junction(made).knees == knee(fragment.parts["D4"].spec, end)


@pytest.mark.parametrize(("supply_V", "most_A"), [(3.0, 2e-3), (4.0, 4e-3), (9.0, 9e-3), (60.0, 0.06)])
def test_ngspice_settles_on_the_law_from_the_knee_to_deep_in_breakdown(supply_V, most_A):
    """The current that the resistor leaves is that of the law at the volts found, to 0.1 % (closed form)."""
    _, made = circuit("{zener: 3.9 V}", f"{supply_V} V")
    (point,) = solve([made])
    assert point.problem is None
    volts = point.volts["VRAM"]
    through_A = (supply_V - volts) / 1000 - 2e-6
    law_A = sum(term.current(volts) for term in junction(made).knees)
    assert law_A == pytest.approx(through_A, rel=1e-3, abs=1e-8)
    assert 0 < law_A < most_A


def test_a_zener_s_clamped_volts_lie_within_its_tolerance_at_its_test_current():
    """BZX55C5V6, Vishay, document 85604: 5.2 to 6.0 V at 5 mA; 12 V through 1.28 kΩ leave it 5 mA."""
    found = []
    for corner in ({"leakage": "maximum"}, {}, {"supply": 1.0}):
        _, made = circuit("BZX55C5V6", "12 V", **corner)
        (point,) = solve([made])
        found.append(point.volts["VRAM"])
    assert found == sorted(found)
    assert 5.2 <= found[0] < found[-1] <= 6.1
