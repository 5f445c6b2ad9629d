"""A laid-out drawing as data, in pixels with y downward: bars, parts, their leads and words."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace

from netcheck.reports.drawing.body import Body
from netcheck.reports.drawing.frame_words import Key
from netcheck.reports.drawing.picture import Bar, Column
from netcheck.reports.drawing.symbols import Point
from netcheck.reports.drawing.text import Box, Text


class Lead(Struct, frozen=True):
    """A pin's line: from its dot on the bar, straight to the symbol's height, then along to the symbol."""

    pin: str
    net: str
    points: tuple[Point, ...]
    crossed: tuple[str, ...]
    on_route: bool = False

    @property
    def x(self) -> float:
        return self.points[0][0]

    @property
    def dot(self) -> Point:
        return self.points[0]


class Ground(Struct, frozen=True):
    """A pin's line from the symbol to a ground sign of its own, which hangs from the line's end."""

    pin: str
    points: tuple[Point, ...]

    @property
    def sign(self) -> Point:
        return self.points[-1]


class PlacedPart(Struct, frozen=True):
    """A part: `x` and `y` are the origin of its body."""

    column: Column
    body: Body
    x: float
    y: float
    leads: tuple[Lead, ...]
    grounds: tuple[Ground, ...] = ()
    on_route: bool = False

    @property
    def box(self) -> Box:
        return self._moved(self.body.box)

    @property
    def outline(self) -> Box | None:
        """The line round a box or a row of pins."""
        return None if self.body.outline is None else self._moved(self.body.outline)

    @property
    def label(self) -> tuple[Text, ...]:
        return shifted(self.body.label, self.x, self.y)

    @property
    def words(self) -> tuple[Text, ...]:
        return shifted(self.body.words, self.x, self.y)

    def _moved(self, b: Box) -> Box:
        return Box(b.x0 + self.x, b.y0 + self.y, b.x1 + self.x, b.y1 + self.y)


class PlacedBar(Struct, frozen=True):
    """A net's line from x0 to x1 at height y, its dots, and its name and volts over its line."""

    bar: Bar
    y: float
    x0: float
    x1: float
    dots: tuple[float, ...]
    texts: tuple[Text, ...]


class Placement(Struct, frozen=True):
    """The whole drawing in pixels, y downward. cells: the fields of the title block."""

    width: float
    height: float
    bars: tuple[PlacedBar, ...]
    parts: tuple[PlacedPart, ...]
    texts: tuple[Text, ...]
    keys: tuple[Key, ...]
    cells: tuple[Box, ...] = ()

    @property
    def every_text(self) -> tuple[Text, ...]:
        own = [text for part in self.parts for text in (*part.label, *part.words)]
        return (*self.texts, *own, *(t for b in self.bars for t in b.texts), *(k.text for k in self.keys))


def shifted(texts: Sequence[Text], x: float, y: float) -> tuple[Text, ...]:
    return tuple(replace(t, x=round(t.x + x, 2), y=round(t.y + y, 2)) for t in texts)
