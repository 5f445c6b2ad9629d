"""Each tolerance of a board off nominal by itself: which elements it changes, and how."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import product

from msgspec.structs import replace

from netcheck.bench import meter
from netcheck.bench.meter import What
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.parts import cell
from netcheck.parts.specs import CellSpec, ResistorSpec
from netcheck.simulation.corner import Corner
from netcheck.simulation.elements import Battery, Draw, Element, Junction, Regulation, Resistance, Source
from netcheck.solving.solved_states import OLD, ROOM_C

UNSTATED_TOLERANCE = 0.05
"""Of a resistor or a rail that the file gives no tolerance for (common practice, no source)."""

QUIET = 0.1
"""A load may draw as little as this share of its typical current (common practice, no source)."""

DEAD_RAIL_V = 0.1
"""What a dead rail may still stand at, fed back through the rest of the board (common practice, no source)."""

NOMINAL = Corner("nominal", ROOM_C)

CORNERS: tuple[Corner, ...] = (
    NOMINAL,
    replace(NOMINAL, name="supply+", supply=1.0), replace(NOMINAL, name="supply-", supply=-1.0),
    replace(NOMINAL, name="resistance+", resistance=1.0), replace(NOMINAL, name="resistance-", resistance=-1.0),
    replace(NOMINAL, name="drop+", drop="maximum"), replace(NOMINAL, name="drop-", drop="minimum"),
    replace(NOMINAL, name="leakage+", leakage="maximum"),
    replace(NOMINAL, name="draw+", draw="maximum"),
    replace(NOMINAL, name="used+", used=OLD),
)
"""The corners that a board is assembled at; the sign says to which side."""

_EASY = replace(NOMINAL, name="easy", drop="minimum")
_HARD = replace(NOMINAL, name="hard", drop="maximum", leakage="maximum", draw="maximum")

TOGETHER: tuple[Corner, ...] = tuple(
    replace(parts, name=f"{parts.name} {supply} {resistance} {used}", supply=supply, resistance=resistance, used=used)
    for parts, supply, resistance, used in product((_EASY, _HARD), (1.0, -1.0), (1.0, -1.0), (0.0, OLD))
)
"""Tolerances off nominal together, for what none of them does alone, such as a cell that takes over from a low rail."""


def swung(
    board: Mapping[str, tuple[Element, ...]], fragment: Fragment
) -> Iterator[tuple[str, int, tuple[Element, ...]]]:
    """Each tolerance of a board alone off nominal: its name, its side, the elements.

    All supplies go together, and so do the diodes' drops, their leakages and
    the loads; resistors, cells and dead rails are each by themselves.
    """
    nominal = board["nominal"]
    for side, sign in ((1, "+"), (-1, "-")):
        yield from _differing(nominal, "supply", side, tuple(
            _strayed(own, high, side) for own, high in zip(nominal, board["supply" + sign], strict=True)))
        yield from _differing(nominal, "drop", side, tuple(
            high if isinstance(own, Junction) else own
            for own, high in zip(nominal, board["drop" + sign], strict=True)))
    for axis, leaking, least in (("leakage", (Junction, Draw), _tight), ("draw", (Draw,), _quiet)):
        yield from _differing(nominal, axis, 1, _taking(nominal, board[axis + "+"], leaking))
        yield from _differing(nominal, axis, -1, tuple(map(least, nominal)))
    for place, own in enumerate(nominal):
        if isinstance(own, Source) and own.volts == 0:
            residue = -DEAD_RAIL_V if fragment.rails[own.name].volts.value < 0 else DEAD_RAIL_V
            yield own.name, 1, _swapped(nominal, place, replace(own, volts=residue))
        part = fragment.parts.get(own.name)
        if part is None:
            continue
        if part.kind is Kind.RESISTOR and isinstance(own, Resistance):
            for side, sign in ((1, "+"), (-1, "-")):
                other = _off(own, board["resistance" + sign][place], part, side)
                yield from _differing(nominal, own.name, side, _swapped(nominal, place, other))
        elif part.kind is Kind.TRIMMER:
            for side, sign in ((1, "+"), (-1, "-")):  # its two halves go together
                yield from _differing(nominal, own.name, side, tuple(
                    high if each.name in (part.name, f"{part.name}.2") else each
                    for each, high in zip(nominal, board["resistance" + sign], strict=True)))
        elif isinstance(own, Battery):
            for axis, side, other in _aged(own, board["used+"][place], part):
                yield from _differing(nominal, axis, side, _swapped(nominal, place, other))


def _strayed(own: Element, toleranced: Element, side: int) -> Element:
    """A supply at one end of its tolerance; one that is written without any has the usual one."""
    if isinstance(own, Source) and own == toleranced:
        return replace(own, volts=own.volts * (1 + side * UNSTATED_TOLERANCE))
    return toleranced if isinstance(own, (Source, Regulation)) else own


def _differing(
    nominal: tuple[Element, ...], axis: str, side: int, elements: tuple[Element, ...]
) -> Iterator[tuple[str, int, tuple[Element, ...]]]:
    if elements != nominal:
        yield axis, side, elements


def _taking(
    nominal: tuple[Element, ...], other: tuple[Element, ...], kinds: tuple[type[Element], ...]
) -> tuple[Element, ...]:
    """Nominal, with the elements of some kinds as another corner has them, those too that only it has.

    A capacitor of unknown type leaks at most, and typically not at all.
    """
    theirs = {element.name: element for element in other if isinstance(element, kinds)}
    own = tuple(theirs.pop(element.name, element) for element in nominal)
    return (*own, *theirs.values())


def _swapped(elements: tuple[Element, ...], place: int, other: Element) -> tuple[Element, ...]:
    return (*elements[:place], other, *elements[place + 1:])


def _tight(element: Element) -> Element:
    return replace(element, leakage_A=0.0) if isinstance(element, Junction) else element


def linear(element: Element) -> tuple[Element, ...]:
    """A junction with a resistance for its leakage; any other element as it is."""
    if not isinstance(element, Junction) or not element.leakage_A:
        return (element,)
    ohm = element.leakage_at_V / element.leakage_A
    return (_tight(element), Resistance(f"{element.name}.leakage", element.anode, element.cathode, ohm))


def _quiet(element: Element) -> Element:
    if not isinstance(element, Draw):
        return element
    return replace(element, amps=element.amps * QUIET, siemens=element.siemens * QUIET)


def _off(own: Resistance, toleranced: Element, part: Part, side: int) -> Element:
    """A resistor at one end of its tolerance; one that is shorted or leaks is no longer what was marked."""
    spec = part.spec
    assert isinstance(spec, ResistorSpec)
    if own.ohm == spec.resistance.value and spec.resistance.low == spec.resistance.high:
        return replace(own, ohm=own.ohm * (1 + side * UNSTATED_TOLERANCE))
    return toleranced


def _aged(own: Battery, old: Element, part: Part) -> Iterator[tuple[str, int, Element]]:
    """A cell nearly used up, and a fresh one that gives nothing; one that was measured strays by the error of that.

    A cell's own volts are those under the load that it carries for good; in a state in which something else
    carries that, it stands as high as without any.
    """
    spec, measured_V = part.spec, part.measured_V
    assert isinstance(spec, CellSpec)
    idle_V = max(own.volts, cell.volts(spec, 0.0, measured_V, ROOM_C))
    if measured_V is None:
        yield own.name, 1, old
        yield f"{own.name} idle", 1, replace(own, volts=idle_V)
        return
    stray = meter.error(What.VOLTS, measured_V)
    yield own.name, 1, replace(own, volts=idle_V + stray)
    yield own.name, -1, replace(own, volts=own.volts - stray)
