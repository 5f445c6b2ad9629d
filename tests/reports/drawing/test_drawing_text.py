"""Measured text."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.reports.drawing.text import Box, width, wrap


@given(st.text(alphabet="abc XYZ 0123 µΩ", max_size=60), st.floats(20, 300))
def test_wrapped_lines_fit_and_keep_every_word(content: str, room: float) -> None:
    lines = wrap(content, 12, room)
    assert " ".join(lines).split() == content.split()
    assert all(width(line, 12) <= room or " " not in line for line in lines)


def test_bold_is_wider_and_unknown_signs_count_as_squares() -> None:
    assert width("VRAM", 12, bold=True) > width("VRAM", 12)
    assert width("電", 12) == 12


@pytest.mark.parametrize(("x", "meets"), [(9.9, True), (10, False)])
def test_boxes_that_only_touch_do_not_overlap(x: float, meets: bool) -> None:
    assert Box(0, 0, 10, 10).overlaps(Box(x, 0, 20, 10)) is meets
