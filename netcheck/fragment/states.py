"""Every way the board can stand: supplies on or off, positions of jumpers and the like, plugged cells."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from heapq import merge
from itertools import combinations, islice, product
from math import prod

from msgspec import Struct
from msgspec.structs import replace

from netcheck.fragment.groups import Group, groups
from netcheck.fragment.kinds import COIL, MOVABLE, ROWS, Moves
from netcheck.fragment.model import Fragment, Kind, NamedState, Part
from netcheck.parts.specs import RelaySpec

ABSENT = "absent"
REST, PULLED = "rest", "pulled"


class State(Struct, frozen=True):
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


class StateSet(Struct, frozen=True):
    """The states that are tried. untried: how many combinations were left out (0: none).

    stands_for: how many combinations of everything the states stand for, where parts that cannot influence each
    other were not multiplied (groups.py); else as many as there are states and untried ones.
    """

    states: tuple[State, ...]
    untried: int = 0
    stands_for: int = 0


MOST_STATES = 512
_MULTIPLIED = 64  # combinations up to which every one of them is a state
_WORK = 16_000  # parts times states that one group may cost, weighted by its cells, each of which has own corners
_LEAST_STATES = 32
_FEW_SUPPLIES = 2  # supplies up to which their combinations are tried with every group, whether they touch it or not
_ALL_WORK = 80_000  # parts times states of the whole


def enumerate_states(fragment: Fragment, limit: int = MOST_STATES) -> StateSet:
    """Every state of a fragment, the named ones first and under their names.

    A small number of combinations is tried as it is. Of more, every group of parts that can influence each other
    is put in every way of its own, with all else as set: nothing new could happen in the other combinations. Where
    a group has too many ways of its own, or there are more than `limit` states, these are tried: the named ones,
    everything as set, then one thing put otherwise, then two, … until then; `untried` counts the rest.
    """
    board = _Board.of(fragment)
    total = board.combinations
    tried = {_key(state): state for state in board.named}
    for choice in board.all() if total <= _MULTIPLIED else board.mentioned():
        state = board.state(choice)
        if len(tried) < limit:
            tried.setdefault(_key(state), state)
    covered = total > _MULTIPLIED and board.cover(tried, limit)
    untried = 0 if covered else total - len(tried)
    states = (*board.named, *(state for state in tried.values() if state not in board.named))
    return StateSet(states, untried, total)


def state_names(fragment: Fragment) -> Iterator[str]:
    """The names under which a file may speak of a state: all of them, or the first of a great many."""
    yield from (state.name for state in enumerate_states(fragment).states)
    board = _Board.of(fragment)
    if board.combinations > _MULTIPLIED:
        yield from (board.state(choice).name for choice in islice(board.all(), MOST_STATES))


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


def relays_settled(fragment: Fragment, state: State) -> State:
    """The state with each relay that follows a supply as that supply stands."""
    return _pulled(state, fragment, tuple(part for part in fragment.of_kind(*MOVABLE) if follows(fragment, part)))


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
_Key = tuple[frozenset[tuple[str, bool | str]], ...]


class _Board(Struct, frozen=True):
    """What can be put otherwise on a board: supplies, parts in positions, plugged cells."""

    fragment: Fragment
    supplies: tuple[str, ...]
    links: tuple[Part, ...]
    loose: tuple[str, ...]
    axes: _Axes
    following: tuple[Part, ...]
    named: tuple[State, ...]

    @classmethod
    def of(cls, fragment: Fragment) -> _Board:
        links = movable(fragment)
        loose = tuple(part.name for part in fragment.fitted if part.plugged is None)
        following = tuple(part for part in fragment.of_kind(*MOVABLE) if follows(fragment, part))
        named = tuple(_pulled(_named(state, fragment.supplies, links, loose), fragment, following)
                      for state in fragment.states)
        return cls(fragment, fragment.supplies, links, loose, _axes(links, loose), following, named)

    @property
    def combinations(self) -> int:
        return int(2 ** len(self.supplies)) * prod(len(options) for _, options in self.axes)

    def state(self, choice: _Choice) -> State:
        taken = {state.name for state in self.named}
        name = _name(choice, self, taken)
        return _pulled(State(name, *choice), self.fragment, self.following)

    def all(self) -> Iterator[_Choice]:
        """All combinations, those nearest to the board as set first."""
        for settings, _ in _deviations(self.axes):
            for on in product((True, False), repeat=len(self.supplies)):
                yield self.choice(dict(zip(self.supplies, on, strict=True)), settings)

    def mentioned(self) -> Iterator[_Choice]:
        """Of the first of a great many combinations those of which the file speaks by their names."""
        asked = [*(wish.state for wish in self.fragment.expectations), *(one.state for one in self.fragment.readings)]
        names = {name for name in asked if name is not None} - {state.name for state in self.named}
        if names:
            yield from (choice for choice in islice(self.all(), MOST_STATES) if self.state(choice).name in names)

    def choice(self, supplies: Mapping[str, bool], settings: Mapping[str, str]) -> _Choice:
        """A choice of everything; what `settings` does not say stands as set."""
        stands = {name: settings.get(name, options[0]) for name, options in self.axes}
        plugged = {cell: stands.pop(cell) == "plugged" for cell in self.loose}
        return supplies, stands, plugged

    def cover(self, tried: dict[_Key, State], limit: int) -> bool:
        """Add states until each group has stood in every way of its own; whether all of them have."""
        limit = min(limit, max(_LEAST_STATES, _ALL_WORK // max(1, len(self.fragment.parts))))
        ways = [self._ways(group) for group in groups(self.fragment)]
        left = sum(total for total, _ in ways)
        for _, choice in merge(*(coming for _, coming in ways), key=_deviating):
            key = _key_of(choice) if not self.following else _key(self.state(choice))
            if key not in tried:
                if len(tried) >= limit:
                    break
                tried[key] = self.state(choice)
            left -= 1
        return left == 0

    def _ways(self, group: Group) -> tuple[int, Iterator[tuple[int, _Choice]]]:
        """In how many ways a group can stand, and as many of them as are affordable, the nearest to as set first.

        The supplies that do not touch it are on while one that does is on; with none, all on and all off.
        """
        axes = tuple((name, options) for name, options in self.axes if name in group.moves)
        supplies = self.supplies if len(self.supplies) <= _FEW_SUPPLIES else group.supplies
        each_of = islice(product((True, False), repeat=len(supplies)), MOST_STATES)
        on = [dict(zip(supplies, each, strict=True)) for each in each_of]
        rest = [any(each.values()) for each in on]
        if not supplies:
            on, rest = [{}, {}], [True, False]
        cells = sum(self.fragment.parts[name].kind is Kind.CELL for name in group.parts)
        most = min(MOST_STATES, max(_LEAST_STATES, _WORK // (len(group.parts) * (2 + cells))))

        def coming() -> Iterator[tuple[int, _Choice]]:
            for settings, deviations in _deviations(axes):
                for each, others in zip(on, rest, strict=True):
                    yield deviations, self.choice({**dict.fromkeys(self.supplies, others), **each}, settings)

        total = int(2 ** max(1, len(supplies))) * prod(len(options) for _, options in axes)
        return total, islice(coming(), most)


def _deviating(one: tuple[int, _Choice]) -> int:
    return one[0]


def _deviations(axes: _Axes) -> Iterator[tuple[dict[str, str], int]]:
    """Every setting of the axes, with how many of them are not as set, fewest first."""
    for deviations in range(len(axes) + 1):
        for changed in combinations(range(len(axes)), deviations):
            for options in product(*(axes[i][1][1:] for i in changed)):
                settings = {name: possible[0] for name, possible in axes}
                settings.update((axes[i][0], option) for i, option in zip(changed, options, strict=True))
                yield settings, deviations


def _axes(links: tuple[Part, ...], loose: tuple[str, ...]) -> _Axes:
    """What can be put otherwise, each with its options, the one as set first."""
    return (*((part.name, choices(part)) for part in links),
            *((cell, ("plugged", "unplugged")) for cell in loose))


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


def _key(state: State) -> _Key:
    return _key_of((state.supplies, state.positions, state.plugged))


def _key_of(choice: _Choice) -> _Key:
    return tuple(frozenset(m.items()) for m in choice)


_FULL_NAME = 6
"""Things that can be put otherwise, up to which the name of a state says of each how it stands."""


def _name(choice: _Choice, board: _Board, taken: set[str]) -> str:
    on, positions, plugged = choice
    stands = {**positions, **{cell: "plugged" if there else "unplugged" for cell, there in plugged.items()}}
    brief = len(board.axes) > _FULL_NAME
    told = [f"{name} {stands[name]}" for name, options in board.axes if not brief or stands[name] != options[0]]
    words = [*(f"{supply} {'on' if on[supply] else 'off'}" for supply in board.supplies), *told]
    if brief:
        words.append("the rest as set" if told else "all as set")
    name = ", ".join(words) or "as it stands"
    return name if name not in taken else f"{name} (unnamed)"
