"""Which diode, as a picture: one dot a type, volts left with an old cell against the charge leaked into it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from math import floor, log10

from msgspec import Struct

from netcheck.checks.leakage import allowed_share
from netcheck.checks.voltage import needs
from netcheck.diodes.comparison import Question
from netcheck.diodes.results import Option
from netcheck.parts.specs import CellSpec
from netcheck.quantities import digits

WIDTH, HEIGHT = 720, 460
_LEFT, _RIGHT, _TOP, _BOTTOM = 86, 24, 40, 56
_LETTER, _LINE = 7.1, 14.0
_LEAST_SHARE = 1e-6
"""Less of its capacity than this is no leakage that anybody would count."""

_STYLE = """
svg { background: #ffffff; color: #1b1b1b; font-family: sans-serif; font-size: 12px }
text { fill: currentColor } .grid { stroke: #dddddd } .axis { stroke: currentColor; fill: none }
.leaky { fill: #a3190f; fill-opacity: .13 } .low { fill: #8a5a00; fill-opacity: .15 } .zone { font-style: italic }
.ok { fill: #17633a; stroke: #17633a } .caution { fill: #ffffff; stroke: #7a4b00 }
.danger { fill: #a3190f; stroke: #a3190f } .unknown { fill: #ffffff; stroke: #5b3a8c }
.fails { fill: #8a3b00; stroke: #8a3b00 } .ring { fill: none; stroke: currentColor }
.lead { stroke: currentColor; stroke-opacity: .5 }
@media (prefers-color-scheme: dark) {
 svg { background: #16181c; color: #ececec } .grid { stroke: #3a3d44 }
 .ok { fill: #7fd6a2; stroke: #7fd6a2 } .caution { fill: #16181c; stroke: #f0c060 }
 .danger { fill: #ff9d94; stroke: #ff9d94 }
 .unknown { fill: #16181c; stroke: #cdb2f5 } .fails { fill: #ffb27a; stroke: #ffb27a }
}
"""

Place = Callable[[float], float]
Box = tuple[float, float, float, float]


class _Dot(Struct, frozen=True):
    """One type (or several that do alike) at its place in the picture."""

    x: float
    y: float
    label: str
    verdict: str
    now: bool


def choice_plot(asked: Question, rows: Sequence[tuple[Option, tuple[str, ...]]]) -> str:
    """The picture as SVG text; empty where of no type both figures are known, as while the cell is charged."""
    known = [(option, types, old, share) for option, types in rows
             if (old := option.backup_V["old"]) is not None and (share := _share(option)) is not None]
    if not known:
        return ""
    span = needs(asked.load)
    assert isinstance(asked.cell.spec, CellSpec)
    limit = allowed_share(asked.cell.spec)
    volts = [old for *_, old, _ in known] + ([span.low] if span else [])
    low_V, high_V = min(volts) - 0.08, max(volts) + 0.12
    shares = [share for *_, share in known] + [limit]
    low, high = floor(log10(min(shares))), floor(log10(max(shares))) + 1
    across: Place = lambda v: _LEFT + (v - low_V) / (high_V - low_V) * (WIDTH - _LEFT - _RIGHT)  # noqa: E731
    upward: Place = lambda s: (HEIGHT - _BOTTOM) - (log10(s) - low) / (high - low) * (HEIGHT - _TOP - _BOTTOM)  # noqa: E731
    dots = [_Dot(across(old), upward(share), ", ".join(types) + (" (now)" if option.present else ""), option.verdict,
                 option.present) for option, types, old, share in known]
    years = asked.fragment.conditions.years
    title = f"Which diode for {asked.load.name}: volts left against charge leaked into {asked.cell.name}"
    zones = [f"over {digits.share(limit)}: too much leaks in", *([f"under {digits.volts(span.low)}: too little left"]
                                                               if span else [])]
    told = "; ".join(f"{', '.join(types)}: {old:.2f} V, {digits.share(share)}, {option.verdict}"
                     for option, types, old, share in known)
    return "".join([
        f'<svg xmlns="http://www.w3.org/2000/svg" data-made-by="netcheck" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
        f'aria-labelledby="ct cd"><title id="ct">{escape(title)}</title><desc id="cd">{escape(told)}.</desc>'
        f"<style>{_STYLE}</style>",
        f'<text x="{_LEFT}" y="20" font-weight="bold">{escape(title)}</text>',
        *_zones(zones, None if span is None else across(span.low), upward(limit)),
        *_grid(low_V, high_V, across, low, high, upward),
        f'<text text-anchor="middle" x="{(_LEFT + WIDTH - _RIGHT) / 2}" y="{HEIGHT - 12}">'
        f"volts left for {escape(asked.load.name)} with an old cell</text>",
        f'<text text-anchor="middle" transform="translate(16 {(HEIGHT - _BOTTOM + _TOP) / 2}) rotate(-90)">'
        f"of the cell's capacity, leaked in over {years:g} years</text>",
        *(_mark(dot) for dot in dots), *_labels(dots), "</svg>\n"])


def _share(option: Option) -> float | None:
    share = option.leakage_share["typical"]
    return None if share is None else max(share, _LEAST_SHARE)


def _zones(words: Sequence[str], needed: float | None, limit: float) -> list[str]:
    """The two forbidden zones, each with its name."""
    right, bottom = WIDTH - _RIGHT, HEIGHT - _BOTTOM
    parts = [f'<rect class="leaky" x="{_LEFT}" y="{_TOP}" width="{right - _LEFT}" '
             f'height="{max(0.0, limit - _TOP):.1f}"/>']
    if needed is not None:
        parts.append(f'<rect class="low" x="{_LEFT}" y="{_TOP}" width="{max(0.0, needed - _LEFT):.1f}" '
                     f'height="{bottom - _TOP}"/>')
        parts.append(f'<text class="zone" x="{_LEFT + 6}" y="{bottom - 8}">{escape(words[1])}</text>')
    parts.append(f'<text class="zone" text-anchor="end" x="{right - 6}" y="{_TOP + 15}">{escape(words[0])}</text>')
    return parts


def _grid(low_V: float, high_V: float, across: Place, low: int, high: int, upward: Place) -> list[str]:
    right, bottom = WIDTH - _RIGHT, HEIGHT - _BOTTOM
    parts = []
    for power in range(low, high + 1):
        y = upward(10.0 ** power)
        parts.append(f'<line class="grid" x1="{_LEFT}" x2="{right}" y1="{y:.1f}" y2="{y:.1f}"/><text text-anchor="end" '
                     f'x="{_LEFT - 6}" y="{y + 4:.1f}">{_percent(power)}</text>')
    step = 0.1 if high_V - low_V < 1.2 else 0.25
    for number in range(int(low_V / step) + 1, int(high_V / step) + 1):
        x = across(number * step)
        parts.append(f'<line class="grid" x1="{x:.1f}" x2="{x:.1f}" y1="{_TOP}" y2="{bottom}"/><text '
                     f'text-anchor="middle" x="{x:.1f}" y="{bottom + 18}">{number * step:.2f} V</text>')
    return [*parts, f'<path class="axis" d="M{_LEFT} {_TOP}V{bottom}H{right}"/>']


def _percent(power: int) -> str:
    """
    >>> _percent(-2), _percent(-6), _percent(0), _percent(2)
    ('1 %', '0.0001 %', '100 %', '100 times')
    """
    if power > 0:
        return f"{10 ** power} times"
    return f"{10.0 ** (power + 2):.10f}".rstrip("0").rstrip(".") + " %"


def _mark(dot: _Dot) -> str:
    """Verdicts by shape as well as colour: a disc is ok, a square caution, a triangle danger, a diamond the rest."""
    x, y = dot.x, dot.y
    match dot.verdict:
        case "ok":
            shape = f'<circle class="ok" cx="{x:.1f}" cy="{y:.1f}" r="5"/>'
        case "caution":
            shape = f'<rect class="caution" stroke-width="2" x="{x - 4.5:.1f}" y="{y - 4.5:.1f}" width="9" height="9"/>'
        case "danger":
            shape = f'<path class="danger" d="M{x:.1f} {y - 6:.1f}l6 11h-12z"/>'
        case _:
            shape = f'<path class="{dot.verdict}" stroke-width="2" d="M{x - 6:.1f} {y:.1f}l6 -6l6 6l-6 6z"/>'
    return shape + (f'<circle class="ring" stroke-width="1.5" cx="{x:.1f}" cy="{y:.1f}" r="9"/>' if dot.now else "")


def _labels(dots: Sequence[_Dot]) -> list[str]:
    """Each label beside its dot where there is room, else a little away with a line to it."""
    taken: list[Box] = [(dot.x - 8, dot.y - 8, dot.x + 8, dot.y + 8) for dot in dots]
    taken += [(WIDTH - _RIGHT - 220, _TOP, WIDTH, _TOP + 20),
              (_LEFT, HEIGHT - _BOTTOM - 22, _LEFT + 170, HEIGHT - _BOTTOM)]  # the names of the zones
    parts = []
    for dot in sorted(dots, key=lambda one: (not one.now, one.verdict != "ok", one.y)):
        width = _LETTER * len(dot.label)
        box, far = _room(dot, width, taken)
        taken.append(box)
        weight = ' font-weight="bold"' if dot.now else ""
        if far:
            end = box[0] - 2 if box[0] > dot.x else box[2] + 2 if box[2] < dot.x else (box[0] + box[2]) / 2
            parts.append(f'<line class="lead" x1="{dot.x:.1f}" y1="{dot.y:.1f}" x2="{end:.1f}" '
                         f'y2="{(box[1] + box[3]) / 2:.1f}"/>')
        parts.append(f'<text x="{box[0]:.1f}" y="{box[3] - 3:.1f}"{weight}>{escape(dot.label)}</text>')
    return parts


def _room(dot: _Dot, width: float, taken: Sequence[Box]) -> tuple[Box, bool]:
    """A free place for a label of this width, the nearest first; whether it is away from its dot."""
    tried = [(10.0, 0.0), (-10.0 - width, 0.0), (-width / 2, -16.0), (-width / 2, 16.0)]
    tried += [(side, step * rise) for step in range(1, 12) for rise in (-14.0, 14.0) for side in (14.0, -14.0 - width)]
    for number, (right, down) in enumerate(tried):
        left, middle = dot.x + right, dot.y + down
        box = (left, middle - _LINE / 2, left + width, middle + _LINE / 2)
        inside = left >= _LEFT and box[2] <= WIDTH - 2 and box[1] >= _TOP and box[3] <= HEIGHT - _BOTTOM
        if inside and not any(_overlap(box, other) for other in taken):
            return box, number > 3
    return (dot.x + 10, dot.y - _LINE / 2, dot.x + 10 + width, dot.y + _LINE / 2), False


def _overlap(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
