from math import pi

import pytest

from netcheck.parts.junction import thermal_V
from netcheck.simulation.elements import Battery, Capacitance, Circuit, Junction, Resistance, Source
from netcheck.simulation.impedance import NoImpedance, impedance

FREQUENCIES = [10.0, 1e3, 1e6, 1.59e7, 1e8]


def circuit(*elements):
    return Circuit(elements, "GND")


def of_capacitor(frequency, farad, ohm, henry):
    """Z = R + j(ωL - 1/ωC)."""
    return complex(ohm, 2 * pi * frequency * henry - 1 / (2 * pi * frequency * farad))


def test_a_capacitor_alone_with_its_resistance_and_inductance():
    found = impedance(circuit(Capacitance("C1", "A", "GND", 1e-7, 0.05, 1e-9)), "A", FREQUENCIES)
    wanted = [of_capacitor(frequency, 1e-7, 0.05, 1e-9) for frequency in FREQUENCIES]
    assert found == pytest.approx(wanted, rel=1e-5)


def test_two_in_parallel_behind_a_resistor():
    found = impedance(circuit(
        Source("V", "S", "GND", 5.0), Resistance("R", "S", "A", 100.0),
        Capacitance("C1", "A", "GND", 1e-7), Capacitance("C2", "A", "GND", 1e-5, 0.5),
    ), "A", FREQUENCIES)
    for frequency, z in zip(FREQUENCIES, found, strict=True):
        parallel = 1 / 100.0 + 1 / of_capacitor(frequency, 1e-7, 0, 0) + 1 / of_capacitor(frequency, 1e-5, 0.5, 0)
        assert z == pytest.approx(1 / parallel, rel=1e-6)


def test_a_diode_counts_with_its_slope_at_the_operating_point():
    """dV/dI = n·kT/q / I, from Shockley's law."""
    (found,) = impedance(circuit(
        Battery("BT1", "S", "GND", 100.7, 100e3), Junction("D1", "S", "GND", 1e-14, 1.0),
    ), "S", [1e3])
    assert found.real == pytest.approx(thermal_V(25.0) / 1e-3, rel=0.01)


def test_ground_and_no_frequency_at_all():
    capacitor = circuit(Capacitance("C1", "A", "GND", 1e-7))
    assert impedance(capacitor, "GND", [1.0]) == [0]
    assert impedance(capacitor, "A", []) == []


@pytest.mark.parametrize(("net", "words"), [("B", "no net B"), ("A", "A is driven twice")])
def test_no_impedance_is_told(net, words):
    fighting = circuit(Source("V", "A", "GND", 5.0), Source("W", "A", "GND", 3.0))
    with pytest.raises(NoImpedance, match=words):
        impedance(fighting, net, [1.0])


@pytest.mark.parametrize("frequency", [0.0, -1.0, float("nan")])
def test_a_frequency_is_above_zero(frequency):
    with pytest.raises(ValueError, match="above 0 Hz"):
        impedance(circuit(Capacitance("C1", "A", "GND", 1e-7)), "A", [frequency])
