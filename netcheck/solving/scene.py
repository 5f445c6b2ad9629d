"""One state of a variant, for a drawing: the volts and currents found there, and the charge routes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import islice

from msgspec import Struct

from netcheck.conduction.routes import charge_routes
from netcheck.fragment.model import Fragment
from netcheck.fragment.mods import apply
from netcheck.fragment.states import State, StateSet, enumerate_states, stands_as_set
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.corner import Corner
from netcheck.simulation.elements import OperatingPoint
from netcheck.simulation.operating_point import solve
from netcheck.simulation.process import available
from netcheck.solving.solved_states import Corners, Survey


class Scene(Struct, frozen=True):
    """A state, its nominal operating point with fresh cells, and each conducting charge route.

    routes: part names in the order of the current, the cell that is charged last.
    marked: whether what a mod changes is to be marked.
    """

    fragment: Fragment
    state: State
    point: OperatingPoint
    routes: tuple[tuple[str, ...], ...]
    marked: bool = False
    corner: Corner | None = None


class Reference(Struct, frozen=True):
    """Where the places of all drawings of a file come from: as found, with most supplies on, as set.

    stood: the volts of its nets as found and with each mod, in each state that has a name.
    """

    state: State
    point: OperatingPoint
    stood: tuple[Mapping[str, float | None], ...]


def reference(found: Fragment) -> Reference:
    """The state that most can be seen in, and how the nets stand in the states that are drawn."""
    states = enumerate_states(found).states
    plain = [state for state in states if stands_as_set(found, state) and not any(state.plugged.values())]
    state = max(plain or states, key=lambda state: sum(state.supplies.values()))
    wanted = [(found, state), *islice(_drawn(found), _MOST_STOOD)]
    missing = available()
    points = [OperatingPoint(problem=missing)] * len(wanted) if missing else solve(
        [circuit_of(fragment, one, Corners.of(fragment).room) for fragment, one in wanted])
    return Reference(state, points[0], tuple(point.volts for point in points if point.known))


_MOST_STOOD = 24


def _drawn(found: Fragment) -> Iterator[tuple[Fragment, State]]:
    """Each variant in each state that has a name; where none has, in every one."""
    for fragment in (found, *(apply(found, name) for name in found.mods)):
        states = enumerate_states(fragment).states
        named = {state.name for state in fragment.states}
        yield from ((fragment, state) for state in states if not named or state.name in named)


def scene(fragment: Fragment, state: State, marked: bool = False) -> Scene:
    """Solve one state. Where it cannot be solved, the point says why and transistors count as on."""
    corners = Corners.of(fragment)
    wanted = (corners.room, corners.charge_flat, corners.charge_used)
    missing = available()
    points = [OperatingPoint(problem=missing)] * len(wanted) if missing else solve(
        [circuit_of(fragment, state, corner) for corner in wanted])
    named = {(state.name, corner.name): point for corner, point in zip(wanted, points, strict=True)}
    found = Survey(fragment, StateSet((state,)), corners, named, missing)
    routes = [
        (*((route.source,) if route.source in fragment.parts else ()), *route.parts, route.cell)
        for cell in found.cells()
        for route in charge_routes(fragment, found.conductions[0], cell) if route.conducting
    ]
    return Scene(fragment, state, points[0], tuple(routes), marked, corners.room)
