"""Which bar stands above which: by volts, then by who feeds whom."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from netcheck.reports.drawing.picture import Bar, Column, Fate, Picture
from netcheck.reports.drawing.symbols import DIODES

NEAR_V = 0.02
"""Bars within this many volts of each other are ordered by who feeds whom."""

_OPEN = frozenset({"capacitor", "polarised capacitor", "load"})  # next to no direct current
_LINKS = frozenset({"jumper", "switch", "header"})
_DIODES = frozenset(DIODES) - {"zener"}
_DIODE_V = 0.7  # common practice, no source; decides the stacking of nets of unknown volts only
_SETTLED = 200


def stacked(picture: Picture) -> tuple[Bar, ...]:
    """The bars from the top of the picture to its bottom.

    A bar whose volts are neither known nor expected is stacked at the mean of
    its neighbours, and no further below the anode of a diode that feeds it than
    a diode drops. Among bars of nearly the same volts, the nearer to a rail or
    to the plus of a cell is the higher, and ground is the lowest.
    """
    links = _neighbours(picture.columns)
    level = _levels(picture, links)
    distance = _distances(picture, links)
    number = {bar.net: i for i, bar in enumerate(picture.bars)}
    falling = sorted(picture.bars, key=lambda bar: (-level[bar.net], number[bar.net]))
    order: list[Bar] = []
    while falling:
        top = level[falling[0].net]
        group = [bar for bar in falling if level[bar.net] >= top - NEAR_V]
        falling = falling[len(group):]
        order.extend(sorted(group, key=lambda b: (b.kind == "ground", distance[b.net], number[b.net])))
    return tuple(order)


def rows(picture: Picture) -> tuple[tuple[Bar, ...], ...]:
    """The bars from the top down, those of nets that are level in one row; ground has none.

    Level are the nets that the picture says are, else, in a single state, those within NEAR_V of each other.
    """
    order = [bar for bar in stacked(picture) if bar.kind != "ground"]
    group_of = {net: number for number, group in enumerate(picture.level or ()) for net in group}
    found: list[list[Bar]] = []
    for bar in order:
        for row in found:
            of_row = group_of.get(row[0].net)
            if (of_row is not None and of_row == group_of.get(bar.net)) if picture.level is not None \
                    else _near(bar, row):
                row.append(bar)
                break
        else:
            found.append([bar])
    return tuple(map(tuple, found))


def _near(bar: Bar, row: Sequence[Bar]) -> bool:
    return bar.volts is not None and all(
        one.volts is not None and abs(bar.volts - one.volts) <= NEAR_V for one in row)


def negative(picture: Picture) -> frozenset[str]:
    """The nets that stand below ground."""
    level = _levels(picture, _neighbours(picture.columns))
    return frozenset(net for net, volts in level.items() if volts < -NEAR_V)


def _neighbours(columns: Sequence[Column]) -> dict[str, list[str]]:
    """Net to the nets that a part joins to it: by direct current, or where nothing does, by any part."""
    near: dict[str, list[str]] = defaultdict(list)
    far: dict[str, list[str]] = defaultdict(list)
    for column in columns:
        for pin, net in column.pins:
            for other_pin, other in column.pins:
                if other != net:
                    (near if _conducts(column, pin, other_pin) else far)[net].append(other)
    return {**far, **near}


def _conducts(column: Column, pin: str, other: str) -> bool:
    if column.symbol in _LINKS:
        return (pin, other) in column.links or (other, pin) in column.links
    return column.symbol not in _OPEN


def _levels(picture: Picture, links: dict[str, list[str]]) -> dict[str, float]:
    level = {bar.net: bar.level for bar in picture.bars}
    diodes = [dict(c.pins) for c in picture.columns if c.symbol in _DIODES and c.fate is not Fate.REMOVED]
    feeding: dict[str, list[str]] = defaultdict(list)
    for pins in diodes:
        feeding[pins["cathode"]].append(pins["anode"])
    known = [v for v in level.values() if v is not None]
    middle = (max(known) + min(known)) / 2 if known else 0.0
    settled = {net: middle if v is None else v for net, v in level.items()}
    loose = [net for net, v in level.items() if v is None and links.get(net)]
    for _ in range(_SETTLED if loose else 0):
        for net in loose:
            mean = sum(settled[other] for other in links[net]) / len(links[net])
            settled[net] = max([mean, *(settled[anode] - _DIODE_V for anode in feeding[net])])
    return settled


def _distances(picture: Picture, links: dict[str, list[str]]) -> dict[str, int]:
    """Parts between each net and the nearest source of current, ground not being a way."""
    grounds = {bar.net for bar in picture.bars if bar.kind == "ground"}
    sources = [bar.net for bar in picture.bars if bar.kind == "rail"]
    sources += [net for c in picture.columns if c.symbol == "cell" for pin, net in c.pins if pin == "plus"]
    far = len(picture.bars)
    distance = {bar.net: far for bar in picture.bars}
    queue = [net for net in dict.fromkeys(sources) if net not in grounds]
    distance.update(dict.fromkeys(queue, 0))
    for net in queue:
        for other in links.get(net, ()):
            if distance[other] == far and other not in grounds:
                distance[other] = distance[net] + 1
                queue.append(other)
    return distance
