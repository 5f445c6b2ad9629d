"""Memories, clocks, transistors, fixed regulators and chips against their makers' sheets, row by row."""

from __future__ import annotations

from math import exp

import pytest
from every import every

from netcheck.parts import load
from netcheck.parts.catalogue import Catalogue

CATALOGUE = Catalogue.standard()
NA, UA = 1e-9, 1e-6

# name, limit, volts, amperes: source
DRAWS = [
    # HM62256B Series, Hitachi, ADE-203-135D, low VCC data retention: 0.05 typical; 30, 10 (L-SL), 3 µA (L-UL) at most.
    ("SRAM-62256", "typical", 3.0, 0.05 * UA), ("SRAM-62256", "maximum", 3.0, 30 * UA),
    ("SRAM-62256-SL", "maximum", 3.0, 10 * UA), ("SRAM-62256-UL", "maximum", 3.0, 3 * UA),
    # HY62256A, Hyundai: L 1 typical 50 at most, LL 1 and 15 µA. CY62256, Cypress: L 2 and 50, LL 0.1 and 5 µA.
    ("SRAM-HY62256A-L", "maximum", 3.0, 50 * UA), ("SRAM-HY62256A-LL", "maximum", 3.0, 15 * UA),
    ("SRAM-CY62256-L", "typical", 3.0, 2 * UA), ("SRAM-CY62256-LL", "maximum", 3.0, 5 * UA),
    # HM628128 Series, Hitachi, p. 5-49: 1 µA typical; L 50, L-L 30, L-SL 15 µA at most.
    ("SRAM-628128", "typical", 3.0, 1 * UA), ("SRAM-628128", "maximum", 3.0, 50 * UA),
    ("SRAM-628128-LL", "maximum", 3.0, 30 * UA), ("SRAM-628128-SL", "maximum", 3.0, 15 * UA),
    # DS2016, Dallas: 50 nA at most at 3 V and 25 °C.
    ("SRAM-2016", "maximum", 3.0, 50 * NA),
    # MC146818 Advance Information, Motorola, p. 3-998: 50 µA at 3 and 5 V, 32.768 kHz; 3 mA at 4.19 MHz.
    ("MC146818A", "maximum", 3.0, 50 * UA), ("MC146818A", "maximum", 5.0, 50 * UA),
    ("MC146818A-4MHz", "maximum", 5.0, 3e-3),
    # DS1302, Maxim: 0.2 and 0.3 µA at 2 V; 0.45 and 1 µA at 5 V.
    ("DS1302", "typical", 2.0, 0.2 * UA), ("DS1302", "maximum", 2.0, 0.3 * UA),
    ("DS1302", "typical", 5.0, 0.45 * UA), ("DS1302", "maximum", 5.0, 1 * UA),
    # DS1307, Maxim: 300 and 500 nA at 3 V.
    ("DS1307", "typical", 3.0, 300 * NA), ("DS1307", "maximum", 3.0, 500 * NA),
    # DS17285, Dallas, 050802: 0.5 and 0.7 µA, oscillator on.
    ("DS17285", "typical", 3.0, 0.5 * UA), ("DS17285", "maximum", 3.0, 0.7 * UA),
    # DS3231, Maxim: 0.84 and 3.0 µA at 3.63 V, 1.0 and 3.5 µA at 5.5 V.
    ("DS3231", "typical", 3.63, 0.84 * UA), ("DS3231", "maximum", 5.5, 3.5 * UA),
    # DS1390, Maxim, IBACKUP1: 500 and 1000 nA. DS1677, Dallas: 300 and 500 nA.
    ("DS1390", "typical", 3.0, 500 * NA), ("DS1390", "maximum", 3.0, 1 * UA), ("DS1677", "maximum", 3.0, 500 * NA),
    # PCF8523, NXP, Rev. 6, Table 48: 1200 and 3600 nA with clock output and power management on.
    ("PCF8523", "typical", 3.0, 1.2 * UA), ("PCF8523", "maximum", 5.0, 3.6 * UA),
    # M41T60, ST, DocID10396 Rev 14, Table 7: 310 and 350 nA at 2 and 3 V; 700 and 950 nA at most at 3.6 and 4.4 V.
    ("M41T60", "typical", 3.0, 350 * NA), ("M41T60", "maximum", 4.4, 950 * NA),
    # RTC-8564, Epson, MQ-322-04, p. 3: 250, 275, 330 nA; 650, 700, 800 nA at most at 2, 3 and 5 V.
    ("RTC-8564", "typical", 2.0, 250 * NA), ("RTC-8564", "maximum", 5.0, 800 * NA),
    # RTC-72421, Epson: 5 µA at most at 2 V, 10 µA at 5 V.
    ("RTC-72421", "maximum", 2.0, 5 * UA), ("RTC-72421", "maximum", 5.0, 10 * UA),
]


@every(row=DRAWS)
def test_what_memories_and_clocks_draw(row):
    name, limit, volts, amps = row
    drawn = load.draw(CATALOGUE.load(name), limit)
    assert drawn.limit == limit
    assert drawn.amps + drawn.siemens * (volts - drawn.at_V) == pytest.approx(amps, rel=1e-3)


WORKS = {
    # the same sheets: data retention or the pin of the cell
    "SRAM-62256": (2.0, 5.5), "SRAM-628128": (2.0, 5.5), "SRAM-2016": (2.0, 5.5), "DS1302": (2.0, 5.5),
    "DS1307": (2.0, 3.5), "DS17285": (2.5, 3.7), "DS3231": (2.3, 5.5), "DS1390": (1.3, 3.7), "PCF8523": (1.8, 5.5),
    "M41T60": (1.0, 4.4), "RTC-72421": (2.0, 5.5), "MC146818A": (3.0, 6.0), "CD4000-gate": (3.0, 15.0),
}


def test_where_they_keep_data_or_time():
    assert {name: (span.low, span.high) for name in WORKS if (span := CATALOGUE.load(name).works)} == WORKS


# cutoff: 2N3904 and 2N3906, onsemi (Fairchild): ICEX 50 nA; typical ICBO 0.25 and 0.27 nA at 25 °C. P2N2222A, onsemi:
# 10 nA. 2N2907 and 2N2907A, Philips 1997: 20 and 10 nA. BC546-550, Fairchild: 15 nA. BC557, NXP 1999: 15 nA, 1 typical.
# 2N7000, Fairchild 1995: 1 µA. BSS138, Fairchild: 0.5 µA. BS250, Vishay: 0.5 µA. BSS84, onsemi: 15 µA at 50 V.
CUTOFF = {"2N3904": 50 * NA, "2N3906": 50 * NA, "2N2222": 10 * NA, "2N2907": 20 * NA, "2N2907A": 10 * NA,
          "BC547": 15 * NA, "BC557": 15 * NA, "2N7000": 1 * UA, "BSS138": 0.5 * UA, "BS250": 0.5 * UA, "BSS84": 15 * UA}
TYPICALLY = {"2N3904": 0.25 * NA, "2N3906": 0.27 * NA, "BC557": 1 * NA}
# volts at a collector current: 2N3906, Fairchild Rev. 1.2.2, Fig. 4; P2N2222A, onsemi Rev. 5, Fig. 11; BC547 and BC557,
# NXP, 1999 Apr 15, VBE typical at 2 mA.
BASE_EMITTER = {"2N3906": (0.66, 1e-3), "2N2222": (0.61, 1e-3), "BC547": (0.660, 2e-3), "BC557": (0.650, 2e-3)}
THERMAL_V = 0.025693
"""kT/q at 25 °C."""


def test_what_transistors_pass_when_they_are_off():
    assert {name: CATALOGUE.transistor(name).cutoff_A for name in CUTOFF} == pytest.approx(CUTOFF)
    assert {name: CATALOGUE.transistor(name).cutoff_typical_A for name in TYPICALLY} == pytest.approx(TYPICALLY)


@every(name=BASE_EMITTER)
def test_a_junction_has_its_published_volts(name):
    volts, amps = BASE_EMITTER[name]
    found = CATALOGUE.transistor(name).saturation_A * exp(volts / THERMAL_V)
    assert found == pytest.approx(amps, rel=0.05)


def test_gains_and_channels():
    # 2N3904 Rev. B0 and 2N3906 Rev. 1.2.2: 100 to 300 at 10 mA; 2N2907: 100 to 300 at 150 mA.
    for name in ("2N3904", "2N3906", "2N2222", "2N2907"):
        assert 100 <= CATALOGUE.transistor(name).gain <= 300
    assert 200 <= CATALOGUE.transistor("BC547").gain <= 450
    assert 220 <= CATALOGUE.transistor("BC557").gain <= 475
    # BS250, Vishay: 1 to 3.5 V, of which the middle.
    assert {name: CATALOGUE.transistor(name).threshold_V for name in ("2N7000", "BSS138", "BSS84", "BS250")} == {
        "2N7000": 2.1, "BSS138": 1.3, "BSS84": 1.7, "BS250": (1 + 3.5) / 2}


def test_fixed_regulators_over_load_and_line():
    # LM78XX, onsemi (Fairchild), Rev. 1.3.1: 4.75 to 5.25 V, 11.4 to 12.6 V, 35 V, 2 V at 1 A, 5 K/W. LM79XX, Texas
    # Instruments, SNOSBQ7C: -4.75 to -5.25 V, -11.4 to -12.6 V, 25 and 35 V, 1.1 V typical at 1 A, 5 K/W at most.
    bands = {"7805": (4.75, 5.25), "7812": (11.4, 12.6), "7905": (-5.25, -4.75), "7912": (-12.6, -11.4)}
    for name, band in bands.items():
        output = CATALOGUE.regulator(name).output
        assert (output.low, output.high) == pytest.approx(band), name
    assert [CATALOGUE.regulator(name).input_max_V for name in bands] == [35, 35, 25, 35]
    assert [CATALOGUE.regulator(name).theta_junction_case for name in bands] == [5, 5, 5, 5]
    assert CATALOGUE.regulator("7905").dropout_typical_V == 1.1
    # KA78LXXA, onsemi (Fairchild), Rev. 1.0.7: 4.75 to 5.25 V to 70 mA, 30 and 35 V, 5.5 mA, 1.7 V typical. MC79L00A,
    # onsemi, Rev. 9: -4.75 to -5.25 V, 6.0 mA, 1.7 V typical at 40 mA, 200 K/W; MC79L00, Vishay, 74825: 30 V. LM2940,
    # Texas Instruments, SNVS769I: 0.5 V typical, 1 V at most at 1 A.
    small = {"78L05": (4.75, 5.25), "78L12": (11.4, 12.6), "79L05": (-5.25, -4.75), "LM2940": (4.75, 5.25)}
    for name, band in small.items():
        output = CATALOGUE.regulator(name).output
        assert (output.low, output.high) == pytest.approx(band), name
    assert [CATALOGUE.regulator(name).input_max_V for name in small] == [30, 35, 30, 26]
    assert [CATALOGUE.regulator(name).limit_A for name in small] == [0.1, 0.1, 0.1, 1]
    assert [CATALOGUE.regulator(name).ground_current_A for name in ("78L05", "79L05")] == [0.0055, 0.006]
    assert [CATALOGUE.regulator(name).dropout_typical_V for name in small] == [1.7, 1.7, 1.7, 0.5]
    # LM237/LM337, Texas Instruments, SLVS047G, page 3: 1.20 to 1.30 V, 65 and 100 µA, 2.5 and 10 mA, 1.5 A to 15 V;
    # LM337, onsemi, Rev. 10: 40 V, 5 and 65 K/W.
    spec = CATALOGUE.regulator("LM337")
    assert (spec.reference.low, spec.reference.high) == pytest.approx((1.20, 1.30))
    assert (spec.adjust_current_A, spec.adjust_current_max_A) == pytest.approx((65 * UA, 100 * UA))
    assert (spec.minimum_load_A, spec.limit_A, spec.input_max_V) == (0.010, 1.5, 40)
    assert (spec.theta_junction_case, spec.theta_junction_ambient) == (5, 65)
    # LM350 and LM317, onsemi (Fairchild): minimum load 10 mA; 5 K/W. LM1117, Texas Instruments, SNOS412N.
    assert CATALOGUE.regulator("LM350").minimum_load_A == 0.010
    assert CATALOGUE.regulator("LM317").theta_junction_case == 5
    spec = CATALOGUE.regulator("LM1117")
    assert (spec.reference.low, spec.reference.high) == pytest.approx((1.225, 1.270))
    assert (spec.dropout_V, spec.minimum_load_A, spec.input_max_V) == (1.3, 0.005, 20)


def test_the_charger_of_a_clock_gives_what_its_maker_works_out():
    # DS1302, Maxim, REV: 110805: (5.0 V - 0.7 V) / 2 kohm = 2.2 mA with one diode. DS1339, Maxim, p. 15: 250 ohm is the
    # hardest of its choices.
    (way,) = CATALOGUE.chip("DS1302").ways
    assert (5.0 - 0.7) / way.ohm == pytest.approx(2.2e-3, rel=0.03)
    assert (way.diodes, way.software) == (1, True)
    assert CATALOGUE.chip("DS1339").ways[0].ohm == 250


def test_what_flows_at_the_pin_of_a_cell():
    # DS1307: 50 nA; DS3231: 100 nA; DS1390: 100 nA; PCF8523: 100 nA; MAX691A: 1 µA, each at most and under power.
    assert {name: CATALOGUE.chip(name).leak_A for name in ("DS1307", "DS3231", "DS1390", "PCF8523", "MAX691A")} == {
        "DS1307": pytest.approx(50 * NA), "DS3231": pytest.approx(100 * NA), "DS1390": pytest.approx(100 * NA),
        "PCF8523": pytest.approx(100 * NA), "MAX691A": pytest.approx(1 * UA)}


def test_a_maker_s_life_of_a_cell_on_a_clock():
    # Design considerations for Dallas real-time clocks, Maxim, application note 504: BR1225, 48 mAh, on a DS1307 that
    # draws 500 nA at most: 96,000 hours, about 10.9 years.
    hours = CATALOGUE.cell("BR1225").capacity_Ah / load.draw(CATALOGUE.load("DS1307"), "maximum").amps
    assert hours == pytest.approx(96_000)
    assert hours / 8760 == pytest.approx(10.9, abs=0.1)
