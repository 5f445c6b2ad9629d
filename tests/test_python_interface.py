"""The Python interface: errors that name what is right, results that a notebook shows by themselves."""

from __future__ import annotations

from pathlib import Path

import pytest

import netcheck

BOARD = Path(__file__).resolve().parents[1] / "examples" / "rack-sampler.yaml"


def test_wrong_mod_names_the_right_ones() -> None:
    fragment = netcheck.load(BOARD)
    with pytest.raises(netcheck.UnknownMod, match=r'no mod "coincell". Did you mean "coin-cell"\? There are: as found'):
        netcheck.check(fragment, "coincell")
    with pytest.raises(ValueError, match='no state "flying"; there are: running'):
        netcheck.draw(fragment, state="flying")


def test_report_and_drawing_show_themselves_in_a_notebook() -> None:
    fragment = netcheck.load(BOARD)
    html = netcheck.check(fragment, "plain-swap")._repr_html_()
    assert "<b>DANGER</b>, plain-swap" in html
    assert "<script" not in netcheck.check(netcheck.loads(
        BOARD.read_text().replace("title: ", "title: <script>", 1)), "as found")._repr_html_()
    assert netcheck.draw(fragment, "plain-swap", "main on")._repr_svg_().startswith("<svg")


def test_every_name_of_the_interface_is_there() -> None:
    assert all(getattr(netcheck, name) is not None for name in netcheck.__all__)
    assert set(netcheck.__all__) == set(dir(netcheck))
