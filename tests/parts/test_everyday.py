"""Everyday words lead to the right entry, or to how the part is written."""

from __future__ import annotations

import pytest

from netcheck.parts.catalogue import Catalogue
from netcheck.parts.everyday import find
from netcheck.reading.mistakes import FragmentError
from netcheck.reading.reader import loads


@pytest.mark.parametrize(("words", "kind", "name"), [
    ("glass diode", "diode", "1N4148"), ("lithium", "cell", "CR2032"), ("battery", "cell", "CR2032"),
    ("barrel pack", "cell", "NiCd-3x60"), ("coin cell", "cell", "CR2032"), ("schottky diodes", "diode", "BAT85"),
    ("rechargeable", "cell", "NiMH-3x80"), ("mosfet", "transistor", "2N7000"), ("low leakage", "diode", "BAS116"),
])
def test_words_find_the_entry(words: str, kind: str, name: str) -> None:
    assert name in [spec.name for of, spec in find(Catalogue.standard(), words) if of == kind]


def test_words_that_fit_nothing_find_nothing() -> None:
    assert list(find(Catalogue.standard(), "glass pack")) == []


@pytest.mark.parametrize(("part", "said"), [
    ("{electrolytic: 10u, plus: A, minus: GND}", 'electrolytic is written "capacitor: 10u, type: wet"'),
    ("{barrel pack: 3x60, plus: A, minus: GND}", 'barrel pack is written "cell: NiCd-3x60"'),
    ("{glass diode: 1N4148, anode: A, cathode: GND}", 'glass diode is written "diode: 1N4148"'),
    ("{capacitor: 10u, type: electrolytic, plus: A, minus: GND}", "that is wet here"),
    ("{diode: glass, anode: A, cathode: GND}", "the library has 1N4148"),
    ("{cell: lithium, plus: A, minus: GND}", "the library has CR2032"),
    ("{cell: PQ77, plus: A, minus: GND}", "or its figures, such as {chemistry: lithium-primary"),
])
def test_a_kind_by_its_everyday_word_is_answered_with_the_right_one(part: str, said: str) -> None:
    with pytest.raises(FragmentError) as caught:
        loads(f"title: x\nparts:\n  X1: {part}\n")
    assert said in str(caught.value)
