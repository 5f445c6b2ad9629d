"""Which measurements a large board can afford: those nearest to its cells and loads."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence

from netcheck.bench.measure import Measurement
from netcheck.bench.swings import CORNERS, TOGETHER
from netcheck.fragment.groups import coupled_nets, held_always
from netcheck.fragment.model import Fragment, Kind

MOST_WORK = 400_000
"""Elements times circuits that the figures of a sheet may cost: some 25 s of one processor."""

_SWUNG = (Kind.RESISTOR, Kind.TRIMMER, Kind.CELL)


def affordable(fragment: Fragment, wanted: Sequence[Measurement], always: Iterable[int] = ()) -> frozenset[int]:
    """The places of the measurements that are worth their figures; all of them on a board of usual size.

    always: places that are kept whatever they cost.
    """
    most = MOST_WORK // (elements_of(fragment) * (trials_of(fragment) + len(TOGETHER)))
    if len(wanted) <= most:
        return frozenset(range(len(wanted)))
    kept = set(always)
    hops = distances(fragment)
    far = len(fragment.nets)
    nearest = sorted(range(len(wanted)), key=lambda place: (_hops(fragment, wanted[place], hops, far), place))
    return frozenset(kept | set([place for place in nearest if place not in kept][:max(0, most - len(kept))]))


def trials_of(fragment: Fragment) -> int:
    """About how many circuits a measurement takes with each tolerance off nominal by itself."""
    return len(CORNERS) + 2 * sum(1 for _ in fragment.of_kind(*_SWUNG))


def elements_of(fragment: Fragment) -> int:
    """About how many elements a circuit of it has."""
    return sum(1 for _ in fragment.fitted) + len(fragment.nets)


def distances(fragment: Fragment) -> dict[str, int]:
    """How many parts lie between each net and the nearest cell, else load; held nets lead nowhere."""
    kinds = Kind.CELL if any(fragment.of_kind(Kind.CELL)) else Kind.LOAD
    return distances_from(fragment, {net for part in fragment.of_kind(kinds) for net in part.nets})


def distances_from(fragment: Fragment, nets: Iterable[str]) -> dict[str, int]:
    """How many parts lie between each net and the nearest of these; held nets lead nowhere."""
    held = held_always(fragment)
    beside: dict[str, list[tuple[str, ...]]] = {}
    for part in fragment.fitted:
        nets = coupled_nets(part)
        for net in nets:
            beside.setdefault(net, []).append(nets)
    found = dict.fromkeys(nets, 0)
    waiting = deque(net for net in found if net not in held)
    while waiting:
        net = waiting.popleft()
        for nets in beside.pop(net, []):
            for near in nets:
                if near not in found:
                    found[near] = found[net] + 1
                    if near not in held:
                        waiting.append(near)
    return found


def _hops(fragment: Fragment, one: Measurement, hops: dict[str, int], far: int) -> int:
    """Of the net that is furthest away: a part is as far as its far end."""
    nets = fragment.parts[one.through].nets if one.through is not None else (one.at, one.against)
    return max((hops.get(net, far) for net in nets if net is not None), default=far)
