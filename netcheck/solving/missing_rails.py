"""A board with one rail missing while its siblings are on, section by section: most are as they were, or alike."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache

from msgspec import Struct
from msgspec.structs import replace

from netcheck.clock import in_time
from netcheck.fragment.model import Fragment, Rail
from netcheck.fragment.states import State, relays_settled
from netcheck.simulation.assemble import circuit_of, steady_A
from netcheck.simulation.corner import Corner
from netcheck.simulation.elements import Circuit, OperatingPoint
from netcheck.simulation.memory import Memory
from netcheck.simulation.operating_point import solve
from netcheck.solving.floating import wherever_gates_float
from netcheck.solving.sections import Section, sections, united

MISSING = "missing"
"""How a rail fails while its siblings are on."""


def without_rails(
    fragment: Fragment, wanted: Mapping[str, Sequence[State]], corners: Sequence[Corner]
) -> dict[tuple[str, str, str], tuple[OperatingPoint, ...]]:
    """The points of the board with one rail missing, by the rail, the state and the corner.

    wanted: each rail with the states in which it is missing. Several points where a gate floats then (see
    `wherever_gates_float`); none where there was no time.
    """
    boards = {net: _Board.of(fragment, net, states) for net, states in wanted.items()}
    runs = {_run(section, state, corner): (section, section.standing[state.name], corner)
            for board in boards.values() for section in board.sections for state in board.states for corner in corners}
    found = {run: known for run, one in runs.items() if (known := _known.get(_key(fragment, *one))) is not None}
    fresh = {run: one for run, one in runs.items() if run not in found}
    circuits: list[Circuit] = []
    solved = solve(_circuits(fragment, fresh.values(), circuits), of=len(fresh))
    for (run, one), after in zip(fresh.items(), wherever_gates_float(circuits, solved), strict=False):
        section, _, corner = one
        found[run] = _Stood(section, corner, tuple(after))
        if all(point.known for point in after):
            _known.put(_key(fragment, *one), found[run], len(section.fragment.parts) + 4)
    return {(net, state.name, corner.name): tuple(board.points(state, corner, found))
            for net, board in boards.items() for state in board.states for corner in corners}


def without_rail(fragment: Fragment, net: str, state: State) -> tuple[Fragment, State]:
    """The board in a state with one rail missing: as one of a supply of its own that is off, relays that follow it too.

    What else hangs on it holds it near 0 V, or leaves it alone, as the file says of the rail (`when_off`).
    """
    alone = replace(fragment, rails={**fragment.rails, net: _missing(fragment.rails[net])})
    return alone, relays_settled(alone, replace(state, supplies={**state.supplies, alone.rails[net].supply: False}))


@lru_cache(maxsize=1024)
def _missing(rail: Rail) -> Rail:
    """The one object that stands for this rail where it is missing."""
    return replace(rail, supply=f"{rail.net} {MISSING}")


class _Board(Struct, frozen=True):
    """The board with one rail missing, in the states that are looked at; bare: its rails without any part."""

    bare: Fragment
    states: tuple[State, ...]
    sections: tuple[Section, ...]

    @classmethod
    def of(cls, fragment: Fragment, net: str, states: Sequence[State]) -> _Board:
        stood = [without_rail(fragment, net, state) for state in states]
        board, off = stood[0][0] if stood else fragment, tuple(state for _, state in stood)
        return cls(board.with_parts({}), off, tuple(dict.fromkeys(sections(board, off).values())))

    def points(
        self, state: State, corner: Corner, found: Mapping[_Run, _Stood]
    ) -> Iterator[OperatingPoint]:
        """The points of the whole, from those of its sections; a gate that floats stands at one end in all at once."""
        own = [found.get(_run(one, state, corner)) for one in self.sections]
        stood = [one.points for one in own if one is not None]
        if len(stood) < len(own):
            return
        rails = circuit_of(self.bare, state, corner, lasting_A=0.0)
        for end in range(max(map(len, stood), default=1)):
            yield united(rails, [points[min(end, len(points) - 1)] for points in stood])


_Run = tuple[Section, str, str]
"""A section, the name of one of its own states, and of a corner."""


def _run(section: Section, state: State, corner: Corner) -> _Run:
    return section, section.standing[state.name].name, corner.name


class _Stood(Struct, frozen=True):
    """The points of a section at a corner, which are kept with what they are told apart by."""

    section: Section
    corner: Corner
    points: tuple[OperatingPoint, ...]


_known: Memory[tuple[object, ...], _Stood] = Memory(400_000)


def _key(fragment: Fragment, section: Section, state: State, corner: Corner) -> tuple[object, ...]:
    return section.made_of, section.views[state.name], id(corner), steady_A(fragment, corner)


def _circuits(
    fragment: Fragment, runs: Iterable[tuple[Section, State, Corner]], made: list[Circuit]
) -> Iterator[Circuit]:
    """The circuit of each section, made as it is asked for and kept in `made`, too."""
    for section, state, corner in in_time(list(runs)):
        made.append(circuit_of(section.fragment, state, corner, lasting_A=steady_A(fragment, corner)))
        yield made[-1]
