"""What is to be drawn, as data: bars for the nets, columns for the parts."""

from __future__ import annotations

import re
from collections.abc import Sequence
from enum import Enum

from msgspec import Struct


class Fate(str, Enum):
    """How a part stands against the circuit as found."""

    AS_FOUND = "as found"
    REMOVED = "removed"
    FITTED = "fitted"
    MOVED = "moved"
    EMPTY = "empty"  # a footprint or a header with nothing in it

    def __str__(self) -> str:
        return self.value


class Bar(Struct, frozen=True):
    """A net.

    volts: its direct voltage against ground [V], None where not known.
    label: the words under the line ("4.31 V", "floats"). kind: rail, ground,
    net, or gone (only removed parts were on it). highlighted: a charge route
    passes through it. expected: volts for stacking it where `volts` is None [V].
    dead: nothing there has volts or current.
    """

    net: str
    volts: float | None
    label: str = ""
    kind: str = "net"
    highlighted: bool = False
    expected: float | None = None
    dead: bool = False

    @property
    def level(self) -> float | None:
        """The volts that decide its height, None where nothing is known."""
        if self.kind == "ground":
            return 0.0
        return self.expected if self.volts is None else self.volts


Spot = tuple[str, bool, tuple[tuple[str, str], ...]]
"""What tells a part's place from others: its name, whether it takes the place of another, its pins with their nets."""


class Column(Struct, frozen=True):
    """A part.

    symbol: a name that symbols.SYMBOLS or symbols.TRANSISTORS knows; "header"
    for a row of pins with links; "regulator" for a box that stands between its
    input and its output; "box" for anything else. pins: pin name and
    net, for a two-terminal symbol in its own order (anode before cathode, plus
    before minus). links: pin pairs joined in the state drawn. word: said in the
    label beside the fate ("not plugged"). flow_A: the simulated current, from the first to the second of the pins
    `through`, more than leakage only, 0 for none. blocks: a diode against which volts stand. dead: no volts and no
    current here. replaces: a part that a mod puts where another of its name was. also: further names, of parts that
    are equal in every variant and drawn as one. Of a place in a frame, `reserve`: the widest words that further lines
    of its label may get, and `together`: a bit for each variant in which it is drawn; places that never are together
    may share their room.
    """

    name: str
    symbol: str
    pins: tuple[tuple[str, str], ...]
    value: str = ""
    amps: str = ""
    drop: str = ""
    fate: Fate = Fate.AS_FOUND
    on_route: bool = False
    links: tuple[tuple[str, str], ...] = ()
    word: str = ""
    flow_A: float = 0.0
    blocks: bool = False
    dead: bool = False
    replaces: bool = False
    through: tuple[str, str] = ("", "")
    also: tuple[str, ...] = ()
    reserve: tuple[str, ...] = ()
    together: int = -1

    @property
    def spot(self) -> Spot:
        """Which place in a frame it takes: the same part on the same nets has the same place."""
        return self.name, self.replaces, self.pins

    @property
    def shown(self) -> str:
        """Its designator, and those of the parts that it stands for as well."""
        return in_short((self.name, *self.also))


def in_short(names: Sequence[str]) -> str:
    """Designators as parts lists have them.

    >>> in_short(["C10", "C11", "C12", "C14"]), in_short(["U1", "U2"]), in_short(["C3"])
    ('C10-C12, C14', 'U1, U2', 'C3')
    """
    runs: list[list[str]] = []
    for name in names:
        last = re.fullmatch(r"(\D*)(\d+)", runs[-1][-1]) if runs else None
        if last and name == f"{last[1]}{int(last[2]) + 1}":
            runs[-1].append(name)
        else:
            runs.append([name])
    return ", ".join(f"{run[0]}-{run[-1]}" if len(run) > 2 else ", ".join(run) for run in runs)


class Picture(Struct, frozen=True):
    """A whole drawing. routes: part names along each charge route, from the source down.

    route_label: the routes in words, with their current. note: what was left out. meant: the charging is what the
    cell is for, no danger. frame: the picture whose places this one keeps, so that states and variants can be
    compared: a part that is not here leaves its place empty. foot: what the title block along the foot says, each
    with its heading. level: nets that never differ by more than 20 mV, which stand beside each other (None: those of
    this state alone).
    """

    title: str
    description: str
    bars: tuple[Bar, ...]
    columns: tuple[Column, ...]
    routes: tuple[tuple[str, ...], ...] = ()
    route_label: str = ""
    note: str = ""
    meant: bool = False
    frame: Picture | None = None
    foot: tuple[tuple[str, str], ...] = ()
    level: tuple[tuple[str, ...], ...] | None = None
