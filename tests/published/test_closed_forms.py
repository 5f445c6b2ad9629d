"""Operating points against closed forms, and against printed answers of textbook exercises."""

from math import exp, log

import pytest
from scipy.special import wrightomega

from netcheck.parts.junction import BOLTZMANN_V_PER_K, ZERO_CELSIUS_K, thermal_V
from netcheck.simulation.elements import Circuit, Junction, Resistance, Source
from netcheck.simulation.models import LAW_FROM_V
from netcheck.simulation.operating_point import solve


def loop(volts, ohm, temperature_C=25.0, **diode):
    """A source, a resistor and a diode in a loop: the diode's volts and amps."""
    return Circuit((Source("V", "S", "GND", volts), Resistance("R", "S", "D", ohm),
                    Junction("D", "D", "GND", **diode)), "GND", temperature_C)


def at_thermal_V(volts):
    """The temperature in °C at which kT/q is this."""
    return volts / BOLTZMANN_V_PER_K - ZERO_CELSIUS_K


def closed_form_A(volts, ohm, saturation_A, slope_V):
    """I = W(IS·R/(n·VT)·exp((V + IS·R)/(n·VT)))·n·VT/R - IS, with Lambert's W.

    R. M. Corless et al., "On the Lambert W function", Advances in Computational Mathematics 5 (1996),
    329-359 (from memory); follows from Shockley's law by substitution.
    """
    exponent = log(saturation_A * ohm / slope_V) + (volts + saturation_A * ohm) / slope_V
    return float(wrightomega(exponent)) * slope_V / ohm - saturation_A  # W(exp(z)), which does not overflow


# Current from some 40 nA to some 400 mA, and each diode at several temperatures.
DIODES = [
    {"saturation_A": 2.5e-9, "emission": 1.75, "series_ohm": 0.57},
    {"saturation_A": 1e-14, "emission": 1.0},
    {"saturation_A": 2e-7, "emission": 1.05, "series_ohm": 2.6},
]


@pytest.mark.parametrize("diode", DIODES)
@pytest.mark.parametrize("temperature_C", [-20.0, 25.0, 70.0])
def test_diode_and_resistor_over_seven_decades(diode, temperature_C):
    resistors = [10.0 * 10**decade for decade in range(8)]
    points = solve([loop(5.0, ohm, temperature_C, **diode) for ohm in resistors])
    for ohm, point in zip(resistors, points, strict=True):
        series = diode.get("series_ohm", 0.0)
        slope_V = diode["emission"] * thermal_V(temperature_C)
        amps = closed_form_A(5.0, ohm + series, diode["saturation_A"], slope_V)
        assert point.problem is None
        assert point.volts["D"] == pytest.approx(5.0 - amps * ohm, abs=1e-4)
        assert point.amps["D"] == pytest.approx(amps, rel=1e-4)
        assert point.amps["R"] == pytest.approx(amps, rel=1e-4)


@pytest.mark.parametrize("reverse_V", [0.05, 0.5, 5.0, 20.0])
@pytest.mark.parametrize("power", [0.0, 0.35])
def test_reverse_current_is_the_leakage_given_and_forward_is_untouched(reverse_V, power):
    diode = {"saturation_A": 2.5e-9, "emission": 1.75, "leakage_A": 25e-9, "leakage_at_V": 20.0,
             "leakage_power": power}
    slope_V = 1.75 * thermal_V(25.0)
    backward, forward, without = solve([
        loop(-reverse_V, 1e-3, **diode), loop(5.0, 1e6, **diode),
        loop(5.0, 1e6, saturation_A=2.5e-9, emission=1.75),
    ])
    published = 25e-9 * (max(reverse_V, LAW_FROM_V) / 20.0) ** power
    # ngspice draws its saturation current a little short until 1 V or so: a cubic beyond three slopes backwards.
    assert backward.amps["D"] == pytest.approx(-published * (1 - exp(-reverse_V / slope_V)), rel=1e-3)
    assert backward.amps["V"] == pytest.approx(backward.amps["D"], rel=1e-6)
    assert forward.amps["D"] == pytest.approx(without.amps["D"], rel=1e-9)


COURSE = "course exercise on diode circuits, file of test assertions, IS 2e-14 A, VT 25.852 mV"
RAZAVI = "B. Razavi, Fundamentals of Microelectronics (that it is this book: from memory), example on page of notes"
SEDRA = "Sedra and Smith, Microelectronic Circuits, example (answer from memory)"
VT = 0.025851999786435535

# volts, ohm, IS [A], n, kT/q [V], printed volts and amps (None: not printed), digits as printed, source
EXERCISES = [
    (5.0, 430.0, 2e-14, 1.0, VT, 0.6964194289924417, 0.010008326909319902, 1e-6, COURSE),
    (12.0, 1000.0, 2e-14, 1.0, VT, 0.6995584914972504, 0.01130044150850275, 1e-6, COURSE),
    (5.0, 100.0, 2e-14, 1.0, VT, 0.7339014004034561, None, 1e-6, COURSE),
    (5.0, 430.0, 2e-14, 2.0, VT, 1.383840561056358, None, 1e-6, COURSE),
    (5.0, 44.2e3, 2e-14, 1.0, VT, 0.5773, 0.1e-3, 1e-3, COURSE),
    # Solved by hand to the fourth digit in the notes, which stop iterating one step early.
    (3.0, 1000.0, 1e-16, 1.0, 0.026, 0.7994, 2.201e-3, 1e-3, RAZAVI),
    (1.0, 1000.0, 1e-16, 1.0, 0.026, 0.742, 0.258e-3, 5e-3, RAZAVI),
    # 0.7 V at 1 mA and 0.1 V for each decade.
    (5.0, 1000.0, 1e-3 * 10**-7.0, 1.0, 0.1 / 2.302585092994046, 0.762, 4.237e-3, 1.5e-3, SEDRA),
]


@pytest.mark.parametrize(
    ("volts", "ohm", "saturation_A", "emission", "kT_V", "drop_V", "amps", "digits", "source"), EXERCISES)
def test_printed_answers(volts, ohm, saturation_A, emission, kT_V, drop_V, amps, digits, source):
    (point,) = solve([loop(volts, ohm, at_thermal_V(kT_V), saturation_A=saturation_A, emission=emission)])
    assert point.volts["D"] == pytest.approx(drop_V, rel=digits), source
    assert amps is None or point.amps["D"] == pytest.approx(amps, rel=digits), source


def test_printed_values_of_the_law_itself():
    """Course exercise as above: I(0.7 V), V(10 mA), I(-0.5 V), and one decade of current in volts."""
    diode = {"saturation_A": 2e-14, "emission": 1.0}
    forward, ten_mA, one_mA, backward = solve([
        loop(0.7, 1e-4, at_thermal_V(VT), **diode), loop(1000.0, 1e5, at_thermal_V(VT), **diode),
        loop(1000.0, 1e6, at_thermal_V(VT), **diode), loop(-0.5, 1e-4, at_thermal_V(VT), **diode),
    ])
    assert forward.amps["D"] == pytest.approx(0.011495091382073667, rel=1e-4)  # the loop's 0.1 mΩ drops 1 µV
    # 0.07 % less than 10 mA and 1 mA flow, the diode's own drop off 1000 V.
    assert ten_mA.volts["D"] == pytest.approx(0.6963979112242282, abs=2e-5)
    assert ten_mA.volts["D"] - one_mA.volts["D"] == pytest.approx(0.05952642933186636, abs=3e-6)
    assert backward.amps["D"] == pytest.approx(-2e-14, rel=0.1)  # the solver's own gmin adds 0.5 fA
