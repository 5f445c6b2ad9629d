"""A regulator's settings as a picture: volts as dots with whiskers, the loads' windows as bands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from html import escape
from typing import Any

from netcheck.fragment.model import Fragment
from netcheck.reports.links import from_above
from netcheck.reports.plot import Axis, _extent, _scale, _ticks
from netcheck.reports.settings_text import worst_case

_LEFT_PLAIN, _RIGHT, _TOP, _ROW, _FOOT = 40, 100, 64, 26, 76
WIDTH = 720
_FAMILY = "Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"
_MONO = "'Liberation Mono', 'DejaVu Sans Mono', monospace"

_STYLE = """
svg { background: #ffffff; color: #1b1b1b; }
text { fill: currentColor } .grid { stroke: #d5d5d5 } .axis { stroke: currentColor }
.ok { stroke: #1d7a3a; fill: #1d7a3a } .caution { stroke: #8a6d00; fill: #8a6d00 }
.fails { stroke: #7a3fa0; fill: #7a3fa0 } .danger { stroke: #b3201a; fill: #b3201a }
.unknown { stroke: #555555; fill: none } .band { fill: #0b62a8; fill-opacity: 0.13; stroke: #0b62a8 }
.most { stroke: #b3201a; stroke-dasharray: 6 4 }
@media (prefers-color-scheme: dark) {
 svg { background: #16181c; color: #ececec } .grid { stroke: #3a3d44 }
 .ok { stroke: #6fd08c; fill: #6fd08c } .caution { stroke: #e0c04a; fill: #e0c04a }
 .fails { stroke: #cf9cf2; fill: #cf9cf2 } .danger { stroke: #ff7a70; fill: #ff7a70 }
 .unknown { stroke: #aaaaaa } .band { fill: #6db6ff; stroke: #6db6ff } .most { stroke: #ff7a70 }
}
"""
_SIGNS = {"ok": "circle", "caution": "triangle", "fails": "square", "danger": "cross", "unknown": "ring"}


def settings_plot(name: str, regulator: Mapping[str, Any], fragment: Fragment) -> str:
    """The plot as SVG text. Raises ValueError where no setting has volts."""
    settings = [one for one in regulator["settings"] if one["output_V"] is not None]
    if not settings:
        raise ValueError("no setting has volts that could be drawn")
    windows = [(load, window) for load, window in regulator["windows_V"].items() if window["works_from"] is not None]
    values = [value for one in settings for value in (one["output_V"], *worst_case(one)) if value is not None]
    marks = [one for _, window in windows for one in (window["works_from"], window["works_to"], window["survives"])
             if one is not None and abs(one) < 1e3]
    low, high = _extent([*values, *marks], log=False)
    left = _LEFT_PLAIN + 42 * max(1, len(regulator["links"]))
    across = _scale(low, high, left, WIDTH - _RIGHT, log=False)
    bottom = _TOP + _ROW * len(settings) + 10
    parts = [*_bands(windows, across, bottom), *_grid(low, high, across, bottom, left)]
    for place, link in enumerate(regulator["links"]):
        x = _LEFT_PLAIN + 42 * place + 6
        parts.append(f'<text text-anchor="middle" x="{x}" y="{_TOP - 8}">{escape(link)}</text>')
    for place, setting in enumerate(settings):
        parts += _setting(setting, regulator, fragment, across, _TOP + _ROW * place + _ROW / 2)
    parts += _key({one["verdict"] for one in settings}, bottom + 58)
    height = bottom + _FOOT
    told = "; ".join(f"{one['output_V']:.2f} V ({one['verdict']})" for one in settings)
    title = f"{name}: volts of {regulator['output']} in each setting"
    return (f'<svg xmlns="http://www.w3.org/2000/svg" data-made-by="netcheck" role="img" '
            f'font-family="{_FAMILY}" font-size="13" viewBox="0 0 {WIDTH} {height}" aria-labelledby="t d">'
            f'<title id="t">{escape(title)}</title>'
            f'<desc id="d">{escape(told)}</desc>'
            f'<style>{_STYLE}</style><text x="16" y="22" font-weight="bold">{escape(title)}</text>'
            + "".join(parts) + "</svg>\n")


def _bands(windows: list[tuple[str, Any]], across: Any, bottom: float) -> Iterator[str]:
    for place, (load, window) in enumerate(windows):
        start, end = across(window["works_from"]), across(min(window["works_to"] or 1e3, 1e3))
        yield (f'<rect class="band" fill="#0b62a8" fill-opacity="0.13" stroke="#0b62a8" x="{start:.1f}" y="{_TOP}" '
               f'width="{max(1.0, end - start):.1f}" height="{bottom - _TOP:.0f}"/>'
               f'<text text-anchor="middle" x="{(start + end) / 2:.1f}" y="{_TOP - 6 - 14 * (place % 2)}">'
               f'{escape(load)} works</text>')
        if window["survives"] is not None and window["survives"] != window["works_to"]:
            most = across(window["survives"])
            yield (f'<line class="most" stroke="#b3201a" stroke-dasharray="6 4" x1="{most:.1f}" x2="{most:.1f}" '
                   f'y1="{_TOP}" y2="{bottom}"/><text text-anchor="start" x="{most + 3:.1f}" '
                   f'y="{_TOP - 6 - 14 * ((place + 1) % 2)}">{escape(load)} survives</text>')


def _grid(low: float, high: float, across: Any, bottom: float, left: float) -> Iterator[str]:
    axis = Axis("output, V")
    for tick in _ticks(low, high, log=False):
        yield (f'<line class="grid" stroke="#d5d5d5" x1="{across(tick):.1f}" x2="{across(tick):.1f}" y1="{_TOP}" '
               f'y2="{bottom}"/><text text-anchor="middle" x="{across(tick):.1f}" y="{bottom + 18}">'
               f'{escape(axis.write(tick))}</text>')
    yield f'<path class="axis" stroke="#1b1b1b" fill="none" d="M{left} {bottom}H{WIDTH - _RIGHT}"/>'
    yield f'<text text-anchor="middle" x="{(left + WIDTH - _RIGHT) / 2}" y="{bottom + 36}">{escape(axis.title)}</text>'


def _setting(setting: Mapping[str, Any], regulator: Mapping[str, Any], fragment: Fragment, across: Any, y: float
             ) -> Iterator[str]:
    for place, link in enumerate(regulator["links"]):
        drawn = from_above(fragment.parts[link], setting["positions"][link])
        yield (f'<text font-family="{_MONO}" xml:space="preserve" text-anchor="middle" '
               f'x="{_LEFT_PLAIN + 42 * place + 6}" y="{y + 4:.1f}">{escape(drawn)}</text>')
    verdict = setting["verdict"]
    low, high = worst_case(setting)
    if low is not None and high is not None:
        start, end = across(low), across(high)
        yield (f'<path class="{verdict}" stroke="#1b1b1b" stroke-width="1.6" d="M{start:.1f} {y:.1f}H{end:.1f}'
               f'M{start:.1f} {y - 5:.1f}v10M{end:.1f} {y - 5:.1f}v10"/>')
    yield _sign(verdict, across(setting["output_V"]), y)
    yield (f'<text x="{WIDTH - _RIGHT + 8}" y="{y + 4:.1f}">{setting["output_V"]:.2f} V'
           f'{" *" if setting["as_set"] and regulator["links"] else ""}</text>')


def _sign(verdict: str, x: float, y: float) -> str:
    """The dot of a setting, its shape telling the verdict as well as its colour."""
    match _SIGNS[verdict]:
        case "circle":
            return f'<circle class="{verdict}" cx="{x:.1f}" cy="{y:.1f}" r="5"/>'
        case "triangle":
            return f'<path class="{verdict}" d="M{x:.1f} {y - 6:.1f}l6 11h-12z"/>'
        case "square":
            return f'<rect class="{verdict}" x="{x - 5:.1f}" y="{y - 5:.1f}" width="10" height="10"/>'
        case "cross":
            return f'<path class="{verdict}" stroke-width="3.5" d="M{x - 6:.1f} {y - 6:.1f}l12 12m0 -12l-12 12"/>'
        case _:
            return f'<circle class="{verdict}" fill="none" cx="{x:.1f}" cy="{y:.1f}" r="5"/>'


def _key(verdicts: set[str], y: float) -> Iterator[str]:
    for place, verdict in enumerate(word for word in _SIGNS if word in verdicts):
        yield _sign(verdict, 40 + 110 * place, y - 4)
        yield f'<text x="{52 + 110 * place}" y="{y}">{verdict}</text>'
