"""Cells against what their makers, and others, have published."""

import pytest

from netcheck.parts import cell
from netcheck.parts.catalogue import Catalogue

CATALOGUE = Catalogue.standard()


def test_fresh_coin_cell_lies_in_the_maker_s_band():
    # Designer's Guide 10-07, Renata, FAQ: 3.15 to 3.35 V open circuit at room temperature.
    for name in ("CR2032", "CR2025", "CR2016", "CR1220", "CR2450", "CR2477"):
        assert 3.15 <= cell.volts(CATALOGUE.cell(name), 0) <= 3.35


@pytest.mark.parametrize(("left", "volts"), [(0.42, 2.90), (0.18, 2.74), (0.06, 2.44)])
def test_cr2032_against_the_four_segment_model(left, volts):
    # battery level estimate of the nRF SDK, Nordic Semiconductor: volts against share left.
    assert cell.volts(CATALOGUE.cell("CR2032"), 1 - left) == pytest.approx(volts, abs=0.005)


def test_cr2032_against_a_curve_read_from_a_data_sheet():
    # Interactive Matter Lab, 29 Aug 2009: 240 mAh to 2.0 V; 18 to 20 ohm up to 150 mAh used, some 30 ohm at
    # 170 mAh, where the volts begin to fall sharply below about 2.8 V.
    spec = CATALOGUE.cell("CR2032")
    assert cell.volts(spec, 170 / 240) == pytest.approx(2.8, abs=0.05)
    assert cell.resistance(spec, 170 / 240) == pytest.approx(30, rel=0.1)
    assert 15 <= cell.resistance(spec, 75 / 240) <= 20
    assert cell.end_V(spec) == 2.0


def test_abnormal_charge_limits_of_coin_cells():
    # 3V Lithium Coin Cells, Designer's Guide, Renata, pp. 52-53: 25 mA, and 10 mA for CR2032 MFR; 25 mA for
    # CR2450N and CR2477N; 10 mA for CR1220 MFR. An unmarked cell takes the lower.
    found = {name: CATALOGUE.cell(name).abnormal_charge_A for name in ("CR2032", "CR2025", "CR1220", "CR2450")}
    assert found == {"CR2032": 0.010, "CR2025": 0.010, "CR1220": 0.010, "CR2450": 0.025}


def test_capacities_as_printed():
    # CR2450: AVR Butterfly guide, Atmel, 550 mAh. BR1225: Handbook of Battery Materials, Table 2.5, 48 mAh.
    assert CATALOGUE.cell("CR2450").capacity_Ah == pytest.approx(0.550)
    assert CATALOGUE.cell("BR1225").capacity_Ah == pytest.approx(0.048)


def test_thionyl_cell_s_open_circuit_and_operating_volts():
    # LTC Batteries technical brochure, Tadiran: 3.67 V open circuit, 3.60 V operating.
    spec = CATALOGUE.cell("ER14250")
    assert cell.volts(spec, 0) == pytest.approx(3.67)
    assert 3.60 <= cell.volts(spec, 0.5) <= 3.67


@pytest.mark.parametrize(("name", "cells"), [("alkaline-2xAA", 2), ("alkaline-3xAA", 3)])
def test_fresh_alkaline_pack(name, cells):
    # Alkaline page, Advanced Battery Systems: 1.58 V a cell, fresh.
    assert cell.volts(CATALOGUE.cell(name), 0) == pytest.approx(cells * 1.58)


def test_nickel_metal_hydride_after_a_month_on_the_shelf():
    # V450HR data sheet, Varta Microbattery, 2005: 80 % left after a month at 20 °C.
    yearly = CATALOGUE.cell("NiMH-3x80").self_discharge_per_year
    assert (1 - yearly) ** (1 / 12) == pytest.approx(0.80, abs=0.005)


def test_nickel_metal_hydride_trickle():
    # The same: C/100 for good, 0.03 C for up to 12 months, 0.1 C for up to 6 months (450 mAh: 4.5, 13.5, 45 mA).
    trickle = CATALOGUE.cell("NiMH-3x80").trickle
    scale = 450 / 80
    assert trickle.least_A * scale == pytest.approx(4.5e-3)
    assert trickle.most_A * scale == pytest.approx(13.5e-3)
    assert trickle.harmful_A * scale == pytest.approx(45e-3)


def test_rechargeable_lithium_coin_cell():
    # ML page, Maxell: about 2.5 V in operation, 2.8 V at 10 % depth. TB456.0, Intersil: charge at 3.0 to 3.3 V.
    spec = CATALOGUE.cell("ML2032")
    assert cell.volts(spec, 0.1) == pytest.approx(2.8)
    assert cell.volts(spec, 0.5) == pytest.approx(2.5)
    assert (spec.charge_window.low, spec.charge_window.high) == (3.0, 3.3)
    # ICR2032 preliminary data, Renata: 4.2 V ±0.05 V, cut-off 3.0 V.
    spec = CATALOGUE.cell("LIR2032")
    assert (spec.charge_window.low, spec.charge_window.high) == (4.15, 4.25)
    assert cell.end_V(spec) == 3.0
