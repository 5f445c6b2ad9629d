"""The SVG text and its bitmap."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET

import drawing_boards as boards
import pytest

from netcheck.reports.drawing import Bar, Column, Fate, Picture, draw, picture_of, place, png
from netcheck.reports.drawing.svg import COLOURS

SVG = "{http://www.w3.org/2000/svg}"


def as_found() -> str:
    board, point = boards.backup()
    return draw(picture_of(board, boards.RUNNING, point, routes=[boards.BACKUP_ROUTE]))


def after_mod() -> str:
    board, point, before = boards.backup_with_coin_cell()
    return draw(picture_of(board, boards.RUNNING, point, against=before))


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour (W3C, WCAG 2.1, definition of relative luminance)."""
    shares = [int(colour[i:i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (s / 12.92 if s <= 0.03928 else ((s + 0.055) / 1.055) ** 2.4 for s in shares)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_contrast_of_black_on_white() -> None:
    """Contrast ratios range from 1 to 21 (W3C, WCAG 2.1, definition of contrast ratio)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("paper", [0, 1], ids=["light", "dark"])
@pytest.mark.parametrize("role", [role for role in COLOURS if role != "paper"])
def test_every_colour_is_legible(role: str, paper: int) -> None:
    """At least 4.5:1 for text, level AA (W3C, WCAG 2.1, success criterion 1.4.3)."""
    assert contrast(COLOURS[role][paper], COLOURS["paper"][paper]) >= 4.5


def test_text_alternative_names_every_part_and_net() -> None:
    root = ET.fromstring(as_found())
    assert root.get("role") == "img"
    title, words = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert root.get("aria-labelledby") == f"{title.get('id')} {words.get('id')}"
    assert title.text == "Memory backup, voice card: as found, running"
    assert "R1 (resistor, 470 Ω, 690 µA, drops 0.32 V, on the charge route): 1 on +5V, 2 on CHG" in words.text
    assert "Nets from the top down: +5V 5 V, CHG 4.68 V" in words.text
    assert "690 µA into BT1" in words.text


def test_marks_do_without_colour() -> None:
    found, modded = as_found(), after_mod()
    assert "charging that is meant</text>" in found
    assert 'stroke-width="3"' in found, "weight"
    assert "takes 690 µA</text>" in found, "words"
    assert "× removed</text>" in modded
    assert "+ fitted</text>" in modded
    assert "+ moved</text>" in modded
    assert 'stroke-dasharray="5 3"' in modded, "dash"


def test_colours_stand_as_attributes_and_follow_the_reader() -> None:
    svg = as_found()
    body = re.sub(r"<style>.*?</style>", "", svg)
    assert "var(" not in body
    assert f'fill="{COLOURS["paper"][0]}"' in body
    assert "@media (prefers-color-scheme:dark)" in svg
    for role, (_, dark) in COLOURS.items():
        assert f"--nd-{role}:{dark};" in svg


def test_names_are_escaped() -> None:
    bars = (Bar("GND", 0, "", "ground"), Bar("A<&>B", 1, "1 V"))
    svg = draw(Picture("a <b> & c", "", bars, (Column('R"1', "resistor", (("1", "A<&>B"), ("2", "GND"))),)))
    assert "A<&>B" in "".join(ET.fromstring(svg).itertext())


def test_parts_on_the_route_end_in_route_coloured_dots_only_where_it_runs() -> None:
    board, point = boards.backup()
    placed = place(picture_of(board, boards.RUNNING, point, routes=[boards.BACKUP_ROUTE]))
    leads = {(p.column.name, lead.pin) for p in placed.parts for lead in p.leads if lead.on_route}
    assert leads == {(name, pin) for name in boards.BACKUP_ROUTE for pin in board.parts[name].pins} - {("BT1", "minus")}


@pytest.mark.parametrize("fate", Fate)
def test_every_fate_is_explained_or_plain(fate: Fate) -> None:
    bars = (Bar("GND", 0, "", "ground"), Bar("A", 1, "1 V"))
    column = Column("C1", "capacitor", (("1", "A"), ("2", "GND")), fate=fate)
    keys = place(Picture("", "", bars, (column,))).keys
    assert [key.mark for key in keys][:1] == ["ground"]
    assert len(keys) == 1 + (fate is not Fate.AS_FOUND)


def test_a_pin_without_a_bar_is_refused() -> None:
    with pytest.raises(ValueError, match=r"R1\.2 is on B, which has no bar"):
        place(Picture("", "", (Bar("A", 1),), (Column("R1", "resistor", (("1", "A"), ("2", "B"))),)))
    with pytest.raises(ValueError, match="two bars"):
        place(Picture("", "", (Bar("A", 1), Bar("A", 2)), ()))


def test_bitmap_has_the_size_of_the_drawing() -> None:
    svg = as_found()
    root = ET.fromstring(svg)
    bitmap = png(svg, scale=2.0)
    assert bitmap[:8] == b"\x89PNG\r\n\x1a\n"
    across = int.from_bytes(bitmap[16:20], "big")
    assert across == pytest.approx(2 * float(root.get("width")), abs=2)


def test_missing_bitmap_renderer_says_how_to_install_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "resvg_py", None)
    with pytest.raises(RuntimeError, match="python -m pip install resvg-py"):
        png(as_found())


_ELSEWHERE = """
import sys
import drawing_boards as boards
from netcheck.reports.drawing import draw, picture_of
assert not {"schemdraw", "networkx", "yaml"} & sys.modules.keys(), "loaded before it is used"
board, point = boards.backup()
sys.stdout.write(draw(picture_of(board, boards.RUNNING, point, routes=[boards.BACKUP_ROUTE])))
assert not {"matplotlib", "numpy"} & sys.modules.keys(), "loaded for nothing"
"""


@pytest.mark.parametrize("seed", ["0", "4711"])
def test_same_bytes_in_another_process_without_heavy_libraries(seed: str) -> None:
    paths = os.pathsep.join(path for path in sys.path if path)
    done = subprocess.run(
        [sys.executable, "-c", _ELSEWHERE], capture_output=True, encoding="utf-8", check=False,
        env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": paths, "PYTHONIOENCODING": "utf-8"},
    )
    assert done.stderr == ""
    assert done.stdout == as_found()
