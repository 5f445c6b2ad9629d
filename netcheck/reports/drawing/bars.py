"""The nets of a picture: their volts, what they are, and how they are labelled."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from netcheck.fragment.model import Fragment, Kind
from netcheck.fragment.states import State
from netcheck.parts.specs import CellSpec
from netcheck.quantities.values import engineering
from netcheck.reports.drawing.part_words import DEAD_V, LEAST_SHOWN_V
from netcheck.reports.drawing.picture import Bar, Column, Fate
from netcheck.simulation.elements import OperatingPoint


def bars_of(
    fragment: Fragment, state: State, point: OperatingPoint | None, columns: Sequence[Column],
    through: Collection[str],
) -> Iterator[Bar]:
    """A bar for each net that a drawn part is on. through: the nets that a charge route leads through."""
    used = {net for column in columns for _, net in column.pins} | {fragment.ground}
    live = {net for c in columns if c.fate is not Fate.REMOVED for _, net in c.pins} | {fragment.ground}
    order = dict.fromkeys([*fragment.nets, *(net for c in columns for _, net in c.pins)])
    for net in order:
        if net in used:
            volts = point.volts.get(net) if point is not None and net in live else None
            kind = "ground" if net == fragment.ground else "rail" if net in fragment.rails else "net"
            if net not in live and kind == "net":
                kind = "gone"
            label = _bar_words(fragment, state, net, volts, floating=point is not None and net in live)
            label = "not used" if kind == "gone" else label
            carries = any(c.flow_A for c in columns if any(net == one for _, one in c.pins))
            dead = volts is not None and abs(volts) < DEAD_V and not carries
            yield Bar(net, volts, label, kind, net in through, _expected(fragment, state, net), dead)


def _bar_words(fragment: Fragment, state: State, net: str, volts: float | None, floating: bool) -> str:
    words = []
    if net in fragment.rails and not state.supplies[fragment.rails[net].supply]:
        words.append("off")
    if volts is not None:
        words.append("0 V" if abs(volts) < LEAST_SHOWN_V else engineering(volts, "V"))
    elif floating:
        words.append("floats")
    return ", ".join(words)


def _expected(fragment: Fragment, state: State, net: str) -> float | None:
    """Volts that a net would have by its own rail or cell alone, for stacking [V]."""
    rail = fragment.rails.get(net)
    if rail is not None:
        if state.supplies[rail.supply]:
            return rail.volts.value
        return 0.0 if rail.when_off == "low" else None
    for cell in fragment.of_kind(Kind.CELL):
        there = cell.net("plus") == net and cell.net("minus") == fragment.ground
        if there and state.plugged.get(cell.name, True) and isinstance(cell.spec, CellSpec):
            return cell.spec.nominal_V
    return None
