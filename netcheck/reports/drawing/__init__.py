"""The drawing: a schematic in which height is potential, from a fragment in a state.

`picture_of` says what is to be drawn, `place` where everything stands, `draw`
gives the SVG text of it and `png` a bitmap of that text.
"""

from __future__ import annotations

from netcheck.reports.drawing.build import MOST_PARTS, frame_of, picture_of, with_words
from netcheck.reports.drawing.layout import letters_pt, place
from netcheck.reports.drawing.picture import Bar, Column, Fate, Picture
from netcheck.reports.drawing.placement import Placement
from netcheck.reports.drawing.png import png
from netcheck.reports.drawing.svg import beside, description, draw, size

__all__ = [
    "MOST_PARTS", "Bar", "Column", "Fate", "Picture", "Placement", "beside", "description", "draw", "frame_of",
    "letters_pt", "picture_of", "place", "png", "size", "with_words",
]
