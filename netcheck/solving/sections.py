"""A variant looked at group by group: what cannot influence each other is not tried against each other."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from netcheck.fragment.groups import Group, groups
from netcheck.fragment.kinds import MOVABLE
from netcheck.fragment.model import Fragment, Kind
from netcheck.fragment.states import State
from netcheck.simulation.elements import OperatingPoint


@dataclass(frozen=True)
class Section:
    """One group as a fragment of its own, and of the states of the whole one for each way in which it can stand."""

    fragment: Fragment
    states: tuple[State, ...]

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
        for state in states:
            views.setdefault(_view(fragment, group, state), state)
        section = Section(fragment.with_parts(parts), tuple(views.values()))
        found.update(dict.fromkeys(group.parts, section))
    return found


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
    amps = {**whole.amps, **after.amps}
    for rail in rails:
        if rail in after.amps:
            amps[rail] = whole.amps[rail] + after.amps[rail] - before.amps[rail]
    return OperatingPoint({**whole.volts, **after.volts}, amps, helped=whole.helped or after.helped)


def _view(fragment: Fragment, group: Group, state: State) -> object:
    """What of a state a group sees, and whether anything is live at all, which checks ask of every state."""
    moves = (name for name in group.parts if fragment.parts[name].kind in MOVABLE)
    return (state.live, tuple(state.supplies[supply] for supply in group.supplies),
            tuple(state.positions.get(name) for name in moves),
            tuple(state.plugged.get(name) for name in group.moves))
