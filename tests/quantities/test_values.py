"""Values as people write them. Sources: IEC 60062 as quoted in the tables named beside each case."""

from __future__ import annotations

import contextlib
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.quantities.units import UNITS
from netcheck.quantities.values import (
    ValueFault,
    engineering,
    improbable,
    letter_tolerance,
    number,
    quantity,
    span,
)

# "RKM code", Wikipedia (IEC/EN 60062), examples of resistor and capacitor codes; 3V6 by the same rule.
RKM = [
    ("R47", "ohm", 0.47), ("4R7", "ohm", 4.7), ("470R", "ohm", 470), ("4K7", "ohm", 4.7e3),
    ("47K", "ohm", 47e3), ("47K3", "ohm", 47.3e3), ("470K", "ohm", 470e3), ("4M7", "ohm", 4.7e6),
    ("R10", "ohm", 0.1), ("R300", "ohm", 0.3), ("1K0", "ohm", 1e3), ("2M2", "ohm", 2.2e6),
    ("10p", "F", 10e-12), ("4n7", "F", 4.7e-9), ("1µ0", "F", 1e-6), ("2n2", "F", 2.2e-9),
    ("47p", "F", 47e-12), ("2u2", "F", 2.2e-6), ("3V6", "V", 3.6), ("5V1", "V", 5.1),
]

# Spellings of the fragment format itself.
SPELLINGS = [
    ("470", "ohm", 470), ("4.7k", "ohm", 4.7e3), ("4.7 kΩ", "ohm", 4.7e3), ("4.7 kohm", "ohm", 4.7e3),
    ("1Meg", "ohm", 1e6), ("10M", "ohm", 10e6), ("75E", "ohm", 75), ("0", "ohm", 0), ("0R0", "ohm", 0),
    ("100n", "F", 100e-9), ("0.1 µF", "F", 0.1e-6), ("0.1 μF", "F", 0.1e-6), ("100nF", "F", 100e-9),
    ("1e3", "ohm", 1e3), ("4.7e-6", "F", 4.7e-6), ("2 uA", "A", 2e-6), ("+5V", "V", 5), ("-12 V", "V", -12),
    ("\u221212 V", "V", -12), ("2.71", "V", 2.71), ("10", "year", 10), ("18 months", "year", 1.5),
    ("2 h/day", "h/day", 2), ("7 h/week", "h/day", 1), ("220 mAh", "Ah", 0.22), ("20 K/W", "K/W", 20),
    ("2000 h", "h", 2000), ("5 %", "%", 0.05), ("105 °C", "°C", 105), ("250 mW", "W", 0.25),
    ("1\u00a0kΩ", "ohm", 1000), ("10 \u2126", "ohm", 10),
]


@pytest.mark.parametrize(("text", "unit", "value"), RKM + SPELLINGS)
def test_value_is_read(text: str, unit: str, value: float) -> None:
    assert quantity(text, unit).value == pytest.approx(value, rel=1e-12)
    assert number(text, unit) == quantity(text, unit).value


# Tolerance letters: "Electronics capacitor tolerance code", Dummies, and IEC 60062.
@pytest.mark.parametrize(("text", "unit", "low", "high"), [
    ("4k7J", "ohm", 4465, 4935), ("2R2K", "ohm", 1.98, 2.42), ("470RG", "ohm", 460.6, 479.4),
    ("100nM", "F", 80e-9, 120e-9), ("47uZ", "F", 37.6e-6, 84.6e-6), ("5p6C", "F", 5.35e-12, 5.85e-12),
    ("22KK", "ohm", 19800, 24200),
    ("470 ±5%", "ohm", 446.5, 493.5), ("470 +/-5%", "ohm", 446.5, 493.5), ("470 5%", "ohm", 446.5, 493.5),
    ("5 V ± 0.05 V", "V", 4.95, 5.05), ("-12 V ±5%", "V", -12.6, -11.4),
    ("47u +80/-20%", "F", 37.6e-6, 84.6e-6),
    ("470", "ohm", 470, 470),
])
def test_tolerance_makes_a_band(text: str, unit: str, low: float, high: float) -> None:
    found = quantity(text, unit)
    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-12)


def test_letters_below_ten_picofarads_are_picofarads() -> None:
    # "Electronics capacitor tolerance code", Dummies: B 0.1 pF, C 0.25 pF, D 0.5 pF.
    assert [letter_tolerance(letter, 5e-12, "F")[0] for letter in "BCD"] == [0.1e-12, 0.25e-12, 0.5e-12]


@pytest.mark.parametrize(("text", "unit", "hint"), [
    ("4,7k", "ohm", 'the decimal sign is a point: "4.7k"'),
    ("5 mA", "V", '"mA" makes it a current'),
    ("100nf", "F", '"nf" is written "nF"'),
    ("5", "%", "the unit is missing"),
    ("unknown", "ohm", "starts with a number"),
    ("", "V", "starts with a number"),
    ("1e999", "V", "larger than any number"),
    ("4k7J ±5%", "ohm", "both give a tolerance"),
    ("470 ±200%", "ohm", "more than 100 %"),
    ("66B", "ohm", "no unit"),
    ("9" * 200, "ohm", "at most"),
    ("4.7k5%", "ohm", ""), ("1_000", "ohm", ""), ("4k7k", "ohm", ""), ("k7", "V", ""), ("12:30", "h", ""),
    ("5 V ±x%", "V", "no percentage"), ("5 V ±-1 V", "V", "not negative"), ("5 V ±-1%", "V", "not negative"),
])
def test_doubtful_text_is_refused(text: str, unit: str, hint: str) -> None:
    with pytest.raises(ValueFault) as caught:
        quantity(text, unit)
    assert caught.value.expected
    assert hint in caught.value.hint


def test_number_has_no_tolerance() -> None:
    with pytest.raises(ValueFault, match="tolerance has no meaning"):
        number("5 V ±5%", "V")


@pytest.mark.parametrize(("text", "unit", "low", "high"), [
    ("2.0 V to 5.5 V", "V", 2, 5.5), ("10 to 50 °C", "°C", 10, 50), ("-40 to 85 °C", "°C", -40, 85),
    ("below 10 mA", "A", -math.inf, 10e-3), ("above 2 V", "V", 2, math.inf), ("0.2..0.5 V", "V", 0.2, 0.5),
    ("10 to 20 mA", "A", 10e-3, 20e-3), ("2.0 to 5.5", "V", 2, 5.5), ("5 V ±5%", "V", 4.75, 5.25),
    ("-11 V to -12 V", "V", -12, -11), ("between 2 V and 3 V", "V", 2, 3), ("2 – 3 V", "V", 2, 3),
    ("2 V - 3 V", "V", 2, 3), ("5", "V", 5, 5), ("≤ 3 V", "V", -math.inf, 3),
    ("up to 3 V", "V", -math.inf, 3),
])
def test_range_is_read(text: str, unit: str, low: float, high: float) -> None:
    found = span(text, unit)
    assert (found.low, found.high) == pytest.approx((low, high))
    assert found.text == text


def test_range_runs_upward() -> None:
    with pytest.raises(ValueFault, match="give both ends their unit"):
        span("470 to 1k", "ohm")


@pytest.mark.parametrize(("value", "unit", "text"), [
    (4700, "ohm", "4.7 kΩ"), (2.8e-3, "A", "2.8 mA"), (31e-9, "A", "31 nA"), (-12, "V", "-12 V"),
    (0.31, "V", "0.31 V"), (0.1, "V", "0.1 V"), (0.0196, "V", "19.6 mV"), (0, "A", "0 A"),
    (999.96, "ohm", "1 kΩ"), (4.7e-3, "F", "4700 µF"), (0.22, "F", "220 mF"), (1, "year", "1 year"),
    (10, "year", "10 years"), (25.04, "°C", "25 °C"), (1234567, "h", "1230000 h"), (0.05, "%", "5 %"),
    (math.nan, "V", "unknown"), (math.inf, "V", "∞ V"), (-1e-9, "A", "-1 nA"), (12, "", "12"),
    (-1e-13, "V", "-0.1 pV"),
])
def test_value_is_written(value: float, unit: str, text: str) -> None:
    assert engineering(value, unit) == text


@given(st.floats(min_value=1e-20, max_value=1e15), st.sampled_from(("V", "A", "ohm", "F", "H", "Ah", "s")))
def test_what_is_written_can_be_read(value: float, unit: str) -> None:
    assert number(engineering(value, unit, 6), unit) == pytest.approx(value, rel=2e-5)


@given(st.text(max_size=40), st.sampled_from(list(UNITS)))
def test_no_text_breaks_the_grammar(text: str, unit: str) -> None:
    for read in (quantity, number, span):
        with contextlib.suppress(ValueFault):
            read(text, unit)


@given(st.from_regex(r"[0-9.]{1,6} ?[pnumkM]?[VAFR]?( ?(±|\+/-)? ?[0-9.]{1,4} ?%)?", fullmatch=True))
def test_a_band_holds_its_value(text: str) -> None:
    for unit in ("V", "ohm", "F"):
        try:
            found = quantity(text, unit)
        except ValueFault:
            continue
        assert found.low <= found.value <= found.high


@pytest.mark.parametrize(("text", "unit", "kind", "why"), [
    ("470m", "ohm", "resistor", "milli"), ("100", "F", "capacitor", "improbable"),
    ("100M", "F", "capacitor", "improbable"),
    ("220m", "F", "capacitor", "milli"), ("12k", "V", "rail", "improbable"), ("2", "H", "load", None),
])
def test_improbable_value_says_whether_milli_was_written(text: str, unit: str, kind: str, why: str | None) -> None:
    assert improbable(quantity(text, unit), kind) == why


@pytest.mark.parametrize(("text", "unit", "kind"), [
    ("0", "ohm", "resistor"), ("R47", "ohm", "resistor"), ("10M", "ohm", "resistor"),
    ("0.22 F", "F", "capacitor"),
    ("1 F", "F", "capacitor"), ("1000u", "F", "capacitor"), ("5 V", "V", "rail"),
    ("1Meg", "ohm", "resistor"),
])
def test_probable_value_is_silent(text: str, unit: str, kind: str) -> None:
    assert improbable(quantity(text, unit), kind) is None
