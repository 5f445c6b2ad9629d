"""The smallest sets of parts whose removal stops a charge, found by following the simulated currents.

Each set must hit the way that current still takes with the set before it removed, so nothing that hides another way
(a zener that never breaks down, a dead rail) leads astray.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from netcheck.checks.charging import ways_into
from netcheck.fragment.kinds import kinds_where
from netcheck.fragment.model import Kind, Part
from netcheck.simulation.elements import Circuit
from netcheck.solving.asking import Asking
from netcheck.solving.flows import flows, parts_on
from netcheck.solving.solved_states import Survey

_REMOVABLE = frozenset((*kinds_where("removable"), Kind.CELL))
_MOST_PARTS = 3
_MOST_TRIED = 40
"""Sets of one size that are tried; more are told as not tried."""


def stopping_sets(
    survey: Survey, cell: Part, routes: Iterable[Sequence[str]]
) -> Asking[tuple[tuple[frozenset[str], ...], bool]]:
    """The smallest sets of up to three parts without which no current is driven into a cell; whether all were tried.

    routes: the parts of the ways that are known to begin with.
    """
    open_ways: Mapping[frozenset[str], dict[str, None]] = {
        frozenset(): dict.fromkeys(name for parts in routes for name in parts)}
    whole = True
    for _ in range(_MOST_PARTS):
        sets = dict.fromkeys(removed | {name} for removed, names in open_ways.items()
                             for name in names if name not in removed and _removable(survey, cell, name))
        whole = whole and len(sets) <= _MOST_TRIED
        remaining = yield from _remaining(survey, cell, list(sets)[:_MOST_TRIED])
        if found := tuple(one for one, names in remaining.items() if not names):
            return found, whole
        open_ways = {one: names for one, names in remaining.items() if names}
        if not open_ways:
            break
    return (), whole


def _removable(survey: Survey, cell: Part, name: str) -> bool:
    return name != cell.name and survey.fragment.parts[name].kind in _REMOVABLE


def _remaining(
    survey: Survey, cell: Part, sets: Sequence[frozenset[str]]
) -> Asking[Mapping[frozenset[str], dict[str, None]]]:
    """For each set, the parts on the ways that current still takes into the cell without it; empty: none does."""
    states = {state.name: state for state in survey.sections[cell.name].states if state.plugged.get(cell.name, True)}
    corners = survey.corners.charging(cell.name)
    circuits: dict[tuple[frozenset[str], str, str], Circuit] = {
        (removed, name, corner.name): survey.circuit(cell, state, corner, without=tuple(removed))
        for removed in sets for name, state in states.items() for corner in corners
    }
    points = yield circuits
    found: dict[frozenset[str], dict[str, None]] = {removed: {} for removed in sets}
    for key, circuit in circuits.items():
        point = points[key]
        if not point.known:
            found[key[0]][cell.name] = None  # whether it is stopped is not known, so it is no cure
        for way in ways_into(cell, flows(circuit, point)):
            found[key[0]] |= dict.fromkeys(parts_on(survey.fragment, way.elements) or (cell.name,))
    return found
