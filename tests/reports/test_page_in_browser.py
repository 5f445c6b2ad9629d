"""The page as Chromium shows it: quiet, self-contained, inside its window, readable."""

from __future__ import annotations

import base64
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser import Browser, browser
from write_ups import EXAMPLES, board_file, written_up

from netcheck.reports.page import page

WIDTHS = (390, 800, 1400)

# Contrast of WCAG 2.2, success criterion 1.4.3 (AA): 4.5 to 1, and 3 to 1 for large text (24 px, or 18.66 px bold).
# The luminance is that of the definition of "relative luminance" there.
CONTRAST = """
(() => {
  const rgb = c => c.match(/[0-9.]+/g).map(Number);
  const lum = ([r, g, b]) => [r, g, b].map(v => v / 255).map(
    v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4
  ).reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
  const behind = e => {
    const drawn = e.closest('svg') && e.closest('svg').querySelector('rect');
    if (drawn) return rgb(getComputedStyle(drawn).fill);
    for (; e; e = e.parentElement) {
      const c = rgb(getComputedStyle(e).backgroundColor);
      if (c.length < 4 || c[3] === 1) return c;
    }
    return [255, 255, 255];
  };
  const poor = [];
  let seen = 0;
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const e = walk.currentNode.parentElement;
    if (!walk.currentNode.data.trim() || e.closest('style, title, desc')) continue;
    const style = getComputedStyle(e);
    const [a, b] = [lum(rgb(e.closest('svg') ? style.fill : style.color)), lum(behind(e))];
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    const size = parseFloat(style.fontSize);
    const large = size >= 24 || (size >= 18.66 && style.fontWeight >= 700);
    seen += 1;
    if (ratio < (large ? 3 : 4.5)) poor.push([walk.currentNode.data.trim().slice(0, 40), ratio]);
  }
  return {seen, poor};
})()
"""

OUTSIDE = """
[...document.querySelectorAll('main *')].filter(e => !e.closest('.scroll, thead'))
  .filter(e => e.getBoundingClientRect().right > document.documentElement.clientWidth + 0.5)
  .map(e => e.outerHTML.slice(0, 80))
"""

SHOWN = "[...document.querySelectorAll('.drawing svg')].filter(e => e.getBoundingClientRect().width > 0)"

CUT = SHOWN + """.filter(e => e.getBoundingClientRect().right > innerWidth + 0.5
  || e.getBoundingClientRect().left < -0.5 || getComputedStyle(e.parentElement).overflowX !== 'visible').length
"""

# the height of the smallest letters of the drawings as they are shown, in pixels of the screen
LETTERS = "Math.min(..." + SHOWN + """.flatMap(svg => [...svg.querySelectorAll('text')].map(
  e => parseFloat(e.getAttribute('font-size')) * svg.getBoundingClientRect().width / svg.viewBox.baseVal.width)))
"""

NAMELESS = """
[...document.querySelectorAll('img, svg')].filter(e => e.matches('svg')
  ? !(e.getAttribute('role') === 'img' && e.getAttribute('aria-labelledby').split(' ')
      .every(id => document.getElementById(id).textContent.trim()))
  : !e.alt.trim()).map(e => e.outerHTML.slice(0, 80))
"""


@pytest.fixture(scope="module")
def tab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with browser(tmp_path_factory.mktemp("browser")) as tab:
        yield tab


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """An example with its diode plots, and a board whose words want escaping, with a photograph."""
    folder = tmp_path_factory.mktemp("pages")
    documents = {
        "example": written_up(EXAMPLES / "rack-sampler.yaml", "plain-swap", diodes=True),
        "hostile": written_up(board_file(folder)),
    }
    paths = []
    for name, document in documents.items():
        paths.append(folder / f"{name}.html")
        paths[-1].write_text(page(document), encoding="utf-8")
    return paths


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_the_page_is_quiet_contained_and_readable(
    tab: Browser, pages: list[Path], width: int, dark: bool
) -> None:
    for path in pages:
        tab.open(path, width, dark)
        contrast = tab.evaluate(CONTRAST)
        assert contrast["seen"] > 100
        assert contrast["poor"] == []
        assert tab.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") == 0
        assert tab.evaluate(OUTSIDE) == []
        assert tab.evaluate(NAMELESS) == []
        said = [event for event in tab.events
                if event["method"] in ("Log.entryAdded", "Runtime.consoleAPICalled", "Runtime.exceptionThrown")]
        assert said == []
        asked = [event["params"]["request"]["url"] for event in tab.events
                 if event["method"] == "Network.requestWillBeSent"]
        assert [url for url in asked if not url.startswith("data:")] == [path.as_uri()]


def test_every_picture_has_loaded(tab: Browser, pages: list[Path]) -> None:
    for path in pages:
        tab.open(path, 1200)
        widths = tab.evaluate("[...document.images].map(e => e.complete && e.naturalWidth)")
        assert len(widths) > 0
        assert all(widths)


def test_user_text_makes_no_elements(tab: Browser, pages: list[Path]) -> None:
    tab.open(pages[-1], 1200)
    assert tab.evaluate("document.querySelectorAll('script, main a[href^=http], main i i').length") == 1
    assert tab.evaluate("document.querySelector('h1').textContent").startswith("<script>alert('x')</script> &")


def test_links_inside_the_page_lead_somewhere(tab: Browser, pages: list[Path]) -> None:
    for path in pages:
        tab.open(path, 1200)
        lost = "[...document.querySelectorAll('a')].filter(a => !document.querySelector(a.hash)).map(a => a.hash)"
        assert tab.evaluate(lost) == []
        ids = tab.evaluate("[...document.querySelectorAll('[id]')].map(e => e.id)")
        assert len(ids) == len(set(ids))


def test_printed_on_a4_nothing_is_cut_off(tab: Browser, pages: list[Path]) -> None:
    for path in pages:
        tab.open(path, 680, dark=True)  # 210 mm less its margins of 15 mm, at 96 dots an inch
        tab.call("Emulation.setEmulatedMedia", media="print",
                 features=[{"name": "prefers-color-scheme", "value": "dark"}])
        assert tab.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
        assert tab.evaluate(CONTRAST)["poor"] == []
        wide = tab.evaluate("[...document.querySelectorAll('svg, img, table')]"
                            ".filter(e => e.getBoundingClientRect().right > innerWidth + 0.5)"
                            ".map(e => e.outerHTML.slice(0, 80))")
        assert wide == []
        tab.call("Emulation.setEmulatedMedia", media="")


def test_no_drawing_is_cut_or_scrolled_and_all_can_be_read(tab: Browser, pages: list[Path]) -> None:
    for path in pages:
        drawings = len(re.findall(r'<figure class="drawing', path.read_text(encoding="utf-8")))
        for width in WIDTHS:
            tab.open(path, width)
            assert tab.evaluate(CUT) == 0
            assert tab.evaluate(SHOWN + ".length") == drawings, "each once: for this screen, or for a narrow one"
            assert tab.evaluate(SHOWN + ".every(e => e.parentElement.className === "
                                + ("'narrow')" if width == 390 else "'wide')"))
            assert tab.evaluate(LETTERS) >= 9
    side_by_side = "new Set([...document.querySelectorAll('.drawing')].slice(0, 2).map(e => e.offsetTop)).size"
    assert tab.evaluate(side_by_side) == 1


def test_letters_of_the_drawings_on_a4(tab: Browser, pages: list[Path]) -> None:
    """6.5 points at least, as printed."""
    for path in pages:
        tab.open(path, 694)
        tab.call("Emulation.setEmulatedMedia", media="print")
        assert tab.evaluate(LETTERS) * 0.75 >= 6.5
        tab.call("Emulation.setEmulatedMedia", media="")


def test_the_first_example_is_at_most_six_pages_of_a4_and_its_sheet_begins_one(tab: Browser, tmp_path: Path) -> None:
    path = tmp_path / "sampler.html"
    path.write_text(page(written_up(EXAMPLES / "rack-sampler.yaml", "coin-cell", diodes=True)), encoding="utf-8")
    tab.open(path, 700)
    printed = base64.b64decode(tab.call("Page.printToPDF", preferCSSPageSize=True)["data"])
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b", printed)) <= 6
    assert tab.evaluate("[...document.styleSheets[0].cssRules].filter(e => e.media && e.media[0] === 'print')"
                        ".some(e => /#sheet {[^}]*break-before: page/.test(e.cssText))")


def test_the_mod_is_copied_whole(tab: Browser, pages: list[Path]) -> None:
    tab.open(pages[-1], 1200)
    assert tab.evaluate("document.querySelectorAll('.copied button').length") >= 1
    tab.evaluate("navigator.clipboard.writeText = async text => { window.copied = text }")
    tab.evaluate("document.querySelector('.copied button').click()")
    assert "remove: [R1, D3]" in tab.evaluate("window.copied")
