"""One slip in the YAML hides no other mistake of the file."""

from __future__ import annotations

import pytest

from netcheck.reading.mistakes import FragmentError
from netcheck.reading.reader import loads

HEAD = "title: x\nrails: {+5V: 5 V}\nparts:\n  BT1: {cell: CR2032, plus: CELL, minus: GND}\n"
OTHER = "  U1: {load: 2 uA, plus: CELL, minus: GND, work: 2 V}\n"  # line 6: works


def mistakes(text: str) -> list[tuple[int, str, str]]:
    with pytest.raises(FragmentError) as caught:
        loads(text)
    return [(fault.line, fault.text, fault.expected) for fault in caught.value.faults]


@pytest.mark.parametrize(("slip", "expected"), [
    ("\tR1: {resistor: 1k, between: [+5V, CELL]}\n", "indentation by spaces"),
    ("  R1 {resistor: 1k, between: [+5V, CELL]}\n", 'a colon after R1, as in "R1: {…}"'),
    ("  R1: {resistor: 1k, between: [+5V, CELL]\n", "the closing }"),
    ("  R1: {resistor: 1k, between: [+5V, CELL}\n", "the closing ]"),
    ("  R1: {resistor: 1k, between: [+5V, CELL]}}\n", "valid YAML"),
    ("  R1: {resistor: @1k, between: [+5V, CELL]}\n", "valid YAML"),
])
def test_a_slip_is_told_where_it_is_and_the_mistake_after_it_too(slip: str, expected: str) -> None:
    found = mistakes(HEAD + slip + OTHER)
    assert (found[0][0], found[0][2]) == (5, expected)
    assert found[-1][:2] == (6, "work")
    assert len(found) == 2


def test_what_could_not_be_read_is_not_missed_elsewhere() -> None:
    mods = "mods:\n  out: {steps: [{remove: [R1]}]}\n"
    assert len(mistakes(HEAD + "  R1 {resistor: 1k, between: [+5V, CELL]}\n" + mods)) == 1


def test_a_section_without_its_colon_is_told_and_nothing_is_guessed() -> None:
    assert mistakes("title My board\nrails: {+5V: 5 V}\n") == [
        (1, "title", 'a colon after title, as in "title: …"')]


def test_several_slips_are_all_told() -> None:
    text = HEAD + "  R1 {resistor: 1k, between: [+5V, CELL]}\n\tR2: {resistor: 1k, between: [+5V, CELL]}\n" + OTHER
    assert [line for line, *_ in mistakes(text)] == [5, 6, 7]


def test_a_file_with_a_slip_is_never_accepted() -> None:
    with pytest.raises(FragmentError):
        loads(HEAD + "\tR1: {resistor: 1k, between: [+5V, CELL]}\n")


def test_many_slips_end() -> None:
    assert len(mistakes(HEAD + "".join(f"  R{n} {{resistor: 1k, between: [A, B]}}\n" for n in range(1, 60)))) <= 30
