"""The page as text: what it holds, what it never holds, and photographs."""

from __future__ import annotations

import base64
import hashlib
import io
import os
import random
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from PIL import Image
from write_ups import EXAMPLES, HOSTILE, board_file, written_up

from netcheck import writeup
from netcheck.api import load
from netcheck.reports.document import Document, sources
from netcheck.reports.page import page
from netcheck.reports.photos import LARGEST_SIDE, embedded
from netcheck.solving import scene
from netcheck.solving import solved_states as survey

SECTIONS = ["drawings", "findings", "steps", "parts", "settings", "sheet", "figures", "care", "sources"]


@pytest.fixture(scope="module")
def board(tmp_path_factory: pytest.TempPathFactory) -> Document:
    return written_up(board_file(tmp_path_factory.mktemp("board")))


class Outline(HTMLParser):
    """The ids of sections, and whatever would fetch or run something; fails on a tag closed out of order."""

    VOID = ("meta", "link", "img", "br", "path", "circle", "rect", "line")

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.sections: list[str] = []
        self.fetching: list[str] = []
        self.scripts = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        if tag == "section":
            self.sections.append(named["id"] or "")
        for name in ("src", "href", "xlink:href", "srcset", "action"):
            target = named.get(name)
            if target is not None and not target.startswith(("data:", "#")):
                self.fetching.append(target)
        if tag == "script":
            self.scripts += 1
        if tag in ("iframe", "object", "embed", "form") or any(name.startswith("on") for name in named):
            self.fetching.append(tag)
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in self.VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        if tag not in self.VOID:
            assert self.open.pop() == tag


def outline(text: str) -> Outline:
    found = Outline()
    found.feed(text)
    assert found.open == []
    return found


def test_it_has_every_section_and_fetches_nothing(board: Document) -> None:
    found = outline(page(board))
    assert found.sections == SECTIONS
    assert found.fetching == []


def test_its_one_script_is_the_one_that_its_policy_lets_run(board: Document) -> None:
    text = page(board)
    (script,) = re.findall("<script>(.*?)</script>", text, re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in text
    assert outline(text).scripts == 1


def test_the_answer_stands_before_any_drawing_and_the_swap_beside_the_mod_that_cures_it(tmp_path: Path) -> None:
    text = page(written_up(board_file(tmp_path), "safe"))
    header = text[text.index("<body>"):text.index('id="drawings"')]
    assert "Mod &#34;safe&#34;:" in header
    assert "Mod &#34;swap&#34; (do not copy this one):" in header
    assert "must never be charged" in header
    assert "remove: [R1, D3]" in header  # the mod, to be copied


def test_no_url_is_in_its_style_or_drawings(board: Document) -> None:
    text = page(board)
    assert "url(" not in text
    assert "@import" not in text
    own_words = text.replace("http://x.invalid", "")
    assert set(re.findall(r"https?://[^\s\"'<]+", own_words)) == {"http://www.w3.org/2000/svg"}  # a namespace


def test_user_text_is_escaped_everywhere(board: Document) -> None:
    text = page(board)
    assert "<script>alert" not in text
    assert "<b>paragraph" not in text
    assert "<i>with" not in text
    assert "<edge>" not in text
    assert "&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt; &amp; &#34;quoted&#34;" in text
    assert board.title == HOSTILE


def test_the_same_file_gives_the_same_page(tmp_path: Path) -> None:
    path = board_file(tmp_path)
    assert page(written_up(path)) == page(written_up(path))


def test_a_dangerous_mod_is_not_advised(tmp_path: Path) -> None:
    path = board_file(tmp_path)
    assert "Do not make this change as it stands" in page(written_up(path, "swap"))
    assert "Do not make this change" not in page(written_up(path, "safe"))


def test_as_found_alone_has_no_steps_and_nothing_to_buy(tmp_path: Path) -> None:
    found = written_up(board_file(tmp_path), "as found")
    assert found.steps == ()
    assert found.purchases == ()
    assert outline(page(found)).sections == [name for name in SECTIONS if name not in ("steps", "parts")]


def test_drawings_show_the_charge_route_then_the_change_then_the_backup() -> None:
    found = written_up(EXAMPLES / "rack-sampler.yaml", "coin-cell")
    captions = [drawing.caption for drawing in found.drawings]
    assert captions == [
        "As found, state running.",
        'Mod "coin-cell", state running, with what comes out and what goes in.',
        'Mod "coin-cell", state stored.',
    ]
    assert "Charging that is meant: +5V → R1 → D3 → BT1" in found.drawings[0].words
    assert "removed" in found.drawings[1].words
    assert "removed" not in found.drawings[2].words


def test_without_a_simulator_the_page_promises_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for module in (writeup, scene, survey):
        monkeypatch.setattr(module, "available", lambda: "no simulator here")
    found = written_up(board_file(tmp_path), "safe", diodes=True)
    assert {one.verdict for one in found.judged} <= {"unknown", "danger"}
    assert found.sheet == ()
    text = page(found)
    assert "No volts or currents could be worked out" in text
    assert "No volts: no simulator here" in text


def test_a_photograph_is_scaled_and_turned_and_loses_its_notes(tmp_path: Path) -> None:
    path = board_file(tmp_path)
    image = Image.new("RGB", (3000, 1000), "red")
    image.paste("blue", (0, 0, 1500, 1000))
    notes = image.getexif()
    notes[0x0112] = 6  # TIFF 6.0, tag Orientation: the camera was held turned by a quarter
    notes[0x010E] = "where it was taken"
    image.save(tmp_path / "section.jpg", exif=notes)
    shown = embedded(load(path))[0]
    assert (shown.width, shown.height) == (round(LARGEST_SIDE / 3), LARGEST_SIDE)
    data = base64.b64decode(shown.data)
    assert b"where it was taken" not in data
    with Image.open(io.BytesIO(data)) as small:
        assert small.size == (shown.width, shown.height)
        top, bottom = (small.getpixel((shown.width // 2, y)) for y in (10, shown.height - 10))
    assert isinstance(top, tuple)
    assert isinstance(bottom, tuple)
    assert (top[2] > 200, bottom[0] > 200) == (True, True)


def test_a_clear_background_becomes_white(tmp_path: Path) -> None:
    path = board_file(tmp_path)
    Image.new("RGBA", (40, 30), (0, 0, 0, 0)).save(tmp_path / "section.jpg", format="PNG")
    data = base64.b64decode(embedded(load(path))[0].data)
    with Image.open(io.BytesIO(data)) as flat:
        assert flat.getpixel((20, 15)) == (255, 255, 255)


def test_a_photograph_that_cannot_be_shown_is_a_caution(board: Document) -> None:
    assert [photo.problem for photo in board.photos] == [
        "", "No such file or directory", "not a JPEG, PNG, WebP or GIF picture"]
    text = page(board)
    assert "The photograph gone.jpg could not be shown: No such file or directory." in text
    assert 'alt="solder side &lt;i&gt;with&lt;/i&gt; the pack lifted"' in text


@pytest.mark.parametrize("cut", [20, 200, 2000])
def test_a_damaged_photograph_is_a_caution(tmp_path: Path, cut: int) -> None:
    path = board_file(tmp_path)
    photo = tmp_path / "section.jpg"
    photo.write_bytes(photo.read_bytes()[:cut])
    assert embedded(load(path))[0].problem


def test_a_photograph_of_too_many_pixels_is_a_caution(tmp_path: Path) -> None:
    path = board_file(tmp_path)
    Image.new("1", (12000, 12000)).save(tmp_path / "section.jpg", format="PNG")
    assert "million pixels" in embedded(load(path))[0].problem


def test_only_pictures_of_the_four_formats_below_the_folder_are_opened(tmp_path: Path) -> None:
    """An EPS file would start a PostScript interpreter; a pipe would be waited for; a link may lead anywhere."""
    folder = tmp_path / "board"
    folder.mkdir()
    path = board_file(folder)
    outside = tmp_path / "private.png"
    Image.new("RGB", (8, 8)).save(outside)
    shown = folder / "section.jpg"
    problems = {}
    for name, lay in {
        "EPS": lambda: shown.write_bytes(b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n(x) print\n"),
        "pipe": lambda: os.mkfifo(shown),
        "link": lambda: shown.symlink_to(outside),
        "TIFF": lambda: Image.new("RGB", (8, 8)).save(shown, format="TIFF"),
    }.items():
        shown.unlink(missing_ok=True)
        lay()
        problems[name] = embedded(load(path))[0].problem
    assert problems == {
        "EPS": "not a JPEG, PNG, WebP or GIF picture", "pipe": "not an ordinary file",
        "link": "a link that leads out of the fragment's folder", "TIFF": "not a JPEG, PNG, WebP or GIF picture"}
    text = path.read_text()
    for elsewhere in ("../private.png", str(outside)):
        path.write_text(text.replace("section.jpg", elsewhere))
        assert embedded(load(path))[0].problem == "expected a file in the fragment's folder or below it"


def test_no_damage_to_a_picture_ends_otherwise_than_in_a_caution(tmp_path: Path) -> None:
    path = board_file(tmp_path)
    shown = tmp_path / "section.jpg"
    chance = random.Random(5)
    for form in ("JPEG", "PNG", "WEBP", "GIF"):
        Image.effect_noise((64, 48), 40).convert("RGB").save(shown, format=form)
        whole = shown.read_bytes()
        for _ in range(60):
            damaged = bytearray(whole)
            for _ in range(chance.randint(1, 12)):
                damaged[chance.randrange(len(damaged))] = chance.randrange(256)
            shown.write_bytes(damaged)
            photo = embedded(load(path))[0]
            assert bool(photo.data) != bool(photo.problem)


def test_every_source_is_named_once_with_its_parts() -> None:
    told = list(sources([load(EXAMPLES / "rack-sampler.yaml")]))
    assert len({source for source, _ in told}) == len(told)
    assert ("1N4148 data sheet, Vishay, document 81857 rev 1.4", "1N4148") in told
