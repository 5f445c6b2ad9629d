"""Which states a probe sheet goes through."""

from __future__ import annotations

from collections.abc import Sequence

from netcheck.bench.swings import NOMINAL
from netcheck.fragment.model import Fragment, Kind
from netcheck.fragment.states import State, stands_as_set
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.operating_point import solve

MOST_OTHER_STATES = 4
"""Ways the board can stand, beside at rest with the power on and off, that a sheet goes through unnamed."""

_SAME_V = 0.05

def chosen_states(fragment: Fragment, states: Sequence[State]) -> tuple[State | None, State | None, list[State]]:
    """At rest with the power off, at rest with it on, and the others: those named, else those that differ."""
    names = {state.name for state in fragment.states}
    named = [state for state in states if state.name in names]
    resting = [state for state in named or states if _resting(fragment, state)]
    off = next((state for state in resting if not state.live), None)
    on = next((state for state in resting if state.live and all(state.supplies.values())), None)
    if named:
        return off, on, [state for state in named if state not in (off, on)]
    return off, on, _differing(fragment, states, [state for state in (off, on) if state is not None])


def told_before(
    fragment: Fragment, on: State, others: Sequence[State], settings: Sequence[State]
) -> list[State]:
    """The states without a name of the file that a setting of a regulator has shown already."""
    named = {state.name for state in fragment.states}
    return [state for state in others if state.name not in named and state.supplies == on.supplies and
            state.plugged == on.plugged and any(state.positions == one.positions for one in settings)]


def moved(fragment: Fragment, last: State, state: State) -> tuple[str, ...]:
    """That the power goes off first, where jumpers stand otherwise than in the section before."""
    names = [name for name, position in state.positions.items()
             if position != last.positions.get(name) and fragment.parts[name].kind is Kind.JUMPER]
    return (f"Power off before {' and '.join(names)} {'is' if len(names) == 1 else 'are'} moved.",) if names else ()


def _differing(fragment: Fragment, states: Sequence[State], shown: Sequence[State]) -> list[State]:
    """The first few states in which a load, or a cell's place, has other volts than in those that are shown."""
    places = list(fragment.of_kind(Kind.LOAD, Kind.CELL))
    points = solve([circuit_of(fragment, state, NOMINAL) for state in states]) if places else []
    seen: list[tuple[float | None, ...]] = []
    found: list[State] = []
    for state, point in sorted(zip(states, points, strict=False), key=lambda one: one[0] not in shown):
        volts = tuple(point.volts.get(net) for part in places for net in part.nets)
        if state not in shown and len(found) < MOST_OTHER_STATES and not any(_alike(volts, one) for one in seen):
            found.append(state)
        seen.append(volts)
    return found


def _alike(some: Sequence[float | None], others: Sequence[float | None]) -> bool:
    return all((a is None) == (b is None) and (a is None or b is None or abs(a - b) < _SAME_V)
               for a, b in zip(some, others, strict=True))


def _resting(fragment: Fragment, state: State) -> bool:
    return not any(state.plugged.values()) and stands_as_set(fragment, state)
