"""Every way the board can stand: supplies on or off, jumper positions, plugged cells."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations, islice, product
from math import prod

from netcheck.fragment.model import Fragment, Kind, NamedState, Part

ABSENT = "absent"


@dataclass(frozen=True, slots=True)
class State:
    """One position of every supply, jumper, switch and plugged cell of a fragment.

    positions: jumper or switch name to position name ("absent" where the cap is off).
    plugged: for the cells that may or may not be plugged, whether they are.
    """

    name: str
    supplies: Mapping[str, bool]
    positions: Mapping[str, str]
    plugged: Mapping[str, bool]

    @property
    def live(self) -> bool:
        """Whether any supply is on."""
        return any(self.supplies.values())


@dataclass(frozen=True, slots=True)
class StateSet:
    """The states that are tried. untried: how many combinations were left out (0: none)."""

    states: tuple[State, ...]
    untried: int = 0


def enumerate_states(fragment: Fragment, limit: int = 512) -> StateSet:
    """Every state of a fragment, the named ones first and under their names.

    Where there are more than `limit`, these are tried: the named ones, every
    combination of supplies with everything as set, then one thing put
    otherwise, then two, … until the limit; `untried` counts the rest.
    """
    links = tuple(fragment.of_kind(Kind.JUMPER, Kind.SWITCH))
    loose = tuple(part.name for part in fragment.of_kind(Kind.CELL) if part.plugged is None)
    axes = _axes(links, loose)
    supplies = fragment.supplies
    named = tuple(_named(state, supplies, links, loose) for state in fragment.states)
    names = {state.name for state in named}
    tried = {_key(state) for state in named}
    others: list[State] = []
    for choice in islice(_combinations(supplies, axes, loose), limit + len(tried)):
        state = State(_name(choice, supplies, links, loose, names), *choice)
        if _key(state) not in tried and len(others) + len(named) < limit:
            tried.add(_key(state))
            others.append(state)
    total = 2 ** len(supplies) * prod(len(options) for _, options in axes)
    return StateSet((*named, *others), total - len(tried))


def choices(part: Part) -> tuple[str, ...]:
    """The positions a jumper or switch can be in, the one it is set to first.

    A jumper may also be absent, unless one of its positions joins nothing anyway.
    """
    positions = list(part.positions)
    if part.kind is Kind.JUMPER and all(part.positions.values()):
        positions.append(ABSENT)
    return tuple(sorted(positions, key=lambda position: position != part.position))


def joined_pins(part: Part, position: str) -> tuple[tuple[str, str], ...]:
    """The pairs of pins that a jumper or switch joins in a position (none for "absent")."""
    if position == ABSENT:
        return ()
    return part.positions[position]


_Choice = tuple[Mapping[str, bool], Mapping[str, str], Mapping[str, bool]]
_Axes = tuple[tuple[str, tuple[str, ...]], ...]


def _axes(links: tuple[Part, ...], loose: tuple[str, ...]) -> _Axes:
    """What can be put otherwise, each with its options, the one as set first."""
    return (*((part.name, choices(part)) for part in links),
            *((cell, ("plugged", "unplugged")) for cell in loose))


def _combinations(supplies: tuple[str, ...], axes: _Axes, loose: tuple[str, ...]) -> Iterator[_Choice]:
    """All combinations, those nearest to the board as set first."""
    positions = len(axes)
    for deviations in range(positions + 1):
        for changed in combinations(range(positions), deviations):
            for options in product(*(axes[i][1][1:] for i in changed)):
                settings = {name: possible[0] for name, possible in axes}
                settings.update((axes[i][0], option) for i, option in zip(changed, options, strict=True))
                plugged = {cell: settings.pop(cell) == "plugged" for cell in loose}
                for on in product((True, False), repeat=len(supplies)):
                    yield dict(zip(supplies, on, strict=True)), settings, plugged


def _named(
    state: NamedState, supplies: tuple[str, ...], links: tuple[Part, ...], loose: tuple[str, ...]
) -> State:
    """A named state of this variant: what it does not list stands as set, supplies off, cells unplugged."""
    positions = {}
    for part in links:
        position = state.positions.get(part.name, part.position)
        positions[part.name] = position if position in choices(part) else choices(part)[0]
    return State(
        state.name,
        {supply: state.supplies.get(supply, False) for supply in supplies},
        positions,
        {cell: state.plugged.get(cell, False) for cell in loose},
    )


def _key(state: State) -> tuple[frozenset[tuple[str, bool | str]], ...]:
    return tuple(frozenset(m.items()) for m in (state.supplies, state.positions, state.plugged))


def _name(
    choice: _Choice, supplies: tuple[str, ...], links: tuple[Part, ...], loose: tuple[str, ...],
    taken: set[str],
) -> str:
    on, positions, plugged = choice
    words = [
        *(f"{supply} {'on' if on[supply] else 'off'}" for supply in supplies),
        *(f"{part.name} {positions[part.name]}" for part in links),
        *(f"{cell} {'plugged' if plugged[cell] else 'unplugged'}" for cell in loose),
    ]
    name = ", ".join(words) or "as it stands"
    return name if name not in taken else f"{name} (unnamed)"
