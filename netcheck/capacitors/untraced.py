"""Nets whose volts nothing that was traced sets, and what they may be."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator

from msgspec import Struct

from netcheck.fragment.kinds import COIL
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.states import State, joined_pins

BOARD = "the rails of the board"


class Reach(Struct, frozen=True):
    """Where the volts of a net may be, over every corner and with every tolerance in its middle [V], and why."""

    low: float
    high: float
    nominal_low: float
    nominal_high: float
    why: str = ""


class Untraced:
    """The nets of a fragment that no supply, cell or regulator feeds and no resistance ties to ground.

    Only capacitors, chips, loads and connectors hang on such a net: the simulator finds it where leakage alone takes
    it, which says nothing of what the board does with it.
    """

    def __init__(self, fragment: Fragment, states: Iterable[State]) -> None:
        self.fragment = fragment
        self._onward: dict[str, list[tuple[Part, str, str]]] = defaultdict(list)
        every = list(states)
        for part in fragment.fitted:
            for one, other in set(_joined(part, every)):
                self._onward[one].append((part, one, other))
                self._onward[other].append((part, other, one))
        feeds = [net for part in fragment.of_kind(Kind.CELL, Kind.REGULATOR) for net in part.nets]
        self._set = self._reached({*fragment.rails, *feeds, fragment.ground})

    def __contains__(self, net: object) -> bool:
        return net not in self._set

    def reach(self, net: str) -> Reach | None:
        """What such a net may be at: within the supplies of the chips on it, else within the rails; None without any.

        A chip's pin stays within that chip's own supplies; where those of one of the chips are not known, the rails
        bound it.
        """
        island = self._reached({net}) - self._set | {net}
        chips = [part for part in self.fragment.of_kind(Kind.CHIP) if island & set(part.nets)]
        fed = [self._rails(chip.nets) for chip in chips]
        if fed and all(fed):
            supply = "supply" if len(chips) == 1 else "supplies"
            names = " and ".join(chip.name for chip in chips)
            return self._span({rail for one in fed for rail in one}, f"the {supply} of {names}")
        rails = self._rails(self.fragment.rails)
        return self._span(rails, BOARD) if rails else None

    def _rails(self, nets: Iterable[str]) -> set[str]:
        return {net for net in nets if net in self.fragment.rails and net != self.fragment.ground}

    def _span(self, rails: Collection[str], why: str) -> Reach:
        volts = [self.fragment.rails[rail].volts for rail in rails]
        return Reach(min(0.0, *(one.low for one in volts)), max(0.0, *(one.high for one in volts)),
                     min(0.0, *(one.value for one in volts)), max(0.0, *(one.value for one in volts)), why)

    def _reached(self, starts: set[str]) -> set[str]:
        found, waiting = set(starts), list(starts)
        while waiting:
            net = waiting.pop()
            for part, start, other in self._onward[net]:
                if other not in found and self._brings(part, start):
                    found.add(other)
                    waiting.append(other)
        return found

    def _brings(self, part: Part, net: str) -> bool:
        """Whether a part brings the volts of a net to its other side.

        Ground through a diode or a transistor, and a supply through a diode that it blocks, only limit them.
        """
        if net == self.fragment.ground:
            return part.kind not in (Kind.DIODE, Kind.TRANSISTOR, Kind.CHIP)
        rail = self.fragment.rails.get(net)
        if part.kind is not Kind.DIODE or rail is None:
            return True
        return net == part.pins["anode" if rail.volts.value > 0 else "cathode"]


def _joined(part: Part, states: Collection[State]) -> Iterator[tuple[str, str]]:
    """The pairs of nets between which a part carries direct current in any state."""
    if part.kind in (Kind.JUMPER, Kind.SWITCH, Kind.RELAY):
        for state in states:
            if part.name in state.positions:
                yield from ((part.pins[one], part.pins[other])
                            for one, other in joined_pins(part, state.positions[part.name]))
        if part.kind is Kind.RELAY:
            yield part.pins[COIL[0]], part.pins[COIL[1]]
    elif part.kind is Kind.CHIP:
        yield from ((part.pins.get(path.start, path.start), part.pins.get(path.end, path.end)) for path in part.paths)
    elif part.kind not in (Kind.CAPACITOR, Kind.LOAD, Kind.CONNECTOR, Kind.CELL, Kind.REGULATOR):
        first, *others = part.nets
        yield from ((first, other) for other in others)
