"""What a mod needs from the shop, and what matters about each part."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from msgspec import Struct

from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.parts.specs import (
    CapacitorSpec,
    CellSpec,
    DiodeSpec,
    FuseSpec,
    LeakagePoint,
    RegulatorSpec,
    ResistorSpec,
)
from netcheck.quantities.values import engineering
from netcheck.reports.words import ALUMINIUM, TANTALUM, is_coin, look_for, what

NetVolts = Mapping[str, Mapping[str, "float | None"]]
"""State to net to volts against ground, as a variant's result holds them."""

_MAY_DISSIPATE = 0.5  # share of a resistor's rating to use, common practice, no source
_USUAL_W = 0.25
_ROOM_C = 30.0
_RATINGS_W = (0.25, 0.5, 1.0, 2.0, 5.0)


class Purchase(Struct, frozen=True):
    """One line of the shopping list: designators, quantity, what, and what matters about it."""

    parts: tuple[str, ...]
    what: str
    matters: tuple[str, ...]

    @property
    def quantity(self) -> int:
        return len(self.parts)


def shopping(found: Fragment, after: Fragment, net_volts: NetVolts) -> list[Purchase]:
    """What has to be bought to make `after` of the circuit as found.

    net_volts: of `after`, to tell the volts and watts that each part will see.
    """
    lines: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for part in after.fitted:
        old = found.parts.get(part.name)
        if part.kind is Kind.LOAD or (old is not None and old.fitted and old.spec == part.spec):
            continue
        lines.setdefault((what(part), tuple(_matters(part, net_volts))), []).append(part.name)
    return [Purchase(tuple(names), words, matters) for (words, matters), names in lines.items()]


def _matters(part: Part, net_volts: NetVolts) -> Iterator[str]:
    spec = part.spec
    most_V = _most_volts(part, net_volts)
    match spec:
        case ResistorSpec():
            yield _watts(spec, most_V)
            yield look_for(part)
        case CapacitorSpec():
            yield from _capacitor(part, spec, most_V)
        case DiodeSpec():
            yield from _diode(spec, part, net_volts)
            yield look_for(part)
        case CellSpec():
            yield from _cell(spec)
        case FuseSpec():
            yield "the same speed (fast or slow) as the old one, and rated for the rail's volts"
        case RegulatorSpec():
            if spec.input_max_V is not None:
                yield f"stands {engineering(spec.input_max_V, 'V')} at its input"
            if spec.output_capacitor:
                yield f"its output capacitor: {spec.output_capacitor}"
            yield "check the pin order in its own data sheet"
        case _ if part.kind is Kind.JUMPER:
            yield f"a header of {len(part.pins)} pins at the board's pitch, and a cap"
        case _:
            yield "check the pin order in its own data sheet" if len(part.pins) > 2 else ""


def _watts(spec: ResistorSpec, most_V: float | None) -> str:
    if spec.power_W is not None:
        return f"{engineering(spec.power_W, 'W')} or more, as the file states"
    if most_V is None or spec.resistance.low <= 0:
        return "its dissipation could not be worked out: choose the power rating yourself"
    watts = most_V**2 / spec.resistance.low
    rating = next((rating for rating in _RATINGS_W if watts <= _MAY_DISSIPATE * rating), None)
    if rating is None:
        return f"it dissipates {engineering(watts, 'W')}: a power type, mounted clear of the board"
    size = "any ¼ W metal film" if rating == _USUAL_W else f"rated {engineering(rating, 'W')} or more"
    spent = engineering(watts, "W") if watts >= 1e-6 else "next to nothing"
    return f"{size}: it dissipates {spent} at most"


def _capacitor(part: Part, spec: CapacitorSpec, most_V: float | None) -> Iterator[str]:
    if spec.rated_V is not None:
        sees = f", for it sees {engineering(most_V, 'V')} at most" if most_V is not None else ""
        yield f"rated {engineering(spec.rated_V, 'V')} or more{sees}"
    elif most_V is not None:
        yield f"it sees {engineering(most_V, 'V')}: buy one rated well above that"
    if spec.type == "unknown":
        yield "the file does not say which type: settle that before buying"
    elif spec.type in ALUMINIUM:
        hours = f"{engineering(spec.life_h, 'h')} at {spec.life_at_C:g} °C" \
            if spec.life_h is not None and spec.life_at_C is not None else "a 105 °C type with a stated life"
        yield f"{hours}; check diameter, height and lead pitch"
    elif spec.type in TANTALUM:
        yield "a tantalum burns when fitted backwards: check the bar twice"
    else:
        yield f"the dielectric matters: {spec.type}"
    if spec.esr_ohm is not None:
        yield f"series resistance about {engineering(spec.esr_ohm, 'ohm')}"
    yield look_for(part)


def _diode(spec: DiodeSpec, part: Part, net_volts: NetVolts) -> Iterator[str]:
    if spec.family == "zener":
        yield "its volts and its power rating"
        return
    reverse_V = _most_reverse(part, net_volts)
    if spec.reverse_V is not None and reverse_V is not None:
        yield (f"stands {engineering(spec.reverse_V, 'V')} backwards; sees "
               f"{engineering(reverse_V, 'V') if reverse_V > 0 else 'none'} here")
    leak = _leakage(spec, reverse_V or 0.0)
    if leak is not None:
        yield (f"leaks {engineering(leak.current_A, 'A')} {leak.limit} at {engineering(leak.volts_V, 'V')} and "
               f"{leak.temperature_C:g} °C")
    if spec.family == "schottky":
        yield "this very type, for Schottky diodes differ widely in leakage"


def _leakage(spec: DiodeSpec, reverse_V: float) -> LeakagePoint | None:
    """The published leakage at room temperature that says most: a maximum, near the volts it will see."""
    known = [point for point in spec.leakage if point.temperature_C <= _ROOM_C]
    return min(known, key=lambda point: (point.limit != "maximum", abs(point.volts_V - reverse_V)), default=None)


def _cell(spec: CellSpec) -> Iterator[str]:
    if is_coin(spec):
        yield "with a holder that fits the board or hangs on wires; no tagged cell soldered in"
    elif spec.lithium:
        yield "with its holder or factory tags; never solder to a lithium cell's can"
    if spec.primary:
        yield "fresh, of a maker that you know, in its sealed pack"
    if spec.capacity_Ah:
        yield f"{engineering(spec.nominal_V, 'V')}, about {engineering(spec.capacity_Ah, 'Ah')}"
    if not spec.primary:
        yield "a rechargeable of this very chemistry: the charger is judged for it"


def _most_volts(part: Part, net_volts: NetVolts) -> float | None:
    """The most volts across a two-pin part in the states that are known [V]."""
    seen = [abs(volts) for volts in _across(part, net_volts)]
    return max(seen, default=None)


def _most_reverse(part: Part, net_volts: NetVolts) -> float | None:
    sign = -1 if next(iter(part.pins)) == "anode" else 1
    return max((sign * volts for volts in _across(part, net_volts)), default=None)


def _across(part: Part, net_volts: NetVolts) -> list[float]:
    """First pin less second pin, in every state where both are known [V]."""
    if len(part.pins) != 2:
        return []
    first, second = part.nets
    pairs = [(volts.get(first), volts.get(second)) for volts in net_volts.values()]
    return [a - b for a, b in pairs if a is not None and b is not None and math.isfinite(a - b)]
