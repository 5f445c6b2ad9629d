"""The placed picture as SVG text: the same picture gives the same bytes.

Colours stand twice: as plain attributes (light paper), and as CSS variables
`--nd-…` that follow the reader's dark or light preference and that a page may
set itself. Renderers without CSS variables skip the @supports block.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Iterator, Sequence
from html import escape

from netcheck.reports.drawing import symbols
from netcheck.reports.drawing.layout import Key, Lead, PlacedBar, PlacedPart, Placement, place
from netcheck.reports.drawing.picture import Column, Fate, Picture
from netcheck.reports.drawing.stack import stacked
from netcheck.reports.drawing.symbols import Point, Stroke
from netcheck.reports.drawing.text import FAMILY, Box, Text, width

# role: colour on light paper, colour on dark paper
COLOURS = {
    "paper": ("#ffffff", "#14181c"),
    "ink": ("#1b1f23", "#eceff1"),
    "soft": ("#4a5157", "#b9c1c8"),
    "route": ("#b03a00", "#ffab66"),
    "removed": ("#6a6f75", "#9aa3ab"),
    "fitted": ("#0b57b0", "#7fb8ff"),
}
_OF_TEXT = {
    "title": "ink", "name": "ink", "value": "soft", "pin": "soft", "note": "soft", "route": "route",
    "removed": "removed", "fitted": "fitted", "moved": "fitted", "empty": "soft",
}
_OF_FATE = {
    Fate.AS_FOUND: "ink", Fate.REMOVED: "removed", Fate.FITTED: "fitted", Fate.MOVED: "fitted",
    Fate.EMPTY: "soft",
}
_DASH = {Fate.REMOVED: "5 3", Fate.EMPTY: "1.5 3"}
_BAR_PEN = {"rail": 3.2, "ground": 3.2, "net": 2.0, "gone": 1.4}
_PEN, _FITTED_PEN, _ROUTE_PEN = 1.4, 2.2, 3.0


def draw(picture: Picture) -> str:
    """The picture as a complete SVG document.

    Raises ValueError where a pin's net has no bar (see layout.place).
    """
    placement = place(picture)
    across, down = _n(placement.width), _n(placement.height)
    words = description(picture)
    mark = f"{zlib.crc32(f'{picture.title}{words}'.encode()):08x}"
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="nd" data-made-by="netcheck" role="img" '
        f'width="{across}" height="{down}" '
        f'viewBox="0 0 {across} {down}" aria-labelledby="nd-t-{mark} nd-d-{mark}" '
        'style="max-width:100%;height:auto">',
        f'<title id="nd-t-{mark}">{escape(picture.title)}</title>',
        f'<desc id="nd-d-{mark}">{escape(words)}</desc>',
        f"<style>{_style()}</style>",
        f'<rect width="{across}" height="{down}" {_fill("paper")}/>',
        *_bars(placement.bars),
        *(line for part in placement.parts for line in _part(part)),
        *_route_bars(placement),
        *_dots(placement),
        f'<g font-family="{FAMILY}">',
        *map(_text, placement.every_text),
        "</g>",
        *(line for key in placement.keys for line in _sample(key)),
        "</svg>",
    ]
    return "\n".join(lines) + "\n"


def description(picture: Picture) -> str:
    """The picture in words: every net from the top down with its volts, every part with its nets."""
    nets = [f"{bar.net} {bar.label}".strip() for bar in stacked(picture)]
    said = [picture.description, "Nets from the top down: " + ", ".join(nets) + "."]
    said.append("Parts: " + "; ".join(map(_said, picture.columns)) + ".")
    return " ".join(part for part in [*said, picture.route_label, picture.note] if part)


def _said(column: Column) -> str:
    pins = ", ".join(f"{pin} on {net}" for pin, net in column.pins)
    words = [column.value, column.amps, column.drop, column.word]
    words += [str(column.fate)] if column.fate is not Fate.AS_FOUND and not column.word else []
    words += ["on the charge route"] if column.on_route else []
    return " ".join([f"{column.name} ({', '.join(w for w in [column.symbol, *words] if w)}):", pins])


def _style() -> str:
    light = "".join(f"--nd-{role}:{colour};" for role, (colour, _) in COLOURS.items())
    dark = "".join(f"--nd-{role}:{colour};" for role, (_, colour) in COLOURS.items())
    uses = "".join(f".nd-s-{r}{{stroke:var(--nd-{r})}}.nd-f-{r}{{fill:var(--nd-{r})}}" for r in COLOURS)
    return (
        f"@supports (color:var(--nd)){{:root{{{light}}}"
        f"@media (prefers-color-scheme:dark){{:root{{{dark}}}}}{uses}}}"
    )


def _fill(role: str) -> str:
    return f'class="nd-f-{role}" fill="{COLOURS[role][0]}"'


def _bars(bars: Sequence[PlacedBar]) -> Iterator[str]:
    for bar in bars:
        kind = bar.bar.kind
        role, dash = ("removed", _DASH[Fate.REMOVED]) if kind == "gone" else ("ink", "")
        yield _line([(bar.x0, bar.y), (bar.x1, bar.y)], role, _BAR_PEN[kind], dash)
        if kind == "ground":
            yield from _strokes(symbols.ground().strokes, bar.middle, bar.y, "ink", _PEN)


def _part(part: PlacedPart) -> Iterator[str]:
    column = part.column
    plain = _OF_FATE[column.fate]
    role = "route" if column.on_route else plain
    thin = _FITTED_PEN if plain == "fitted" else _PEN
    pen = _ROUTE_PEN if column.on_route else thin
    dash = _DASH.get(column.fate, "")
    yield f"<g><title>{escape(_said(column))}</title>"
    for lead in part.leads:
        yield _line(lead.points, *(("route", pen) if lead.on_route else (plain, thin)), dash)
    symbol = part.body.symbol
    if symbol is not None:
        yield from _strokes(symbol.strokes, part.x, part.y, role, min(pen, _FITTED_PEN))
    else:
        yield from _box(part, role, min(pen, _FITTED_PEN), dash)
    if any(lead.on_route for lead in part.leads):
        yield _arrow(part)
    if column.fate is Fate.REMOVED:
        yield from _struck(_grown(part.box), role)
    yield "</g>"


def _box(part: PlacedPart, role: str, pen: float, dash: str) -> Iterator[str]:
    box = part.box
    corners = [(box.x0, box.y0), (box.x1, box.y0), (box.x1, box.y1), (box.x0, box.y1), (box.x0, box.y0)]
    yield _line(corners, role, pen, dash)
    moved = [[(x + part.x, y + part.y) for x, y in link] for link in part.body.links]
    yield from (_line(link, role, 4.0) for link in moved)
    for x, y in part.body.sockets:
        yield (
            f'<circle cx="{_n(x + part.x)}" cy="{_n(y + part.y)}" r="3.6" class="nd-s-{role} nd-f-paper" '
            f'stroke="{COLOURS[role][0]}" fill="{COLOURS["paper"][0]}" stroke-width="1.4"/>'
        )


def _arrow(part: PlacedPart) -> str:
    """An arrow head halfway along the lead to the lowest bar: the charge falls."""
    lead = max((lead for lead in part.leads if lead.on_route), key=lambda lead: lead.dot[1])
    x, y = lead.x, (lead.dot[1] + lead.points[1][1]) / 2
    head = symbols.arrow_head((x, y - 20), (x, y + 5), 11, 11)
    return next(_strokes([head], 0, 0, "route", 0.5))


def _struck(box: Box, role: str) -> Iterator[str]:
    for top, bottom in ((box.y0, box.y1), (box.y1, box.y0)):
        yield _line([(box.x0, top), (box.x1, bottom)], role, 2.0)


def _grown(box: Box) -> Box:
    """A little wider than the symbol and never flat, for the cross over it."""
    middle, down = (box.y0 + box.y1) / 2, max((box.y1 - box.y0) / 2 - 1, 12)
    return Box(box.x0 - 3, middle - down, box.x1 + 3, middle + down)


def _route_bars(placement: Placement) -> Iterator[str]:
    """The stretch of each bar between the parts of a charge route."""
    for bar in placement.bars:
        if bar.bar.highlighted:
            xs = [lead.x for lead in _route_leads(placement) if lead.net == bar.bar.net]
            if len(xs) > 1:
                yield _line([(min(xs), bar.y), (max(xs), bar.y)], "route", _ROUTE_PEN + 0.8)


def _route_leads(placement: Placement) -> Iterator[Lead]:
    return (lead for part in placement.parts for lead in part.leads if lead.on_route)


def _dots(placement: Placement) -> Iterator[str]:
    on_route = {lead.dot for lead in _route_leads(placement)}
    for part in placement.parts:
        for lead in part.leads:
            role = "route" if lead.dot in on_route else _OF_FATE[part.column.fate]
            x, y = lead.dot
            yield f'<circle cx="{_n(x)}" cy="{_n(y)}" r="3.4" {_fill(role)}/>'


def _sample(key: Key) -> Iterator[str]:
    box = key.sample
    y = (box.y0 + box.y1) / 2
    fate = next((f for f in Fate if f.value == key.mark), None)
    role = "route" if fate is None else _OF_FATE[fate]
    pen = _ROUTE_PEN if fate is None else _FITTED_PEN if role == "fitted" else _PEN
    yield _line([(box.x0, y), (box.x1, y)], role, pen, _DASH.get(fate, "") if fate else "")
    if fate is None:
        head = symbols.arrow_head((box.x0, y), (box.x0 + 19, y), 11, 11)
        yield from _strokes([head], 0, 0, role, 0.5)
    if fate is Fate.REMOVED:
        middle = (box.x0 + box.x1) / 2
        yield from _struck(Box(middle - 5, y - 6, middle + 5, y + 6), role)


def _strokes(strokes: Iterable[Stroke], x: float, y: float, role: str, pen: float) -> Iterator[str]:
    for stroke in strokes:
        path = _path(((px + x, py + y) for px, py in stroke.points), stroke.closed)
        fill = {"ink": role, "paper": "paper"}.get(stroke.fill)
        classes = f"nd-s-{role}" + (f" nd-f-{fill}" if fill else "")
        colour = COLOURS[fill][0] if fill else "none"
        wide = 2.4 * pen if stroke.heavy else pen
        yield (
            f'<path d="{path}" class="{classes}" stroke="{COLOURS[role][0]}" fill="{colour}" '
            f'stroke-width="{_n(wide)}" stroke-linejoin="round"/>'
        )


def _line(points: Iterable[Point], role: str, pen: float, dash: str = "") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<path d="{_path(points)}" class="nd-s-{role}" stroke="{COLOURS[role][0]}" fill="none" '
        f'stroke-width="{_n(pen)}"{dashed}/>'
    )


def _path(points: Iterable[Point], closed: bool = False) -> str:
    return "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in points) + ("Z" if closed else "")


def _text(text: Text) -> str:
    weight = ' font-weight="bold"' if text.bold else ""
    long = _n(width(text.content, text.size, text.bold))
    return (
        f'<text x="{_n(text.x)}" y="{_n(text.y)}" font-size="{_n(text.size)}"{weight} textLength="{long}" '
        f'lengthAdjust="spacingAndGlyphs" {_fill(_OF_TEXT[text.role])}>{escape(text.content)}</text>'
    )


def _n(value: float) -> str:
    """A coordinate with at most one decimal place and no negative zero."""
    short = f"{value:.1f}".removesuffix(".0")
    return "0" if short == "-0" else short
