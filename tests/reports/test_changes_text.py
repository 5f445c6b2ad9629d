"""Variants against each other as text."""

from __future__ import annotations

import pytest
from write_ups import EXAMPLES

from netcheck.api import check, compare, load, variants
from netcheck.checks.changes import part_changes
from netcheck.fragment.mods import apply
from netcheck.reports.changes_text import beside, changes_text, part_change_words
from netcheck.reports.screen import WIDTH


@pytest.fixture(scope="module")
def side_by_side() -> str:
    fragment = load(EXAMPLES / "rack-sampler.yaml")
    return beside(check(fragment, every=True), variants(fragment, every=True))


@pytest.fixture(scope="module")
def changed() -> str:
    fragment = load(EXAMPLES / "rack-sampler.yaml")
    return changes_text(compare(fragment, apply(fragment, "plain-swap")))


def test_it_fits_the_screen(side_by_side: str, changed: str) -> None:
    for text in (side_by_side, changed):
        assert max(map(len, text.splitlines())) <= WIDTH


def test_side_by_side_tells_parts_verdicts_and_volts(side_by_side: str) -> None:
    lines = side_by_side.splitlines()
    assert '(2) mod "plain-swap": DANGER' in lines
    assert "- R1 removed: 1 kΩ ±5 % resistor" in lines
    row = next(line for line in lines if line.startswith("U1 volts, stored"))
    assert len(row.split("  ")[0]) < len(row)
    assert row.count(" V") == 3
    new = next(line for line in lines if line.startswith("HOLD volts, stored"))
    assert new.split()[3:5] == ["-", "-"]


def test_changes_tell_verdict_parts_findings_and_figures(changed: str) -> None:
    assert "becomes danger" in changed
    assert "- BT1 replaced: CR2032 cell in place of NiCd-3x60 cell" in changed
    assert "Newly found" in changed
    assert "charge-route: BT1 is a primary cell" in changed.replace("\n  ", " ")
    assert "figures as before." in changed
    before_after = [line.split()[-4:] for line in changed.splitlines() if line.startswith("CELL volts, stored")]
    assert before_after == [["4.05", "V", "3.25", "V"]]


def test_nothing_changed_is_said_so() -> None:
    fragment = load(EXAMPLES / "rack-sampler.yaml")
    text = changes_text(compare(fragment, fragment))
    assert "as before" in text
    assert "- none changed" in text
    assert "Every figure is as before." in text


def test_each_kind_of_change_in_words() -> None:
    fragment = load(EXAMPLES / "rack-sampler.yaml")
    after = apply(fragment, "coin-cell")
    words = {change.name: part_change_words(change) for change in part_changes(fragment, after)}
    assert words["BT1"] == "BT1 replaced: CR2032 cell in place of NiCd-3x60 cell; plus from CELL to HOLD"
    assert words["R9"] == "R9 fitted: 470 Ω ±5 % resistor, on CELL and HOLD"
    back = {change.name: part_change_words(change) for change in part_changes(after, fragment)}
    assert back["R9"] == "R9 removed: 470 Ω ±5 % resistor"
