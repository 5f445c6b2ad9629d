"""The placed picture as SVG text: the same picture gives the same bytes.

Colours stand twice: as plain attributes (light paper), and as CSS variables
`--nd-…` that follow the reader's dark or light preference and that a page may
set itself. Renderers without CSS variables skip the @supports block.
"""

from __future__ import annotations

import math
import re
import zlib
from collections.abc import Iterable, Iterator, Sequence
from html import escape

from netcheck.reports.drawing import symbols
from netcheck.reports.drawing.frame_words import Key
from netcheck.reports.drawing.layout import place
from netcheck.reports.drawing.picture import Column, Fate, Picture
from netcheck.reports.drawing.placement import Lead, PlacedBar, PlacedPart, Placement
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
    "meant": ("#0b6b57", "#6fd3bb"),
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
_BAR_PEN = {"rail": 3.2, "net": 2.0, "gone": 1.4}
_PEN, _FITTED_PEN, _ROUTE_PEN = 1.4, 2.2, 3.0
_DEAD_DASH = "3 2.5"


def draw(picture: Picture, narrow: bool = False) -> str:
    """The picture as a complete SVG document; narrow: for a screen as wide as a hand.

    Raises ValueError where a pin's net has no bar (see layout.place).
    """
    placement = place(picture, narrow)
    charge = "meant" if picture.meant else "route"
    across, down = _n(placement.width), _n(placement.height)
    words = description(picture)
    mark = f"{zlib.crc32(f'{picture.title}{words}{narrow}'.encode()):08x}"
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="nd" data-made-by="netcheck" role="img" '
        f'width="{across}" height="{down}" '
        f'viewBox="0 0 {across} {down}" aria-labelledby="nd-t-{mark} nd-d-{mark}" '
        'style="max-width:100%;height:auto">',
        f'<title id="nd-t-{mark}">{escape(picture.title)}</title>',
        f'<desc id="nd-d-{mark}">{escape(words)}</desc>',
        f"<style>{_style()}</style>",
        f'<rect width="{across}" height="{down}" {_fill("paper")}/>',
        *(_hatches(placement, f"nd-h-{mark}") if charge == "route" else ()),
        *_bars(placement.bars),
        *(line for part in placement.parts for line in _part(part, charge)),
        *_route_bars(placement, charge),
        *_dots(placement, charge),
        *(_frame(cell) for cell in placement.cells),
        f'<g font-family="{FAMILY}">',
        *(_text(text, charge) for text in placement.every_text),
        "</g>",
        *(line for key in placement.keys for line in _sample(key)),
        "</svg>",
    ]
    return "\n".join(lines) + "\n"


_BETWEEN = 18.0
_SIZED = re.compile(r'width="([\d.]+)" height="([\d.]+)"')


def size(drawing: str) -> tuple[float, float]:
    """How wide and how high a drawing is [pixels]."""
    found = _SIZED.search(drawing)
    if found is None:
        raise ValueError("no drawing")
    return float(found[1]), float(found[2])


def beside(drawings: Sequence[str]) -> str:
    """Drawings as one picture, side by side; a single one as it is."""
    if len(drawings) == 1:
        return drawings[0]
    sizes = [size(one) for one in drawings]
    across = sum(width_ for width_, _ in sizes) + _BETWEEN * (len(sizes) - 1)
    down = max(height for _, height in sizes)
    x, parts = 0.0, []
    for one, (wide, _) in zip(drawings, sizes, strict=True):
        parts.append(one.replace("<svg ", f'<svg x="{_n(x)}" y="0" ', 1).rstrip())
        x += wide + _BETWEEN
    return (f'<svg xmlns="http://www.w3.org/2000/svg" data-made-by="netcheck" width="{_n(across)}" '
            f'height="{_n(down)}" viewBox="0 0 {_n(across)} {_n(down)}" style="max-width:100%;height:auto">\n'
            + "\n".join(parts) + "\n</svg>\n")


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
    return " ".join([f"{column.shown} ({', '.join(w for w in [column.symbol, *words] if w)}):", pins])


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
        if bar.bar.dead and kind != "gone":
            role, dash = "soft", _DEAD_DASH
        yield _line([(bar.x0, bar.y), (bar.x1, bar.y)], role, _BAR_PEN[kind], dash)


def _part(part: PlacedPart, charge: str) -> Iterator[str]:
    column = part.column
    dead = column.dead and column.fate is Fate.AS_FOUND
    plain = "soft" if dead else _OF_FATE[column.fate]
    role = charge if column.on_route else plain
    thin = _FITTED_PEN if plain == "fitted" else _weight(column.flow_A)
    pen = max(_ROUTE_PEN, thin) if column.on_route else thin
    dash = _DEAD_DASH if dead else _DASH.get(column.fate, "")
    yield f"<g><title>{escape(_said(column))}</title>"
    for lead in part.leads:
        carries = len(column.pins) == 2 or plain == "fitted" or lead.pin in column.through
        yield _line(lead.points, *((charge, pen) if lead.on_route else (plain, thin if carries else _PEN)), dash)
    for ground in part.grounds:
        on_route = column.on_route and len(column.pins) == 2
        yield _line(ground.points, *((charge, pen) if on_route else (plain, thin)), dash)
        yield from _strokes(symbols.ground().strokes, *ground.sign, role if on_route else plain, _PEN)
    symbol = part.body.symbol
    if symbol is not None:
        hollow = column.blocks and not column.on_route
        yield from _strokes(symbol.strokes, part.x, part.y, role, min(pen, _FITTED_PEN), hollow=hollow, dash=dash)
    else:
        yield from _box(part, role, min(pen, _FITTED_PEN), dash)
    if column.flow_A:
        for lead in _carrying(part):
            yield _arrow(part, lead, role)
    if column.fate is Fate.REMOVED:
        yield from _struck(_grown(_inked(part)), role)
    yield "</g>"


def _box(part: PlacedPart, role: str, pen: float, dash: str) -> Iterator[str]:
    box = part.outline or part.box
    corners = [(box.x0, box.y0), (box.x1, box.y0), (box.x1, box.y1), (box.x0, box.y1), (box.x0, box.y0)]
    yield _line(corners, role, pen, dash)
    moved = [[(x + part.x, y + part.y) for x, y in link] for link in part.body.links]
    yield from (_line(link, role, 4.0) for link in moved)
    for x, y in part.body.sockets:
        yield (
            f'<circle cx="{_n(x + part.x)}" cy="{_n(y + part.y)}" r="3.6" class="nd-s-{role} nd-f-paper" '
            f'stroke="{COLOURS[role][0]}" fill="{COLOURS["paper"][0]}" stroke-width="1.4"/>'
        )


def _frame(box: Box) -> str:
    """A field of the title block."""
    corners = [(box.x0, box.y0), (box.x1, box.y0), (box.x1, box.y1), (box.x0, box.y1), (box.x0, box.y0)]
    return _line(corners, "soft", 0.8)


def _carrying(part: PlacedPart) -> list[Lead]:
    """The leads that get an arrow head: of a two-terminal part the longer one, of others each that carries its
    current."""
    through = [lead for lead in part.leads if lead.pin in part.column.through]
    if len(part.column.pins) == 2 and part.body.symbol is not None:
        through = through or list(part.leads)
        return sorted(through, key=lambda lead: -_upright_length(lead))[:1]
    return through


def _upright_length(lead: Lead) -> float:
    return abs(lead.points[0][1] - lead.points[1][1])


def _arrow(part: PlacedPart, lead: Lead, role: str) -> str:
    """An arrow head halfway along a lead, the way the simulated current flows; larger for more of it."""
    outward = (lead.pin == part.column.through[1]) == (part.column.flow_A > 0)  # away from the symbol, to the bar
    (x, bar_y), (_, symbol_y) = lead.dot, lead.points[1]
    y = (bar_y + symbol_y) / 2
    down = (bar_y > symbol_y) == outward
    size = 6.0 + 1.6 * _weight(part.column.flow_A)
    head = symbols.arrow_head((x, y - 20 if down else y + 20), (x, y + size / 2 if down else y - size / 2), size, size)
    return next(_strokes([head], 0, 0, role, 0.5))


def _weight(amps: float) -> float:
    """Width of a line by its current: a tenth of a microamp and less thin, from a milliamp on three times that."""
    return _PEN if not amps else min(_PEN + 0.35 * max(0.0, math.log10(abs(amps) / 1e-7)), _ROUTE_PEN)


def _hatched(points: Iterable[Point], pattern: str) -> str:
    """The marks of danger along a line: nothing else is hatched."""
    return (f'<path d="{_path(points)}" class="nd-hatch" stroke="url(#{pattern})" fill="none" '
            f'stroke-width="{_n(_HATCHED)}" stroke-linecap="square"/>')


def _hatches(placement: Placement, pattern: str) -> Iterator[str]:
    """The marks of danger under a charge route: along its bars, its leads and the parts between them."""
    stretches = [*_route_stretches(placement), *_route_ways(placement)]
    if stretches:
        yield (f'<defs><pattern id="{pattern}" width="5" height="5" patternUnits="userSpaceOnUse" '
               f'patternTransform="rotate(45)"><path d="M0 0V5" class="nd-s-route" stroke="{COLOURS["route"][0]}" '
               f'stroke-width="3" stroke-opacity="0.5"/></pattern></defs>')
    for points in stretches:
        # a pattern along a line without any height or width is not painted (SVG 1.1, W3C, 7.11): hence userSpaceOnUse
        yield _hatched(points, pattern)


_HATCHED = 13.0


def _route_ways(placement: Placement) -> Iterator[list[Point]]:
    for part in placement.parts:
        ends = [lead.dot for lead in part.leads if lead.on_route]
        if len(part.column.pins) == 2 and part.on_route:
            ends += [ground.sign for ground in part.grounds]
            if len(ends) == 2 and ends[0][0] == ends[1][0]:
                yield ends
                continue
        for lead in part.leads:
            if lead.on_route:
                yield list(lead.points)


def _struck(box: Box, role: str) -> Iterator[str]:
    for top, bottom in ((box.y0, box.y1), (box.y1, box.y0)):
        yield _line([(box.x0, top), (box.x1, bottom)], role, 2.0)


def _inked(part: PlacedPart) -> Box:
    """The symbol or box without leads and ground signs."""
    if part.outline is not None or part.body.symbol is None:
        return part.outline or part.box
    x0, y0, x1, y1 = part.body.symbol.extent
    return Box(x0 + part.x, y0 + part.y, x1 + part.x, y1 + part.y)


def _grown(box: Box) -> Box:
    """A little wider than the symbol and never flat, for the cross over it."""
    middle, down = (box.y0 + box.y1) / 2, max((box.y1 - box.y0) / 2 - 1, 12)
    return Box(box.x0 - 3, middle - down, box.x1 + 3, middle + down)


def _route_bars(placement: Placement, charge: str) -> Iterator[str]:
    for ends in _route_stretches(placement):
        yield _line(ends, charge, _ROUTE_PEN + 0.8)


def _route_stretches(placement: Placement) -> Iterator[list[Point]]:
    """The stretch of each bar between the parts of a charge route."""
    for bar in placement.bars:
        if bar.bar.highlighted:
            xs = [lead.x for lead in _route_leads(placement) if lead.net == bar.bar.net]
            if len(xs) > 1:
                yield [(min(xs), bar.y), (max(xs), bar.y)]


def _route_leads(placement: Placement) -> Iterator[Lead]:
    return (lead for part in placement.parts for lead in part.leads if lead.on_route)


def _dots(placement: Placement, charge: str) -> Iterator[str]:
    on_route = {lead.dot for lead in _route_leads(placement)}
    for part in placement.parts:
        for lead in part.leads:
            dead = part.column.dead and part.column.fate is Fate.AS_FOUND
            role = charge if lead.dot in on_route else "soft" if dead else _OF_FATE[part.column.fate]
            x, y = lead.dot
            yield f'<circle cx="{_n(x)}" cy="{_n(y)}" r="3.4" {_fill(role)}/>'


def _sample(key: Key) -> Iterator[str]:
    box = key.sample
    y = (box.y0 + box.y1) / 2
    if key.mark == "ground":
        yield _line([((box.x0 + box.x1) / 2, box.y0 - 2), ((box.x0 + box.x1) / 2, box.y0 + 3)], "ink", _PEN)
        yield from _strokes(symbols.ground().strokes, (box.x0 + box.x1) / 2, box.y0 + 3, "ink", _PEN)
    if key.mark == "level":
        yield _line([(box.x0, y - 3), (box.x1, y - 3)], "ink", 2.0)
        yield _line([(box.x0, y + 3), (box.x1, y + 3)], "ink", 2.0)
    if key.mark in ("", "ground", "level"):
        return
    if key.mark in ("blocks", "dead"):
        dead = key.mark == "dead"
        yield _line([(box.x0, y), (box.x1, y)], "soft" if dead else "ink", _PEN, _DEAD_DASH if dead else "")
        if not dead:
            head = symbols.arrow_head((box.x0, y), (box.x0 + 19, y), 11, 11)
            yield from _strokes([head], 0, 0, "ink", _PEN, hollow=True)
        return
    fate = next((f for f in Fate if f.value == key.mark), None)
    role = key.mark if fate is None else _OF_FATE[fate]
    pen = _ROUTE_PEN if fate is None else _FITTED_PEN if role == "fitted" else _PEN
    yield _line([(box.x0, y), (box.x1, y)], role, pen, _DASH.get(fate, "") if fate else "")
    if key.mark == "route":
        yield (f'<path d="M{_n(box.x0)} {_n(y)}L{_n(box.x1)} {_n(y)}" class="nd-s-route" '
               f'stroke="{COLOURS["route"][0]}" fill="none" stroke-width="12" stroke-opacity="0.5" '
               f'stroke-dasharray="2 4"/>')
    if fate is None:
        head = symbols.arrow_head((box.x0, y), (box.x0 + 19, y), 11, 11)
        yield from _strokes([head], 0, 0, role, 0.5)
    if fate is Fate.REMOVED:
        middle = (box.x0 + box.x1) / 2
        yield from _struck(Box(middle - 5, y - 6, middle + 5, y + 6), role)


def _strokes(
    strokes: Iterable[Stroke], x: float, y: float, role: str, pen: float, hollow: bool = False, dash: str = ""
) -> Iterator[str]:
    for stroke in strokes:
        dashed = f' stroke-dasharray="{dash}"' if dash and not stroke.closed else ""
        path = _path(((px + x, py + y) for px, py in stroke.points), stroke.closed)
        fill = {"ink": "paper" if hollow else role, "paper": "paper"}.get(stroke.fill)
        classes = f"nd-s-{role}" + (f" nd-f-{fill}" if fill else "")
        colour = COLOURS[fill][0] if fill else "none"
        wide = 2.4 * pen if stroke.heavy else pen
        yield (
            f'<path d="{path}" class="{classes}" stroke="{COLOURS[role][0]}" fill="{colour}" '
            f'stroke-width="{_n(wide)}" stroke-linejoin="round"{dashed}/>'
        )


def _line(points: Iterable[Point], role: str, pen: float, dash: str = "") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<path d="{_path(points)}" class="nd-s-{role}" stroke="{COLOURS[role][0]}" fill="none" '
        f'stroke-width="{_n(pen)}"{dashed}/>'
    )


def _path(points: Iterable[Point], closed: bool = False) -> str:
    return "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in points) + ("Z" if closed else "")


def _text(text: Text, charge: str = "route") -> str:
    weight = ' font-weight="bold"' if text.bold else ""
    long = _n(width(text.content, text.size, text.bold))
    role = charge if text.role == "route" else _OF_TEXT[text.role]
    return (
        f'<text x="{_n(text.x)}" y="{_n(text.y)}" font-size="{_n(text.size)}"{weight} textLength="{long}" '
        f'lengthAdjust="spacingAndGlyphs" {_fill(role)}>{escape(text.content)}</text>'
    )


def _n(value: float) -> str:
    """A coordinate with at most one decimal place and no negative zero."""
    short = f"{value:.1f}".removesuffix(".0")
    return "0" if short == "-0" else short
