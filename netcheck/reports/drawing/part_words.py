"""A part as a column of the drawing: its symbol, its value, its current and its drop in words."""

from __future__ import annotations

from typing_extensions import assert_never

from netcheck.fragment.kinds import LINKS, MOVABLE
from netcheck.fragment.model import Kind, Part
from netcheck.fragment.states import ABSENT, State, joined_pins
from netcheck.parts.specs import DiodeSpec, FuseSpec, TransistorSpec
from netcheck.quantities.values import engineering
from netcheck.reports.drawing.picture import Column, Fate
from netcheck.simulation.elements import OperatingPoint

LEAST_SHOWN_A = 1e-10
"""A smaller simulated current is the solver's own leakage [A]."""
LEAST_SHOWN_V = 5e-4
"""A smaller voltage is written as none [V]."""

_DROPPING = frozenset({Kind.RESISTOR, Kind.DIODE, Kind.INDUCTOR, Kind.FUSE})
_VALUES = (("resistance", "ohm"), ("capacitance", "F"), ("inductance", "H"), ("coil", "ohm"))
_FAMILIES = frozenset({"schottky", "zener", "led", "germanium"})
_POLES = (("anode", "cathode"), ("plus", "minus"))


def column_of(part: Part, state: State, point: OperatingPoint | None, fate: Fate, word: str = "") -> Column:
    """The part as it stands in a state; with an operating point, its current and its drop as well."""
    links: tuple[tuple[str, str], ...] = ()
    value = _value(part)
    if part.kind in MOVABLE:
        position = _position(part, state)
        links = joined_pins(part, position) if position else ()
        value = position if part.kind in LINKS else ", ".join(filter(None, (value, position)))
    pins = tuple(part.pins.items())
    for first, second in _POLES:
        if first in part.pins and second in part.pins:
            pins = tuple((pin, part.pins[pin]) for pin in (first, second))
    amps = _amps(part, point) if len(links) < 2 else ""  # one figure would not say which link carries it
    flow = _flow(part, point)
    blocks = part.kind is Kind.DIODE and point is not None and not flow and _volts_across(part, point) < -LEAST_SHOWN_V
    through = _through(part, pins, links)
    return Column(
        name=part.name, symbol=_symbol(part), pins=pins, value=value,
        amps="" if amps == value else amps, drop=_drop(part, point), fate=fate, links=links, word=word,
        flow_A=flow if all(through) else 0.0, through=through, blocks=blocks, dead=_dead(part, point),
    )


_LEAST_TAKEN_A = 1e-6  # less into a cell has leaked through what blocks
LEAST_ARROW_A = 1e-8
"""A current below this is leakage, and has no arrow."""


_WAYS = (("collector", "emitter"), ("drain", "source"), ("input", "output"))


def _through(part: Part, pins: tuple[tuple[str, str], ...], links: tuple[tuple[str, str], ...]) -> tuple[str, str]:
    """The pins between which the current that the simulator tells of the part flows; none where it tells of several."""
    if part.kind in MOVABLE and len(pins) > 2:
        return links[0] if len(links) == 1 and part.kind is not Kind.TRIMMER else ("", "")
    for first, second in _WAYS:
        if first in part.pins and second in part.pins:
            return first, second
    return (pins[0][0], pins[1][0]) if len(pins) == 2 else ("", "")


def _flow(part: Part, point: OperatingPoint | None) -> float:
    """The current from the first of the pins it flows through to the second, more than leakage only."""
    amps = point.amps.get(part.name, 0.0) if point is not None else 0.0
    if abs(amps) < LEAST_ARROW_A or (part.kind is Kind.DIODE and amps < 0 and _symbol(part) != "zener"):
        return 0.0
    if part.kind is Kind.CELL:
        return -amps if amps > 0 or amps < -_LEAST_TAKEN_A else 0.0
    return amps


def _dead(part: Part, point: OperatingPoint | None) -> bool:
    """Whether no pin has volts and no current flows; never where something is not known."""
    if point is None or abs(point.amps.get(part.name, 0.0)) >= LEAST_ARROW_A:
        return False
    volts = [point.volts.get(net) for net in part.nets]
    return bool(volts) and all(one is not None and abs(one) < DEAD_V for one in volts)


DEAD_V = 0.05


def _position(part: Part, state: State) -> str:
    """Where the link stands; a part that the state does not know stands as it is set."""
    position = state.positions.get(part.name, "")
    return position if position == ABSENT or position in part.positions else part.position or ""


def _symbol(part: Part) -> str:
    match part.kind:
        case Kind.DIODE:
            family = part.spec.family if isinstance(part.spec, DiodeSpec) else ""
            return family if family in _FAMILIES else "diode"
        case Kind.TRANSISTOR:
            return part.spec.polarity if isinstance(part.spec, TransistorSpec) else "box"
        case Kind.CAPACITOR:
            return "polarised capacitor" if "plus" in part.pins else "capacitor"
        case Kind.JUMPER | Kind.SWITCH:
            return str(part.kind) if len(part.pins) == 2 else "header"
        case Kind.RELAY:
            return "header"
        case Kind.CHIP | Kind.CONNECTOR:
            return "box"
        case (Kind.CELL | Kind.RESISTOR | Kind.TRIMMER | Kind.INDUCTOR | Kind.FUSE | Kind.REGULATOR | Kind.LOAD):
            return str(part.kind)
        case _:
            assert_never(part.kind)


def _value(part: Part) -> str:
    """The value with its unit, or the name of the component."""
    for attribute, unit in _VALUES:
        quantity = getattr(part.spec, attribute, None)
        if quantity is not None:
            return engineering(quantity.value, unit)
    named = getattr(part.spec, "name", "")
    named = "" if named.startswith(part.name) else named  # "D1 as given" says nothing beside D1
    if isinstance(part.spec, DiodeSpec) and part.spec.zener_V is not None and not named:
        return engineering(part.spec.zener_V.value, "V")
    if isinstance(part.spec, FuseSpec):
        return "" if part.spec.rating_A is None else engineering(part.spec.rating_A, "A")
    return named or getattr(part.spec, "family", "")


def _amps(part: Part, point: OperatingPoint | None) -> str:
    amps = point.amps.get(part.name) if point is not None else None
    if amps is None or abs(amps) < LEAST_SHOWN_A:
        return ""
    said = engineering(abs(amps), "A")
    if part.kind is Kind.CELL:
        return f"gives {said}" if amps > 0 else f"takes {said}"
    return said


def _drop(part: Part, point: OperatingPoint | None) -> str:
    if point is None or part.kind not in _DROPPING:
        return ""
    first, second = (point.volts.get(net) for net in part.nets)
    if first is None or second is None or abs(first - second) < LEAST_SHOWN_V:
        return ""
    said = engineering(abs(first - second), "V")
    if part.kind is Kind.DIODE and _volts_across(part, point) < 0:
        return f"{said} across" if _symbol(part) == "zener" else f"blocks {said}"
    return f"drops {said}"


def _volts_across(part: Part, point: OperatingPoint) -> float:
    anode, cathode = point.volts.get(part.net("anode")), point.volts.get(part.net("cathode"))
    return 0.0 if anode is None or cathode is None else anode - cathode


