"""Every way the board can stand: supplies on or off, positions of jumpers and the like, plugged cells."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import combinations, islice, product
from math import prod

from netcheck.fragment.kinds import COIL, MOVABLE, ROWS, Moves
from netcheck.fragment.model import Fragment, NamedState, Part
from netcheck.parts.specs import RelaySpec

ABSENT = "absent"
REST, PULLED = "rest", "pulled"


@dataclass(frozen=True, slots=True)
class State:
    """One position of every supply, jumper, switch and plugged cell of a fragment.

    positions: jumper, switch, trimmer or relay to position name ("absent" where a cap is off).
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
    links = movable(fragment)
    loose = tuple(part.name for part in fragment.fitted if part.plugged is None)
    axes = _axes(links, loose)
    supplies = fragment.supplies
    following = tuple(part for part in fragment.of_kind(*MOVABLE) if follows(fragment, part))
    named = tuple(_pulled(_named(state, supplies, links, loose), fragment, following) for state in fragment.states)
    names = {state.name for state in named}
    tried = {_key(state) for state in named}
    others: list[State] = []
    for choice in islice(_combinations(supplies, axes, loose), limit + len(tried)):
        state = _pulled(State(_name(choice, supplies, links, loose, names), *choice), fragment, following)
        if _key(state) not in tried and len(others) + len(named) < limit:
            tried.add(_key(state))
            others.append(state)
    total = 2 ** len(supplies) * prod(len(options) for _, options in axes)
    return StateSet((*named, *others), total - len(tried))


def meant(fragment: Fragment, states: Iterable[State], text: str) -> list[State]:
    """The states that a text such as "main on" or "main on, JP1 clear" can mean, none where it is no such text.

    A name means its own state. Of several that fit, those in which the rest stands as set and unplugged are
    meant, where there are such.
    """
    states = list(states)
    exact = [state for state in states if state.name == text]
    if exact:
        return exact
    wanted: dict[str, str] = {}
    for piece in text.split(","):
        thing, _, word = piece.strip().rpartition(" ")
        wanted[thing] = word
    fitting = [state for state in states if wanted.items() <= words_of(state).items()]
    plain = [state for state in fitting if stands_as_set(fragment, replace(state, positions={
        name: position for name, position in state.positions.items() if name not in wanted}))
        and not any(there for cell, there in state.plugged.items() if cell not in wanted)]
    return plain or fitting


def words_of(state: State) -> dict[str, str]:
    """How everything stands in a state, in the words of a file: on, off, a position, plugged, unplugged."""
    return {
        **{supply: "on" if on else "off" for supply, on in state.supplies.items()},
        **state.positions,
        **{cell: "plugged" if there else "unplugged" for cell, there in state.plugged.items()},
    }


def movable(fragment: Fragment) -> tuple[Part, ...]:
    """What is put in positions by itself: all but the relays that follow a supply."""
    return tuple(part for part in fragment.of_kind(*MOVABLE) if not follows(fragment, part))


def stands_as_set(fragment: Fragment, state: State) -> bool:
    """Whether everything that can be put in positions stands as it is set."""
    return all(state.positions.get(part.name, part.position) == part.position for part in movable(fragment))


def follows(fragment: Fragment, part: Part) -> bool:
    """Whether a relay's position follows from the supplies: a rail pulls it, or its coil lies between held nets."""
    if ROWS[part.kind].moves is not Moves.COIL:
        return False
    held = {fragment.ground, *fragment.rails}
    return part.pulled_by in fragment.rails or held.issuperset(part.pins[pin] for pin in COIL)


def _pulled(state: State, fragment: Fragment, following: tuple[Part, ...]) -> State:
    """The state with each relay that follows a supply pulled or at rest, as that supply stands."""
    if not following:
        return state
    positions = {part.name: PULLED if _pulls(fragment, part, state.supplies) else REST for part in following}
    return replace(state, positions={**state.positions, **positions})


def _pulls(fragment: Fragment, part: Part, supplies: Mapping[str, bool]) -> bool:
    """Whether a coil has the volts to pull; where nobody says how many it takes, any do."""
    ends = (part.pulled_by, fragment.ground) if part.pulled_by in fragment.rails else (part.pins[pin] for pin in COIL)
    one, other = (_held_V(fragment, net or "", supplies) for net in ends)
    needs_V = part.spec.pulls_V if isinstance(part.spec, RelaySpec) else None
    return one is not None and other is not None and one != other and abs(one - other) >= (needs_V or 0.0)


def _held_V(fragment: Fragment, net: str, supplies: Mapping[str, bool]) -> float | None:
    rail = fragment.rails.get(net)
    if rail is None:
        return 0.0
    if supplies[rail.supply]:
        return rail.volts.value
    return 0.0 if rail.when_off == "low" else None


def choices(part: Part) -> tuple[str, ...]:
    """The positions a part can be in, the one it is set to first.

    A jumper may also be absent, unless one of its positions joins nothing anyway.
    """
    positions = list(part.positions)
    if ROWS[part.kind].moves is Moves.CAP and all(part.positions.values()):
        positions.append(ABSENT)
    return tuple(sorted(positions, key=lambda position: position != part.position))


def joined_pins(part: Part, position: str) -> tuple[tuple[str, str], ...]:
    """The pairs of pins that are joined in a position (none for "absent")."""
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
