"""What `netcheck parts` finds for the words of a person, and what it counts."""

import re

import pytest
from click.testing import CliRunner

from netcheck.cli import main
from netcheck.parts.catalogue import Catalogue
from netcheck.parts.census import census, resting_on
from netcheck.parts.library import SURE
from netcheck.reports.parts_page import explain, listing, sources_text

CATALOGUE = Catalogue.standard()


def parts(*words):
    return CliRunner().invoke(main, ["parts", *words]).output


@pytest.mark.parametrize(("words", "found", "missed"), [
    ("glass diode", ("1N4148", "BAT85", "BZX55C5V1"), ("BAT54", "1N4001", "CR2032")),
    ("lithium", ("CR2032", "ER14250", "ML2032"), ("NiCd-3x60",)),
    ("battery", ("CR2032", "NiCd-3x60", "alkaline-2xAA"), ("1N4148",)),
    ("batteries", ("CR2032",), ("1N4148",)),
    ("smd diode", ("BAT54", "LL4148"), ("  1N914 ", "  BAT41")),
    ("electrolytic capacitor", ("wet",), ("X7R",)),
    ("static memory", ("SRAM-62256", "SRAM-6116"), ("DS1302",)),
    ("rtc", ("DS1302", "MC146818A"), ("SRAM-62256",)),
    ("nicad", ("NiCd-3x60",), ("NiMH-3x80",)),
    ("mosfet", ("2N7000", "BSS84"), ("2N3904",)),
])
def test_a_person_s_words_find_what_is_meant(words, found, missed):
    text = listing(CATALOGUE, words)
    assert all(name in text for name in found)
    assert not any(name in text for name in missed)


def test_several_words_need_no_quotes():
    assert parts("glass", "diode") == listing(CATALOGUE, "glass diode")
    assert "is meant by it" in parts("xyzzy", "diode")


def test_figures_are_counted_by_how_sure_they_are():
    counts = census()
    assert counts["transistor"]["seen"] >= 30
    assert counts["connector"]["memory"] == 0
    text = sources_text()
    whole = sum(counted.total() for counted in counts.values())
    assert re.search(rf"^  all .* {whole}$", text, re.MULTILINE)
    assert parts("--sources") == text
    assert set().union(*counts.values()) <= set(SURE)


def test_no_figure_that_decides_a_common_board_rests_on_memory():
    # The silicon signal diodes, 1N4001, the small Schottky diodes, the coin cell, memories and clocks of the
    # common boards, and what a transistor passes when it is off.
    remembered = resting_on("memory")
    for kind, names in {
        "diode": ("1N4148", "1N914", "1N4448", "1N4001", "1N4007", "BAT54", "BAT85", "BAT42", "BAT43", "BAT46", "BAT41",
                  "1N5711", "1N6263", "BAS70", "BZX55C3V9", "BZX55C5V1", "1N4733A", "1N5817", "1N5818", "1N5819",
                  "BAV99", "SD101A", "BAS116", "BAV199"),
        "cell": ("CR2032", "CR2016", "CR2450", "CR2325", "BR1225"),
        "load": ("SRAM-62256", "SRAM-62256-SL", "SRAM-6264", "SRAM-6116", "SRAM-628128", "MC146818A", "DS1302",
                 "DS1307", "DS3231", "DS17285", "MSM6242B", "RTC-72421",
                 "RTC-8564", "PCF8523", "74HC-gate", "CD4000-gate"),
        "transistor": ("2N3904", "2N3906", "2N2222", "BC547", "BC557", "2N7000", "BSS138", "BSS84", "BS250"),
        "regulator": ("7805", "7812", "7905", "7912"),
        "chip": CATALOGUE.names("chip"),
    }.items():
        assert not set(names) & set(remembered[kind]), kind


def test_a_cell_shows_each_curve_with_its_source():
    text = explain(CATALOGUE, "CR2032")
    assert "Curve (volts at 3 µA)" in text
    assert "Under 200 µA at 0 °C [" in text
    assert "interpolated" in text
    assert "Temperature Characteristics, load 15" in " ".join(text.split())


def test_a_zener_shows_its_knee_and_a_diode_what_is_no_guarantee():
    assert "it passes 10 µA from" in " ".join(explain(CATALOGUE, "BZX55C3V9").split())
    assert "Below 20 V no maximum is guaranteed" in " ".join(explain(CATALOGUE, "1N4148").split())
    assert "Body: axial glass." in explain(CATALOGUE, "1N4148")
