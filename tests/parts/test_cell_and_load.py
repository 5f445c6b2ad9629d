"""A cell along its curve, and what a load draws."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.parts import cell, load
from netcheck.parts.catalogue import Catalogue
from netcheck.parts.specs import DrawPoint, Figure, LoadSpec

CATALOGUE = Catalogue.standard()
CELLS = CATALOGUE.entries("cell")
GIVEN = Figure("given in the file", "given")
shares = st.floats(0, 1)


@given(st.sampled_from(CELLS), shares, shares)
def test_a_cell_only_loses_volts_and_gains_resistance(spec, one, other):
    first, then = sorted((one, other))
    assert cell.volts(spec, first) >= cell.volts(spec, then)
    assert cell.resistance(spec, first) <= cell.resistance(spec, then)
    assert cell.end_V(spec) <= cell.volts(spec, then) <= cell.volts(spec, 0)


@given(st.sampled_from(CELLS), shares)
def test_the_depth_of_a_voltage_is_where_the_curve_has_it(spec, used):
    depth = cell.depth_at(spec, cell.volts(spec, used))
    assert cell.volts(spec, depth) == pytest.approx(cell.volts(spec, used), abs=1e-9)


def test_a_measured_cell_starts_where_its_volts_lie_on_the_curve():
    spec = CATALOGUE.cell("CR2032")
    assert cell.volts(spec, 0, measured_V=2.71) == pytest.approx(2.71)
    assert cell.volts(spec, 0.99, measured_V=2.71) == pytest.approx(cell.volts(spec, 0.99))
    assert cell.volts(spec, 0, measured_V=3.6) == pytest.approx(cell.volts(spec, 0))
    assert cell.volts(spec, 0, measured_V=1.2) == pytest.approx(1.2)
    assert cell.depth_at(spec, 1.2) == 1
    assert cell.depth_at(spec, 3.6) == 0
    assert cell.depth_at(spec, None) == 0
    assert cell.depth_at(spec, cell.end_V(spec)) == 1


@pytest.mark.parametrize("used", [-0.1, 1.1, float("nan")])
def test_a_share_outside_0_to_1_is_refused(used):
    with pytest.raises(ValueError, match="from 0 to 1"):
        cell.volts(CATALOGUE.cell("CR2032"), used)


def test_which_cells_must_never_be_charged():
    primary = {spec.name for spec in CELLS if spec.primary}
    assert primary == {"CR2032", "CR2025", "CR2016", "CR1220", "CR2450", "CR2477", "CR2320", "CR2325", "CR2330",
                       "CR2430", "BR2032", "BR1225", "ER14250",
                       "alkaline-2xAA", "alkaline-3xAA"}
    for spec in CELLS:
        assert not spec.primary or spec.trickle is None
        assert (spec.capacitance_F is None) == (spec.capacity_Ah > 0)
        assert spec.lithium == ("lithium" in spec.chemistry)


def test_a_supercapacitor_loses_volts_in_step_with_charge():
    assert cell.volts(CATALOGUE.cell("supercap-0.47F"), 0.25) == pytest.approx(0.75 * 5.5)


def spec_with(*draws):
    return LoadSpec("U1", tuple(DrawPoint(volts, amps, limit, GIVEN) for volts, amps, limit in draws))


def test_two_points_make_a_line():
    # PCF8583, NXP rev 06: 10 µA at 1 V and 50 µA at 5 V, maximum.
    drawn = load.draw(CATALOGUE.load("PCF8583"), "maximum")
    for volts, amps in ((1.0, 10e-6), (5.0, 50e-6)):
        assert drawn.amps + drawn.siemens * (volts - drawn.at_V) == pytest.approx(amps)


@pytest.mark.parametrize(("name", "limit", "amps"), [
    ("DS1307", "maximum", 500e-9),     # DS1307 data sheet, Maxim/Dallas: below 500 nA, oscillator running
    ("bq3285", "maximum", 0.5e-6),     # SLUS004A, Texas Instruments: below 0.5 µA in backup mode
    ("ISL12023", "typical", 1.0e-6),   # FN6682.3, Intersil, page 3: 1.0 µA typical, 1.6 µA maximum at 3 V
    ("ISL12023", "maximum", 1.6e-6),
])
def test_published_supply_currents(name, limit, amps):
    assert load.draw(CATALOGUE.load(name), limit).amps == pytest.approx(amps)


def test_the_published_figure_stands_in_for_the_one_that_is_not():
    only_maximum = spec_with((3.0, 5e-7, "maximum"))
    assert load.draw(only_maximum, "typical") == load.Drawn(5e-7, 3.0, 0.0, "maximum")
    only_typical = spec_with((3.0, 1e-6, "typical"))
    assert load.draw(only_typical, "maximum").limit == "typical"


def test_a_load_needs_a_figure_and_a_limit():
    with pytest.raises(ValueError, match="without a supply current"):
        load.draw(spec_with(), "typical")
    with pytest.raises(ValueError, match='not "worst"'):
        load.draw(spec_with((3.0, 1e-6, "typical")), "worst")
