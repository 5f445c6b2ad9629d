"""The comparison of diodes as a person reads it: alike on one line, no best inside a danger, one dot a type."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from netcheck.api import assumed, load, loads, variants
from netcheck.diodes.comparison import Question, compare, question
from netcheck.diodes.results import Comparison
from netcheck.parts.catalogue import Catalogue
from netcheck.reports.choice_plot import choice_plot
from netcheck.reports.diodes_text import alike, comparison_text

RACK = Path(__file__).parents[2] / "examples" / "rack-sampler.yaml"
TYPES = ("1N4148", "1N4448", "1N914", "BAT54", "BAT85", "1N5819", "1N34A", "BAS116")


def compared(fragment) -> tuple[Question, Comparison]:
    asked = question(fragment)
    return asked, compare(asked, [Catalogue.standard().diode(name) for name in TYPES], assumed(fragment))


@pytest.fixture(scope="module")
def found() -> tuple[Question, Comparison]:
    return compared(variants(load(RACK), "coin-cell")[-1])


def test_the_first_line_says_for_which_variant_and_which_diode(found: tuple[Question, Comparison]) -> None:
    assert comparison_text(found[1], "coin-cell").splitlines()[0].startswith('OK, mod "coin-cell", diodes for U1')


@pytest.mark.parametrize("width", [60, 80, 120])
def test_it_fits_its_width(found: tuple[Question, Comparison], width: int) -> None:
    assert max(map(len, comparison_text(found[1], "coin-cell", width).splitlines())) <= width


def test_types_that_do_alike_share_a_line(found: tuple[Question, Comparison]) -> None:
    rows = alike(found[1].options)
    named = [name for _, types in rows for name in types]
    assert len(named) == len(set(named))  # one line, and one dot, a type
    assert any({"1N4148", "1N4448"} <= set(types) for _, types in rows)


def test_a_type_that_is_no_longer_made_and_one_of_another_body_come_after_those_that_suit(
    found: tuple[Question, Comparison],
) -> None:
    for verdict in ("ok", "caution"):
        suits = [option.suits for option in found[1].options if option.verdict == verdict]
        assert suits == sorted(suits, reverse=True)
    assert any("no longer made" in option.why for option in found[1].options if "1N34A" in option.at.values())
    assert any("comes as SOT-23" in option.why for option in found[1].options if "BAT54" in option.at.values())


def test_nothing_is_best_where_the_cell_is_charged_whichever_is_fitted() -> None:
    _, danger = compared(variants(load(RACK), "plain-swap")[-1])
    text = comparison_text(danger, "plain-swap")
    assert text.startswith('DANGER, mod "plain-swap"')
    assert "none of these types will do" in " ".join(text.split())
    assert "est here is" not in danger.summary
    assert "None of them will do here" in danger.summary


def test_the_plot_has_one_dot_a_type_and_names_its_zones(found: tuple[Question, Comparison]) -> None:
    asked, comparison = found
    rows = alike(comparison.options)
    svg = choice_plot(asked, rows)
    dots = re.findall(r'class="(?:ok|caution|danger|unknown|fails)"', svg)
    assert len(dots) == len(rows)
    for _, types in rows:
        assert f">{', '.join(types)}" in svg
    assert "over 3 %: too much leaks in" in svg
    assert "under 2 V: too little left" in svg


def test_a_board_for_the_surface_prefers_its_own_bodies() -> None:
    text = RACK.read_text(encoding="utf-8").replace("diode: 1N4148", "diode: 1N4148W")
    _, comparison = compared(variants(loads(text.replace("{diode: BAS70}", "{diode: BAT54}")), "coin-cell")[-1])
    assert any("has diodes without leads" in option.why for option in comparison.options
               if "BAT85" in option.at.values())


def test_where_the_cell_is_charged_there_is_nothing_to_plot() -> None:
    asked, danger = compared(variants(load(RACK), "plain-swap")[-1])
    assert choice_plot(asked, alike(danger.options)) == ""
