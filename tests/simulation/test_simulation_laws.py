"""A result is looked at from outside: what a junction carries is what its law makes of its volts, and nothing is lost.

The reference is ngspice: its own currents at its own volts, over small circuits of a source, a resistor and a diode.
"""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from netcheck.simulation.balance import unbalanced
from netcheck.simulation.elements import Circuit, Junction, Resistance, Source
from netcheck.simulation.laws import is_junction_A, junction_A
from netcheck.simulation.operating_point import solve

SMALL = Junction("D1", "b", "GND", saturation_A=4e-9, emission=1.9, series_ohm=0.5, leakage_A=2e-8, leakage_at_V=5.0,
                 leakage_power=1.4)
PLAIN = Junction("D1", "b", "GND", saturation_A=1e-14, emission=1.0, series_ohm=0.0)
BROKEN = replace(PLAIN, breakdown_V=4.7, series_ohm=2.0)
VOLTS = (-12.0, -5.0, -0.3, -0.02, 0.02, 0.3, 1.0, 5.0, 24.0)


def solved(junction, volts, temperature_C):
    elements = Source("V", "a", "GND", volts), Resistance("R1", "a", "b", 470.0), junction
    circuit = Circuit(elements, "GND", temperature_C)
    (point,) = solve([circuit])
    return circuit, point


@pytest.mark.parametrize("junction", [SMALL, PLAIN, BROKEN])
@pytest.mark.parametrize("temperature_C", [0.0, 60.0])
def test_what_the_simulator_finds_for_a_junction_is_believed_and_nothing_else(junction, temperature_C):
    for volts in VOLTS:
        circuit, point = solved(junction, volts, temperature_C)
        across_V, found_A = point.volts["b"], point.amps["D1"]
        assert is_junction_A(junction, across_V, found_A, temperature_C)
        assert junction_A(junction, across_V, temperature_C) == pytest.approx(found_A, rel=1e-3, abs=1e-12)
        for other_A in (found_A * 1.01 + 1e-11, found_A * 0.99 - 1e-11, -found_A + 1e-9):
            assert not is_junction_A(junction, across_V, other_A, temperature_C)
        assert unbalanced(circuit, point.volts, point.amps) is None
        wrong = {**point.volts, "b": across_V + 0.1}
        assert unbalanced(circuit, wrong, point.amps) in ("a", "b")
        if abs(found_A) > 1e-6:  # a current that is not that of the volts is not believed: the law's own is taken
            assert unbalanced(circuit, point.volts, {**point.amps, "D1": 2 * found_A}) is None
