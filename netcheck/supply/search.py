"""Every combination of the resistors to choose from, as arrays: which give the wanted outputs best.

A resistor that is in circuit in all settings (the base) takes each value that leaves the divider's current between
its bounds; every other one takes each value there is. A base from which no other resistor can reach the wanted
outputs better than the best choices found so far is passed over: that leaves nothing out. Where the combinations
are more than `MOST`, values that alone move the output by less than a step or out of all bounds are left out, and
`Search.complete` says so.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from itertools import product
from math import comb
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from netcheck.clock import in_time, used_up
from netcheck.supply.divider import Dividers
from netcheck.supply.drawer import Value, enough

if TYPE_CHECKING:
    import numpy as np

KEPT = 300
"""Choices that are kept for the proof, the best ones."""

MOST = 60_000_000
"""Combinations up to which every one is tried."""

_CHUNK = 100_000


class Demand(Struct, frozen=True):
    """wanted outputs, and the bounds of the search: all volts as magnitudes, currents in the near resistors."""

    wanted_V: tuple[float, ...]
    low_V: float
    high_V: float
    step: float = 0.002
    least_A: float = 0.0
    most_A: float = 0.05
    most_pin_share: float = 0.02


class Search(Struct, frozen=True):
    """The best choices, best first, and whether every combination was tried."""

    found: list[Found]
    complete: bool


class Found(Struct, frozen=True):
    """A choice: the value of each free resistor, and the worst error to the wanted outputs [1]."""

    values: tuple[Value, ...]
    error: float


def search(
    given: Dividers, free: Sequence[str], values: Sequence[Value], demand: Demand,
    progress: Callable[[int, int], None] | None = None, most: int = MOST,
) -> Search:
    """The best choices for the free resistors; those that differ only by which link has which value count once."""
    import numpy as np

    sides = _Sides(given, free)
    base = [place for place, name in enumerate(free) if sides.always(place)]
    moved = [place for place in range(len(free)) if place not in base]
    alike = sides.alike(moved)
    bases = list(_bases(given, sides, base, values, demand))
    sets = comb(len(values) + len(moved) - 1, len(moved)) if alike else len(values) ** len(moved)
    narrow = len(bases) * sets > most
    if narrow:
        bases = [one for one in bases if one.output is None or one.output >= demand.low_V]
    best: list[tuple[float, tuple[int, ...]]] = []
    limit = float("inf")
    for done, one in enumerate(in_time(sorted(bases, key=lambda one: _bound(sides, one.output, demand)))):
        if progress:
            progress(done, len(bases))
        if _bound(sides, one.output, demand) > limit:
            break
        for chosen, near, far in _moved(given, sides, moved, alike, values, demand, one, narrow):
            reached = given.reference_V + (given.reference_V * near + given.pin_A) / far
            errors = _errors(np, reached, demand)
            errors[(reached > demand.high_V * (1 + 1e-9)).any(axis=1)] = np.inf
            likely = np.flatnonzero(errors < limit)
            for index in likely[np.argsort(errors[likely], kind="stable")[:KEPT]]:
                places = _places(base, one.picked, moved, chosen[index], len(free))
                if enough([values[place] for place in places]):
                    best.append((float(errors[index]), places))
            best = sorted(best)[:KEPT]
            limit = best[-1][0] if len(best) == KEPT else float("inf")
    if progress:
        progress(len(bases), len(bases))
    return Search([Found(tuple(values[place] for place in places), error) for error, places in best],
                  not narrow and used_up() is None)


class _Sides:
    """Which free resistors stand on which side in which setting, and what the fixed ones add there."""

    def __init__(self, given: Dividers, free: Sequence[str]) -> None:
        import numpy as np

        def held(names: tuple[str, ...]) -> float:
            return sum((1 / given.ohms[name] for name in names if name not in free), 0.0)

        self.near0 = np.array([held(one.near) for one in given.settings])
        self.far0 = np.array([held(one.far) for one in given.settings])
        self.near = np.array([[name in one.near for name in free] for one in given.settings], dtype=float)
        self.far = np.array([[name in one.far for name in free] for one in given.settings], dtype=float)
        self.within = self.near + self.far

    def always(self, place: int) -> bool:
        """Whether a resistor is in circuit, on the same side, in every setting."""
        return bool((self.near[:, place] == 1).all() or (self.far[:, place] == 1).all())

    def alone(self, place: int, moved: Sequence[int]) -> int | None:
        """A setting in which it is the only one of the moved ones in circuit."""
        for setting, within in enumerate(self.within):
            if within[place] and not any(within[other] for other in moved if other != place):
                return setting
        return None

    def alike(self, moved: Sequence[int]) -> bool:
        """Whether the moved ones can change places: each on the same side, in by a link of its own."""
        if len(moved) < 2 or len(self.within) != 2 ** len(moved):
            return False
        one_side = any(not side[:, moved].any() for side in (self.near, self.far))
        return one_side and len({tuple(row) for row in self.within[:, moved]}) == len(self.within)

    def bare(self, moved: Sequence[int]) -> int | None:
        """A setting in which none of the moved ones is in circuit."""
        return next((setting for setting, within in enumerate(self.within)
                     if not any(within[other] for other in moved)), None)


class _Base(Struct, frozen=True):
    """Values picked for the base, the conductances of every setting, and the output that they alone set (or None)."""

    picked: tuple[int, ...]
    near: Any
    far: Any
    output: float | None


def _bases(
    given: Dividers, sides: _Sides, base: Sequence[int], values: Sequence[Value], demand: Demand
) -> Iterator[_Base]:
    """Every base within its bounds."""
    moved = [place for place in range(sides.near.shape[1]) if place not in base]
    bare = sides.bare(moved)
    for picked in product(range(len(values)), repeat=len(base)):
        near, far = sides.near0.copy(), sides.far0.copy()
        for place, index in zip(base, picked, strict=True):
            near += sides.near[:, place] / values[index].ohm
            far += sides.far[:, place] / values[index].ohm
        if bare is None:
            yield _Base(picked, near, far, None)
            continue
        current = given.reference_V * near[bare]
        if base and not demand.least_A * 0.99 <= current <= demand.most_A:
            continue
        if not far[bare]:
            continue
        output = given.reference_V + (current + given.pin_A) / far[bare]
        if not output <= demand.high_V:
            continue
        if base and given.pin_A / far[bare] > demand.most_pin_share * output:
            continue
        yield _Base(picked, near, far, float(output))


def _bound(sides: _Sides, start: float | None, demand: Demand) -> float:
    """The least error that a base can lead to, knowing which way its other resistors move the output."""
    if start is None:
        return 0.0
    least, most = min(demand.wanted_V), max(demand.wanted_V)
    moved = [place for place in range(sides.near.shape[1]) if not sides.always(place)]
    if all((sides.far[:, place] == 0).all() for place in moved):
        return max(0.0, (start - least) / least)  # they only raise it
    if all((sides.near[:, place] == 0).all() for place in moved):
        return max(0.0, (most - start) / most)
    return 0.0


def _moved(
    given: Dividers, sides: _Sides, moved: Sequence[int], alike: bool, values: Sequence[Value], demand: Demand,
    base: _Base, narrow: bool,
) -> Iterator[tuple[Any, Any, Any]]:
    """Combinations of the other resistors, a chunk at a time, with the conductances of every setting."""
    import numpy as np

    conductance = np.array([1 / value.ohm for value in values])
    allowed = [np.array(_useful(given, sides, place, moved, conductance, demand, base, narrow), dtype=int)
               for place in moved]
    for rows in _rows([len(one) for one in allowed], alike):
        chosen = np.stack([one[rows[:, place]] for place, one in enumerate(allowed)], axis=1) if moved else rows
        added = conductance[chosen]
        yield chosen, base.near + added @ sides.near[:, moved].T, base.far + added @ sides.far[:, moved].T


def _rows(sizes: Sequence[int], alike: bool) -> Iterator[Any]:
    """Every combination of indices, as arrays of at most some hundred thousand rows; each set once where alike."""
    import numpy as np

    if not sizes:
        yield np.zeros((1, 0), dtype=int)
        return
    if min(sizes) == 0:
        return
    every = _sets(sizes[0], len(sizes)) if alike else None
    if every is not None:
        for start in range(0, len(every), _CHUNK):
            yield every[start:start + _CHUNK]
        return
    inner = np.stack(np.meshgrid(*(np.arange(size) for size in sizes[1:]), indexing="ij"), axis=-1).reshape(
        -1, len(sizes) - 1) if len(sizes) > 1 else np.zeros((1, 0), dtype=int)
    together = max(1, _CHUNK // len(inner))
    for start in range(0, sizes[0], together):
        first = np.arange(start, min(sizes[0], start + together))
        yield np.concatenate([np.repeat(first, len(inner))[:, None], np.tile(inner, (len(first), 1))], axis=1)


@lru_cache(maxsize=64)
def _sets(size: int, count: int) -> Any:
    """Every combination with repetition of `count` out of `size` indices, one a row."""
    import numpy as np

    rows = np.arange(size)[:, None]
    for _ in range(count - 1):
        spread = size - rows[:, -1]
        rows = np.repeat(rows, spread, axis=0)
        last = np.concatenate([np.arange(size - more, size) for more in spread]) if len(spread) else rows[:, -1]
        rows = np.concatenate([rows, last[:, None]], axis=1)
    return rows


def _useful(
    given: Dividers, sides: _Sides, place: int, moved: Sequence[int], conductance: Any, demand: Demand, base: _Base,
    narrow: bool,
) -> list[int]:
    """The values of a resistor that leave the output below its bound, alone in circuit; narrow: those that count."""
    import numpy as np

    setting = sides.alone(place, moved)
    if setting is None or base.output is None:
        return list(range(len(conductance)))
    near = base.near[setting] + conductance * sides.near[setting, place]
    far = base.far[setting] + conductance * sides.far[setting, place]
    output = given.reference_V + (given.reference_V * near + given.pin_A) / far
    kept = output <= demand.high_V
    if narrow:
        kept &= (np.abs(output - base.output) >= demand.step * base.output) & (output >= demand.low_V)
    return [int(index) for index in np.flatnonzero(kept)]


def _errors(np: Any, reached: Any, demand: Demand) -> np.ndarray[Any, Any]:
    """The worst over the wanted outputs of how far the nearest setting is off, for each choice."""
    worst = np.zeros(len(reached))
    for wanted in demand.wanted_V:
        worst = np.maximum(worst, np.abs(reached - wanted).min(axis=1) / wanted)
    return worst  # type: ignore[no-any-return]


def _places(
    base: Sequence[int], picked: Sequence[int], moved: Sequence[int], chosen: Any, count: int
) -> tuple[int, ...]:
    places = dict(zip(base, picked, strict=True)) | {
        place: int(index) for place, index in zip(moved, chosen, strict=True)}
    return tuple(places[place] for place in range(count))
