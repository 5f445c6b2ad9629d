"""How many parts would have to fail short before current is driven into a cell, and which.

None failed and one failed the simulator decides; the graph proposes sets of two and more, which the simulator
then has to confirm.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from itertools import combinations

from msgspec import Struct

from netcheck.clock import in_time
from netcheck.conduction.routes import charge_routes
from netcheck.fragment.model import Kind, Part
from netcheck.simulation.corner import Fault
from netcheck.solving.asking import Asking
from netcheck.solving.failures import Failure, faults_of
from netcheck.solving.flows import driven
from netcheck.solving.solved_states import Survey

_MOST_PAIRS = 60
"""Pairs of parts beyond the graph's own that are tried where the graph's were not confirmed."""

_MOST_PARTS = 60
"""Parts up to which they are tried."""


class Shorts(Struct, frozen=True):
    """count: parts that must fail short first (0: none, it is charged; None: no number of them would do it)."""

    count: int | None
    parts: tuple[str, ...] = ()


def shorts_to_charge(
    survey: Survey, cell: Part, charged: bool, failed: Sequence[Failure]
) -> Asking[Shorts]:
    """The least number of parts that must fail short before a cell is charged."""
    if charged:
        return Shorts(0)
    routes = [route for one in in_time(survey.conductions) for route in charge_routes(survey.fragment, one, cell)]
    by_graph = min(routes, key=lambda route: (len(route.shorts), len(route.parts)), default=None)
    guess = Shorts(None) if by_graph is None else Shorts(len(by_graph.shorts), by_graph.shorts)
    if survey.missing:
        return guess
    if alone := _alone(survey, cell, failed):
        return Shorts(1, (alone,))
    if by_graph is None:
        return Shorts(None)
    proposed = sorted({frozenset(route.shorts) for route in routes if len(route.shorts) > 1},
                      key=lambda parts: (len(parts), sorted(parts)))
    pairs = [parts for parts in proposed if len(parts) == 2]
    if (found := (yield from _first(survey, cell, pairs))) is None and len(survey.fragment.parts) <= _MOST_PARTS:
        found = yield from _first(survey, cell, list(_other_pairs(survey, cell, pairs)))
    if found is None:
        found = yield from _first(survey, cell, [parts for parts in proposed if len(parts) > 2])
    if found is not None:
        return Shorts(len(found), tuple(name for name in survey.fragment.parts if name in found))
    return guess if guess.count is not None and guess.count > 2 else Shorts(None)


def _alone(survey: Survey, cell: Part, failed: Sequence[Failure]) -> str | None:
    """The part, other than a cell, whose failing short alone drives the most current into the cell."""
    hardest, part = 0.0, None
    for failure in failed:
        point = failure.alone or failure.point  # its own section may be known where the whole is not
        amps = -point.amps.get(cell.name, 0.0)
        of_cell = failure.fault.part in survey.fragment.parts and \
            survey.fragment.parts[failure.fault.part].kind is Kind.CELL
        if failure.fault.how != "short" or of_cell or not point.known or amps <= hardest \
                or not failure.reaches(cell.name):
            continue
        circuit = survey.circuit(cell, failure.state, failure.corner, faults=(failure.fault,))
        way = driven(circuit, point, cell.name, cell.pins["plus"], cell.pins["minus"])
        if way is not None:
            hardest, part = amps, failure.fault.part
    return part


def _other_pairs(survey: Survey, cell: Part, tried: Collection[frozenset[str]]) -> Iterator[frozenset[str]]:
    blocking = [part.name for part in survey.sections[cell.name].fragment.of_kind(
        Kind.DIODE, Kind.TRANSISTOR, Kind.CAPACITOR, Kind.CHIP, Kind.LOAD, Kind.RESISTOR)]
    pairs = (frozenset(pair) for pair in combinations(blocking, 2))
    yield from [pair for pair in pairs if pair not in tried][:_MOST_PAIRS]


def _first(survey: Survey, cell: Part, sets: Sequence[frozenset[str]]) -> Asking[frozenset[str] | None]:
    """The first of these sets of parts that, all failed short in some way, lets current be driven into the cell."""
    if not sets:
        return None
    ways: dict[str, list[Fault]] = {}
    section = survey.sections[cell.name]
    for part in section.fragment.fitted:
        ways[part.name] = [fault for fault in faults_of(part, survey.fragment.ground) if fault.how == "short"]
    states = [state for state in section.states if state.plugged.get(cell.name, True)]
    circuits = {
        (parts, place, state.name): survey.circuit(cell, state, survey.corners.charge_flat, faults=faults)
        for parts in sets for place, faults in enumerate(_together([ways.get(name, []) for name in sorted(parts)]))
        for state in states
    }
    points = yield circuits
    for key in circuits:
        if driven(circuits[key], points[key], cell.name, cell.pins["plus"], cell.pins["minus"]) is not None:
            parts: frozenset[str] = key[0]
            return parts
    return None


def _together(ways: Sequence[Sequence[Fault]]) -> Iterator[tuple[Fault, ...]]:
    """One way of failing short for each part, in every combination; none where a part cannot."""
    if not ways:
        yield ()
        return
    for first in ways[0]:
        for rest in _together(ways[1:]):
            yield (first, *rest)
