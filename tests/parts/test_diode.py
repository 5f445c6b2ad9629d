"""The forward law: its fit, its limits, its way with temperature, and what is unknown."""

from math import exp, log

import numpy as np
import pytest
from every import every
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

from netcheck.parts import diode
from netcheck.parts.catalogue import Catalogue, family
from netcheck.parts.junction import Law, Slope, fit, thermal_V
from netcheck.parts.leakage import FLAT, Ladder, Rung, activation_eV
from netcheck.parts.specs import DiodeParameters, DiodeSpec, Figure, ForwardPoint, LeakagePoint
from netcheck.parts.zener import knee
from netcheck.quantities.values import quantity

CATALOGUE = Catalogue.standard()
DIODES = CATALOGUE.entries("diode")
GIVEN = Figure("given in the file", "given")


def inline(*points, family="silicon", leakage=(), **more):
    forward = tuple(ForwardPoint(amps, volts, "typical", 25.0, GIVEN) for amps, volts in points)
    return DiodeSpec("inline", family, forward=forward, leakage=tuple(leakage), **more)


laws = st.builds(
    Law, st.floats(-32, -10).map(exp), st.floats(1.05, 1.95), st.sampled_from([0.0, 0.3, 2.0]), st.just(25.0))


@given(laws)
@settings(max_examples=60, deadline=None)
def test_a_fit_finds_the_law_that_made_its_points(law):
    points = [(amps, law.volts(amps)) for amps in (1e-5, 1e-4, 1e-3, 1e-2, 3e-2, 1e-1)]
    found = fit(points, Slope(1.5, 1, 2), 25)
    for amps, volts in points:
        assert found.volts(amps) == pytest.approx(volts, abs=2e-3)


@pytest.mark.parametrize("name", ["BAT54", "1N4148", "PMEG2010ER", "BAS116LP3"])
def test_the_fit_is_as_good_as_that_of_an_independent_solver(name):
    points = [(p.current_A, p.volts_V) for p in diode.typical_points(CATALOGUE.diode(name))]
    amps, volts = (np.array(column) for column in zip(*points, strict=True))
    weight = np.sqrt(1 / (1 + amps / 0.1))
    common = family(CATALOGUE.diode(name).family)

    def misfit(unknown):
        n, log_is, series = unknown
        return weight * (n * thermal_V(25) * np.log1p(amps / np.exp(log_is)) + amps * series - volts)

    best = least_squares(misfit, [common.emission, -18.0, 1.0], x_scale=[1, 10, 1], xtol=1e-12, ftol=1e-12,
                         bounds=([common.emission_low, -60, 0], [common.emission_high, 0, 100]))
    law = diode.forward_law(CATALOGUE.diode(name), 25)
    ours = np.sum(misfit([law.emission, log(law.saturation_A), law.series_ohm]) ** 2)
    # The family's preference may cost a little, never more than 2 mV over the points.
    assert np.sqrt(ours) <= np.sqrt(np.sum(best.fun ** 2)) + 2e-3


@every(spec=DIODES, celsius=[-20, 25, 70])
def test_minimum_typical_and_maximum_are_in_order_and_rise_with_current(spec, celsius):
    before = (0.0, 0.0, 0.0)
    for power in range(-8, -1):
        drops = tuple(diode.drop(spec, 10.0**power, celsius, limit) for limit in ("minimum", "typical", "maximum"))
        assert 0 < drops[0] <= drops[1] <= drops[2]
        assert all(now > then for now, then in zip(drops, before, strict=True))
        before = drops


@every(spec=DIODES)
def test_a_drop_falls_and_a_leakage_rises_when_warm(spec):
    assert diode.drop(spec, 2e-6, 60) < diode.drop(spec, 2e-6, 0)
    for limit in ("typical", "maximum"):
        assert diode.leakage(spec, 5, 60, limit) > diode.leakage(spec, 5, 0, limit)


@every(spec=DIODES, celsius=[-10, 25, 50, 85, 150])
def test_typical_leakage_never_exceeds_the_maximum(spec, celsius):
    for volts in (1.5, 5.0, 20.0):
        assert 0 < diode.leakage(spec, volts, celsius) <= diode.leakage(spec, volts, celsius, "maximum") * 1.000001


@every(spec=DIODES)
def test_what_the_simulator_gets_gives_the_same_drop(spec):
    ready = diode.at(spec, 40, "maximum", "maximum")
    law = Law(ready.saturation_A, ready.emission, ready.series_ohm, 40)
    assert law.volts(1e-5) == pytest.approx(diode.drop(spec, 1e-5, 40, "maximum"))
    passed = ready.leakage_A + sum(term.current(ready.leakage_at_V) for term in ready.knees)
    assert passed == pytest.approx(diode.leakage(spec, ready.leakage_at_V, 40, "maximum"))
    assert ready.extrapolated_below_A == min(p.current_A for p in diode.typical_points(spec))


def test_the_band_grows_for_each_decade_below_the_lowest_point():
    spec = inline((0.1e-3, 0.220), (1e-3, 0.290), (10e-3, 0.355), family="schottky")
    low = diode.extrapolated_below(spec)
    assert low == 0.1e-3
    half = [(diode.drop(spec, low / 10**decades, 25, "maximum") - diode.drop(spec, low / 10**decades, 25))
            for decades in (0, 1, 2)]
    assert half[1] - half[0] == pytest.approx(family("schottky").band_V, abs=1e-3)
    assert half[2] - half[1] == pytest.approx(family("schottky").band_V, abs=1.5e-3)


def test_one_reading_of_a_meter_shifts_the_family_s_curve_through_it():
    spec = inline((1e-3, 0.62))
    assert diode.drop(spec, 1e-3) == pytest.approx(0.62, abs=1e-4)
    decade = diode.drop(spec, 1e-3) - diode.drop(spec, 1e-4)
    assert decade == pytest.approx(family("silicon").emission * thermal_V(25) * log(10), abs=1e-3)


def test_given_parameters_are_used_as_given():
    spec = DiodeSpec("inline", "silicon", parameters=DiodeParameters(2.5e-9, 1.75, 0.57, breakdown_V=100.0))
    ready = diode.at(spec, diode.PARAMETERS_AT_C)
    assert (ready.saturation_A, ready.emission, ready.series_ohm) == pytest.approx((2.5e-9, 1.75, 0.57))
    assert ready.breakdown_V == 100
    assert not ready.leakage_known
    assert ready.extrapolated_below_A == 0
    assert diode.drop(spec, 1e-3, 27, "minimum") == diode.drop(spec, 1e-3, 27) == diode.drop(spec, 1e-3, 27, "maximum")


def test_saturation_current_with_temperature_is_that_of_the_published_cards():
    # Facts worked out from the cards at 25, 60 and 100 °C: BAT54 (EG 0.69, XTI 2) 0.18, 3.5 and 55 µA;
    # 1N4148 of NXP (EG 1.11, XTI 3) 3.7 nA, 48 nA and 0.50 µA.
    schottky = DiodeSpec("BAT54 card", "schottky", parameters=DiodeParameters(2.117e-7, 1.016, 2.637))
    silicon = DiodeSpec("1N4148 card", "silicon", parameters=DiodeParameters(4.352e-9, 1.906, 0.6458))
    for spec, expected in ((schottky, (0.18e-6, 3.5e-6, 55e-6)), (silicon, (3.7e-9, 48e-9, 0.50e-6))):
        found = [diode.at(spec, celsius).saturation_A for celsius in (25, 60, 100)]
        assert found == pytest.approx(expected, rel=0.03)


def test_silicon_defaults_would_overstate_a_hot_schottky_diode():
    # A Schottky diode's IS must not be left to EG 1.11 and XTI 3.
    right = DiodeSpec("card", "schottky", parameters=DiodeParameters(2.117e-7, 1.016))
    wrong = DiodeSpec("card", "schottky", parameters=DiodeParameters(2.117e-7, 1.016, 0.0, 1.11, 3.0))
    assert diode.at(wrong, 100).saturation_A > 10 * diode.at(right, 100).saturation_A


def test_nothing_known_of_an_led_s_drop_is_said():
    with pytest.raises(diode.UnknownDrop, match="nothing is known of the forward drop of X"):
        diode.at(DiodeSpec("X", "led"), 25)


def test_a_zener_given_by_its_volts_alone():
    spec = DiodeSpec("Z", "zener", zener_V=quantity("5.1 V ±5%", "V"))
    assert diode.breakdown(spec) == 5.1
    assert diode.breakdown(spec, "maximum") == pytest.approx(4.845)
    assert 0.6 < diode.drop(spec, 10e-3) < 0.9
    # It has the knee of its class: 5 mA at its volts, at the low and high end of its tolerance as well.
    for which, volts in (("typical", 5.1), ("maximum", 4.845), ("minimum", 5.355)):
        assert sum(term.current(volts) for term in knee(spec, which)) == pytest.approx(5e-3)
    assert diode.leakage(spec, 3.0) == pytest.approx(30e-6, rel=0.05)
    assert diode.at(spec, 25, clamp="minimum").knees == knee(spec, "minimum")


def test_a_word_that_is_no_limit_is_refused():
    with pytest.raises(ValueError, match="typical, maximum, minimum"):
        diode.drop(DIODES[0], 1e-3, 25, "worst")
    with pytest.raises(ValueError, match="typical or maximum"):
        diode.leakage(DIODES[0], 5, 25, "minimum")


def test_leakage_given_in_the_file_serves_for_both_limits():
    figures = [LeakagePoint(20.0, 25e-9, limit, 25.0, GIVEN) for limit in ("typical", "maximum")]
    spec = inline((1e-3, 0.62), leakage=figures)
    assert diode.leakage(spec, 20) == diode.leakage(spec, 20, 25, "maximum") == pytest.approx(25e-9)
    # Below, the limit stays and the typical current follows the family's curve.
    assert diode.leakage(spec, 5, 25, "maximum") == pytest.approx(25e-9)
    assert diode.leakage(spec, 5) < 15e-9


def test_a_typical_leakage_alone_makes_a_larger_maximum():
    spec = inline((1e-3, 0.62), leakage=[LeakagePoint(20.0, 2.5e-9, "typical", 25.0, GIVEN)])
    assert diode.leakage(spec, 20, 25, "maximum") == pytest.approx(2.5e-9 / family("silicon").leakage_share)


def test_report_tells_the_published_from_the_derived():
    assert diode.fit_report(CATALOGUE.diode("BAT54")).typical_published
    report = diode.fit_report(CATALOGUE.diode("BAT46"))
    assert not report.typical_published
    assert {row.point.figure.sure for row in report.forward if row.point.limit == "typical"} == {"derived"}
    assert report.extrapolated_below_A == 0.1e-3
    assert len(report.leakage) == 8


def test_every_published_leakage_stands_in_the_report_with_the_law_beside_it():
    # 1N4148: 5 µA at 75 V is a limit near the rated voltage; the law is for a few volts.
    rows = {(row.point.volts_V, row.point.temperature_C): row.law_A
            for row in diode.fit_report(CATALOGUE.diode("1N4148")).leakage if row.point.limit == "maximum"}
    assert rows[(20.0, 25.0)] == pytest.approx(25e-9, rel=0.15)
    assert rows[(75.0, 25.0)] < 200e-9
    assert rows[(20.0, 150.0)] == pytest.approx(50e-6, rel=0.2)


def test_hot_and_cold_figures_at_different_volts_are_paired_at_the_same_volts():
    # 3.9 nA at 2 V and 11.5 nA at 20 V, 50 nA at 20 V and 50 °C: at 2 V and 50 °C 17 nA, not 50 nA.
    points = [LeakagePoint(2.0, 3.9e-9, "typical", 25.0, GIVEN), LeakagePoint(20.0, 11.5e-9, "typical", 25.0, GIVEN),
              LeakagePoint(20.0, 50e-9, "typical", 50.0, GIVEN)]
    assert diode.leakage(inline((1e-3, 0.62), leakage=points), 2, 50) == pytest.approx(17e-9, rel=0.02)


def test_a_maximum_below_its_volts_follows_the_maker_s_curve_and_says_so():
    # 1N4148: guaranteed 25 nA at 20 V; at 2 V the maker's scatter limit, 6.9 nA, is no guarantee.
    spec = CATALOGUE.diode("1N4148")
    assert diode.guaranteed_from(spec) == 20
    assert 6.9e-9 <= diode.leakage(spec, 2, 25, "maximum") < 10e-9
    # BAV199 has no curve: 5 nA at 75 V is the limit at every voltage.
    assert diode.guaranteed_from(CATALOGUE.diode("BAV199")) == 0
    assert diode.leakage(CATALOGUE.diode("BAV199"), 2, 25, "maximum") == pytest.approx(5e-9)


def test_leakage_below_the_coldest_published_temperature_falls_with_the_gentler_slope():
    """By the law of activation, I ~ exp(-E/kT): whichever of the two slopes leaves more current when it is colder."""
    cold, hot = Rung(25.0, 25e-9, FLAT), Rung(125.0, 25e-6, FLAT)
    own_eV = activation_eV(cold, hot)

    def colder(usual_eV):
        return Ladder((cold, hot), usual_eV).at(0.0).amps

    def law(slope_eV):
        return 25e-9 * exp(slope_eV / 8.617333e-5 * (1 / 298.15 - 1 / 273.15))

    assert colder(own_eV * 2) == pytest.approx(law(own_eV), rel=1e-4)
    assert colder(own_eV / 2) == pytest.approx(law(own_eV / 2), rel=1e-4)
    assert Ladder((cold,), 0.6).at(0.0).amps == pytest.approx(law(0.6), rel=1e-4)
    assert colder(0.6) < 25e-9
