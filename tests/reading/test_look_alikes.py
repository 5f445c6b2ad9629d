"""Names that look alike. Outside: UTS 39 (Unicode Security Mechanisms), confusables.txt, as the
confusable_homoglyphs package ships it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

import netcheck
from netcheck.reading.look_alikes import _ASCII, _prototypes, invisible, skeletons

BOARD = """\
title: a charger
rails: {{+5V: 5 V}}
parts:
  BT1: {{cell: CR2032, plus: {first}, minus: GND}}
  R1: {{resistor: 1k, between: [+5V, {second}]}}
"""

SPELLINGS = ["СELL", "CЕLL", "СЕLL", "CELᏞ", "CELⅬ", "ＣELL", "𝐂ELL", "CΕLL", "CE\u00adLL", "CE\u034fLL",
             "CE\u2061LL", "CELL\u2066", "CELL\ufe0f", "CE\u115fLL", "CE\u3164LL", "CELL\U000e0041", "CELL\u180e",
             "CELL\u17b4", "ϹELL"]


def test_no_second_spelling_of_a_net_makes_another_net() -> None:
    accepted: list[str] = []
    lines: dict[str, list[int]] = {}
    for spelling in SPELLINGS:
        for text in (spelling, '"' + "".join(f"\\U{ord(one):08X}" for one in spelling) + '"'):
            try:
                netcheck.loads(BOARD.format(first="CELL", second=text))
            except netcheck.FragmentError as error:
                lines[text] = [fault.line for fault in error.faults]
            else:
                accepted.append(text)
    assert not accepted
    assert {text for text, told in lines.items() if not {4, 5} & set(told)} == set()


def test_both_spellings_are_shown_with_their_code_points() -> None:
    with pytest.raises(netcheck.FragmentError) as caught:
        netcheck.loads(BOARD.format(first="CELL", second="СELL"))
    assert "С (U+0421 CYRILLIC CAPITAL LETTER ES) is not C (U+0043 LATIN CAPITAL LETTER C)" in str(caught.value)
    assert "CELL in line 4" in str(caught.value)


def test_digit_for_a_letter_is_asked_about() -> None:
    with pytest.raises(netcheck.FragmentError, match="VCC1 in line 4"):
        netcheck.loads(BOARD.format(first="VCC1", second="VCCl"))


def test_designators_and_nets_of_a_mod_are_compared_too() -> None:
    parts = BOARD.format(first="CELL", second="CELL") + "  RI: {resistor: 1k, between: [+5V, CELL]}\n"
    with pytest.raises(netcheck.FragmentError, match="a designator that cannot be taken for another: R1"):
        netcheck.loads(parts)
    mod = "mods: {m: {steps: [{fit: {R9: {resistor: 1k, between: [+5V, СELL]}}}]}}\n"
    with pytest.raises(netcheck.FragmentError, match="CELL in line 4"):
        netcheck.loads(BOARD.format(first="CELL", second="CELL") + mod)


def test_free_text_may_hold_what_people_write() -> None:
    fragment = netcheck.loads(BOARD.format(first="CELL", second="CELL").replace("a charger", "charger ⚠️ Größe"))
    assert fragment.title == "charger ⚠️ Größe"


def test_short_table_for_ascii_agrees_with_the_published_one() -> None:
    published = {one: other for one, other in _prototypes().items() if one.isascii() and one.isalnum()}
    assert published == {chr(one): other for one, other in _ASCII.items() if chr(one).isalnum() and one < 128}


@given(st.text(max_size=12))
def test_what_nobody_sees_changes_no_skeleton_and_is_noticed(name: str) -> None:
    assert skeletons(name + "é") == skeletons(name + "\u00ade\u0301")
    assert invisible(name + "\u200b") is not None


def test_a_braille_cell_without_a_dot_is_a_space_that_nobody_sees() -> None:
    assert invisible("CE\u2800LL") == "\u2800"
    assert invisible("CE\u2801LL") is None


def test_every_character_that_looks_like_one_of_ascii_shares_a_skeleton_with_it() -> None:
    """Compatibility normalisation hides some shapes: U+03F9 is a Σ to it, and a C to the eye."""
    like = {one: other for one, other in _prototypes().items() if len(other) == 1 and other.isascii()}
    assert len(like) > 1000
    assert [f"U+{ord(one):04X}" for one, other in like.items() if not skeletons(one) & skeletons(other)] == []
