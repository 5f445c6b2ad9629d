"""How a sentence is filled with figures and names."""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest

from netcheck.wording.sentence import filled


@dataclass
class Facts:
    subject: str = "BT1"
    state: str | None = "stored"
    parts: tuple[str, ...] = ("R1", "D3")
    nets: tuple[str, ...] = ()
    figures: dict[str, float] = field(default_factory=dict)
    words: dict[str, str | tuple[str, ...]] = field(default_factory=dict)


@pytest.mark.parametrize(("text", "said"), [
    ("{parts} join{parts:s} {subject}", "R1 and D3 join BT1"),
    ("{parts:or}", "R1 or D3"),
    ("{state:capital}", "Stored"),
    ("a[ through {nets}] b", "a b"),
    ("a[ through {parts}] b", "a through R1 and D3 b"),
    ("a[ in {state}[ through {nets}]] b", "a in stored b"),
    ("paths: [{from: 2, to: 1}] of {subject}", "paths: [{from: 2, to: 1}] of BT1"),
    ("paths: ⟦{from: {subject}}⟧[ and {nets}]", "paths: [{from: BT1}]"),
    ("{volts_V}, {current_A:2}", "19.6 mV, 1.2 µA"),
    ("{least_ohm..most_ohm}", "0.5 to 1.2 kΩ"),
    ("{spare_V:margin}", "20 mV short"),
])
def test_a_hole_is_filled_by_its_name(text, said):
    figures = {"volts_V": 0.0196, "current_A": 1.234e-6, "least_ohm": 500, "most_ohm": 1200, "spare_V": -0.0196}
    assert filled(text, Facts(figures=figures)) == said


def test_a_word_chooses_its_phrase_and_phrases_have_holes_too():
    choices = {"way": {"": " through {parts}", "direct": " at once"}}
    assert filled("goes{way}", Facts(), choices) == "goes through R1 and D3"
    assert filled("goes{way}", Facts(words={"way": "direct"}), choices) == "goes at once"


def test_a_list_of_phrases_is_left_out_where_it_is_empty():
    each = {"pairs": "is {@} {@_other}?"}
    text = "nothing is on A[; {pairs:semi}]"
    assert filled(text, Facts(), each=each) == "nothing is on A"
    words = {"pairs": ("A", "C"), "pairs_0_other": "B", "pairs_1_other": "D"}
    assert filled(text, Facts(words=words), each=each) == "nothing is on A; is A B?; is C D?"


def test_a_hole_that_nothing_fills_is_no_silent_gap():
    with pytest.raises(KeyError, match="limit_A"):
        filled("up to {limit_A}", Facts())
    with pytest.raises(KeyError):
        filled("{way}", Facts(words={"way": "sideways"}), {"way": {"": "", "direct": " at once"}})
