"""Where the parts go: one after the other, each into the cheapest free place, none ever moved again.

The paper is cut into levels from the top down: a level for each line that bars stand on, and under each row of bars
as many tiers for parts as it takes. A part in a tier is held by leads that run straight up or down to its bars, past
all that stands between. Since no part is moved again, a part added at the end leaves the others where they are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

from msgspec import Struct, field

from netcheck.reports.drawing.body import BodyLead, Side

CLEAR = 8.0
"""Least distance between the lines and words of two parts, in pixels."""
STEP = 13.0
"""Least distance between two leads."""
_PASSAGE = 2 * CLEAR + 0.2
"""Distance of two parts in a tier: a lead to a deeper one goes between them."""
_MOST_PASSAGE = _PASSAGE + 3 * STEP
_TRACKS = 1024
_TIERS = 512
_STRIDE = _TRACKS + _TIERS
_BETWEEN_BARS = 16.0
_FAR = 1e9
_CROSSING = 70.0
_NEW_TIER = 0.3  # of the room
_DEEPER = 14.0
_STRAY = 60.0
_WIDER = 0.35
_PATIENCE = 72
_MOST_TRIES = _PATIENCE + 60
_MOST_SHUFFLED = 40
_MOST_WIDER = 12
_WIDENED = 24.0
_BY_FAR = 0.85
_FEW_CROSSINGS = 2


class Shape(Struct, frozen=True):
    """What a part needs of its place: left and right of its origin, and the leads to its bars."""

    x0: float
    x1: float
    leads: tuple[BodyLead, ...]


class Wanted(Struct, frozen=True):
    """A part to be placed. gaps: under which rows it may stand, the natural one first (-1: over all of them).

    shape: of the part in such a gap. together: the variants that it is drawn in, as bits.
    """

    gaps: tuple[int, ...]
    shape: Callable[[int], Shape]
    together: int = -1

    @property
    def nets(self) -> frozenset[str]:
        return frozenset(lead.net for lead in self.shape(self.gaps[0]).leads)


class Spot(Struct, frozen=True):
    """Where a part stands: under which row, in which tier from the top, and its origin."""

    gap: int
    tier: int
    x: float


class Packed(Struct, frozen=True):
    """All places. track: net to the line of its row that its bar is on. labels: net to the left edge of its words.
    reach: net to both ends of its bar."""

    spots: tuple[Spot, ...]
    track: Mapping[str, int]
    labels: Mapping[str, float]
    reach: Mapping[str, tuple[float, float]]
    width: float
    score: float


def packed(rows: Sequence[Sequence[str]], label_widths: Mapping[str, float], parts: Sequence[Wanted],
           room: float, known: int | None = None) -> Packed:
    """A place for every part within `room` pixels; wider only where one does not fit otherwise.

    Nets of a row share a line, one beside the other. A part that then finds no place has its turn earlier; where that
    does not help, a net of it goes to the next line of the same row. Of a few orders to begin with the best is kept,
    that of the file unless another is better by far. known: so many parts of the list, the first, are placed as if
    there were no more.
    """
    known = len(parts) if known is None else known
    best: _Paper | None = None
    orders = _orders(parts[:known]) if known <= _MOST_SHUFFLED else [list(range(known))]
    for order in orders:
        paper = _settled(rows, label_widths, parts, order, room)
        if best is None or paper.score(room) < _BY_FAR * best.score(room):
            best = paper
        if best.crossings() <= _FEW_CROSSINGS and best.right <= room:
            break
    if best is None or not all(best.add_wider(number, parts[number]) for number in range(known, len(parts))):
        best = _settled(rows, label_widths, parts, list(range(len(parts))), room)
    best.name_the_rest()
    return best.result(len(parts))


def _orders(parts: Sequence[Wanted]) -> Iterator[list[int]]:
    """In the order given; those on most bars first; those between two bars first."""
    given = list(range(len(parts)))
    bars = [len(part.nets) for part in parts]
    seen: list[list[int]] = []
    for order in (given, sorted(given, key=lambda n: -bars[n]), sorted(given, key=lambda n: (bars[n] != 2, -bars[n]))):
        if order not in seen:
            seen.append(order)
            yield list(order)


def _settled(rows: Sequence[Sequence[str]], label_widths: Mapping[str, float], parts: Sequence[Wanted],
             order: list[int], room: float) -> _Paper:
    track = dict.fromkeys((net for row in rows for net in row), 0)
    early: set[int] = set()
    passage = _PASSAGE
    for tries in range(_MOST_TRIES):
        paper = _Paper(rows, label_widths, track, room, passage)
        stuck = next((place for place, number in enumerate(order) if not paper.add(number, parts[number])), None)
        if stuck is None:
            return paper
        part = order[stuck]
        crowded = paper.crowded(parts[part])
        if tries >= _PATIENCE:  # each net on a line of its own, and room for all
            track = {net: place for row in rows for place, net in enumerate(row)}
            passage, room = _PASSAGE, 1.25 * room
        elif not crowded and part in early:
            early.clear()
            passage += STEP
            if passage > _MOST_PASSAGE:
                passage, room = _PASSAGE, room + _WIDENED
        elif part not in early:
            early.add(part)
            near = crowded or parts[part].nets
            first = next((place for place, number in enumerate(order[:stuck]) if near & parts[number].nets), stuck)
            order.insert(first, order.pop(stuck))
        else:
            track[min(sorted(crowded), key=paper.leads_on)] += 1
    raise ValueError(f"no room for {len(parts)} parts")


class _Bar(Struct):
    """A bar as far as it reaches so far, with its words. x0 > x1: not begun."""

    level: int
    x0: float = _FAR
    x1: float = -_FAR
    label: float = _FAR
    wide: float = 0.0


class _Wire(Struct, frozen=True):
    """A lead that is placed: from one level to another, both included."""

    low: int
    high: int
    x: float
    together: int
    net: str


class _Block(Struct, frozen=True):
    """A part that is placed, in its level."""

    x0: float
    x1: float
    together: int


class _Choice(Struct):
    cost: float
    spot: Spot
    shape: Shape
    labels: dict[str, float] = field(default_factory=dict)


class _Paper:
    """What is placed so far."""

    def __init__(self, rows: Sequence[Sequence[str]], label_widths: Mapping[str, float],
                 track: Mapping[str, int], room: float, passage: float) -> None:
        self.rows, self.passage = rows, passage
        self.room, self.asked = room, room
        self.track = track
        self.bars = {net: _Bar(number * _STRIDE + track[net], wide=label_widths[net])
                     for number, row in enumerate(rows) for net in row}
        self.on_level: dict[int, list[_Bar]] = {}
        for bar in self.bars.values():
            self.on_level.setdefault(bar.level, []).append(bar)
        self.tiers = dict.fromkeys(range(-1, len(rows)), 0)
        self.blocks: dict[int, list[_Block]] = {}
        self.wires: list[_Wire] = []
        self.spots: dict[int, Spot] = {}
        self.right = 0.0

    def add_wider(self, number: int, part: Wanted) -> bool:
        """Place a part that came later, on wider paper if it must be; nothing else moves."""
        for _ in range(_MOST_WIDER):
            if self.add(number, part):
                return True
            self.room += _WIDENED
        return False

    def crossings(self) -> int:
        """How often a lead crosses a bar that it is not on."""
        return sum(wire.low < bar.level < wire.high and bar.x0 <= wire.x <= bar.x1
                   for wire in self.wires for bar in self.bars.values())

    def score(self, room: float) -> float:
        """What a reader pays: crossings, height, length of the bars, and width beyond what there is room for."""
        lines = sum(len({self.track[net] for net in row}) for row in self.rows)
        return (100.0 + _CROSSING * self.crossings() + 70.0 * sum(self.tiers.values()) + 26.0 * lines
                + 0.15 * sum(max(0.0, bar.x1 - bar.x0) for bar in self.bars.values())
                + 4.0 * max(0.0, self.right - room))

    def leads_on(self, net: str) -> int:
        """How many leads end on a net so far."""
        return sum(wire.net == net for wire in self.wires)

    def crowded(self, part: Wanted) -> set[str]:
        """The nets of a part that share their line with one that is begun, or with another net of the part."""
        return {net for net in part.nets for bar in self.on_level[self.bars[net].level]
                if bar is not self.bars[net] and (bar.x0 <= bar.x1 or any(bar is self.bars[one] for one in part.nets))}

    def result(self, count: int) -> Packed:
        right = max([self.right, *(max(bar.x1, bar.label + bar.wide) for bar in self.bars.values())])
        return Packed(tuple(self.spots[number] for number in range(count)), self.track,
                      {net: bar.label for net, bar in self.bars.items()},
                      {net: (min(bar.x0, bar.label), max(bar.x1, bar.label + bar.wide))
                       for net, bar in self.bars.items()}, right, self.score(self.asked))

    def add(self, number: int, part: Wanted) -> bool:
        """Place a part; False where there is no place for it."""
        best: _Choice | None = None
        for distance, gap in enumerate(part.gaps):
            shape = part.shape(gap)
            for tier in range(self.tiers[gap] + 1):
                new = _NEW_TIER * self.asked if tier == self.tiers[gap] else 0.0
                price = _STRAY * min(distance, 3) + new + _DEEPER * tier
                if best is not None and price >= best.cost:
                    continue
                for choice in self._choices(part, shape, gap, tier, price):
                    if best is None or choice.cost < best.cost - 1e-6:
                        best = choice
        if best is None:
            return False
        self._take(number, part, best)
        return True

    def name_the_rest(self) -> None:
        """Words for bars that no part is on."""
        for bar in self.bars.values():
            if bar.x0 > bar.x1:
                others = [(one.x0 - _BETWEEN_BARS, one.x1 + _BETWEEN_BARS) for one in self.on_level[bar.level]
                          if one.x0 <= one.x1]
                others += [(wire.x - CLEAR, wire.x + CLEAR) for wire in self.wires if wire.low < bar.level <= wire.high]
                x = _first_free(others, bar.wide)
                bar.label, bar.x0, bar.x1 = x, x, x + bar.wide

    def _take(self, number: int, part: Wanted, choice: _Choice) -> None:
        spot, shape = choice.spot, choice.shape
        level = self._level(spot.gap, spot.tier)
        self.tiers[spot.gap] = max(self.tiers[spot.gap], spot.tier + 1)
        self.blocks.setdefault(level, []).append(_Block(spot.x + shape.x0, spot.x + shape.x1, part.together))
        for lead in shape.leads:
            bar, x = self.bars[lead.net], spot.x + lead.dx
            if lead.net in choice.labels:
                bar.label = choice.labels[lead.net]
                bar.x0, bar.x1 = min(bar.x0, bar.label), max(bar.x1, bar.label + bar.wide)
            bar.x0, bar.x1 = min(bar.x0, x), max(bar.x1, x)
            self.wires.append(_Wire(min(level, bar.level), max(level, bar.level), x, part.together, lead.net))
        self.spots[number] = spot
        self.right = max(self.right, spot.x + shape.x1)

    def _level(self, gap: int, tier: int) -> int:
        return gap * _STRIDE + _TRACKS + tier

    def _choices(self, part: Wanted, shape: Shape, gap: int, tier: int, price: float) -> Iterator[_Choice]:
        level = self._level(gap, tier)
        low, high = -shape.x0, self.room - shape.x1
        free = _free(sorted(self._forbidden(part, shape, level)), low, high)
        marks = sorted({mark - lead.dx for lead in shape.leads for bar in (self.bars[lead.net],) if bar.x0 <= bar.x1
                        for mark in (bar.x0, bar.x1, (bar.x0 + bar.x1) / 2)})
        tried = set()
        for a, b in free:
            for x in (a, b, *marks):
                x = round(min(max(x, a), b), 1)
                if x not in tried and a - 0.06 <= x <= b + 0.06:
                    tried.add(x)
                    labels = self._labels(shape, x, level)
                    if labels is not None:
                        yield _Choice(price + self._cost(shape, x, level, labels), Spot(gap, tier, x), shape,
                                      labels)

    def _forbidden(self, part: Wanted, shape: Shape, level: int) -> Iterator[tuple[float, float]]:
        """Stretches of the origin in which something would be too near."""
        for block in self.blocks.get(level, ()):
            if block.together & part.together:
                yield block.x0 - shape.x1 - self.passage, block.x1 - shape.x0 + self.passage
        spans = [(min(level, self.bars[lead.net].level), max(level, self.bars[lead.net].level), lead.dx)
                 for lead in shape.leads]
        for wire in self.wires:
            if wire.together & part.together:
                if wire.low <= level <= wire.high:
                    yield wire.x - shape.x1 - CLEAR, wire.x - shape.x0 + CLEAR
                for a, b, dx in spans:
                    if a <= wire.high and wire.low <= b:
                        yield wire.x - dx - STEP, wire.x - dx + STEP
        for a, b, dx in spans:
            for other, blocks in self.blocks.items():
                if a < other < b:
                    for block in blocks:
                        if block.together & part.together:
                            yield block.x0 - dx - CLEAR, block.x1 - dx + CLEAR
            for bar in self.bars.values():
                if bar.x0 <= bar.x1 and a < bar.level <= b:  # past its words, or from above into its own
                    yield bar.label - dx - CLEAR, bar.label + bar.wide - dx + CLEAR
        for lead in shape.leads:
            mine = self.bars[lead.net]
            for bar in self.on_level[mine.level]:
                if bar is mine or bar.x0 > bar.x1:
                    continue
                if mine.x0 > mine.x1:
                    yield bar.x0 - lead.dx - _BETWEEN_BARS, bar.x1 - lead.dx + _BETWEEN_BARS
                elif mine.x1 < bar.x0:
                    yield bar.x0 - lead.dx - _BETWEEN_BARS, _FAR
                else:
                    yield -_FAR, bar.x1 - lead.dx + _BETWEEN_BARS

    def _labels(self, shape: Shape, x: float, level: int) -> dict[str, float] | None:
        """Where the words of the bars stand that begin here; None where there is no room for them, or where two bars
        that the part is on would meet."""
        labels: dict[str, float] = {}
        dots: dict[str, list[float]] = {}
        for lead in shape.leads:
            dots.setdefault(lead.net, []).append(x + lead.dx)
        reach: dict[str, tuple[float, float]] = {}
        for net, xs in dots.items():
            bar = self.bars[net]
            if bar.x0 > bar.x1:
                found = self._label(shape, x, level, net, xs, reach)
                if found is None:
                    return None
                labels[net] = found
                reach[net] = (min(found, *xs), max(found + bar.wide, *xs))
            else:
                reach[net] = (min(bar.x0, *xs), max(bar.x1, *xs))
        nets = list(reach)
        for number, net in enumerate(nets):
            for other in nets[:number]:
                if self.bars[net].level == self.bars[other].level and _meet(reach[net], reach[other]):
                    return None
        return labels

    def _label(self, shape: Shape, x: float, level: int, net: str, xs: Sequence[float],
               reach: Mapping[str, tuple[float, float]]) -> float | None:
        bar = self.bars[net]
        from_above = level < bar.level
        here = [] if from_above else [min(xs) - 4.0]
        lines = [wire.x for wire in self.wires if wire.low < bar.level <= wire.high]
        for lead in shape.leads:
            own = self.bars[lead.net].level
            if min(own, level) < bar.level <= max(own, level):
                lines.append(x + lead.dx)
        taken = [(one.x0, one.x1) for one in self.on_level[bar.level] if one is not bar and one.x0 <= one.x1]
        taken += [span for other, span in reach.items() if other != net and self.bars[other].level == bar.level]
        for left in (*here, max(xs) + CLEAR, min(xs) - CLEAR - bar.wide, *(line + CLEAR for line in sorted(lines)),
                     *(line - CLEAR - bar.wide for line in sorted(lines))):
            right = left + bar.wide
            span = (min(left, *xs), max(right, *xs))
            if left >= -0.01 and right <= self.room + 0.01 and not any(_meet(span, one) for one in taken) \
                    and all(not left - CLEAR < line < right + CLEAR for line in lines):
                return left
        return None

    def _cost(self, shape: Shape, x: float, level: int, labels: Mapping[str, float]) -> float:
        cost = _WIDER * max(0.0, x + shape.x1 - self.right) + 0.01 * x
        for lead in shape.leads:
            bar, at = self.bars[lead.net], x + lead.dx
            a, b = min(level, bar.level), max(level, bar.level)
            cost += _CROSSING * sum(a < one.level < b and one.x0 <= at <= one.x1 for one in self.bars.values()
                                    if one.x0 <= one.x1)
            x0, x1 = (bar.x0, bar.x1) if bar.x0 <= bar.x1 else (labels[lead.net], labels[lead.net] + bar.wide)
            grown = [(min(at, x0), x0), (x1, max(at, x1))]
            cost += sum(end - start for start, end in grown)
            if bar.x0 > bar.x1:
                grown.append((x0, x1))
            cost += _CROSSING * sum(wire.low < bar.level < wire.high and any(s < wire.x < e for s, e in grown)
                                    for wire in self.wires)
        return cost


def _meet(one: tuple[float, float], other: tuple[float, float]) -> bool:
    return one[0] < other[1] + _BETWEEN_BARS and other[0] < one[1] + _BETWEEN_BARS


def _free(forbidden: Sequence[tuple[float, float]], low: float, high: float) -> Iterator[tuple[float, float]]:
    """The stretches from low to high that none of the sorted forbidden ones (open at their ends) covers."""
    at = low
    for start, end in forbidden:
        if start >= at and start <= high:
            yield at, start
        at = max(at, end)
    if at <= high:
        yield at, high


def _first_free(taken: Iterable[tuple[float, float]], needed: float) -> float:
    x = 0.0
    for start, end in sorted(taken):
        if x + needed <= start:
            break
        x = max(x, end)
    return x


def sides(net: str, ground: str, gap: int, row: Mapping[str, int], stands_on: bool) -> Side:
    """On which side of a part under row `gap` the bar of a net is; stands_on: its ground is over it."""
    if net == ground:
        return Side.GROUND_ABOVE if stands_on else Side.GROUND
    return Side.ABOVE if row[net] <= gap else Side.BELOW
