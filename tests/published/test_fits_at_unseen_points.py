"""The laws of diodes at published points that the fit has not seen: one left out, and other makers' sheets."""

import pytest
from msgspec.structs import replace

from netcheck.parts import diode
from netcheck.parts.catalogue import Catalogue

CATALOGUE = Catalogue.standard()
# Entries with a published typical curve of four points or more; rectifiers count to 0.1 A, where a backup never is.
CURVES = ("1N4148", "1N4001", "BAT54", "1N5711", "1N5818", "1N5819", "PMEG2005AEA", "RB520S30", "BAS116LP3")
HIGHEST_A = 0.1


def typical(points, celsius=25.0):
    return sorted((point for point in points if point.limit == "typical" and abs(point.temperature_C - celsius) <= 2),
                  key=lambda point: (getattr(point, "volts_V", 0), point.current_A))


def left_out(spec):
    """(point, drop of a fit that has not seen it) for each point between the first and the last."""
    points = sorted(typical(spec.forward), key=lambda point: point.current_A)
    for point in points[1:-1]:
        if point.current_A <= HIGHEST_A:
            other = replace(spec, name=f"{spec.name} without {point.current_A}",
                            forward=tuple(one for one in spec.forward if one is not point))
            yield point, diode.drop(other, point.current_A, point.temperature_C)


def leakage_left_out(spec):
    points = typical(spec.leakage)
    for point in points[1:-1]:
        other = replace(spec, name=f"{spec.name} without {point.volts_V} V",
                        leakage=tuple(one for one in spec.leakage if one is not point))
        yield point, diode.leakage(other, point.volts_V, point.temperature_C)


@pytest.mark.parametrize("name", CURVES)
def test_a_forward_point_left_out_is_met_to_15_mV(name):
    # 1N4001: onsemi (Fairchild), Fig. 2, bends more than the law of a diode with one slope can: 25 mV at 0.1 A.
    # 1N5711, Vishay, Fig. 1, has four points only: 18 mV at 1 mA.
    most_V = {"1N4001": 0.025, "BAS116LP3": 0.025, "1N5711": 0.018}.get(name, 0.015)
    for point, found in left_out(CATALOGUE.diode(name)):
        assert found == pytest.approx(point.volts_V, abs=most_V), point


@pytest.mark.parametrize("name", ["1N4148", "BAT54", "1N5711", "1N4001"])
def test_a_leakage_point_left_out_is_met_to_25_percent(name):
    # 1N4001: onsemi (Fairchild), Fig. 4, has a bend at half its rated volts: 50 %.
    most = 0.50 if name == "1N4001" else 0.25
    for point, found in leakage_left_out(CATALOGUE.diode(name)):
        assert found == pytest.approx(point.current_A, rel=most), point


def test_a_temperature_left_out_is_met_to_25_percent():
    # 1N4148; 1N4448, NXP 2004 Aug 10, Fig. 5 (2), 20 V: 50, 99, 257 nA and 1.08 µA at 50, 60, 75 and 100 °C.
    # BAT54, Vishay 85508 Rev 2.0, Fig. 3: 25, 50 and 75 °C; its cold pair is steeper than its warm one.
    for name, celsius, most in (("1N4148", 60.0, 0.25), ("1N4148", 75.0, 0.25), ("BAT54", 50.0, 0.35)):
        spec = CATALOGUE.diode(name)
        other = replace(spec, name=f"{name} without {celsius}", leakage=tuple(
            one for one in spec.leakage if one.temperature_C != celsius or one.limit != "typical"))
        for point in typical(spec.leakage, celsius):
            found = diode.leakage(other, point.volts_V, celsius)
            assert found == pytest.approx(point.current_A, rel=most), point


@pytest.mark.parametrize(("name", "spread_V"), [("BAT54", 0.010), ("1N4001", 0.110), ("BAT46", 0.065)])
def test_another_maker_s_drop_lies_within_the_band_and_the_spread_is_told(name, spread_V):
    # BAT54: Comchip against onsemi. 1N4001: Diodes Inc (0.70 V at 10 mA) and onsemi's model card against onsemi's
    # Fig. 2 (0.601 V). BAT46: the maker's BAT46WJ model card against a share of ST's maxima.
    spec = CATALOGUE.diode(name)
    for point in spec.forward:
        if point.limit == "elsewhere":
            celsius = point.temperature_C
            low, usual, high = (diode.drop(spec, point.current_A, celsius, which)
                                for which in ("minimum", "typical", "maximum"))
            assert low - 1e-3 <= point.volts_V <= high + 1e-3, point
            assert abs(point.volts_V - usual) <= spread_V, point


def test_another_maker_s_leakage_is_never_above_the_maximum():
    # 1N4148: onsemi (Fairchild) 15.1 nA at 10 V, NXP 23.7 nA at 20 V and 40 °C; BAT54: onsemi half of Vishay's.
    for name in ("1N4148", "BAT54"):
        spec = CATALOGUE.diode(name)
        for point in spec.leakage:
            if point.limit == "elsewhere" and point.volts_V <= 30:
                most = diode.leakage(spec, point.volts_V, point.temperature_C, "maximum")
                assert point.current_A <= most * 1.001, point


def test_published_exponents_and_doublings_are_those_of_the_law():
    # Exponents between 2 and 10 V: 1N4148 (Vishay) 0.36, BAT54 (Vishay) 0.35, 1N5711 0.43. Doublings: BAT54 6.2 K from
    # 25 to 50 °C, 1N5711 10.7 K, 1N4148 9.2 K from 40 to 50 °C (NXP).
    from math import log, log2

    for name, exponent in (("1N4148", 0.36), ("BAT54", 0.35), ("1N5711", 0.43)):
        spec = CATALOGUE.diode(name)
        assert log(diode.leakage(spec, 10) / diode.leakage(spec, 2)) / log(5) == pytest.approx(exponent, abs=0.06)
    for name, kelvin in (("BAT54", 6.2), ("1N5711", 10.7)):
        spec = CATALOGUE.diode(name)
        assert 25 / log2(diode.leakage(spec, 2, 50) / diode.leakage(spec, 2, 25)) == pytest.approx(kelvin, rel=0.05)


# BZX55..Series, Vishay, document 85604: reverse current at 25 °C at most, at 1 to 7.5 V. 1N4728A to 1N4742A, onsemi
# (Fairchild), Rev G2 (1N4728A: its reverse current makes it steeper than its resistance).
# The law of a piece at the low end of its tolerance passes the published current and no more.
ZENERS = [name for name in CATALOGUE.names("diode") if CATALOGUE.diode(name).zener_V]


@pytest.mark.parametrize("name", ZENERS)
def test_a_zener_passes_its_test_current_at_its_volts_and_below_no_more_than_published(name):
    spec = CATALOGUE.diode(name)
    from netcheck.parts.zener import knee, knee_points

    test = max(knee_points(spec), key=lambda point: point.current_A)
    for which, volts in (("typical", spec.zener_V.value), ("maximum", spec.zener_V.low)):
        passed = sum(term.current(volts) for term in knee(spec, which))
        assert passed == pytest.approx(test.current_A, rel=1e-3)
        step = 1e-4
        more = sum(term.current(volts + step) for term in knee(spec, which))
        scaled = test.ohm * volts / spec.zener_V.value
        assert step / (more - passed) == pytest.approx(scaled, rel=0.3 if name == "1N4728A" else 0.15)
    for point in spec.leakage:
        if point.temperature_C == 25:
            assert diode.leakage(spec, point.volts_V, 25, "maximum") == pytest.approx(point.current_A, rel=0.02)


def test_a_3_9_volt_zener_passes_milliamperes_at_3_volts():
    # BZX55C3V9, Vishay: 5 mA at 3.7 to 4.1 V with at most 85 ohm, at most 600 ohm at 1 mA: some 1 mA at 3 V.
    spec = CATALOGUE.diode("BZX55C3V9")
    assert 0.5e-3 < diode.leakage(spec, 3.0) < 1.5e-3
    assert 0.8e-3 < diode.leakage(spec, 3.0, 25, "maximum") < 2e-3
