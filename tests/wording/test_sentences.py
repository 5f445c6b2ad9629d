"""Every case that a check names has its sentence, and no sentence is left over."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from netcheck.findings import Finding, Severity
from netcheck.wording.sentence import Sentence
from netcheck.wording.sentences import _PAGES, SENTENCES, _joined

HOME = Path(__file__).resolve().parents[2] / "netcheck"
ROOMS = ("checks", "supply", "capacitors", "bench", "judging.py")


def test_each_case_has_one_sentence():
    assert sum(len(page.SENTENCES) for page in _PAGES) == len(SENTENCES)
    with pytest.raises(ValueError, match="two sentences"):
        _joined({("a", "b"): Sentence("x")}, {("a", "b"): Sentence("y")})


def test_a_case_without_a_sentence_is_no_silent_finding():
    with pytest.raises(KeyError):
        _ = Finding("charge-route", Severity.DANGER, "BT1", "no such case").message


def strings(place: Path) -> set[str]:
    files = [place] if place.suffix else place.rglob("*.py")
    return {node.value for file in files for node in ast.walk(ast.parse(file.read_text("utf-8")))
            if isinstance(node, ast.Constant) and isinstance(node.value, str)}


def test_each_sentence_belongs_to_a_check_and_a_case_that_the_code_names():
    written = set().union(*(strings(HOME / room) for room in ROOMS))
    made = {"too-low", "too-high", "improbable", "milli", "rail-improbable", "rail-milli",
            *(f"{case}-by-cell" for case in written), *(f"counted-{how}" for how in written),
            *(f"marking-{how}" for how in strings(HOME / "parts" / "markings.py"))}
    assert [key for key in SENTENCES if key[0] not in written or key[1] not in written | made] == []


def test_no_sentence_holds_a_figure_of_its_own():
    """Digits in a sentence are examples of what to write (after a colon or "for example"), or part of a name."""
    loose = []
    for key, said in SENTENCES.items():
        texts = [said.message, said.short, *said.each.values(), *(t for c in said.choices.values() for t in c.values())]
        loose += [(key, text) for text in texts if re.search(r"[0-9]", re.sub(r"\{[^}]*\}", "", text))]
    assert [key for key, _ in loose] == [("back-feed", "made-rail")]  # "pulls it near 0 V": no figure of the board
