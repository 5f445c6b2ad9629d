"""Symbols as line work: taken from schemdraw's element segments, set upright, in pixels.

A two-terminal symbol has its first pin (anode, plus, "1") on top and its origin
in the middle; a transistor has its collector or drain (p-channel: its source)
on top and its origin between the two. y grows downward.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterable
from functools import cache
from typing import Any

from msgspec import Struct

Point = tuple[float, float]


class Stroke(Struct, frozen=True):
    """One line of a symbol. fill: none, ink or paper. heavy: drawn with a wider pen."""

    points: tuple[Point, ...]
    closed: bool = False
    fill: str = "none"
    heavy: bool = False


class Symbol(Struct, frozen=True):
    """Strokes around the origin, and the points where leads join, by port name."""

    strokes: tuple[Stroke, ...]
    ports: tuple[tuple[str, Point], ...]

    def port(self, name: str) -> Point:
        return dict(self.ports)[name]

    @property
    def extent(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom of the line work, in pixels from the origin."""
        points = [p for stroke in self.strokes for p in stroke.points] + [p for _, p in self.ports]
        xs, ys = [x for x, _ in points], [y for _, y in points]
        return min(xs), min(ys), max(xs), max(ys)

    def turned(self) -> Symbol:
        """Turned by half a circle: the first pin at the bottom."""
        return self._mapped(lambda p: (-p[0], -p[1]))

    def mirrored(self) -> Symbol:
        """Upside down, left and right kept."""
        return self._mapped(lambda p: (p[0], -p[1]))

    def lying(self) -> Symbol:
        """On its side: the first pin to the left."""
        return self._mapped(lambda p: (p[1], -p[0]))

    def _mapped(self, move: Callable[[Point], Point]) -> Symbol:
        strokes = tuple(Stroke(tuple(map(move, s.points)), s.closed, s.fill, s.heavy) for s in self.strokes)
        return Symbol(strokes, tuple((name, move(p)) for name, p in self.ports))


# symbol name: schemdraw element, its options, pixels to one of schemdraw's units
SYMBOLS: dict[str, tuple[str, dict[str, Any], float]] = {
    "resistor": ("Resistor", {}, 36),
    "diode": ("Diode", {}, 44),
    "germanium": ("Diode", {}, 44),
    "schottky": ("Schottky", {}, 44),
    "zener": ("Zener", {}, 44),
    "led": ("LED", {}, 40),
    "capacitor": ("Capacitor", {}, 44),
    "polarised capacitor": ("Capacitor2", {}, 44),
    "inductor": ("Inductor2", {"loops": 3}, 36),
    "fuse": ("FuseIEEE", {}, 32),
    "cell": ("BatteryCell", {}, 40),
    "jumper": ("", {}, 0),
    "switch": ("", {}, 0),
    "load": ("", {}, 0),
}
TRANSISTORS: dict[str, tuple[str, float, tuple[str, str, str]]] = {
    "npn": ("BjtNpn", 34, ("collector", "base", "emitter")),
    "pnp": ("BjtPnp", 34, ("collector", "base", "emitter")),
    "n-channel": ("NMos", 30, ("drain", "gate", "source")),
    "p-channel": ("PMos", 30, ("drain", "gate", "source")),
    "trimmer": ("Potentiometer", 36, ("1", "wiper", "2")),
}
DIODES = ("diode", "germanium", "schottky", "zener", "led")
_ANCHORS = {"1": "start", "2": "end", "wiper": "tap"}
_POLARISED = {"polarised capacitor": (-8.0, -10.0), "cell": (-10.0, -9.0)}


@cache
def two_terminal(name: str, closed: bool = False) -> Symbol:
    """The symbol of that name (a key of SYMBOLS); `closed` sets a jumper or a switch."""
    if name == "jumper":
        return _jumper(closed)
    if name == "switch":
        return _switch(closed)
    if name == "load":
        return _load()
    element, options, scale = SYMBOLS[name]
    length = _length(element, options) * scale
    strokes = [_upright(line, scale, length) for line in _lines(element, options)]
    if name in _POLARISED:
        strokes.extend(_plus(*_POLARISED[name]))
    return Symbol(tuple(strokes), (("first", (0.0, -length / 2)), ("second", (0.0, length / 2))))


@cache
def transistor(name: str) -> Symbol:
    """The symbol of a part with two ends and a control (a key of TRANSISTORS); ports carry its pin names."""
    element, scale, pins = TRANSISTORS[name]
    found = {"start": (0.0, 0.0), "end": (_length(element, {}), 0.0), **_element(element, {}).anchors}
    anchors = {pin: found[_ANCHORS.get(pin, pin)] for pin in pins}
    (xa, ya), (xb, yb) = anchors[pins[0]], anchors[pins[2]]
    lying = abs(xb - xa) > abs(yb - ya)
    x0, y0 = (xa + xb) / 2, (ya + yb) / 2

    def move(x: float, y: float) -> Point:
        dx, dy = (x - x0) * scale, (y0 - y) * scale
        return (dy, dx) if lying else (dx, dy)

    strokes = tuple(
        Stroke(tuple(move(x, y) for x, y in line.points), line.closed, line.fill)
        for line in _lines(element, {})
    )
    return Symbol(strokes, tuple((pin, move(*anchors[pin])) for pin in pins))


@cache
def ground() -> Symbol:
    """Three lines, each shorter than the one above, hanging from the origin."""
    strokes = tuple(
        Stroke(tuple((22 * x, -22 * y) for x, y in line.points)) for line in _lines("Ground", {})
    )
    return Symbol(strokes, (("first", (0.0, 0.0)),))


@cache
def _schemdraw() -> Any:
    """schemdraw's elements, loaded without matplotlib.

    schemdraw loads matplotlib, where it is installed, for a backend that is not
    used here, and that takes fifteen times as long as the rest of it. A None in
    sys.modules makes Python report the module as missing.
    """
    hidden = "matplotlib" not in sys.modules
    if hidden:
        sys.modules["matplotlib"] = None  # type: ignore[assignment]
    try:
        import schemdraw.elements
    finally:
        if hidden:
            del sys.modules["matplotlib"]
    return schemdraw.elements


def _element(name: str, options: dict[str, Any]) -> Any:
    return getattr(_schemdraw(), name)(**options)


def _length(element: str, options: dict[str, Any]) -> float:
    """From the start of a two-terminal element to its end: schemdraw ends its first path there."""
    return float(_element(element, options).segments[0].path[-1][0])


def _upright(line: Stroke, scale: float, length: float) -> Stroke:
    points = tuple((y * scale, x * scale - length / 2) for x, y in line.points)
    return Stroke(points, line.closed, line.fill)


def _lines(element: str, options: dict[str, Any]) -> list[Stroke]:
    """The element's own segments as strokes, in schemdraw's units, before any rotation."""
    parts = _element(element, options).segments
    from schemdraw import segments

    strokes: list[Stroke] = []
    for part in parts:
        if isinstance(part, segments.SegmentPoly):
            strokes.append(Stroke(tuple((float(x), float(y)) for x, y in part.verts), True, "ink"))
        elif isinstance(part, segments.SegmentArc):
            radii, sweep = (part.width / 2, part.height / 2), (part.theta2 - part.theta1) % 360
            strokes.append(Stroke(_ellipse(part.center, radii, part.theta1, sweep)))
        elif isinstance(part, segments.SegmentCircle):
            strokes.append(Stroke(_ellipse(part.center, (part.radius, part.radius)), True, "paper"))
        elif isinstance(part, segments.Segment):
            strokes.extend(_path(part))
    return strokes


def _path(part: Any) -> Iterable[Stroke]:
    """A segment's path cut at its gaps (schemdraw writes them as not-a-number), and its arrow head."""
    run: list[Point] = []
    for x, y in [*part.path, (math.nan, math.nan)]:
        if math.isnan(x):
            if len(run) > 1:
                yield Stroke(tuple(run))
            run = []
        else:
            run.append((float(x), float(y)))
    if part.arrow:
        ends = [(float(x), float(y)) for x, y in part.path]
        tip, tail = (ends[-1], ends[-2]) if part.arrow == "->" else (ends[0], ends[1])
        yield arrow_head(tail, tip, part.arrowlength, part.arrowwidth)


def arrow_head(tail: Point, tip: Point, length: float, breadth: float) -> Stroke:
    """A filled triangle with its tip at `tip`, pointing away from `tail`."""
    span = math.dist(tail, tip)
    ux, uy = (tip[0] - tail[0]) / span, (tip[1] - tail[1]) / span
    bx, by = tip[0] - ux * length, tip[1] - uy * length
    side = breadth / 2
    return Stroke((tip, (bx - uy * side, by + ux * side), (bx + uy * side, by - ux * side)), True, "ink")


def _ellipse(
    centre: Any, radii: Point, start: float = 0, sweep: float = 360, steps: int = 16
) -> tuple[Point, ...]:
    """Points along an arc of an upright ellipse; angles in degrees, counted from the x axis."""
    angles = [math.radians(start + sweep * step / steps) for step in range(steps + 1)]
    x, y = float(centre[0]), float(centre[1])
    return tuple((x + radii[0] * math.cos(a), y + radii[1] * math.sin(a)) for a in angles)


def _plus(x: float, y: float) -> tuple[Stroke, Stroke]:
    return Stroke(((x - 3, y), (x + 3, y))), Stroke(((x, y - 3), (x, y + 3)))


def _terminal(x: float, y: float) -> Stroke:
    return Stroke(_ellipse((x, y), (3, 3)), True, "paper")


_LINK_PORTS = (("first", (0.0, -15.0)), ("second", (0.0, 15.0)))


def _jumper(closed: bool) -> Symbol:
    """Two pins, and the cap over both or lifted aside (schemdraw has no two-pin link)."""
    x = 0.0 if closed else -9.0
    cap = Stroke(((x - 5, -15), (x + 5, -15), (x + 5, 15), (x - 5, 15)), True)
    link = Stroke(((x, -12), (x, 12)), heavy=True)
    pins = (_terminal(0, -12), _terminal(0, 12))
    return Symbol((link, *pins, cap) if closed else pins, _LINK_PORTS)


def _switch(closed: bool) -> Symbol:
    blade = Stroke(((0, -12), (0, 12)) if closed else ((0, -12), (-12, 8)), heavy=True)
    return Symbol((blade, _terminal(0, -12), _terminal(0, 12)), _LINK_PORTS)


def _load() -> Symbol:
    """A supply pin's appetite: a box with the current falling through it."""
    box = Stroke(((-10, -17), (10, -17), (10, 17), (-10, 17)), True)
    shaft = Stroke(((0, -11), (0, 9)))
    ports = (("first", (0.0, -17.0)), ("second", (0.0, 17.0)))
    return Symbol((box, shaft, arrow_head((0, 0), (0, 11), 8, 7)), ports)
