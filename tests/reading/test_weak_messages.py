"""Slips of a first file, told so that a person sees at once what to type."""

import pytest

import netcheck
from netcheck.reading.mistakes import FragmentError


def told(parts: str) -> list[str]:
    with pytest.raises(FragmentError) as caught:
        netcheck.loads(f"title: t\nrails: {{+5V: 5 V}}\nparts:\n{parts}")
    return [str(fault).splitlines()[0] for fault in caught.value.faults]


def test_a_missing_comma_is_called_one_and_the_word_before_which_it_goes_is_named():
    (said,) = told("  R1: {resistor: 1k between: [+5V, GND]}\n")
    assert said.endswith("a comma is missing, it seems, before between")


def test_one_slip_of_several_parts_on_a_line_is_told_once():
    said = told("  C4, C5, C6: {capacitor: 100u, type: electrolitic, plus: +5V, minus: GND}\n")
    assert len(said) == 1


def test_the_same_slip_on_two_lines_is_told_twice():
    slip = "{capacitor: 100u, type: electrolitic, plus: +5V, minus: GND}"
    assert len(told(f"  C4: {slip}\n  C5: {slip}\n")) == 2


def test_the_place_of_a_missing_comma_is_where_it_goes():
    parts = "  R1: {resistor: 1k between: [+5V, GND]}\n"
    with pytest.raises(FragmentError) as caught:
        netcheck.loads(f"title: t\nrails: {{+5V: 5 V}}\nparts:\n{parts}")
    assert caught.value.faults[0].column == parts.index(" between") + 1


@pytest.mark.parametrize("jumper", ["2-pin", "2 pins", "header", "2"])
@pytest.mark.parametrize("word", ["between", "pins"])
def test_a_jumper_with_its_nets_under_another_word_is_told_how_to_write_it_once(jumper, word):
    (said,) = told(f"  R1: {{resistor: 1k, between: [A, GND]}}\n  JP1: {{jumper: {jumper}, {word}: [+5V, A]}}\n")
    assert said.endswith("write jumper: [+5V, A]")


def test_one_slip_in_a_pin_is_told_once():
    (said,) = told("  D1: {diode: 1N4148, anode: A, cathod: B}\n")
    assert 'did you mean "cathode"' in said


@pytest.mark.parametrize(("part", "text"), [
    ("U1: {load: 2 uA, plus: A, minus: GND, note: lifted, see photo}", "note"),
    ("BT1: {cell: CR2032, plus: A, minus: GND, note: measured, voltage}", "note"),
    ("R1: {resistor: 1k, between: [A, B], at: corner, solder side}", "at"),
])
def test_a_comma_in_a_text_asks_for_quotes(part, text):
    (said,) = told(f"  {part}\n")
    assert f"expected the {text} in quotes" in said
