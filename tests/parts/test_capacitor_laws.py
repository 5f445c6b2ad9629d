"""The laws of capacitors against published figures; beside each its source."""

import math

import pytest

from netcheck.parts.capacitor import cautions, family, family_names, role, role_names, starts
from netcheck.parts.capacitor_laws import (
    at_work_F,
    bias_left,
    body,
    derated_V,
    esl,
    esr,
    leakage,
    life_h,
    loss_ohm,
    rated_ripple_A,
    rating_V,
    reverse_V,
)
from netcheck.parts.families import CAPACITOR_TYPES
from netcheck.parts.specs import CapacitorSpec
from netcheck.quantities.values import quantity


def capacitor(value, kind, rated_V=None, **more):
    return CapacitorSpec(quantity(value, "F"), type=kind, rated_V=rated_V, **more)


def test_every_type_that_a_file_may_name_is_a_family():
    assert set(CAPACITOR_TYPES) - {"unknown"} == set(family_names())
    assert family("unknown") is None


def test_every_role_names_families_with_a_reason_for_each_refusal():
    for name in role_names():
        found = role(name)
        assert not set(found.may) & set(found.may_not), name
        assert all(len(why) > 10 for why in found.may_not.values()), name
        assert found.least <= 1 <= found.most


def test_life_of_wet_ones():
    worked = [
        # Life of 5000 h at 105 °C at 95 and 85 °C: the rule of Rubycon, Technical Notes, page 4, equation 7
        (5000, 105, 95, 10_000), (5000, 105, 85, 20_000),
        # 2000 h at 105 °C at 85 and 65 °C, the same rule
        (2000, 105, 85, 8_000), (2000, 105, 65, 32_000),
        # 2000 h at 85 °C and 1000 h at 105 °C, at 40 °C: Capacitor plague, Wikipedia
        (2000, 85, 40, 45_255), (1000, 105, 40, 90_510),
        # common practice, no source
        (2000, 105, 45, 128_000),
    ]
    for hours, at_C, case_C, wanted in worked:
        found = life_h(capacitor("100u", "wet", 16.0, life_h=hours, life_at_C=at_C), case_C)
        assert found == pytest.approx(wanted, rel=1e-3)


def test_life_of_polymer_ones_and_the_cap():
    polymer = capacitor("100u", "polymer", 16.0, life_h=2000.0, life_at_C=105.0)
    # Conductive polymer guides of Nichicon, Chemi-Con and Rubycon, from memory: ten times for each 20 K
    assert life_h(polymer, 85.0) == pytest.approx(20_000)
    # common practice, no source
    assert life_h(polymer, 45.0, capped=False) == pytest.approx(2_000_000)
    # Nichicon, Life estimation form, notes 2 and 4: 15 years is the most that an estimate may say
    assert life_h(polymer, 45.0) == 15 * 8760


def test_life_without_a_law_is_not_made_up():
    for kind in ("tantalum", "X7R", "film", "unknown"):
        assert life_h(capacitor("10u", kind, 16.0), 45.0) is None


def test_the_rise_of_the_core_takes_life():
    # Life doubles for each 10 K that the core is cooler: Parler and Macomber, Cornell Dubilier
    wet = capacitor("100u", "wet", 16.0, life_h=2000.0, life_at_C=105.0)
    assert life_h(wet, 75.0, rise_K=10.0) == pytest.approx(life_h(wet, 85.0))


def test_leakage_limits():
    worked = [
        ("220u", "wet", 10.0, 22e-6),  # Nichicon ZR: 0.01 CV or 3 µA
        ("10u", "wet", 16.0, 3e-6),
        ("220u", "wet-low-impedance", 10.0, 66e-6),  # Nichicon PW: 0.03 CV or 4 µA
        ("820u", "polymer", 2.5, 500e-6),  # Chemi-Con PSC: 0.2 CV or 500 µA
        ("820u", "polymer", 6.3, 1033.2e-6),
    ]
    for value, kind, rated_V, wanted in worked:
        found = leakage(capacitor(value, kind, rated_V), rated_V, 25.0)
        assert found.maximum_A == pytest.approx(wanted, rel=1e-6)
        assert found.typical_A < found.maximum_A


def test_leakage_grows_with_volts_and_heat_and_is_unknown_for_what_is_unknown():
    wet = capacitor("220u", "wet", 10.0)
    assert leakage(wet, 5.0).maximum_A == pytest.approx(leakage(wet, 10.0).maximum_A / 2)
    assert leakage(wet, -5.0) == leakage(wet, 5.0)
    assert leakage(wet, 5.0, 50.0).maximum_A == pytest.approx(2 * leakage(wet, 5.0, 25.0).maximum_A)
    assert leakage(wet, 0.0).maximum_A == 0
    assert leakage(capacitor("220u", "unknown", 10.0), 5.0) is None


def test_derating():
    # ATH30 application notes, Astec, page 5, and PT7670 table 2-1, Texas Instruments: twice the volts on a rail
    assert rating_V(family("tantalum"), 5.0) == 10.0
    assert rating_V(family("tantalum"), 12.0) == 25.0
    # ATH30: the polymer ones are exempt; TCJ and T55 guides, from memory: 80 %
    assert rating_V(family("polymer-tantalum"), 5.0) == 6.3
    assert rating_V(family("wet"), 12.6) == 16.0
    # Application guide, Kyocera AVX, from memory: up to 0.8 of the rating with 3 Ω a volt in series
    assert derated_V(family("tantalum"), 16.0, series_ohm=100.0, volts_V=12.0) == pytest.approx(12.8)
    assert derated_V(family("tantalum"), 16.0, series_ohm=10.0, volts_V=12.0) == pytest.approx(8.0)


def test_volts_backwards():
    # 10 % of the rating, at most 1 V at 25 °C; 3 %, at most 0.5 V at 85 °C; 1 %, at most 0.1 V at 125 °C
    # (guides of Kyocera AVX and Vishay)
    tantalum = family("tantalum")
    for rated_V, celsius, wanted in ((6.3, 25, 0.63), (35, 25, 1.0), (10, 85, 0.3), (35, 85, 0.5), (35, 125, 0.1)):
        assert reverse_V(tantalum, rated_V, celsius) == pytest.approx(wanted)
    assert reverse_V(tantalum, 16.0, 55.0) == pytest.approx((1.0 + 0.48) / 2)
    assert reverse_V(family("wet"), 16.0, 40.0) == 1.0  # Electrolytic capacitor, Wikipedia: damage from 1 to 1.5 V
    assert reverse_V(family("polymer"), 16.0, 25.0) == 0.0
    assert reverse_V(family("film"), 63.0, 25.0) is None


def test_ceramics_at_their_working_volts():
    # ADP1650, Analog Devices, page 27: 10 µF 6.3 V X5R is 3 µF at 5.0 V
    assert bias_left(capacitor("10u", "X5R", 6.3, size="0603"), 5.0) == pytest.approx(0.30)
    # curves of Murata as quoted by a distributor: 10 µF 10 V is 5.0 µF as 0805 and 9.3 µF as 1206, at 5 V
    assert bias_left(capacitor("10u", "X7R", 10.0, size="0805"), 5.0) == pytest.approx(0.50)
    assert bias_left(capacitor("10u", "X7R", 10.0, size="1206"), 5.0) == pytest.approx(0.93)
    # the smaller case loses more; C0G loses nothing; up to 10 nF it can be ignored (the same page)
    assert bias_left(capacitor("10n", "X7R", 50.0, size="0805"), 5.0) > 0.99
    assert bias_left(capacitor("10n", "C0G", 50.0, size="0603"), 50.0) == 1.0
    # ADP1649, page 26: 3 µF · 0.85 · 0.9 = 2.3 µF with ±10 % and X5R's 15 %
    worst = at_work_F(capacitor("10u ±10%", "X5R", 6.3, size="0603"), 5.0).least
    assert worst == pytest.approx(2.3e-6, rel=0.01)


def test_bias_only_ever_takes():
    sizes, volts = ("0402", "0603", "0805", "1206", "1210"), (1.0, 3.3, 5.0, 12.0)
    for kind in ("X7R", "X5R", "Y5V", "Z5U"):
        for size in sizes:
            left = [bias_left(capacitor("1u", kind, 16.0, size=size), at) for at in volts]
            assert left[0] < 1
            assert left == sorted(left, reverse=True)
            assert left[-1] > 0


def test_series_resistance():
    # PT5400 capacitor table, Texas Instruments, page 14, at 100 kHz
    for value, kind, rated_V, most in (("120u", "polymer", 10.0, 0.027), ("270u", "polymer", 10.0, 0.014),
                                       ("10u", "polymer-tantalum", 16.0, 0.2),  # TCJ, Kyocera AVX
                                       ("330u", "polymer-tantalum", 6.3, 0.007)):  # T55, Vishay
        assert esr(capacitor(value, kind, rated_V)).most == pytest.approx(most)
    # LM3940, Texas Instruments, section 8: a wet one rises about 30 times from 25 to -40 °C
    wet = capacitor("220u", "wet", 10.0)
    assert esr(wet, -40.0).most == pytest.approx(30 * esr(wet).most)
    assert esr(wet, 85.0) == esr(wet)
    # twice at its end: Capacitor plague, Wikipedia
    assert esr(wet, aged=True).most == pytest.approx(2 * esr(wet).most)
    assert esr(capacitor("220u", "wet", 10.0, esr_ohm=0.7)).usual == pytest.approx(0.7)
    assert esr(capacitor("220u", "unknown", 10.0)) is None


def test_series_resistance_falls_with_size_and_stays_in_its_band():
    for name in family_names():
        known = family(name)
        for value in ("1p", "1n", "1u", "47u", "4700u"):
            band = esr(capacitor(value, name, 16.0))
            assert 0 < band.least <= band.usual <= band.most
        assert [point.most_ohm for point in known.esr] == sorted((p.most_ohm for p in known.esr), reverse=True)


def test_the_loss_factor_as_ohms():
    # ESR = tan δ/(2π·f·C) with the limits of Nichicon's VR and PW series for 10 V, at 120 Hz
    assert loss_ohm(capacitor("220u", "wet", 10.0)) == pytest.approx(1.45, abs=0.005)
    assert loss_ohm(capacitor("220u", "wet-low-impedance", 10.0)) == pytest.approx(1.15, abs=0.005)
    assert loss_ohm(capacitor("220u", "film", 63.0)) is None


def test_bodies_and_their_inductance():
    assert body(capacitor("100u", "wet", 16.0)) == "radial"
    assert body(capacitor("100u", "wet", 16.0, size="6.3 x 11 mm")) == "radial"
    assert body(capacitor("100n", "X7R", 50.0, size="0805")) == "chip"
    assert body(capacitor("100n", "X7R", 50.0, size="leaded")) == "radial"
    assert body(capacitor("100u", "wet", 16.0, size="axial")) == "axial"
    assert esl(capacitor("100n", "X7R", 50.0, size="leaded")).least > esl(capacitor("100n", "X7R", 50.0)).most
    assert esl(capacitor("100n", "X7R", 50.0, esl_H=2e-9)).usual == pytest.approx(2e-9)


def test_rated_ripple_only_from_a_part_that_is_near():
    assert rated_ripple_A(capacitor("150u", "wet-low-impedance", 25.0)) == pytest.approx(0.46)
    assert rated_ripple_A(capacitor("10u", "wet-low-impedance", 10.0)) is None


def test_what_a_supply_may_start_and_the_cautions():
    assert {start.volts_V for start in starts()} == {3.3, 5.0, 12.0, -12.0}
    assert all(start.most_F > 0 and not math.isinf(start.most_F) for start in starts())
    for subject in ("wet", "tantalum", "charged", "mains"):
        assert all(figure.source for _, figure in cautions(subject))
        assert cautions(subject)
