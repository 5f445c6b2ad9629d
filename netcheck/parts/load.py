"""What a load draws from its supply pin while it is backed up."""

from __future__ import annotations

from msgspec import Struct

from netcheck.parts.specs import DrawPoint, LoadSpec


class Drawn(Struct, frozen=True):
    """Supply current: `amps` [A] at `at_V` [V], changing by `siemens` [A/V] with the supply.

    limit: which figures it rests on, "typical" or "maximum" (where a load has
    only one kind, that kind serves for both).
    """

    amps: float
    at_V: float
    siemens: float
    limit: str


def draw(spec: LoadSpec, limit: str) -> Drawn:
    """The supply current of a load; limit: "typical" or "maximum".

    Two points or more give a straight line through the lowest and the highest
    voltage. Where only the other kind of figure is published, it stands in and
    `Drawn.limit` says so. Raises ValueError for another limit.
    """
    if limit not in ("typical", "maximum"):
        raise ValueError(f'limit is "typical" or "maximum", not "{limit}"')
    own = [point for point in spec.draws if point.limit == limit]
    if own:
        return _line(own, limit)
    other = "maximum" if limit == "typical" else "typical"
    return _line([point for point in spec.draws if point.limit == other], other)


def _line(points: list[DrawPoint], limit: str) -> Drawn:
    if not points:
        raise ValueError("a load without a supply current")
    low = min(points, key=lambda point: point.volts_V)
    high = max(points, key=lambda point: point.volts_V)
    rise = high.volts_V - low.volts_V
    return Drawn(low.current_A, low.volts_V, (high.current_A - low.current_A) / rise if rise else 0.0, limit)
