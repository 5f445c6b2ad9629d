"""From a fragment in a state, and what the simulator found there, to a picture."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.mods import apply
from netcheck.fragment.states import State, movable
from netcheck.parts.specs import CellSpec
from netcheck.quantities.values import engineering
from netcheck.quantities.words import nearest
from netcheck.reports.drawing.part_words import LEAST_SHOWN_A, LEAST_SHOWN_V, column_of
from netcheck.reports.drawing.picture import Bar, Column, Fate, Picture
from netcheck.simulation.elements import OperatingPoint

MOST_PARTS = 60
"""More parts than this are not drawn at once: the neighbourhood of one of them is."""

_LISTED = 8


def picture_of(
    fragment: Fragment,
    state: State,
    point: OperatingPoint | None = None,
    *,
    routes: Sequence[Sequence[str]] = (),
    against: Fragment | None = None,
    around: str | None = None,
    frame: Picture | None = None,
    verdict: str = "",
) -> Picture:
    """The fragment as it stands in `state`, ready to be drawn.

    point: the direct voltages [V] and currents [A] found there; without it, or
    where it has a problem, the bars are stacked by what is expected and carry
    no volts. routes: the part names along each charge route, from its source.
    against: the circuit before the mod, to mark what was removed, fitted and
    moved. around: the part whose neighbourhood is drawn; past MOST_PARTS parts
    that of the first cell, else the first regulator, is drawn anyway. frame: of
    the file (`frame_of`), whose places are kept. verdict: for the title block.

    Raises ValueError where `around` is no part of the fragment.
    """
    known = point if point is not None and point.known else None
    every = tuple(_columns(fragment, state, known, against, frozenset(p for r in routes for p in r)))
    columns = tuple(column for column in every if column.pins)
    shown, note = _shown(fragment, columns, around)
    notes = [note, *_joins(fragment, against)]
    if len(columns) < len(every):
        untraced = ", ".join(column.name for column in every if not column.pins)
        notes.append(f"Not drawn, as no pin was traced: {untraced}.")
    if point is not None and not point.known:
        notes.append(f"No volts: {point.problem}. The nets stand in their expected order.")
    through = _through(shown, routes, fragment.ground)
    return Picture(
        title=f"{fragment.title}: {fragment.variant}, {state.name}",
        description=_described(fragment, state, known),
        bars=tuple(_bars(fragment, state, known, shown, through)),
        columns=shown,
        routes=tuple(map(tuple, routes)),
        route_label="; ".join(_route_words(fragment, route, known) for route in routes),
        note=" ".join(filter(None, notes)),
        meant=_meant(fragment, routes),
        frame=frame if not note else None,
        foot=tuple(filter(None, (fragment.board, fragment.variant, f"state {state.name}", _stand(state), verdict))),
    )


def frame_of(found: Fragment, state: State, point: OperatingPoint | None) -> Picture | None:
    """The picture whose places all drawings of a file keep: as found, with what its mods put in beside it.

    state, point: that in which most supplies are on. None for a section too large to be drawn at once.
    """
    known = point if point is not None and point.known else None
    columns = [column for column in _columns(found, state, known, None, ()) if column.pins]
    held = {(column.name, column.slot) for column in columns}
    nets: dict[str, None] = {}
    for name in found.mods:
        variant = apply(found, name)
        nets |= dict.fromkeys(variant.nets)
        for column in _columns(variant, _as_set(variant, state), None, found, ()):
            if column.pins and (column.name, column.slot) not in held and column.fate is not Fate.REMOVED:
                held.add((column.name, column.slot))
                columns.append(column)
    if len(columns) > MOST_PARTS:
        return None
    bars = list(_bars(found, state, known, columns, ()))
    return Picture("", "", tuple(bars), tuple(columns))


def with_words(picture: Picture, words: Mapping[str, str]) -> Picture:
    """The picture with a word beside each part that has one, such as its duty."""
    return replace(picture, columns=tuple(
        replace(column, word=column.word or words.get(column.name, "")) if column.fate is not Fate.REMOVED else column
        for column in picture.columns))


def _as_set(fragment: Fragment, state: State) -> State:
    """The state as far as another variant has it: what it does not know stands as set."""
    positions = {part.name: state.positions.get(part.name, part.position or "") for part in movable(fragment)}
    return replace(state, positions=positions)


def _meant(fragment: Fragment, routes: Sequence[Sequence[str]]) -> bool:
    """Whether every cell that is charged is one to be charged."""
    cells = [fragment.parts[route[-1]] for route in routes if route and route[-1] in fragment.parts]
    return bool(cells) and not any(isinstance(cell.spec, CellSpec) and cell.spec.primary for cell in cells)


def _stand(state: State) -> str:
    return ", ".join(f"{name} {'on' if on else 'off'}" for name, on in state.supplies.items())


def _columns(
    fragment: Fragment, state: State, point: OperatingPoint | None, against: Fragment | None,
    on_route: Collection[str],
) -> Iterator[Column]:
    merged = _merged(fragment, against)
    for old in against.parts.values() if against is not None else ():
        new = fragment.parts.get(old.name)
        moved = replace(old, pins={pin: merged.get(net, net) for pin, net in old.pins.items()})
        if old.fitted and (new is None or not new.fitted or not _same_part(old, new)):
            yield column_of(moved, state, None, Fate.REMOVED)
    for part in fragment.parts.values():
        before = against.parts.get(part.name) if against is not None else part
        fate = _fate(before, part, merged)
        if part.fitted and not state.plugged.get(part.name, True):
            yield column_of(part, state, None, Fate.EMPTY if fate is Fate.AS_FOUND else fate, "not plugged")
        elif part.fitted:
            replaces = fate is Fate.FITTED and before is not None and before.fitted
            yield replace(column_of(part, state, point, fate), on_route=part.name in on_route, replaces=replaces)
        elif before is None or not before.fitted:
            yield column_of(part, state, None, Fate.EMPTY)


def _fate(before: Part | None, part: Part, merged: Mapping[str, str]) -> Fate:
    if before is None or before.fitted < part.fitted or not _same_part(before, part):
        return Fate.FITTED
    if any(merged.get(net, net) != part.pins[pin] for pin, net in before.pins.items()):
        return Fate.MOVED
    return Fate.AS_FOUND


def _same_part(old: Part, new: Part) -> bool:
    return old.kind is new.kind and old.spec == new.spec and old.pins.keys() == new.pins.keys()


def _merged(fragment: Fragment, against: Fragment | None) -> dict[str, str]:
    """Net that a wire link of the mods has merged away, to the net that it became part of."""
    merged: dict[str, str] = {}
    if against is None:
        return merged
    left = set(fragment.nets)
    name: str | None = fragment.variant
    while name is not None and name in fragment.mods and name != against.variant:
        mod = fragment.mods[name]
        for step in mod.steps:
            kept = [net for net in step.names if net in left]
            if step.action == "join" and kept:
                merged.update({net: kept[0] for net in step.names if net != kept[0]})
        name = mod.after
    return merged


def _joins(fragment: Fragment, against: Fragment | None) -> list[str]:
    return [f"{gone} is joined to {kept}." for gone, kept in _merged(fragment, against).items()]


def _bars(
    fragment: Fragment, state: State, point: OperatingPoint | None, columns: Sequence[Column],
    through: Collection[str],
) -> Iterator[Bar]:
    used = {net for column in columns for _, net in column.pins} | {fragment.ground}
    live = {net for c in columns if c.fate is not Fate.REMOVED for _, net in c.pins} | {fragment.ground}
    order = dict.fromkeys([*fragment.nets, *(net for c in columns for _, net in c.pins)])
    for net in order:
        if net in used:
            volts = point.volts.get(net) if point is not None and net in live else None
            kind = "ground" if net == fragment.ground else "rail" if net in fragment.rails else "net"
            if net not in live and kind == "net":
                kind = "gone"
            label = _bar_words(fragment, state, net, volts, floating=point is not None and net in live)
            label = "no longer used" if kind == "gone" else label
            yield Bar(net, volts, label, kind, net in through, _expected(fragment, state, net))


def _bar_words(fragment: Fragment, state: State, net: str, volts: float | None, floating: bool) -> str:
    words = []
    if net in fragment.rails and not state.supplies[fragment.rails[net].supply]:
        words.append("off")
    if volts is not None:
        words.append("0 V" if abs(volts) < LEAST_SHOWN_V else engineering(volts, "V"))
    elif floating:
        words.append("floats")
    return ", ".join(words)


def _expected(fragment: Fragment, state: State, net: str) -> float | None:
    """Volts that a net would have by its own rail or cell alone, for stacking [V]."""
    rail = fragment.rails.get(net)
    if rail is not None:
        if state.supplies[rail.supply]:
            return rail.volts.value
        return 0.0 if rail.when_off == "low" else None
    for cell in fragment.of_kind(Kind.CELL):
        there = cell.net("plus") == net and cell.net("minus") == fragment.ground
        if there and state.plugged.get(cell.name, True) and isinstance(cell.spec, CellSpec):
            return cell.spec.nominal_V
    return None


def _through(columns: Sequence[Column], routes: Sequence[Sequence[str]], ground: str) -> set[str]:
    """The nets by which the parts of a route hang together."""
    nets = {c.name: {net for _, net in c.pins} for c in columns if c.on_route}
    return {
        net
        for route in routes
        for a, b in pairwise(route)
        for net in nets.get(a, set()) & nets.get(b, set()) - {ground}
    }


def _route_words(fragment: Fragment, route: Sequence[str], point: OperatingPoint | None) -> str:
    what = "Charging that is meant" if _meant(fragment, (route,)) else "Charge route"
    words = f"{what}: {' → '.join([*_source(fragment, route), *route])}"
    cells = [name for name in route if name in fragment.parts and fragment.parts[name].kind is Kind.CELL]
    if point is None or not cells:
        return f"{words}, current not known"
    amps = point.amps.get(cells[-1])
    if amps is None:
        return f"{words}, current not known"
    into = f"{engineering(-amps, 'A')} into {cells[-1]}"
    return f"{words}, {into if amps < -LEAST_SHOWN_A else 'no charge in this state'}"


def _source(fragment: Fragment, route: Sequence[str]) -> list[str]:
    """The rail that the first part of the route hangs on."""
    nets = fragment.parts[route[0]].nets if route and route[0] in fragment.parts else ()
    return [net for net in nets if net in fragment.rails][:1]


def _described(fragment: Fragment, state: State, point: OperatingPoint | None) -> str:
    supplies = [f"{name} {'on' if on else 'off'}" for name, on in state.supplies.items()]
    positions = [f"{name} {position}" for name, position in state.positions.items()]
    where = f", {fragment.board}" if fragment.board else ""
    height = "Higher bars have higher direct volts" if point else "Bars stand in their expected order"
    stand = ", ".join([*supplies, *positions]) or "as set"
    return f"Circuit diagram{where}, state {state.name} ({stand}). {height}; ground is at 0 V."


def _shown(
    fragment: Fragment, columns: tuple[Column, ...], around: str | None
) -> tuple[tuple[Column, ...], str]:
    """The columns to draw, and in words what was left out."""
    names = [column.name for column in columns]
    if around is not None and around not in names:
        near = nearest(around, names)
        raise ValueError(f"no part {around} to draw around" + (f"; nearest: {near}" if near else ""))
    if around is None:
        if len(columns) <= MOST_PARTS:
            return columns, ""
        wanted = [c.name for kind in ("cell", "regulator") for c in columns if c.symbol == kind]
        around = [*wanted, names[0]][0]
    near_parts = _neighbourhood(columns, around, {fragment.ground, *fragment.rails})
    shown = tuple(column for column in columns if column.name in near_parts)
    left = [name for name in dict.fromkeys(names) if name not in near_parts]
    if not left:
        return shown, ""
    listed = ", ".join(left[:_LISTED]) + (f" and {len(left) - _LISTED} more" if len(left) > _LISTED else "")
    return shown, f"Drawn: the part of the circuit around {around}. Left out: {listed}."


def _neighbourhood(columns: Sequence[Column], start: str, hubs: Collection[str]) -> set[str]:
    """Part names met from `start` along nets other than rails and ground, the nearest first."""
    on: dict[str, list[str]] = {}
    nets: dict[str, list[str]] = {}
    for column in columns:
        for _, net in column.pins:
            on.setdefault(net, []).append(column.name)
            nets.setdefault(column.name, []).append(net)
    met = {start: None}
    queue = [start]
    for name in queue:
        for net in nets[name]:
            for other in on[net] if net not in hubs else ():
                if other not in met and len(met) < MOST_PARTS:
                    met[other] = None
                    queue.append(other)
    return set(met)
