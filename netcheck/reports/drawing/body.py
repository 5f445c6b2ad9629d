"""What one part looks like between its nets: leads, ground signs, symbol or box, label; offsets in pixels.

A part knows of each of its nets only on which side of it that net's bar is. Ground has no bar: each lead that goes
there ends in a sign of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from enum import Enum

from msgspec import Struct
from msgspec.structs import replace

from netcheck.reports.drawing import symbols
from netcheck.reports.drawing.picture import Column, Fate
from netcheck.reports.drawing.symbols import Point, Symbol
from netcheck.reports.drawing.text import LINE, Box, Text, broken, width

NAME_SIZE = 12.5
SIZE = 11.5
"""The smallest letters of a drawing, in pixels."""
LABEL_ROOM = 94.0
"""A line of a label that is longer is broken."""
_LABEL_GAP = 5.0
_PIN_GAP = 8.0
_LEAST_PITCH = 16.0
_LEAD = 15.0
_BASE_REACH = 8.0
_LYING_REACH = 9.0
_SIGN_LEAD = 5.0
_SIGN = Box(-8.0, 0.0, 8.0, 11.0)
_LISTED_PINS = 3
_CONTROL = ("base", "gate", "wiper")
FATES = {Fate.REMOVED: "× removed", Fate.FITTED: "+ fitted", Fate.MOVED: "+ moved", Fate.EMPTY: "not fitted"}
_STEADY_AMPS = "55.5 mA"
_STEADY_DROPS = {"resistor": "drops 55.5 mV", "inductor": "drops 55.5 mV", "fuse": "drops 55.5 mV",
                 **dict.fromkeys(symbols.DIODES, "blocks 0.55 V"), "zener": "0.555 V across"}
_NO_AMPS = frozenset({"capacitor", "polarised capacitor", "box"})


class Side(Enum):
    """Where the bar of a pin's net is, seen from the part; ground is under a part, or over one that stands on a
    negative rail."""

    ABOVE = "above"
    BELOW = "below"
    GROUND = "ground"
    GROUND_ABOVE = "ground above"

    @property
    def up(self) -> bool:
        return self in (Side.ABOVE, Side.GROUND_ABOVE)

    @property
    def grounded(self) -> bool:
        return self in (Side.GROUND, Side.GROUND_ABOVE)


class BodyLead(Struct, frozen=True):
    """A pin's way: straight from its bar down or up at `path[0]`, then along `path` to the symbol."""

    pin: str
    net: str
    up: bool
    path: tuple[Point, ...]

    @property
    def dx(self) -> float:
        return self.path[0][0]


class BodyGround(Struct, frozen=True):
    """A pin's way from the symbol along `path` to its ground sign, which hangs from the end."""

    pin: str
    net: str
    path: tuple[Point, ...]


class Body(Struct, frozen=True):
    """One part around its own middle. `box` holds its line work and ground signs, `label` its words."""

    leads: tuple[BodyLead, ...]
    grounds: tuple[BodyGround, ...]
    box: Box
    symbol: Symbol | None
    words: tuple[Text, ...]
    label: tuple[Text, ...]
    sockets: tuple[Point, ...] = ()
    links: tuple[tuple[Point, ...], ...] = ()
    outline: Box | None = None

    @property
    def whole(self) -> Box:
        """What it needs of the paper, in all: its lines, its words, and above and below a piece of every lead."""
        texts = [text.box for text in (*self.label, *self.words)]
        above = _LEAD if any(lead.up for lead in self.leads) else 0.0
        below = _LEAD if any(not lead.up for lead in self.leads) else 0.0
        return Box(
            min([self.box.x0, *(text.x0 for text in texts)]), min([self.box.y0 - above, *(t.y0 for t in texts)]),
            max([self.box.x1, *(text.x1 for text in texts)]), max([self.box.y1 + below, *(t.y1 for t in texts)]))


def body(column: Column, sides: Mapping[str, Side], room: Column | None = None, wide: float = LABEL_ROOM) -> Body:
    """The part as it looks with its nets on those sides (net to side).

    room: the same part with the words that a box has to have room for. wide: a longer line of its label is broken.
    """
    at = [sides[net] for _, net in column.pins]
    nets = {net for _, net in column.pins}
    if column.symbol in symbols.SYMBOLS and len(column.pins) == 2 and len(nets) == 2:
        if at[0].up != at[1].up:
            return _upright(column, at, wide)
        if not any(side.grounded for side in at):
            return _lying(column, at[0].up, wide)
    if column.symbol in symbols.TRANSISTORS and len(column.pins) == 3:
        ends = {side.up for (pin, _), side in zip(column.pins, at, strict=True) if pin not in _CONTROL}
        if len(ends) == 2:
            return _transistor(column, at, wide)
    if column.symbol == "header":
        return _header(column, at, wide)
    return _boxed(column, at, room or column, wide)


def steady(column: Column) -> Column:
    """The part with the widest words that it may get in any state, so that nothing moves with the figures."""
    links = column.links if column.symbol not in ("jumper", "switch") else ()
    cell = column.symbol == "cell"
    amps = "" if column.symbol in _NO_AMPS else f"gives {_STEADY_AMPS}" if cell else _STEADY_AMPS
    return replace(column, amps=f"{amps} each" if amps and column.also else amps,
                   drop=_STEADY_DROPS.get(column.symbol, ""), links=links, fate=Fate.AS_FOUND, word="")


def _grounded(pin: str, net: str, x: float, y: float, up: bool) -> BodyGround:
    """Straight down to the sign; up and over to the left, where the part hangs from ground."""
    if up:
        return BodyGround(pin, net, ((x, y), (x, y - _SIGN_LEAD - _SIGN.y1), (x - 18, y - _SIGN_LEAD - _SIGN.y1)))
    return BodyGround(pin, net, ((x, y), (x, y + _SIGN_LEAD)))


def _around(box: Box, grounds: Sequence[BodyGround]) -> Box:
    """The box with the ground signs in it."""
    xs = [box.x0, box.x1]
    ys = [box.y0, box.y1]
    for ground in grounds:
        x, y = ground.path[-1]
        xs += [x + _SIGN.x0, x + _SIGN.x1]
        ys += [y, y + _SIGN.y1]
    return Box(min(xs), min(ys), max(xs), max(ys))


def _upright(column: Column, at: Sequence[Side], wide: float) -> Body:
    symbol = symbols.two_terminal(column.symbol, closed=bool(column.links))
    if at[1].up:
        symbol = symbol.turned()
    leads, grounds = [], []
    for (pin, net), side, port in zip(column.pins, at, ("first", "second"), strict=True):
        x, y = symbol.port(port)
        if side.grounded:
            grounds.append(_grounded(pin, net, x, y, side.up))
        else:
            leads.append(BodyLead(pin, net, side.up, ((x, y),)))
    box = _around(_extent(column, symbol), grounds)
    return Body(tuple(leads), tuple(grounds), box, symbol, (), label(column, box.x1, wide))


def _extent(column: Column, symbol: Symbol) -> Box:
    """Where the symbol may be: a link as wide open as it is closed."""
    box = Box(*symbol.extent)
    if column.symbol in ("jumper", "switch"):
        return Box(min(box.x0, -14.0), min(box.y0, -16.0), max(box.x1, 8.0), max(box.y1, 16.0))
    return box


def _lying(column: Column, up: bool, wide: float) -> Body:
    """A part between nets that stand level, on its side, its first pin to the left."""
    symbol = symbols.two_terminal(column.symbol, closed=bool(column.links)).lying()
    ends = (symbol.port("first"), symbol.port("second"))
    reach = (-_LYING_REACH, _LYING_REACH)
    leads = tuple(BodyLead(pin, net, up, ((x + dx, y), (x, y)))
                  for (pin, net), (x, y), dx in zip(column.pins, ends, reach, strict=True))
    box = Box(*symbol.extent)
    box = Box(leads[0].dx, box.y0, leads[1].dx, box.y1)
    texts = label(column, 0.0, wide)
    drop = max(box.y1, 0.0) + 2.0 - min(text.box.y0 for text in texts)
    under = tuple(replace(text, x=round(-width(text.content, text.size, text.bold) / 2, 2), y=round(text.y + drop, 2))
                  for text in texts)
    if up:
        return Body(leads, (), box, symbol, (), under)
    lift = min(box.y0, 0.0) - 2.0 - max(text.box.y1 for text in texts)
    return Body(leads, (), box, symbol, (), tuple(replace(text, y=round(text.y + lift - drop, 2)) for text in under))


def _transistor(column: Column, at: Sequence[Side], wide: float) -> Body:
    symbol = symbols.transistor(column.symbol)
    sides = {pin: side for (pin, _), side in zip(column.pins, at, strict=True)}
    top = max((pin for pin in sides if pin not in _CONTROL), key=lambda pin: -symbol.port(pin)[1])
    if not sides[top].up:
        symbol = symbol.mirrored()
    leads, grounds = [], []
    for (pin, net), side in zip(column.pins, at, strict=True):
        x, y = symbol.port(pin)
        if pin in _CONTROL:
            if side.grounded:
                grounds.append(BodyGround(pin, net, ((x, y), (x - _BASE_REACH, y), (x - _BASE_REACH, y + 8))))
            else:
                leads.append(BodyLead(pin, net, side.up, ((x - _BASE_REACH, y), (x, y))))
        elif side.grounded:
            grounds.append(_grounded(pin, net, x, y, side.up))
        else:
            leads.append(BodyLead(pin, net, side.up, ((x, y),)))
    x0, y0, x1, y1 = symbol.extent
    box = _around(Box(x0 - _BASE_REACH, y0, x1, y1), grounds)
    return Body(tuple(leads), tuple(grounds), box, symbol, (), label(column, box.x1, wide))


def _header(column: Column, at: Sequence[Side], wide: float) -> Body:
    """Pins in a row in their own order, the joined ones linked."""
    leads, grounds, words, spots = [], [], [], {}
    x = 0.0
    for number, ((pin, net), side) in enumerate(zip(column.pins, at, strict=True)):
        half = max(_LEAST_PITCH, width(pin, SIZE) + _PIN_GAP, 18.0 if side.grounded else 0.0) / 2
        x += half if number else 0.0
        spots[pin] = (x, 0.0)
        if side.grounded:
            grounds.append(_grounded(pin, net, x, 11.0, up=False))
        else:
            leads.append(BodyLead(pin, net, side.up, ((x, -4.0 if side.up else 4.0),)))
        words.append(Text(pin, x - width(pin, SIZE) / 2, 23.0 if side.up else -14.5, SIZE, "pin"))
        x += half
    right = max(at_[0] for at_ in spots.values())
    drawn = Box(-10, -11, right + 10, 11)
    links = tuple(_link(spots[a], spots[b], leads) for a, b in column.links)
    legs = tuple(replace(one, path=((one.path[0][0], 4.0), *one.path)) for one in grounds)
    return Body(tuple(leads), legs, _around(drawn, legs), None, tuple(words), label(column, drawn.x1, wide),
                tuple(spots.values()), links, drawn)


def _link(a: Point, b: Point, leads: Sequence[BodyLead]) -> tuple[Point, ...]:
    """Straight between neighbours, else round the pins between, on the side away from their leads."""
    left, right = sorted((a[0], b[0]))
    between = [lead for lead in leads if left < lead.dx < right]
    if not between:
        return (a, b)
    y = -7.0 if all(lead.path[0][1] > 0 for lead in between) else 7.0
    return (a, (a[0], y), (b[0], y), b)


def _boxed(column: Column, at: Sequence[Side], room: Column, room_wide: float) -> Body:
    """A box with its words inside, and a row of pin words on each side that has leads; a net has one lead."""
    pins: dict[tuple[str, Side], list[str]] = {}
    for (pin, net), side in zip(column.pins, at, strict=True):
        pins.setdefault((net, side), []).append(pin)
    rows = ([one for one in pins.items() if one[0][1].up], [one for one in pins.items() if not one[0][1].up])
    texts, roomy = label(column, 0.0, room_wide), label(room, 0.0, room_wide)
    wide = 2 * _LABEL_GAP + max([text.box.x1 - text.box.x0 for text in (*texts, *roomy)]
                                + [_row_width(row) for row in rows])
    tall = max(sum(text.size * LINE for text in said) for said in (texts, roomy))
    half = (tall + sum(SIZE * LINE for row in rows if row)) / 2 + 3.0
    leads, grounds, words = [], [], []
    for row, edge, baseline in zip(rows, (-half, half), (-half + SIZE, half - 3.5), strict=True):
        x = (wide - _row_width(row)) / 2
        for (net, side), named in row:
            said = _pins_said(named)
            pitch = max(_LEAST_PITCH, width(said, SIZE) + _PIN_GAP)
            x += pitch / 2
            words.append(Text(said, x - width(said, SIZE) / 2, baseline, SIZE, "pin"))
            if side.grounded:
                grounds.append(_grounded(said, net, x, edge, side.up))
            else:
                leads.append(BodyLead(said, net, side.up, ((x, edge),)))
            x += pitch / 2
    top = -half + (SIZE * LINE if rows[0] else 0.0) + 1.0
    inside = tuple(replace(text, x=_LABEL_GAP, y=round(text.y + top + tall / 2, 2)) for text in texts)
    box = Box(0, -half, wide, half)
    return Body(tuple(leads), tuple(grounds), _around(box, grounds), None, tuple(words), inside, outline=box)


def _pins_said(pins: Sequence[str]) -> str:
    """The pins of a box that are on one net, in as many words as it has room for."""
    return ",".join(pins) if len(pins) <= _LISTED_PINS else f"{pins[0]}…{pins[-1]} ({len(pins)})"


def _row_width(row: Sequence[tuple[object, list[str]]]) -> float:
    return sum(max(_LEAST_PITCH, width(_pins_said(named), SIZE) + _PIN_GAP) for _, named in row)


def label(column: Column, right: float, wide: float) -> tuple[Text, ...]:
    """Designator, value, current, drop and fate, a line each, to the right of the symbol."""
    lines = [line for line in _said(column, wide) if line[0]]
    y = -sum(size * LINE for _, size, _, _ in lines) / 2
    texts = []
    for content, size, role, bold in lines:
        texts.append(Text(content, right + _LABEL_GAP, round(y + 0.86 * size, 2), size, role, bold))
        y += size * LINE
    return tuple(texts)


def _said(column: Column, wide: float) -> Iterator[tuple[str, float, str, bool]]:
    amps = "route" if column.on_route else "value"
    fate = "" if column.word and column.fate is Fate.EMPTY else FATES.get(column.fate, "")
    for content, size, role, bold in (
            (column.shown, NAME_SIZE, "name", True), (column.value, SIZE, "value", False),
            (column.amps, SIZE, amps, column.on_route), (column.drop, SIZE, "value", False),
            (fate, SIZE, str(column.fate), True), (column.word, SIZE, "value", True),
            *((words, SIZE, "value", True) for words in column.reserve)):
        for line in broken(content, size, wide, bold):
            yield line, size, role, bold
