"""One state of a variant, for a drawing: the volts and currents found there, and the charge routes."""

from __future__ import annotations

from dataclasses import dataclass

from netcheck.conduction.routes import charge_routes
from netcheck.fragment.model import Fragment
from netcheck.fragment.states import State, StateSet, enumerate_states, stands_as_set
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.elements import OperatingPoint
from netcheck.simulation.operating_point import solve
from netcheck.simulation.process import available
from netcheck.solving.solved_states import Corners, Survey


@dataclass(frozen=True, slots=True)
class Scene:
    """A state, its nominal operating point with fresh cells, and each conducting charge route.

    routes: part names in the order of the current, the cell that is charged last.
    marked: whether what a mod changes is to be marked.
    """

    fragment: Fragment
    state: State
    point: OperatingPoint
    routes: tuple[tuple[str, ...], ...]
    marked: bool = False


def reference(found: Fragment) -> Scene:
    """The state that the places of all drawings of a file come from: as found, with most supplies on, as set."""
    states = enumerate_states(found).states
    plain = [state for state in states if stands_as_set(found, state) and not any(state.plugged.values())]
    return scene(found, max(plain or states, key=lambda state: sum(state.supplies.values())))


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
    return Scene(fragment, state, points[0], tuple(routes), marked)
