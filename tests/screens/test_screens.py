"""The screens are as they were read by a person, and each says the answer at once and fits its width."""

from __future__ import annotations

import re

import pytest
from screens import HERE, WIDTHS, screens

LINES = 24
YAML = "      - {"  # a step to be pasted stays on its line


@pytest.fixture(scope="module")
def shown() -> dict[str, str]:
    return dict(screens())


def test_they_are_as_they_were_read(shown: dict[str, str]) -> None:
    kept = {path.name: path.read_text(encoding="utf-8") for path in HERE.glob("*.txt")}
    assert shown == kept, "renew them with `python tests/screens/screens.py`, and read the difference"


def test_the_answer_comes_first_and_last_and_nothing_is_cut(shown: dict[str, str]) -> None:
    verdict = re.compile(r"(?:DANGER|UNKNOWN|FAILS|CAUTION|OK), (?:as found|mod \")")
    for name, text in shown.items():
        if "all-examples" in name or "colour" in name:
            continue
        for width, screen in zip(WIDTHS, re.split(r"={10} \d+ columns\n", text)[1:], strict=True):
            lines = screen.rstrip().splitlines()
            assert verdict.match(lines[0]), name
            assert lines[-1].startswith(lines[0].partition(":")[0]), name  # repeated: all is on a screen
            assert len(lines) <= LINES
            assert max(len(line) for line in lines if not line.startswith(YAML)) <= width, name


def test_no_figure_is_printed_in_a_way_that_misleads(shown: dict[str, str]) -> None:
    for name, text in shown.items():
        assert not re.search(r"-0 |\b0\.0 |\b0\.0\d+ V|\d{4,} %|\bNone\b|\bnan\b", text), name
