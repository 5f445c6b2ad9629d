"""Line plots as small SVG pictures: legible on light and dark, told apart by dash and label."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from html import escape

from msgspec import Struct

WIDTH, HEIGHT = 720, 400
_LEFT, _RIGHT, _TOP, _BOTTOM = 74, 170, 34, 52
_DASHES = ("", "8 4", "2 4", "12 4 2 4", "4 2")
_COLOURS = ("#0b62a8", "#b3420a", "#1d7a3a", "#7a3fa0", "#8a6d00")

_STYLE = """
svg { background: #ffffff; color: #1b1b1b; font-family: "DejaVu Sans", Verdana, sans-serif; font-size: 13px }
text { fill: currentColor } .grid { stroke: #d5d5d5 } .axis { stroke: currentColor }
@media (prefers-color-scheme: dark) {
 svg { background: #16181c; color: #ececec } .grid { stroke: #3a3d44 }
 .c0 { stroke: #6db6ff } .c1 { stroke: #ff9a5c } .c2 { stroke: #6fd08c }
 .c3 { stroke: #cf9cf2 } .c4 { stroke: #e0c04a }
}
"""


class Line(Struct, frozen=True):
    """One curve; `marks` draws its points instead of joining them."""

    label: str
    points: Sequence[tuple[float, float]]
    marks: bool = False
    dash: int | None = None


class Axis(Struct, frozen=True):
    """What an axis shows, in words with its unit, how its ticks are written, and whether it is logarithmic."""

    title: str
    write: Callable[[float], str] = lambda value: f"{value:g}"
    log: bool = False


class Note(Struct, frozen=True):
    """A point of a curve that is marked and named: above it, or below. number: the curve's."""

    x: float
    y: float
    text: str
    number: int
    below: bool = False


def line_plot(
    title: str, x: Axis, y: Axis, lines: Sequence[Line], level: tuple[float, str] | None = None,
    notes: Sequence[Note] = (),
) -> str:
    """The plot as SVG text. level: a horizontal line to show, with its label. notes: points marked and named.

    Raises ValueError where no line has a point that can be drawn.
    """
    drawable = [_visible(line, x, y) for line in lines]
    points = [point for line in drawable for point in line.points]
    if not points:
        raise ValueError("nothing to plot")
    low_y, high_y = _extent([p[1] for p in points] + ([level[0]] if level else []), y.log)
    low_x, high_x = _extent([p[0] for p in points], x.log, tight=True)
    across = _scale(low_x, high_x, _LEFT, WIDTH - _RIGHT, x.log)
    upward = _scale(low_y, high_y, HEIGHT - _BOTTOM, _TOP, y.log)
    parts = [*_grid(x, y, _ticks(low_x, high_x, x.log), _ticks(low_y, high_y, y.log), across, upward)]
    if level is not None:
        parts.append(f'<line class="axis" stroke="#1b1b1b" stroke-dasharray="1 3" x1="{_LEFT}" x2="{WIDTH - _RIGHT}" '
                     f'y1="{upward(level[0]):.1f}" y2="{upward(level[0]):.1f}"/>'
                     f'<text x="{_LEFT + 6}" y="{upward(level[0]) - 5:.1f}">{escape(level[1])}</text>')
    for number, line in enumerate(drawable):
        parts += _curve(line, number, across, upward)
    parts += _noted(notes, across, upward)
    described = "; ".join(f"{line.label}: {y.write(line.points[0][1])} at {x.write(line.points[0][0])} to "
                          f"{y.write(line.points[-1][1])} at {x.write(line.points[-1][0])}"
                          for line in drawable if line.points)
    return (f'<svg xmlns="http://www.w3.org/2000/svg" data-made-by="netcheck" '
            f'viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-labelledby="t d"><title id="t">{escape(title)}</title>'
            f'<desc id="d">{escape(f"{y.title} against {x.title}. {described}.")}</desc>'
            f'<style>{_STYLE}</style><text x="{_LEFT}" y="20" font-weight="bold">{escape(title)}</text>'
            + "".join(parts) + "</svg>\n")


def _visible(line: Line, x: Axis, y: Axis) -> Line:
    kept = [(a, b) for a, b in line.points if (not x.log or a > 0) and (not y.log or b > 0)]
    return Line(line.label, kept, line.marks, line.dash)


def _extent(values: Sequence[float], log: bool, tight: bool = False) -> tuple[float, float]:
    low, high = min(values), max(values)
    if log:
        return 10 ** math.floor(math.log10(low) + 1e-9), 10 ** max(
            math.ceil(math.log10(high) - 1e-9), math.floor(math.log10(low) + 1e-9) + 1)
    if low == high:
        low, high = low - 0.5, high + 0.5
    pad = 0.0 if tight else 0.06 * (high - low)
    return low - pad, high + pad


def _scale(low: float, high: float, start: float, end: float, log: bool) -> Callable[[float], float]:
    def place(value: float) -> float:
        share = math.log(value / low) / math.log(high / low) if log else (value - low) / (high - low)
        return start + share * (end - start)

    return place


def _ticks(low: float, high: float, log: bool) -> list[float]:
    if log:
        return [10.0 ** power for power in range(round(math.log10(low)), round(math.log10(high)) + 1)]
    rough = (high - low) / 5
    size = 10 ** math.floor(math.log10(rough))
    step = next(size * nice for nice in (1, 2, 2.5, 5, 10) if size * nice >= rough)
    first = math.ceil(low / step - 1e-9)
    return [round((first + n) * step, 12) for n in range(12) if (first + n) * step <= high + 1e-9 * step]


def _grid(
    x: Axis, y: Axis, across_ticks: Sequence[float], up_ticks: Sequence[float],
    across: Callable[[float], float], upward: Callable[[float], float],
) -> list[str]:
    bottom, right = HEIGHT - _BOTTOM, WIDTH - _RIGHT
    parts = []
    for tick in across_ticks:
        parts.append(f'<line class="grid" stroke="#d5d5d5" x1="{across(tick):.1f}" x2="{across(tick):.1f}" '
                     f'y1="{_TOP}" y2="{bottom}"/><text text-anchor="middle" x="{across(tick):.1f}" '
                     f'y="{bottom + 18}">{escape(x.write(tick))}</text>')
    for tick in up_ticks:
        parts.append(f'<line class="grid" stroke="#d5d5d5" x1="{_LEFT}" x2="{right}" y1="{upward(tick):.1f}" '
                     f'y2="{upward(tick):.1f}"/><text text-anchor="end" x="{_LEFT - 6}" '
                     f'y="{upward(tick) + 4:.1f}">{escape(y.write(tick))}</text>')
    parts.append(f'<path class="axis" stroke="#1b1b1b" fill="none" d="M{_LEFT} {_TOP}V{bottom}H{right}"/>')
    parts.append(f'<text text-anchor="middle" x="{(_LEFT + right) / 2}" y="{HEIGHT - 10}">{escape(x.title)}</text>')
    parts.append(f'<text text-anchor="middle" transform="translate(16 {(_TOP + bottom) / 2}) rotate(-90)">'
                 f'{escape(y.title)}</text>')
    return parts


def _curve(
    line: Line, number: int, across: Callable[[float], float], upward: Callable[[float], float]
) -> list[str]:
    dash = _DASHES[(number if line.dash is None else line.dash) % len(_DASHES)]
    colour, css = _COLOURS[number % len(_COLOURS)], f"c{number % len(_COLOURS)}"
    stroke = f'class="{css}" stroke="{colour}" stroke-width="2.2" fill="none"'
    dashed = f' stroke-dasharray="{dash}"' if dash and not line.marks else ""
    places = [(across(a), upward(b)) for a, b in line.points]
    if line.marks:
        drawn = "".join(_mark(number, stroke, a, b) for a, b in places)
    else:
        drawn = f'<polyline {stroke}{dashed} points="{" ".join(f"{a:.1f},{b:.1f}" for a, b in places)}"/>'
    key_y = _TOP + 8 + 34 * number
    words = _in_two(line.label)
    key = (f'<line {stroke}{dashed} x1="{WIDTH - _RIGHT + 12}" x2="{WIDTH - _RIGHT + 44}" y1="{key_y}" y2="{key_y}"/>'
           if not line.marks else _mark(number, stroke, WIDTH - _RIGHT + 28, key_y))
    label = "".join(f'<tspan x="{WIDTH - _RIGHT + 50}" dy="{0 if not i else 14}">{escape(word)}</tspan>'
                    for i, word in enumerate(words))
    return [drawn, key, f'<text y="{key_y + 4}">{label}</text>']


_NOTE_WIDTH = 6.5  # of a letter
_NOTE_HEIGHT = 14.0


def _noted(notes: Sequence[Note], across: Callable[[float], float], upward: Callable[[float], float]) -> list[str]:
    """Marks with their names, each where no other name stands; one with no room keeps its mark alone."""
    taken: list[tuple[float, float, float]] = []
    parts = []
    for note in sorted(notes, key=lambda one: one.x):
        a, b = across(note.x), upward(note.y)
        stroke = f'class="c{note.number % len(_COLOURS)}" stroke="{_COLOURS[note.number % len(_COLOURS)]}" ' \
                 'stroke-width="1.6" fill="none"'
        parts.append(_mark(note.number, stroke, a, b))
        half = len(note.text) * _NOTE_WIDTH / 2
        middle = min(max(a, _LEFT + half), WIDTH - _RIGHT - half)
        below, above = [18.0, 32.0, 46.0], [-13.0, -27.0, -41.0]
        for away in (*below, *above) if note.below else (*above, *below):
            level = b + away
            free = all(abs(level - other) >= _NOTE_HEIGHT or abs(middle - place) >= half + wide
                       for place, other, wide in taken)
            if free and _TOP + 8 < level < HEIGHT - _BOTTOM - 4:
                taken.append((middle, level, half))
                parts.append(f'<text text-anchor="middle" font-size="11" x="{middle:.1f}" y="{level:.1f}">'
                             f'{escape(note.text)}</text>')
                break
    return parts


def _mark(number: int, stroke: str, x: float, y: float) -> str:
    """A point: circle, square and diamond by turns, so that it is not told by colour alone."""
    match number % 3:
        case 0:
            return f'<rect {stroke} x="{x - 4:.1f}" y="{y - 4:.1f}" width="8" height="8"/>'
        case 1:
            return f'<circle {stroke} cx="{x:.1f}" cy="{y:.1f}" r="4"/>'
        case _:
            return f'<path {stroke} d="M{x - 5:.1f} {y:.1f}l5 -5l5 5l-5 5z"/>'


def _in_two(label: str) -> list[str]:
    """A long label broken at the space nearest its middle."""
    if len(label) <= 17 or " " not in label:
        return [label]
    cut = min((i for i, c in enumerate(label) if c == " "), key=lambda i: abs(i - len(label) / 2))
    return [label[:cut], label[cut + 1:]]
