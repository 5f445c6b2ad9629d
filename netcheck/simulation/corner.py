"""What the simulator is to assume: a corner of the tolerances, and parts that have failed."""

from __future__ import annotations

from functools import lru_cache

from msgspec import Struct


class Corner(Struct, frozen=True):
    """One choice of every tolerance.

    supply, resistance: -1 (low end of the tolerance) … 0 (nominal) … +1 (high end).
    used: share of every cell's capacity that is used up (0 fresh … 1 end point);
    ends: the place of single rails' tolerances by net, in place of `supply`: each rail has its own.
    flat: a cell at its end point all the same, while the others stand at `used`.
    drop: forward drop of the diodes, "typical", "maximum" or "minimum".
    leakage, draw: "typical" or "maximum", reverse leakage and load current.
    """

    name: str
    temperature_C: float = 25.0
    supply: float = 0.0
    resistance: float = 0.0
    used: float = 0.0
    flat: str | None = None
    drop: str = "typical"
    leakage: str = "typical"
    draw: str = "typical"
    ends: tuple[tuple[str, float], ...] = ()


@lru_cache(maxsize=2048)
def same(corner: Corner) -> Corner:
    """The one object that stands for all corners equal to this one."""
    return corner


class Fault(Struct, frozen=True):
    """One part that has failed: `how` is "short" (between `pins`, or `nets` for a chip's insides) or "open".

    pin: the only pin that is open, that is without contact (None: the whole part is).
    """

    part: str
    how: str
    pins: tuple[str, str] | None = None
    nets: tuple[str, str] | None = None
    pin: str | None = None
