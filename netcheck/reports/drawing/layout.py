"""Where everything stands, in pixels: rows of bars by height, parts in the tiers between them, words around them."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import cache, lru_cache, partial

from msgspec import Struct
from msgspec.structs import replace

from netcheck.reports.drawing import frame_words
from netcheck.reports.drawing.body import LABEL_ROOM, NAME_SIZE, SIZE, Body, Side, body, steady
from netcheck.reports.drawing.frame_words import MARGIN
from netcheck.reports.drawing.packing import CLEAR, Packed, Shape, Wanted, packed, sides
from netcheck.reports.drawing.picture import Bar, Column, Picture, Spot
from netcheck.reports.drawing.placement import Ground, Lead, PlacedBar, PlacedPart, Placement
from netcheck.reports.drawing.stack import negative, rows, stacked
from netcheck.reports.drawing.symbols import SYMBOLS, TRANSISTORS
from netcheck.reports.drawing.text import Box, Text, width

NARROW = 428.0
"""Room for parts on a narrow screen: at 390 px its smallest letters are still 9 px high."""
NARROW_LABEL = 76.0
"""A longer line of a label is broken there."""
WIDE = (600.0, 880.0, 1240.0)
"""Rooms on paper, from which the one is taken that A4 has most of."""
A4 = (694.0, 985.0)
"""What the page's margins leave of A4 (210 mm by 297 mm, ISO 216), less a caption, in pixels of 96 an inch."""
PT = 0.75
"""Points to a pixel of 96 an inch (CSS Values and Units 3, W3C, 6.2)."""
LEAST_PT = 6.5
_UPRIGHT = 1.25
_OVER_BAR = 21.0
_UNDER_BAR = 7.0
_TIER_GAP = 7.0
_LEAST_WIDTH = 320.0
_NAME_GAP = 6.0
_LONGEST_NET = 26
_STEADY_BAR = ("not used", "off, 0 V", "0.555 V")
_CONTROL = ("base", "gate", "wiper")


class _Plan(Struct, frozen=True):
    """What a picture and its frame have in common: rows of nets, the parts that have places, and these."""

    nets: tuple[tuple[str, ...], ...]
    row: Mapping[str, int]
    ground: str
    below: frozenset[str]
    columns: tuple[Column, ...]
    packed: Packed
    rooms: tuple[Box, ...]
    steady: bool
    labels: float


def place(picture: Picture, narrow: bool = False) -> Placement:
    """Lay the picture out, on paper or for a narrow screen.

    Raises ValueError where a pin is on a net that has no bar, or a net has two.
    """
    _complain(picture)
    if narrow:
        return _placed(picture, list(_wrapped(picture)))
    tried: list[Placement] = []
    for room in WIDE:
        tried.append(_placed(picture, [(picture, _plan(picture, room))]))
        if letters_pt(tried[-1]) >= LEAST_PT and tried[-1].height <= _UPRIGHT * max(tried[-1].width, room):
            return tried[-1]
    return max(tried, key=lambda one: (min(letters_pt(one), LEAST_PT), -one.width))


def letters_pt(placement: Placement) -> float:
    """How high the smallest letters are where the drawing is as large as a page of A4 lets it, upright or lying, and
    no larger than it is [pt]."""
    across, down = A4
    upright = min(across / placement.width, down / placement.height)
    lying = min(down / placement.width, across / placement.height)
    return min(text.size for text in placement.every_text) * max(upright, lying) * PT


def _plan(picture: Picture, room: float) -> _Plan:
    """The plan of a picture: that of its frame, with room for what is new here."""
    frame = picture.frame
    if frame is None:
        return _planned(replace(picture, title="", description=""), (), (), room, False)
    known = {column.spot for column in frame.columns}
    new = tuple(replace(column, amps="", drop="") for column in picture.columns if column.spot not in known)
    nets = {bar.net for bar in frame.bars}
    bars = tuple(replace(bar, label="", dead=False) for bar in picture.bars if bar.net not in nets)
    return _planned(frame, new, bars, room, True)


@lru_cache(maxsize=32)
def _planned(base: Picture, new: tuple[Column, ...], new_bars: tuple[Bar, ...], room: float, roomy: bool) -> _Plan:
    """roomy: with room for the widest words of any state."""
    nets = _rows(base, new, new_bars)
    plan = _arranged(base, new, new_bars, nets, room, roomy)
    doubled = {net for net, track in plan.packed.track.items() if track}
    if len(doubled) < _MANY_LINES:
        return plan
    # so many nets of the same volts do not fit beside each other: those that would lie in a bundle get own rows
    apart = tuple(part for row in nets for part in _split(row, doubled))
    return min(plan, _arranged(base, new, new_bars, apart, room, roomy), key=lambda one: one.packed.score)


_MANY_LINES = 2


def _split(row: tuple[str, ...], doubled: Collection[str]) -> Iterator[tuple[str, ...]]:
    """A row with the doubled nets in rows of their own, all in their order; the rest stays together."""
    together = tuple(net for net in row if net not in doubled)
    for net in row:
        if net in doubled:
            yield (net,)
        elif net == together[0]:
            yield together


def _arranged(base: Picture, new: tuple[Column, ...], new_bars: tuple[Bar, ...], nets: tuple[tuple[str, ...], ...],
              room: float, roomy: bool) -> _Plan:
    """The parts in their places between those rows of nets."""
    row = {net: number for number, names in enumerate(nets) for net in names}
    bars = (*base.bars, *new_bars)
    ground = next((bar.net for bar in bars if bar.kind == "ground"), "")
    below = negative(base)
    columns = (*base.columns, *new)
    labels = LABEL_ROOM if room > NARROW else NARROW_LABEL

    @cache
    def at(number: int, gap: int) -> Body:
        drawn = steady(columns[number]) if roomy else columns[number]
        return body(drawn, _sides(columns[number], ground, gap, row, below), drawn, labels)

    @cache
    def shape(number: int, gap: int) -> Shape:
        whole = at(number, gap).whole
        return Shape(whole.x0, whole.x1, at(number, gap).leads)

    wanted = [Wanted(_gaps(column, ground, row, below, len(nets)), partial(shape, number), column.together)
              for number, column in enumerate(columns)]
    widths = {bar.net: _name_width(bar, roomy) for bar in bars if bar.net in row}
    found = packed(nets, widths, wanted, room, len(base.columns))
    return _Plan(nets, row, ground, below, columns, found,
                 tuple(at(number, spot.gap).whole for number, spot in enumerate(found.spots)), roomy, labels)


def _rows(base: Picture, new: Sequence[Column], new_bars: Sequence[Bar]) -> tuple[tuple[str, ...], ...]:
    """Nets in rows from the top down: those of the frame, and each that is new here under what stands above it."""
    found = [tuple(bar.net for bar in row) for row in rows(base)]
    fresh = {bar.net for bar in new_bars if bar.kind != "ground"}
    above: str | None = None
    for bar in stacked(replace(base, bars=(*base.bars, *new_bars), columns=(*base.columns, *new))) if fresh else ():
        if bar.net in fresh:
            at = next((number for number, row in enumerate(found) if above in row), -1)
            found.insert(at + 1, (bar.net,))
        above = bar.net if bar.kind != "ground" else above
    return tuple(found)


def _sides(column: Column, ground: str, gap: int, row: Mapping[str, int], below: Collection[str]) -> dict[str, Side]:
    stands = _stands(column, ground, below)
    return {net: sides(net, ground, gap, row, stands) for _, net in column.pins}


def _stands(column: Column, ground: str, below: Collection[str]) -> bool:
    """Whether a part hangs from ground, on to a negative net."""
    ends = {net for _, net in _ends(column)} - {ground}
    return bool(ends) and ends <= set(below)


def _ends(column: Column) -> tuple[tuple[str, str], ...]:
    """The pins between which a part stands: all but a control."""
    if column.symbol in TRANSISTORS:
        return tuple(pin for pin in column.pins if pin[0] not in _CONTROL)
    if column.symbol == "regulator":
        return tuple(pin for pin in column.pins if pin[0] in ("input", "output")) or column.pins
    return column.pins


def _gaps(column: Column, ground: str, row: Mapping[str, int], below: Collection[str], count: int) -> tuple[int, ...]:
    """The rows under which a part may stand, the most natural first."""
    ends = sorted({row[net] for _, net in _ends(column) if net != ground})
    grounded = any(net == ground for _, net in _ends(column))
    if not ends:
        return (count - 1,)
    upright = column.symbol in SYMBOLS or column.symbol in TRANSISTORS or column.symbol == "regulator"
    if _stands(column, ground, below) and grounded and upright:
        return (ends[0] - 1,)
    if grounded and upright and len(ends) == 1:
        last = max([number for net, number in row.items() if net not in below], default=ends[0])
        return tuple(range(ends[0], max(last, ends[0]) + 1))
    if upright and len(ends) == 2:
        return tuple(range(ends[0], ends[1]))
    middle = ends[(len(ends) - 1) // 2]
    lowest = ends[0] - 1 if len(ends) == 1 and not grounded else ends[0]
    return tuple(sorted(range(lowest, ends[-1] + 1), key=lambda gap: (abs(gap - middle), gap)))


def _complain(picture: Picture) -> None:
    if not picture.bars:
        raise ValueError("a picture needs at least one bar")
    nets = [bar.net for bar in picture.bars]
    if len(set(nets)) < len(nets):
        raise ValueError("a net has two bars: each needs one")
    for column in picture.columns:
        for pin, net in column.pins:
            if net not in nets:
                raise ValueError(f"{column.name}.{pin} is on {net}, which has no bar")


def _wrapped(picture: Picture) -> Iterator[tuple[Picture, _Plan]]:
    """The picture in pieces that are narrow, one to stand under the other: the left of the wide drawing, then the
    right; a bar that goes on in the next piece has its name there again."""
    plan = _plan(picture, NARROW)
    base = picture.frame or picture
    if plan.packed.width <= _NEARLY * NARROW or len(base.columns) < _FEW:
        yield picture, plan
        return
    wide = _plan(picture, WIDE[1])
    order = sorted(range(len(wide.columns)), key=lambda number: wide.packed.spots[number].x)
    for half in (order[:len(order) // 2], order[len(order) // 2:]):
        yield from _wrapped(_piece(picture, {wide.columns[number].spot for number in half}))


_NEARLY = 1.06
_FEW = 4


def _piece(picture: Picture, spots: Collection[Spot]) -> Picture:
    """The picture with those parts alone, and the bars that they are on."""
    columns = tuple(column for column in picture.columns if column.spot in spots)
    frame = picture.frame
    if frame is None:
        return replace(picture, columns=columns, bars=_on(picture.bars, columns))
    kept = tuple(column for column in frame.columns if column.spot in spots)
    return replace(picture, columns=columns, bars=_on(picture.bars, (*columns, *kept)),
                   frame=replace(frame, columns=kept, bars=_on(frame.bars, kept)))


def _on(bars: Sequence[Bar], columns: Sequence[Column]) -> tuple[Bar, ...]:
    nets = {net for column in columns for _, net in column.pins}
    return tuple(bar for bar in bars if bar.net in nets or bar.kind == "ground")


def _placed(picture: Picture, pieces: Sequence[tuple[Picture, _Plan]]) -> Placement:
    across = max([_LEAST_WIDTH, *(plan.packed.width + 2 * MARGIN for _, plan in pieces)])
    head, bottom = frame_words.heading(picture, across)
    parts: list[PlacedPart] = []
    bars: list[PlacedBar] = []
    for piece, plan in pieces:
        heights, middles, bottom = _heights(plan, bottom)
        here = {bar.net: bar for bar in piece.bars}
        own = tuple(_parts(piece, plan, heights, middles))
        parts += own
        bars += [_bar(here[net], y, plan.packed.labels[net] + MARGIN, own)
                 for net, y in sorted(heights.items(), key=lambda one: one[1]) if net in here]
        bottom += _BETWEEN_PIECES if len(pieces) > 1 else 0.0
    across = max([across, *(text.box.x1 + MARGIN for bar in bars for text in bar.texts)])
    grounded = next((plan.ground for _, plan in pieces), "") if any(part.grounds for part in parts) else ""
    doubled = any(plan.packed.track[bar.net] for piece, plan in pieces for bar in piece.bars if bar.net in plan.row)
    keys, bottom = frame_words.legend(picture, across, bottom + 8, grounded, doubled)
    foot, cells, bottom = frame_words.foot(picture, across, bottom)
    return Placement(round(across, 1), round(bottom + MARGIN / 2, 1), tuple(bars), tuple(parts), (*head, *foot), keys,
                     cells)


_BETWEEN_PIECES = 14.0


def _heights(plan: _Plan, top: float) -> tuple[dict[str, float], tuple[float, ...], float]:
    """The height of every net's line, and of the middle of every part; and where the last ends.

    All falls from the top as far up as what it would meet lets it, in the order of the levels; a line never stands
    above one of a higher row.
    """
    taken: list[tuple[float, float, float, int]] = []  # from, to, foot, the variants that it is in
    heights: dict[str, float] = {}
    middles: dict[int, float] = {}
    last, row = top - _LEAST_FALL, -1
    for gap, _, nets, number in sorted(_levels(plan), key=lambda one: one[:2]):
        if number is None:
            spans = [plan.packed.reach[net] for net in nets]
            y = max([top + _OVER_BAR, last + (_OVER_BAR + _UNDER_BAR if row == gap else _LEAST_FALL),
                     *(_foot(taken, span, -1, top) + _OVER_BAR for span in spans)])
            last, row = y, gap
            heights.update(dict.fromkeys(nets, round(y, 1)))
            taken += [(*span, y + _UNDER_BAR, -1) for span in spans]
        else:
            room, x = plan.rooms[number], plan.packed.spots[number].x
            span, together = (x + room.x0, x + room.x1), plan.columns[number].together
            middles[number] = round(_foot(taken, span, together, top) - room.y0, 1)
            taken.append((*span, middles[number] + room.y1 + _TIER_GAP, together))
    bottom = max([top, *(foot for *_, foot, _ in taken)])
    return heights, tuple(middles[number] for number in range(len(middles))), bottom


_LEAST_FALL = 12.0


def _levels(plan: _Plan) -> Iterator[tuple[int, int, tuple[str, ...], int | None]]:
    """The lines of bars and the parts, each with its place from the top down."""
    for gap, names in enumerate(plan.nets):
        for track in sorted({plan.packed.track[net] for net in names}):
            yield gap, track - len(names), tuple(net for net in names if plan.packed.track[net] == track), None
    for number, spot in enumerate(plan.packed.spots):
        yield spot.gap, spot.tier + 1, (), number


def _foot(taken: Sequence[tuple[float, float, float, int]], span: tuple[float, float], together: int,
          top: float) -> float:
    """The lowest end of what stands in that stretch."""
    return max([top, *(foot for x0, x1, foot, other in taken
                       if x0 < span[1] + CLEAR and span[0] < x1 + CLEAR and other & together)])


def _parts(picture: Picture, plan: _Plan, heights: Mapping[str, float],
           middles: Sequence[float]) -> Iterator[PlacedPart]:
    starts = frozenset(route[0] for route in picture.routes if route)
    bars = {bar.net: bar for bar in picture.bars}
    waiting = list(picture.columns)
    for column, spot, y in zip(plan.columns, plan.packed.spots, middles, strict=True):
        for one in [one for one in waiting if one.spot == column.spot][:1]:
            waiting.remove(one)
            shape = body(one, _sides(one, plan.ground, spot.gap, plan.row, plan.below),
                         steady(column) if plan.steady else one, plan.labels)
            x = spot.x + MARGIN
            leads = []
            for lead in shape.leads:
                path = tuple((round(x + dx, 1), round(y + dy, 1)) for dx, dy in lead.path)
                low, high = sorted((heights[lead.net], y))
                crossed = tuple(net for net in heights if low < heights[net] < high and net in bars)
                bar = bars[lead.net]
                fed = bar.highlighted or (bar.kind == "rail" and one.name in starts)
                on_route = one.on_route and (len(one.pins) == 2 or fed)
                leads.append(Lead(lead.pin, lead.net, ((path[0][0], heights[lead.net]), *path), crossed, on_route))
            grounds = tuple(Ground(ground.pin, tuple((round(x + dx, 1), round(y + dy, 1)) for dx, dy in ground.path))
                            for ground in shape.grounds)
            yield PlacedPart(one, shape, round(x, 1), y, tuple(leads), grounds, one.on_route)


def _bar(bar: Bar, y: float, label: float, parts: Sequence[PlacedPart]) -> PlacedBar:
    dots = tuple(sorted(lead.x for part in parts for lead in part.leads if lead.net == bar.net))
    name = _shown_net(bar.net)
    texts = [Text(name, round(label, 1), y - 6.5, NAME_SIZE, "name", True)]
    if bar.label:
        at = label + width(name, NAME_SIZE, True) + _NAME_GAP
        texts.append(Text(bar.label, round(at, 1), y - 6.5, SIZE, "value"))
    x0, x1 = min([label, *dots]), max([texts[-1].box.x1, *dots])
    return PlacedBar(bar, y, round(x0, 1), round(x1, 1), dots, tuple(texts))


def _name_width(bar: Bar, steady_: bool) -> float:
    """How wide the words of a bar may get."""
    words = max(width(said, SIZE) for said in ((*_STEADY_BAR, bar.label) if steady_ else (bar.label or "0 V",)))
    return width(_shown_net(bar.net), NAME_SIZE, True) + _NAME_GAP + words


def _shown_net(net: str) -> str:
    """A name that is no wider than a narrow drawing; the whole of it is in the words of the drawing."""
    return net if len(net) <= _LONGEST_NET else f"{net[:_LONGEST_NET - 1]}…"
