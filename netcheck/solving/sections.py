"""A variant looked at group by group: what cannot influence each other is not tried against each other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import TypeVar, overload

from msgspec import Struct
from msgspec.structs import replace

from netcheck.fragment.groups import Group, groups
from netcheck.fragment.kinds import MOVABLE
from netcheck.fragment.model import Fragment, Kind
from netcheck.fragment.states import State
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.corner import Corner
from netcheck.simulation.elements import Circuit, OperatingPoint, Source

T = TypeVar("T")
V = TypeVar("V")


class Section(Struct, frozen=True, eq=False, dict=True):
    """One group as a fragment of its own, and of the states of the whole one for each way in which it can stand.

    standing: the name of every state of the whole to the one of `states` in which the section stands alike. views:
    how it stands in each of `states`. made_of: its parts and rails, which tell it from others as objects.
    """

    fragment: Fragment
    states: tuple[State, ...]
    standing: Mapping[str, State]
    views: Mapping[str, object]

    @cached_property
    def made_of(self) -> tuple[object, ...]:
        """Equal for sections of the same parts and rails; whoever keeps it keeps the section, too."""
        parts, rails = self.fragment.parts, self.fragment.rails
        return tuple(map(id, parts.values())), tuple(map(id, rails.values())), self.fragment.ground

    @property
    def size(self) -> int:
        """Elements of its circuit, about: a chip counts with its clamp diodes."""
        return sum(1 + (2 * len(part.clamp.inputs) if part.clamp else 0) for part in self.fragment.parts.values())


def sections(fragment: Fragment, states: Sequence[State]) -> Mapping[str, Section]:
    """The section of every fitted part, by its name."""
    found: dict[str, Section] = {}
    for group in groups(fragment):
        parts = {name: fragment.parts[name] for name in group.parts}
        views: dict[object, State] = {}
        standing = {state.name: views.setdefault(_view(fragment, group, state), state) for state in states}
        rails = {net: rail for net, rail in fragment.rails.items() if rail.supply in group.supplies}
        section = Section(replace(fragment, parts=parts, rails=rails), tuple(views.values()), standing,
                          {state.name: view for view, state in views.items()})
        found.update(dict.fromkeys(group.parts, section))
    return found


class Points(Mapping[tuple[str, str], OperatingPoint]):
    """The points of the whole by the names of state and corner, put together from those of its sections when read.

    found: by section, state and corner, for each state in which a section stands otherwise.
    """

    def __init__(self, fragment: Fragment, own: Mapping[str, Section], states: Iterable[State],
                 corners: Iterable[Corner], found: Mapping[tuple[Section, str, str], OperatingPoint]) -> None:
        self.fragment = fragment
        self.sections = own
        self._each = tuple(dict.fromkeys(own.values()))
        self._bare = fragment.with_parts({})
        self._states = {state.name: state for state in states}
        self._corners = {corner.name: corner for corner in corners}
        self._found = found
        self._whole: dict[tuple[str, str], OperatingPoint] = {}

    def of(self, section: Section, state: str, corner: str) -> OperatingPoint:
        """The point of one section."""
        return self._found[section, section.standing[state].name, corner]

    def __getitem__(self, key: tuple[str, str]) -> OperatingPoint:
        whole = self._whole.get(key)
        if whole is None:
            state, corner = key
            rails = circuit_of(self._bare, self._states[state], self._corners[corner])
            whole = self._whole[key] = united(rails, [self.of(one, *key) for one in self._each])
        return whole

    def __iter__(self) -> Iterator[tuple[str, str]]:
        return ((state, corner) for state in self._states for corner in self._corners)

    def __len__(self) -> int:
        return len(self._states) * len(self._corners)


def united(rails: Circuit, points: Sequence[OperatingPoint]) -> OperatingPoint:
    """The point of the whole from those of its sections; rails: what holds its nets, and delivers to all of them."""
    if problem := next((point.problem for point in points if point.problem), None):
        return OperatingPoint(problem=problem)
    held = [element for element in rails.elements if isinstance(element, Source)]
    volts: dict[str, float | None] = {rails.ground: 0.0, **{source.plus: source.volts for source in held}}
    delivered = dict.fromkeys((source.name for source in held), 0.0)
    amps: dict[str, float] = dict(delivered)
    count = len(held)
    for point in points:
        volts.update(point.volts)
        amps.update(point.amps)
        count += len(point.amps)
        for rail in delivered:
            if rail in point.amps:
                delivered[rail] += point.amps[rail]
                count -= 1
    if count != len(amps):
        twice = next(name for name in amps if name not in delivered
                     and sum(name in point.amps for point in points) > 1)
        return OperatingPoint(problem=f"two elements are called {twice}")
    amps.update(delivered)
    return OperatingPoint(volts, amps, helped=any(point.helped for point in points))


def cells_together(fragment: Fragment) -> list[str]:
    """The cells that share a group with another one, in file order."""
    counted: dict[int, list[str]] = {}
    for place, group in enumerate(groups(fragment)):
        counted[place] = [name for name in group.parts if fragment.parts[name].kind is Kind.CELL]
    together = {name for names in counted.values() if len(names) > 1 for name in names}
    return [part.name for part in fragment.of_kind(Kind.CELL) if part.name in together]


def overlaid(whole: OperatingPoint, before: OperatingPoint, after: OperatingPoint, rails: Iterable[str]
             ) -> OperatingPoint:
    """The point of the whole when one of its sections has changed from `before` to `after`.

    rails: the sources that the section shares with others; what each delivers is a sum over the sections.
    """
    if problem := whole.problem or before.problem or after.problem:
        return OperatingPoint(problem=problem)
    shared = {rail: whole.amps[rail] + after.amps[rail] - before.amps[rail] for rail in rails if rail in after.amps}
    return OperatingPoint(_Over({}, after.volts, whole.volts), _Over(shared, after.amps, whole.amps),
                          helped=whole.helped or after.helped)


class _Over(Mapping[str, V]):
    """Values laid over others: there are many of these, of which a few values each are read."""

    __slots__ = ("_first", "_then", "_under")

    def __init__(self, first: Mapping[str, V], then: Mapping[str, V], under: Mapping[str, V]) -> None:
        self._first, self._then, self._under = first, then, under

    def __getitem__(self, key: str) -> V:
        return self._first[key] if key in self._first else self._then[key] if key in self._then else self._under[key]

    @overload
    def get(self, key: str, default: None = None, /) -> V | None: ...
    @overload
    def get(self, key: str, default: V | T, /) -> V | T: ...
    def get(self, key: str, default: V | T | None = None, /) -> V | T | None:
        if key in self._first:
            return self._first[key]
        return self._then[key] if key in self._then else self._under.get(key, default)

    def __contains__(self, key: object) -> bool:
        return key in self._first or key in self._then or key in self._under

    def __iter__(self) -> Iterator[str]:
        return iter({**self._under, **self._then, **self._first})

    def __len__(self) -> int:
        return len({**self._under, **self._then, **self._first})


def _view(fragment: Fragment, group: Group, state: State) -> object:
    """What of a state a group sees, and whether anything is live at all, which checks ask of every state."""
    moves = (name for name in group.parts if fragment.parts[name].kind in MOVABLE)
    return (state.live, tuple(state.supplies[supply] for supply in group.supplies),
            tuple(state.positions.get(name) for name in moves),
            tuple(state.plugged.get(name) for name in group.moves))
