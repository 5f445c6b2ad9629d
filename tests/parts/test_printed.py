"""What is printed on parts: published examples, and the way back through the readers of markings."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.parts import markings
from netcheck.parts.printed import chip_codes, colour_bands, picofarad_code
from netcheck.parts.series import series

# IEC 60062 colour chart, worked examples.
BANDS = [
    (1e3, 2, 5, "brown black red gold"),
    (4.7e3, 2, 5, "yellow violet red gold"),
    (22e3, 2, 5, "red red orange gold"),
    (10.0, 3, 1, "brown black black gold brown"),
]

# Chip resistors, marking: RND Components data sheet V1 2016-03-02, section 4.0; Yageo "Marking" V.2 Jun 2011;
# NIC Components NRCA marking sheet; two-digit index: TRU Components data sheet V1_0717, approval sheet ASC_WFxxR.
CHIPS = [
    (33e3, "333"), (2.2, "2R2"), (240e3, "244"), (10e3, "103"), (10.0, "100"), (100.0, "101"),
    (2.7e3, "2701"), (10.0, "10R0"), (316.0, "3160"), (100e3, "1003"), (10.5e3, "1052"), (0.3, "R300"), (0.0, "0"),
    (4.75e3, "66B"), (10.2e3, "02C"), (75.0, "85X"), (17.8, "25X"), (178.0, "25A"), (1.78e6, "25E"), (1.0, "01Y"),
]

# Capacitor markings (EES student help); TAJ series data sheet, Kyocera AVX, for 227.
CAPACITORS = [(10e-9, "103"), (100e-9, "104"), (470e-9, "474"), (220e-6, "227")]


@pytest.mark.parametrize(("ohm", "figures", "percent", "bands"), BANDS)
def test_bands_as_published(ohm: float, figures: int, percent: float, bands: str) -> None:
    assert colour_bands(ohm, figures, percent) == tuple(bands.split())


@pytest.mark.parametrize(("ohm", "code"), CHIPS)
def test_chip_codes_as_published(ohm: float, code: str) -> None:
    assert code in chip_codes(ohm)


@pytest.mark.parametrize(("farad", "code"), CAPACITORS)
def test_capacitor_codes_as_published(farad: float, code: str) -> None:
    assert picofarad_code(farad) == code


@given(st.sampled_from(series(24)), st.integers(-3, 9), st.sampled_from([5, 10]))
def test_four_bands_read_back(digits: int, power: int, percent: float) -> None:
    ohm = float(f"{digits}e{power}")
    bands = colour_bands(ohm, 2, percent)
    assert bands is not None
    reading = markings.resistor(" ".join(bands))[0].value
    assert reading.value == pytest.approx(ohm, rel=1e-9)
    assert reading.high == pytest.approx(ohm * (1 + percent / 100), rel=1e-9)


@given(st.sampled_from(series(192)), st.integers(-3, 9), st.sampled_from([0.1, 0.25, 0.5, 1, 2]))
def test_five_bands_read_back(digits: int, power: int, percent: float) -> None:
    ohm = float(f"{digits}e{power}")
    bands = colour_bands(ohm, 3, percent)
    assert bands is not None
    assert markings.resistor(" ".join(bands))[0].value.value == pytest.approx(ohm, rel=1e-9)


@given(st.sampled_from((*series(96), *(10 * value for value in series(24)))), st.integers(-2, 4))
def test_chip_codes_read_back(digits: int, power: int) -> None:
    ohm = float(f"{digits}e{power}")
    codes = chip_codes(ohm)
    assert codes
    for code in codes:
        assert any(reading.value.value == pytest.approx(ohm, rel=1e-9) for reading in markings.resistor(code)), code


@given(st.sampled_from(series(24)), st.integers(-12, -5))
def test_capacitor_codes_read_back(digits: int, power: int) -> None:
    farad = float(f"{digits}e{power}")
    code = picofarad_code(farad)
    assert code is not None
    assert markings.capacitor(code)[0].value.value == pytest.approx(farad, rel=1e-9)


def test_a_value_of_more_figures_has_no_code() -> None:
    assert colour_bands(4750, 2, 5) is None
    assert colour_bands(1e15, 2, 5) is None
    assert picofarad_code(1.234e-9) is None
    assert chip_codes(12345.0) == ()
