"""Markings against the worked examples of makers' sheets and published charts."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.parts.markings import READERS, capacitor, inductor, misfit, resistor
from netcheck.quantities.values import quantity

# Two-digit index and letter: Wilderness Labs "Reading resistors" (66B), TRU Components thick film data sheet
# (02C, 85X), approval sheet ASC_WFxxR Sep 2017 p. 4 (25 with every letter), ResistorLabels (the rest).
INDEXED = [
    ("66B", 4.75e3), ("02C", 10.2e3), ("85X", 75), ("25X", 17.8), ("25A", 178), ("25B", 1.78e3),
    ("25C", 17.8e3), ("25D", 178e3), ("25E", 1.78e6), ("01X", 10), ("01A", 100), ("01B", 1e3), ("01C", 10e3),
    ("01D", 100e3), ("01E", 1e6), ("18B", 1.5e3), ("18D", 150e3), ("30A", 200), ("12X", 13), ("11B", 1.27e3),
]
# Three and four digits: RND Components chip resistor data sheet V1 2016 section 4.0; Yageo "Marking"
# V.2 2011; NIC Components NRCA marking.
DIGITS = [
    ("333", 33e3), ("2R2", 2.2), ("244", 240e3), ("103", 10e3), ("100", 10), ("101", 100), ("2701", 2.7e3),
    ("10R0", 10), ("3160", 316), ("1003", 100e3), ("1000", 100), ("1052", 10.5e3), ("R300", 0.3), ("0", 0),
    ("000", 0),
]
# Colour chart of IEC 60062, resistorcolorcodes chart: 4 and 5 bands; SCR: single black band is a link.
COLOURS = [
    ("brown-black-red-gold", 1e3, 5), ("yellow-violet-red-gold", 4.7e3, 5), ("red-red-orange-gold", 22e3, 5),
    ("brown black black gold brown", 10, 1), ("brown-black-red", 1e3, 20),
    ("purple gray red silver", 7.8e3, 10),
]


@pytest.mark.parametrize(("text", "ohm"), INDEXED + DIGITS)
def test_chip_resistor_code(text: str, ohm: float) -> None:
    assert resistor(text)[0].value.value == pytest.approx(ohm, rel=1e-9)


@pytest.mark.parametrize(("text", "ohm", "percent"), COLOURS)
def test_colour_bands(text: str, ohm: float, percent: float) -> None:
    (found,) = resistor(text)
    assert found.value.value == pytest.approx(ohm)
    assert found.value.high == pytest.approx(ohm * (1 + percent / 100))


def test_disputed_tolerance_colour_is_told() -> None:
    # IEC 60062:2016 charts against older ones: 0.05 % or 3 % for orange.
    (found,) = resistor("brown-black-red-orange")
    assert "disagree" in found.doubt
    assert found.value.low == found.value.high


def test_single_black_band_is_a_link() -> None:
    assert resistor("black")[0].value.value == 0


def test_decimal_r_is_preferred_to_the_index() -> None:
    first, second = resistor("47R")
    assert (first.value.value, second.value.value) == pytest.approx((47, 3.01))
    assert second.doubt


@pytest.mark.parametrize("text", ["01H", "97A", "00A", "gold-black-red", "hello", "", "red-red"])
def test_unknown_or_contradictory_code_has_no_reading(text: str) -> None:
    assert resistor(text) == ()


# Picofarad codes: EE Student Help "Capacitor markings"; Kyocera AVX TAJ (227); voltage letter: SMD code
# catalogue (A475).
@pytest.mark.parametrize(("text", "farad"), [
    ("103", 10e-9), ("104", 100e-9), ("474", 470e-9), ("227", 220e-6), ("104K", 100e-9), ("223J", 22e-9),
    ("471K", 470e-12), ("A475", 4.7e-6), ("229", 2.2e-12), ("228", 0.22e-12), ("4n7", 4.7e-9), ("1µ0", 1e-6),
    ("10p", 10e-12), ("4R7", 4.7e-12), ("104 50V", 100e-9), ("22pF/50V", 22e-12),
])
def test_capacitor_code(text: str, farad: float) -> None:
    assert capacitor(text)[0].value.value == pytest.approx(farad, rel=1e-9)


def test_digits_on_a_can_may_be_microfarads() -> None:
    # Common practice, no source: aluminium cans print plain microfarads.
    assert [m.value.value for m in capacitor("220")] == pytest.approx([22e-12, 220e-6])
    assert [m.value.value for m in capacitor("47")] == pytest.approx([47e-12, 47e-6])


def test_inductor_code_is_in_microhenry() -> None:
    assert inductor("101")[0].value.value == pytest.approx(100e-6)
    assert inductor("4R7")[0].value.value == pytest.approx(4.7e-6)
    assert inductor("4u7")[0].value.value == pytest.approx(4.7e-6)
    assert inductor("101K")[0].value.high == pytest.approx(110e-6)


@pytest.mark.parametrize(("kind", "value", "unit", "marked"), [
    ("resistor", "10k", "ohm", "103"), ("resistor", "10k", "ohm", "01C"), ("resistor", "4k7", "ohm", "4k7"),
    ("resistor", "3.01", "ohm", "47R"), ("resistor", "0", "ohm", "000"), ("capacitor", "220u", "F", "220"),
    ("resistor", "4.7k", "ohm", "yellow-violet-red-gold"), ("diode", "5 V", "V", "anything"),
])
def test_marking_that_fits(kind: str, value: str, unit: str, marked: str) -> None:
    assert misfit(kind, quantity(value, unit), marked) is None


def test_marking_that_contradicts_names_both() -> None:
    found = misfit("resistor", quantity("470", "ohm"), "470")
    assert found is not None
    assert found.contradicts
    assert [one.value.value for one in found.readings] == [47.0]


def test_marking_that_is_no_preferred_number_is_doubted() -> None:
    found = misfit("resistor", quantity("4.6k", "ohm"), "462")
    assert found is not None
    assert not found.contradicts
    assert found.case == "no-preferred-number"


def test_unreadable_marking_is_told() -> None:
    found = misfit("inductor", quantity("1u", "H"), "hello")
    assert found is not None
    assert (found.case, found.readings) == ("unreadable", ())


@given(st.text(max_size=12), st.sampled_from(list(READERS)))
def test_no_marking_breaks_a_reader(text: str, kind: str) -> None:
    for found in READERS[kind](text):
        assert found.value.low <= found.value.value <= found.value.high
