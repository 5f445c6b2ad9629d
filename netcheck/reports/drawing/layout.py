"""Where everything stands: bars by height, columns by order, words where nothing else is.

The left edge of every column is pushed right until its body, its label and its
leads clear all that stands to the left of it in the gaps that they cross.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from netcheck.reports.drawing.body import NAME_SIZE, SIZE, Body, body, gaps
from netcheck.reports.drawing.order import Span, best_order
from netcheck.reports.drawing.picture import Bar, Column, Fate, Picture
from netcheck.reports.drawing.stack import stacked
from netcheck.reports.drawing.symbols import Point
from netcheck.reports.drawing.text import LINE, Box, Text, width, wrap

MARGIN = 16.0
_CLEAR = 7.0
_STEP = 12.0
_BAR_ROOM = 15.0
_GAP_ROOM = 5.0
_STRAY = 34.0
_TITLE_SIZE = 15.0
_LEAST_WIDTH = 380.0
_STEADY_BAR = "no longer used"


@dataclass(frozen=True, slots=True)
class Lead:
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


@dataclass(frozen=True, slots=True)
class PlacedPart:
    """A part: `x` and `y` are the origin of its body."""

    column: Column
    body: Body
    x: float
    y: float
    leads: tuple[Lead, ...]

    @property
    def span(self) -> tuple[float, float]:
        """From its leftmost lead to its rightmost one."""
        xs = [lead.x for lead in self.leads]
        return min(xs), max(xs)

    @property
    def box(self) -> Box:
        b = self.body.box
        return Box(b.x0 + self.x, b.y0 + self.y, b.x1 + self.x, b.y1 + self.y)

    @property
    def label(self) -> tuple[Text, ...]:
        return _shifted(self.body.label, self.x, self.y)

    @property
    def words(self) -> tuple[Text, ...]:
        return _shifted(self.body.words, self.x, self.y)


@dataclass(frozen=True, slots=True)
class PlacedBar:
    """A net's line from x0 to x1 at height y, its dots, and its name and volts over and under its line."""

    bar: Bar
    y: float
    x0: float
    x1: float
    dots: tuple[float, ...]
    texts: tuple[Text, ...]

    @property
    def middle(self) -> float:
        """Where the middle of its label is: a ground's symbol hangs there."""
        box = self.texts[0].box
        return (box.x0 + box.x1) / 2


@dataclass(frozen=True, slots=True)
class Key:
    """An entry of the legend: a sample of a mark and its words."""

    mark: str
    sample: Box
    text: Text


@dataclass(frozen=True, slots=True)
class Placement:
    """The whole drawing in pixels, y downward."""

    width: float
    height: float
    bars: tuple[PlacedBar, ...]
    parts: tuple[PlacedPart, ...]
    texts: tuple[Text, ...]
    keys: tuple[Key, ...]

    @property
    def every_text(self) -> tuple[Text, ...]:
        own = [text for part in self.parts for text in (*part.label, *part.words)]
        return (*self.texts, *own, *(t for b in self.bars for t in b.texts), *(k.text for k in self.keys))


def place(picture: Picture) -> Placement:
    """Lay the picture out.

    Raises ValueError where a pin is on a net that has no bar, or a net has two.
    """
    bars = _bars_in_order(picture)
    number = {bar.net: i for i, bar in enumerate(bars)}
    _complain(picture, {net: i for net, i in number.items() if any(bar.net == net for bar in picture.bars)})
    columns, shown = _columns_in_order(picture, number)
    steady = picture.frame is not None
    bodies, xs = _settle(columns, number, steady)
    labels = _bar_labels(bars, bodies, xs, steady)
    left = min([0.0, *(x + b.box.x0 for x, b in zip(xs, bodies, strict=True)), *(x0 for x0, _ in labels)])
    right = max([0.0, *(x + b.right for x, b in zip(xs, bodies, strict=True)), *(x1 for _, x1 in labels)])
    shift = MARGIN - left
    across = max(right + shift + MARGIN, _LEAST_WIDTH)
    head, top = _heading(picture, across) if picture.frame is None else _steady_heading(picture, across)
    heights = _heights(len(bars), bodies, top)
    middles = _middles(heights, bodies)
    starts = frozenset(route[0] for route in picture.routes if route)
    parts = tuple(
        _placed(column, b, x + shift, middles[b.gap], heights, bars, starts)
        for column, there, b, x in zip(columns, shown, bodies, xs, strict=True) if there
    )
    here = {bar.net for bar in picture.bars}
    placed = tuple(
        _placed_bar(bar, heights[i], labels[i][0] + shift, parts) for i, bar in enumerate(bars) if bar.net in here
    )
    bottom = max([heights[-1] + _BAR_ROOM, *(p.y + p.body.reach + _GAP_ROOM for p in parts)])
    keys, bottom = _legend(picture, across, bottom + 10)
    foot, bottom = _lines(picture.note, SIZE, "note", across, bottom)
    block, bottom = _title_block(picture, across, bottom)
    foot = (*foot, *block)
    return Placement(across, bottom + MARGIN / 2, placed, parts, (*head, *foot), keys)


def _bars_in_order(picture: Picture) -> tuple[Bar, ...]:
    """The bars from the top down: in the order of the frame, its own where it has none; those of the frame that are
    not here keep their height."""
    own = stacked(picture)
    if picture.frame is None:
        return own
    here = {bar.net: bar for bar in own}
    order = [here.get(bar.net, bar) for bar in stacked(picture.frame)]
    kept = {bar.net for bar in order}
    for place_, bar in enumerate(own):
        if bar.net not in kept:  # new here: under the bar that stands above it in this state
            above = next((one.net for one in reversed(own[:place_]) if one.net in {b.net for b in order}), None)
            at = 0 if above is None else [one.net for one in order].index(above) + 1
            order.insert(at, bar)
    return tuple(order)


def _columns_in_order(picture: Picture, number: Mapping[str, int]) -> tuple[list[Column], list[bool]]:
    """The columns from left to right, and whether each is drawn: the frame's places, empty where a part is not here."""
    if picture.frame is None:
        order = best_order(_spans(picture.columns, number), _upstream(picture))
        return [picture.columns[i] for i in order], [True] * len(order)
    places = picture.frame.columns
    order = best_order(_spans(places, number), _upstream(picture.frame))
    waiting = list(picture.columns)
    columns: list[Column] = []
    shown: list[bool] = []
    for i in order:
        taken = [one for one in waiting if (one.name, one.slot) == (places[i].name, places[i].slot)]
        waiting = [one for one in waiting if one not in taken]
        columns += taken or [places[i]]
        shown += [True] * len(taken) or [False]
    return [*columns, *waiting], [*shown, *(True for _ in waiting)]


def _complain(picture: Picture, number: Mapping[str, int]) -> None:
    if not picture.bars:
        raise ValueError("a picture needs at least one bar")
    if len(number) < len(picture.bars):
        raise ValueError("a net has two bars: each needs one")
    for column in picture.columns:
        for pin, net in column.pins:
            if net not in number:
                raise ValueError(f"{column.name}.{pin} is on {net}, which has no bar")


def _spans(columns: Sequence[Column], number: Mapping[str, int]) -> list[Span]:
    spans = []
    for column in columns:
        touched = tuple(sorted({number[net] for _, net in column.pins}))
        crossed = tuple(bar for bar in range(touched[0] + 1, touched[-1]) if bar not in touched)
        spans.append(Span(touched, crossed))
    return spans


def _upstream(picture: Picture) -> list[tuple[int, int]]:
    on_route = {c.name: i for i, c in enumerate(picture.columns) if c.on_route}
    steps = []
    for route in picture.routes:
        known = [on_route[name] for name in route if name in on_route]
        steps += list(pairwise(known))
    return steps


def _settle(
    columns: Sequence[Column], number: Mapping[str, int], steady: bool = False
) -> tuple[list[Body], list[float]]:
    """For each column the gap where it fits farthest left, near its natural one, and its origin."""
    edge = [0.0] * max(len(number) - 1, 1)
    last = -_STEP
    bodies: list[Body] = []
    xs: list[float] = []
    for column in columns:
        choices = []
        natural = _natural_gap(column, number)
        for gap in gaps(column, number):
            shape = body(column, gap, number, steady)
            x = _leftmost(shape, edge, last)
            choices.append((x + _STRAY * abs(gap - natural), gap, x, shape))
        _, _, x, shape = min(choices, key=lambda choice: choice[:2])
        for lead in shape.leads:
            for lane in shape.passed(lead):
                edge[lane] = max(edge[lane], x + lead.dx)
        edge[shape.gap] = x + shape.right
        last = x + max(lead.dx for lead in shape.leads)
        bodies.append(shape)
        xs.append(x)
    return bodies, xs


def _natural_gap(column: Column, number: Mapping[str, int]) -> int:
    """Just under the upper bar, or just over ground for a part that stands on it."""
    room = gaps(column, number)
    bars = sorted(number[net] for _, net in column.pins)
    if len(bars) > 2 and column.symbol != "regulator":
        middle = bars[(len(bars) - 1) // 2]
        return min(max(middle, room[0]), room[-1])
    return room[-1] if column.symbol in ("cell", "load", "capacitor", "polarised capacitor") else room[0]


def _leftmost(shape: Body, edge: Sequence[float], last: float) -> float:
    bounds = [edge[shape.gap] + _CLEAR - shape.box.x0, last + _STEP - min(lead.dx for lead in shape.leads)]
    for lead in shape.leads:
        bounds += [edge[lane] + _CLEAR - lead.dx for lane in shape.passed(lead)]
    return max(bounds)


def _bar_labels(
    bars: Sequence[Bar], bodies: Sequence[Body], xs: Sequence[float], steady: bool = False
) -> list[tuple[float, float]]:
    """For each bar the place of its label along the line, clear of every lead there."""
    lines: list[list[float]] = [[] for _ in bars]
    dots: list[list[float]] = [[] for _ in bars]
    for shape, x in zip(bodies, xs, strict=True):
        for lead in shape.leads:
            dots[lead.bar].append(x + lead.dx)
            for bar in (lead.bar, *shape.crossed(lead)):
                lines[bar].append(x + lead.dx)
    return [_slot(_label_width(bar, steady), dots[i], sorted(lines[i])) for i, bar in enumerate(bars)]


def _label_width(bar: Bar, steady: bool = False) -> float:
    words = max(width(bar.label, SIZE), width(_STEADY_BAR, SIZE) if steady else 14.0)
    return max(width(bar.net, NAME_SIZE, True), words)


def _slot(needed: float, dots: Sequence[float], lines: Sequence[float]) -> tuple[float, float]:
    """The cheapest free stretch: at the left end, else within the bar, else beyond its right end."""
    if not lines:
        return 0.0, needed
    first, final = min(dots or lines), max(dots or lines[:1])
    room = needed + 2 * _CLEAR
    best = (float("inf"), 0.0)
    for a, b in zip((float("-inf"), *lines), (*lines, float("inf")), strict=True):
        if b - a < room:
            continue
        if b <= first:
            best = min(best, (1.5 * (first - b), b - _CLEAR - needed))
        elif a >= final:
            best = min(best, (30.0 + 1.5 * (a - final), a + _CLEAR))
        else:
            best = min(best, (20.0 + 0.05 * (a - first), a + _CLEAR))
    return best[1], best[1] + needed


def _heights(count: int, bodies: Sequence[Body], top: float) -> list[float]:
    """The height of each bar; a gap is as high as the highest body in it."""
    reach = [0.0] * count
    for shape in bodies:
        reach[shape.gap] = max(reach[shape.gap], shape.reach)
    heights, y = [], top + _BAR_ROOM
    for i in range(count):
        heights.append(round(y, 1))
        y += 2 * _BAR_ROOM + (2 * reach[i] + 2 * _GAP_ROOM if reach[i] else 0)
    return heights


def _middles(heights: Sequence[float], bodies: Sequence[Body]) -> list[float]:
    middles = [(a + b) / 2 for a, b in pairwise(heights)]
    below = max([b.reach for b in bodies if b.gap == len(heights) - 1], default=0.0)
    return [*middles, heights[-1] + _BAR_ROOM + _GAP_ROOM + below]


def _placed(
    column: Column, shape: Body, x: float, y: float, heights: Sequence[float], bars: Sequence[Bar],
    starts: Collection[str],
) -> PlacedPart:
    leads = []
    for lead in shape.leads:
        path = tuple((round(x + dx, 1), round(y + dy, 1)) for dx, dy in lead.path)
        crossed = tuple(bars[i].net for i in shape.crossed(lead))
        bar = bars[lead.bar]
        fed = bar.highlighted or (bar.kind == "rail" and column.name in starts)
        on_route = column.on_route and (len(shape.leads) == 2 or fed)
        leads.append(Lead(lead.pin, lead.net, ((path[0][0], heights[lead.bar]), *path), crossed, on_route))
    return PlacedPart(column, shape, round(x, 1), round(y, 1), tuple(leads))


def _placed_bar(bar: Bar, y: float, label: float, parts: Sequence[PlacedPart]) -> PlacedBar:
    dots = tuple(sorted(lead.x for part in parts for lead in part.leads if lead.net == bar.net))
    texts = [Text(bar.net, round(label, 1), y - 4.5, NAME_SIZE, "name", True)]
    if bar.label and bar.kind != "ground":
        texts.append(Text(bar.label, round(label, 1), y + 12.5, SIZE, "value"))
    end = label + _label_width(bar)
    x0, x1 = min([label, *dots]), max([end, *dots])
    return PlacedBar(bar, y, round(x0, 1), round(x1, 1), dots, tuple(texts))


def _heading(picture: Picture, across: float) -> tuple[tuple[Text, ...], float]:
    title, y = _lines(picture.title, _TITLE_SIZE, "title", across, MARGIN / 2)
    route, y = _lines(picture.route_label, SIZE + 0.5, "route", across, y + 2)
    return (*title, *route), y + 10


def _steady_heading(picture: Picture, across: float) -> tuple[tuple[Text, ...], float]:
    """What is charged, in a room of two lines that stands empty where nothing is: the drawing keeps its place."""
    room = MARGIN / 2 + 2 * (SIZE + 0.5) * LINE * 1.1
    route, y = _lines(picture.route_label, SIZE + 0.5, "route", across, MARGIN / 2)
    return route, max(y, room) + 10


def _title_block(picture: Picture, across: float, top: float) -> tuple[tuple[Text, ...], float]:
    """Along the foot: what is drawn, of which board and variant, in which state, and the verdict."""
    if picture.frame is None:
        return (), top
    title, y = _lines(picture.title.partition(":")[0], _TITLE_SIZE, "title", across, top + 6)
    said, y = _lines("   |   ".join(picture.foot), SIZE, "note", across, y + 2)
    return (*title, *said), y


def _lines(content: str, size: float, role: str, across: float, top: float) -> tuple[tuple[Text, ...], float]:
    bold = role in ("title", "route")
    texts, y = [], top
    for line in wrap(content, size, across - 2 * MARGIN, bold):
        texts.append(Text(line, MARGIN, round(y + size, 1), size, role, bold))
        y += size * LINE * 1.1
    return tuple(texts), y


def _legend(picture: Picture, across: float, top: float) -> tuple[tuple[Key, ...], float]:
    """Samples of the marks that the picture uses, in lines as wide as the picture."""
    fates = {column.fate for column in picture.columns}
    route = [("meant", "charging that is meant")] if picture.meant else [("route", "danger: charge route")]
    wanted = route if any(c.on_route for c in picture.columns) else []
    if any(c.blocks for c in picture.columns):
        wanted.append(("blocks", "hollow: a diode that blocks"))
    if any(c.dead for c in picture.columns):
        wanted.append(("dead", "dead: no volts, no current"))
    if Fate.REMOVED in fates:
        wanted.append(("removed", "taken out"))
    put_in = {Fate.FITTED: "put in", Fate.MOVED: "moved to another net"}
    if fates & put_in.keys():
        wanted.append(("fitted", " or ".join(said for fate, said in put_in.items() if fate in fates)))
    if Fate.EMPTY in fates:
        wanted.append(("empty", "empty place"))
    keys: list[Key] = []
    x, y = MARGIN, top
    for mark, said in wanted:
        needed = 34 + width(said, SIZE) + 18
        if x > MARGIN and x + needed > across - MARGIN:
            x, y = MARGIN, y + 18
        keys.append(Key(mark, Box(x, y, x + 28, y + 12), Text(said, x + 34, y + 10, SIZE, "note")))
        x += needed
    return tuple(keys), y + 20 if keys else top


def _shifted(texts: Sequence[Text], x: float, y: float) -> tuple[Text, ...]:
    return tuple(Text(t.content, t.x + x, t.y + y, t.size, t.role, t.bold) for t in texts)
