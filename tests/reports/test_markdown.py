"""The write-up as Markdown."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from write_ups import EXAMPLES, board_file, written_up

from netcheck.reports.document import Document
from netcheck.reports.markdown import escaped, markdown


@pytest.fixture(scope="module")
def board(tmp_path_factory: pytest.TempPathFactory) -> Document:
    return written_up(board_file(tmp_path_factory.mktemp("board")))


def test_it_has_the_sections_of_the_page(board: Document) -> None:
    headings = re.findall("^## (.*)$", markdown(board), re.MULTILINE)
    assert headings == [
        "Drawings", "What was found", "The steps, in bench order", "Parts to buy", "Jumpers and switches",
        'Probe sheet, mod "safe"', "Figures", "Take care", "Sources",
    ]


def test_user_text_is_escaped(board: Document) -> None:
    text = markdown(board)
    assert text.startswith("# \\<script\\>alert('x')\\</script\\> &amp; \"quoted\" \\| \\*\\*bold\\*\\* ")
    assert "\\`code\\` \\[a\\](http://x.invalid)" in text
    assert "Why: they charge it \\| really." in text


def test_every_table_row_has_as_many_cells_as_its_head(board: Document) -> None:
    tables = re.findall(r"(?:^\|.*\n)+", markdown(board), re.MULTILINE)
    assert len(tables) >= 6
    for table in tables:
        counts = {len(re.findall(r"(?<!\\)\|", line)) for line in table.splitlines()}
        assert len(counts) == 1, table


def test_steps_are_numbered(board: Document) -> None:
    numbers = re.findall(r"^(\d+)\. \*\*", markdown(board), re.MULTILINE)
    assert numbers == [str(number) for number in range(1, len(board.steps) + 1)]


def test_drawings_are_linked_or_told_in_words(board: Document) -> None:
    linked = markdown(board, ["a drawing.svg", "b.svg", "c.svg"], "../board files")
    assert "](a%20drawing.svg)" in linked
    assert "](../board%20files/section.jpg)" in linked
    assert "Nets from the top down" in markdown(board)
    assert ".svg" not in markdown(board)


def test_an_example_reads_as_intended() -> None:
    text = markdown(written_up(EXAMPLES / "rack-sampler.yaml", "plain-swap"))
    assert '**DANGER, mod "plain-swap":** +5V pushes 1.11 mA (2.66 mA at worst) into BT1' in text
    assert "**DANGER:** do not make this change as it stands" in text
    assert "\n\n\n" not in text


@pytest.mark.parametrize(("text", "markdown_text"), [
    ("1. first", "1\\. first"), ("- a", "\\- a"), ("-12 V", "-12 V"), ("4.68 V", "4.68 V"), ("===", "\\==="),
    ("a\nb", "a b"), ("+5V", "+5V"), ("+ 5V", "\\+ 5V"),
])
def test_what_would_begin_a_list_does_not(text: str, markdown_text: str) -> None:
    assert escaped(text) == markdown_text


@given(st.text())
def test_escaped_text_is_one_line_that_unescapes_to_itself(text: str) -> None:
    line = escaped(text)
    assert len(line.splitlines()) <= 1
    back = re.sub(r"\\([\\`*_{}\[\]<>#|~.)+=-])", r"\1", line).replace("&amp;", "&")
    assert back == " ".join(text.split())


def test_its_file_name_is_told(board: Document, tmp_path: Path) -> None:
    assert "\n\nWorked out by netcheck from board.yaml.\n" in markdown(board)
    assert str(tmp_path) not in markdown(board)
