"""Chips of the library: their ways between the pins that were traced, and mistakes in an entry."""

import pytest
from every import every

from netcheck.fragment.model import Kind
from netcheck.parts.catalogue import Catalogue
from netcheck.parts.chip import missing_pins, settled, traced_pin
from netcheck.parts.library import LibraryError
from netcheck.reading.reader import loads

CATALOGUE = Catalogue.standard()


def chip_of(name, pins):
    fragment = loads(f"""title: a chip
ground: GND
rails: {{+5V: 5 V ±5%}}
parts:
  U1: {{chip: {name}, pins: {pins}}}
  R1: {{resistor: 1k, between: [CELL, GND]}}
  R2: {{resistor: 1k, between: [VRAM, GND]}}
""")
    (part,) = fragment.of_kind(Kind.CHIP)
    return part


@every(name=CATALOGUE.names("chip"))
def test_an_entry_names_the_pin_of_the_cell_and_where_its_ways_lead(name):
    spec = CATALOGUE.chip(name)
    assert spec.cell in dict(spec.pins)
    assert all({way.start, way.end} <= set(dict(spec.pins)) for way in spec.ways)
    assert all(figure.sure in ("seen", "derived") for figure in spec.figures)
    assert settled(spec, dict(spec.pins))
    assert not settled(spec, [pin for pin in dict(spec.pins) if pin != spec.cell])


def test_pins_are_traced_by_name_or_number():
    spec = CATALOGUE.chip("DS1302")
    assert traced_pin(spec, "VCC1", ["1", "8"]) == "8"
    assert traced_pin(spec, "VCC1", ["vcc2", "vcc1"]) == "vcc1"
    assert missing_pins(spec, ["8", "4"]) == ("VCC2 (pin 1)",)


def test_the_ways_of_a_library_chip_lie_between_the_pins_as_traced():
    # DS1302 data sheet, Maxim, REV: 110805: one diode and 2 kohm from VCC2 to VCC1, off at power-up.
    (path,) = chip_of("DS1302", "{1: +5V, 4: GND, 8: CELL}").paths
    assert (path.start, path.end, path.by, path.ohm, path.diodes, path.software) == ("1", "8", "charger", 2000, 1, True)
    # MAX691A data sheet, Maxim: VBATT to VOUT while VCC is low, VCC to VOUT else.
    up, down = chip_of("MAX693A", "{VBATT: CELL, VOUT: VRAM, VCC: +5V}").paths
    assert (up.start, up.end, down.start, down.end) == ("VCC", "VOUT", "VBATT", "VOUT")
    assert up.when_volts["+5V"].low == down.when_volts["+5V"].high == 4.5
    assert chip_of("DS1307", "{8: +5V, 3: CELL}").paths == ()


def test_what_the_file_states_stands_before_the_library():
    part = chip_of("DS1302", "{1: +5V, 8: CELL}, paths: [{from: 1, to: 8, by: diode}]")
    assert [(path.by, path.published) for path in part.paths] == [("diode", False)]


ENTRY = """sources:
  S: {title: a sheet}
chips:
  X1:
    pins: {VCC: "8", VBAT: "3"}
    cell: VBAT
    paths:
      - {from: VCC, to: VBAT, by: charger, ohms: 2 kohm, when: {VCC: above 4 V}, source: S, sure: seen}
"""


@pytest.mark.parametrize(("wrong", "right", "line", "said"), [
    ("from: VCC", "from: VCCX", 8, 'did you mean "VCC"'),
    ("by: charger", "by: chargr", 8, 'did you mean "charger"'),
    ("ohms: 2 kohm", "ohms: 2 V", 8, "resistance"),
    ("{VCC: above 4 V}", "{VDD: above 4 V}", 8, "one of VCC, VBAT"),
    ("{VCC: above 4 V}", "{VCC: on}", 8, "volt"),
    ("{VCC: above 4 V}", "later", 8, "software, or the volts"),
    ("source: S", "source: T", 8, "a key of this file"),
    ("cell: VBAT", "cell: VBTA", 6, 'did you mean "VBAT"'),
    ("pins: {VCC: \"8\", VBAT: \"3\"}", "pins: []", 5, "pins, such as"),
    ("    cell", "    cel", 6, 'did you mean "cell"'),
    ("    cell", "    isolated: [yes, S, seen]\n    cell", 4, "paths, or what says that there are none"),
])
def test_a_faulty_chip_is_told_with_its_line(tmp_path, wrong, right, line, said):
    path = tmp_path / "chips.yaml"
    path.write_text(ENTRY, encoding="utf-8")
    assert Catalogue.standard([tmp_path]).chip("X1").ways[0].ohm == 2000
    other = tmp_path / "other"
    other.mkdir()
    assert wrong in ENTRY
    (other / "chips.yaml").write_text(ENTRY.replace(wrong, right, 1), encoding="utf-8")
    with pytest.raises(LibraryError, match=said) as caught:
        Catalogue.standard([other]).chip("X1")
    assert caught.value.line == line
