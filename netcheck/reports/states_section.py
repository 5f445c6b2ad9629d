"""State by state: what loads and cells get and give, and every net's volts, nominal and with a fresh cell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from netcheck.checks.results import CellResult, LoadResult, VariantResult
from netcheck.fragment.model import Fragment
from netcheck.quantities import digits
from netcheck.reports.blocks import Block, Bullets, Section, Table, Words
from netcheck.wording.lists import designators

_SHOWN_STATES = 10
_SHOWN_NETS = 24


def blocks(result: VariantResult, fragment: Fragment) -> Iterator[Block]:
    if not result.solved:
        return
    states = list(result.net_volts)
    shown = states[:_SHOWN_STATES]
    heads, legend = _heads(shown)
    if legend:
        yield Bullets(legend)
    if len(states) > len(shown):
        yield Words(f"… and {len(states) - len(shown)} more states, with --format json.")
    rows = [*_alike({f"{name} gets": tuple(_load(load, state) for state in shown)
                     for name, load in result.loads.items()}),
            *((f"{name} gives", *(_gives(cell, state) for state in shown)) for name, cell in result.cells.items())]
    nets = list(result.net_volts[shown[0]])
    rows += [(net, *(_net(result.net_volts[state].get(net)) for state in shown)) for net in nets[:_SHOWN_NETS]]
    yield Table(("", *heads), tuple(rows))
    if len(nets) > _SHOWN_NETS:
        yield Words(f"… and {len(nets) - _SHOWN_NETS} more nets, with --format json.")
    for number, state in enumerate(shown):
        if result.drops_V.get(state):
            lost = ", ".join(f"{part} {digits.volts(volts)}" for part, volts in result.drops_V[state].items())
            yield Words(f"Lost on the way, {heads[number] if not legend else state}: {lost}.", hang=2)


def _heads(states: Sequence[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The heads of the columns, and what they stand for where the states' names are too long for one."""
    if all(len(state) <= _LONGEST for state in states):
        return tuple(states), ()
    numbers = tuple(f"({number})" for number in range(1, len(states) + 1))
    return numbers, tuple(f"{number} {state}" for number, state in zip(numbers, states, strict=True))


_LONGEST = 12


def _alike(rows: dict[str, tuple[str, ...]]) -> Iterator[tuple[str, ...]]:
    """Rows, those of equal figures as one: "U1 and U2 gets"."""
    same: dict[tuple[str, ...], list[str]] = {}
    for name, cells in rows.items():
        same.setdefault(cells, []).append(name.removesuffix(" gets"))
    for cells, names in same.items():
        yield f"{designators(names)} get{'s' if len(names) == 1 else ''}", *cells


def _load(load: LoadResult, state: str) -> str:
    volts = load.volts.get(state)
    if volts is None:
        return digits.FLOATS
    return f"{digits.volts(volts)}{'*' if state in load.carried_by_cell else ''}"


def _gives(cell: CellResult, state: str) -> str:
    """What a cell gives, or takes: the two never look alike."""
    gives, takes = cell.drain_A.get(state), cell.takes_A.get(state)
    if gives is None or takes is None:
        return digits.UNKNOWN
    return f"takes {digits.amps(takes)}" if takes else digits.amps(gives)


def _net(volts: float | None) -> str:
    return digits.FLOATS if volts is None else digits.volts(volts)


SECTION = Section("states", "State by state, nominal, fresh cell (*: carried by the cell; -: floats)", blocks)
