"""What one part looks like in a given gap between bars: leads, symbol or box, label; offsets in pixels."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from netcheck.reports.drawing import symbols
from netcheck.reports.drawing.picture import Column, Fate
from netcheck.reports.drawing.symbols import Point, Symbol
from netcheck.reports.drawing.text import LINE, Box, Text, width

NAME_SIZE = 12.5
SIZE = 11.5
PIN_SIZE = 10.0
_LABEL_GAP = 5.0
_PIN_PITCH = 20.0
_BASE_REACH = 8.0
_STEADY_REACH = (NAME_SIZE + 4 * SIZE) * LINE / 2
_STEADY_WORDS = ("blocks 0.555 V", "gives 55.5 mA", "takes 55.5 mA", "drops 55.5 mV", "not plugged", "not fitted",
                 "× removed")
_CONTROL = ("base", "gate", "wiper")
_ASIDE = {**dict.fromkeys(symbols.TRANSISTORS, _CONTROL), "regulator": ("adjust", "ground")}
_WORDS = {Fate.REMOVED: "× removed", Fate.FITTED: "+ fitted", Fate.MOVED: "+ moved", Fate.EMPTY: "not fitted"}


@dataclass(frozen=True, slots=True)
class BodyLead:
    """A pin's way: straight from its bar down or up at `path[0]`, then along `path` to the symbol."""

    pin: str
    net: str
    bar: int
    path: tuple[Point, ...]

    @property
    def dx(self) -> float:
        return self.path[0][0]


@dataclass(frozen=True, slots=True)
class Body:
    """One part around the middle of its gap. `box` holds its line work, `label` its words."""

    gap: int
    leads: tuple[BodyLead, ...]
    box: Box
    symbol: Symbol | None
    words: tuple[Text, ...]
    label: tuple[Text, ...]
    sockets: tuple[Point, ...] = ()
    links: tuple[tuple[Point, ...], ...] = ()
    room: float = 0.0

    @property
    def right(self) -> float:
        return max([self.box.x1 + self.room, *(text.box.x1 for text in self.label)])

    @property
    def reach(self) -> float:
        """Half of the height that it needs."""
        texts = [abs(y) for text in (*self.label, *self.words) for y in (text.box.y0, text.box.y1)]
        return max([-self.box.y0, self.box.y1, *texts, _STEADY_REACH if self.room else 0.0])

    def passed(self, lead: BodyLead) -> range:
        """The gaps that a lead runs through on its way to this one, this one left out."""
        return range(lead.bar, self.gap) if lead.bar <= self.gap else range(self.gap + 1, lead.bar)

    def crossed(self, lead: BodyLead) -> range:
        """The bars that a lead runs across."""
        return range(lead.bar + 1, self.gap + 1) if lead.bar <= self.gap else range(self.gap + 1, lead.bar)


def gaps(column: Column, number: Mapping[str, int]) -> range:
    """The gaps between bars where the part may stand; gap n lies under bar n."""
    bars = [number[net] for _, net in column.pins]
    ends = [number[net] for pin, net in column.pins if pin not in _ASIDE.get(column.symbol, ())] or bars
    low, high = min(ends), max(ends)
    if low == high:
        low = high = min(low, max(len(number) - 2, 0))
        return range(low, low + 1)
    return range(low, high)


def body(column: Column, gap: int, number: Mapping[str, int], steady: bool = False) -> Body:
    """The part as it looks in that gap.

    number: net to bar number, counted from the top. A two-terminal part whose
    pins are on one net, and a transistor whose ends are, become boxes. steady:
    with room for the words of any state, so that nothing moves with the figures.
    """
    shape = _shape(column, gap, number)
    if not steady:
        return shape
    if column.symbol in ("jumper", "switch") and shape.symbol is not None:  # as wide open as it is closed
        other = _shape(replace(column, links=() if column.links else (("1", "2"),)), gap, number).box
        shape = replace(shape, box=Box(min(shape.box.x0, other.x0), min(shape.box.y0, other.y0),
                                       max(shape.box.x1, other.x1), max(shape.box.y1, other.y1)))
    return replace(shape, room=_LABEL_GAP + max(width(words, SIZE, True) for words in _STEADY_WORDS))


def _shape(column: Column, gap: int, number: Mapping[str, int]) -> Body:
    bars = [number[net] for _, net in column.pins]
    if column.symbol in symbols.SYMBOLS and len(bars) == 2 and bars[0] != bars[1]:
        return _upright(column, gap, bars)
    if column.symbol in symbols.TRANSISTORS and len(bars) == 3:
        ends = {number[net] <= gap for pin, net in column.pins if pin not in _CONTROL}
        if len(ends) == 2:
            return _transistor(column, gap, bars)
    if column.symbol == "header":
        return _header(column, gap, bars)
    return _boxed(column, gap, bars)


def _upright(column: Column, gap: int, bars: Sequence[int]) -> Body:
    symbol = symbols.two_terminal(column.symbol, closed=bool(column.links))
    if bars[0] > bars[1]:
        symbol = symbol.turned()
    leads = tuple(
        BodyLead(pin, net, bar, (symbol.port(port),))
        for (pin, net), bar, port in zip(column.pins, bars, ("first", "second"), strict=True)
    )
    box = Box(*symbol.extent)
    return Body(gap, leads, box, symbol, (), label(column, box.x1))


def _transistor(column: Column, gap: int, bars: Sequence[int]) -> Body:
    symbol = symbols.transistor(column.symbol)
    sides = {pin: bar <= gap for (pin, _), bar in zip(column.pins, bars, strict=True)}
    top = max((pin for pin in sides if pin not in _CONTROL), key=lambda pin: -symbol.port(pin)[1])
    if not sides[top]:
        symbol = symbol.mirrored()
    leads = []
    for (pin, net), bar in zip(column.pins, bars, strict=True):
        x, y = symbol.port(pin)
        path = ((x - _BASE_REACH, y), (x, y)) if pin in _CONTROL else ((x, y),)
        leads.append(BodyLead(pin, net, bar, path))
    x0, y0, x1, y1 = symbol.extent
    box = Box(x0 - _BASE_REACH, y0, x1, y1)
    return Body(gap, tuple(leads), box, symbol, (), label(column, box.x1))


def _header(column: Column, gap: int, bars: Sequence[int]) -> Body:
    """Pins in a row in their own order, the joined ones linked."""
    pitch = max(_PIN_PITCH, *(width(pin, PIN_SIZE) + 6 for pin, _ in column.pins))
    leads, words, at = [], [], {}
    for i, ((pin, net), bar) in enumerate(zip(column.pins, bars, strict=True)):
        up = bar <= gap
        x = i * pitch
        at[pin] = (x, 0.0)
        leads.append(BodyLead(pin, net, bar, ((x, -4.0 if up else 4.0),)))
        baseline = 22.0 if up else -14.5
        words.append(Text(pin, x - width(pin, PIN_SIZE) / 2, baseline, PIN_SIZE, "pin"))
    box = Box(-10, -11, (len(leads) - 1) * pitch + 10, 11)
    links = tuple(_link(at[a], at[b], leads) for a, b in column.links)
    return Body(gap, tuple(leads), box, None, tuple(words), label(column, box.x1), tuple(at.values()), links)


def _link(a: Point, b: Point, leads: Sequence[BodyLead]) -> tuple[Point, ...]:
    """Straight between neighbours, else round the pins between, on the side away from their leads."""
    left, right = sorted((a[0], b[0]))
    between = [lead for lead in leads if left < lead.dx < right]
    if not between:
        return (a, b)
    y = -7.0 if all(lead.path[0][1] > 0 for lead in between) else 7.0
    return (a, (a[0], y), (b[0], y), b)


def _boxed(column: Column, gap: int, bars: Sequence[int]) -> Body:
    """A box with a row of pin words on each side that has leads; higher bars to the left."""
    pins = sorted(zip(bars, range(len(bars)), column.pins, strict=True))
    rows = ([p for p in pins if p[0] <= gap], [p for p in pins if p[0] > gap])
    pitch = max([_PIN_PITCH, *(width(pin, PIN_SIZE) + 8 for pin, _ in column.pins)])
    half = 17.0 if all(rows) else 12.0
    leads, words = [], []
    for row, edge, baseline in zip(rows, (-half, half), (-half + 11, half - 4), strict=True):
        for i, (bar, _, (pin, net)) in enumerate(row):
            x = (i + 0.5) * pitch
            leads.append(BodyLead(pin, net, bar, ((x, edge),)))
            words.append(Text(pin, x - width(pin, PIN_SIZE) / 2, baseline, PIN_SIZE, "pin"))
    box = Box(0, -half, max(len(row) for row in rows) * pitch, half)
    return Body(gap, tuple(leads), box, None, tuple(words), label(column, box.x1))


def label(column: Column, right: float) -> tuple[Text, ...]:
    """Designator, value, current, drop and fate, a line each, to the right of the symbol."""
    lines = [(column.name, NAME_SIZE, "name", True), (column.value, SIZE, "value", False)]
    amps = "route" if column.on_route else "value"
    lines += [(column.amps, SIZE, amps, column.on_route), (column.drop, SIZE, "value", False)]
    fate = "" if column.word and column.fate is Fate.EMPTY else _WORDS.get(column.fate, "")
    lines += [(fate, SIZE, str(column.fate), True), (column.word, SIZE, "value", True)]
    lines = [line for line in lines if line[0]]
    height = sum(size * LINE for _, size, _, _ in lines)
    y = -height / 2
    texts = []
    for content, size, role, bold in lines:
        texts.append(Text(content, right + _LABEL_GAP, round(y + 0.86 * size, 2), size, role, bold))
        y += size * LINE
    return tuple(texts)
