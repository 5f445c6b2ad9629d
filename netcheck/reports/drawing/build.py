"""From a fragment in a state, and what the simulator found there, to a picture."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from itertools import pairwise

from msgspec import Struct, field
from msgspec.structs import replace

from netcheck.fragment.model import Fragment, Kind, Mark, Part
from netcheck.fragment.mods import apply
from netcheck.fragment.states import ABSENT, State, movable
from netcheck.parts.specs import CellSpec
from netcheck.quantities.values import engineering
from netcheck.quantities.words import nearest
from netcheck.reports.drawing.bars import bars_of
from netcheck.reports.drawing.body import FATES, LABEL_ROOM, SIZE
from netcheck.reports.drawing.part_words import LEAST_SHOWN_A, column_of
from netcheck.reports.drawing.picture import Column, Fate, Picture, Spot
from netcheck.reports.drawing.stack import NEAR_V, stacked
from netcheck.reports.drawing.text import broken, width
from netcheck.simulation.corner import Corner
from netcheck.simulation.elements import OperatingPoint

MOST_PARTS = 60
"""More parts than this are not drawn at once: the neighbourhood of one of them is."""

MOST_PINS = 12
"""Of a box with more pins, those on nets that nothing else is on are not drawn."""

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
    corner: Corner | None = None,
) -> Picture:
    """The fragment as it stands in `state`, ready to be drawn.

    point: the direct voltages [V] and currents [A] found there; without it, or
    where it has a problem, the bars are stacked by what is expected and carry
    no volts. routes: the part names along each charge route, from its source.
    against: the circuit before the mod, to mark what was removed, fitted and
    moved. around: the part whose neighbourhood is drawn; past MOST_PARTS parts
    that of the first cell, else the first regulator, is drawn anyway. frame: of
    the file (`frame_of`), whose places are kept. verdict, corner: for the title
    block, the latter the conditions under which the point was found.

    Raises ValueError where `around` is no part of the fragment.
    """
    known = point if point is not None and point.known else None
    every = tuple(_columns(fragment, state, known, against, frozenset(p for r in routes for p in r)))
    leaders = _leaders(frame, fragment, against)
    columns, lonely = _busy(_as_one([column for column in every if column.pins], leaders), fragment, frame)
    shown, note = _shown(fragment, columns, around)
    notes = [note, *_joins(fragment, against)]
    untraced = [column.name for column in every if not column.pins]
    if untraced:
        notes.append(f"Not drawn, as no pin was traced: {', '.join(untraced)}.")
    notes += [f"Not drawn: {count} pins of {name} on nets that nothing else is on." for name, count in lonely.items()]
    if point is not None and not point.known:
        notes.append(f"No volts: {point.problem}. The nets stand in their expected order.")
    through = _through(shown, routes, fragment.ground)
    return Picture(
        title=f"{fragment.title}: {fragment.variant}, {state.name}",
        description=_described(fragment, state, known),
        bars=tuple(bars_of(fragment, state, known, shown, through)),
        columns=shown,
        routes=tuple(map(tuple, routes)),
        route_label="; ".join(_route_words(fragment, route, known) for route in routes),
        note=" ".join(filter(None, notes)),
        meant=_meant(fragment, routes),
        frame=frame if not note else None,
        foot=tuple((head, words) for head, words in (
            ("Board", fragment.board or ""), ("Variant", fragment.variant), ("State", _stand(state)),
            ("Conditions", _conditions(fragment, corner)), ("Verdict", verdict)) if words),
        level=None if frame is None or note else frame.level,
    )


def frame_of(found: Fragment, state: State, point: OperatingPoint | None,
             stood: Sequence[Mapping[str, float | None]] = ()) -> Picture | None:
    """The picture whose places all drawings of a file keep: as found, with what its mods put in beside it.

    state, point: that in which most supplies are on. stood: the volts of the nets in every state and variant that is
    looked at, which tell the nets that never differ. None for a section too large to be drawn at once.
    """
    known = point if point is not None and point.known else None
    variants = [found, *(apply(found, name) for name in found.mods)]
    leaders = twins(variants)
    places: dict[Spot, _Place] = {}
    nets: dict[str, None] = {}
    for number, variant in enumerate(variants):
        nets |= dict.fromkeys(variant.nets)
        against = found if number else None
        drawn = [c for c in _columns(variant, _as_set(variant, state), known if not number else None, against, ())
                 if c.pins]
        for column in _as_one(drawn, leaders):
            place = places.setdefault(column.spot, _Place(column))
            place.together |= 1 << number
            place.values |= dict.fromkeys(_values(variant.parts.get(column.name), column, state))
            place.fates |= dict.fromkeys(_fates(variant.parts.get(column.name), column))
    columns, _ = _busy([place.column_ for place in places.values()], found, None)
    if len(columns) > MOST_PARTS:
        return None
    bars = list(bars_of(found, state, known, columns, ()))
    return Picture("", "", tuple(bars), columns, level=_level([bar.net for bar in stacked(Picture(
        "", "", tuple(bars), columns)) if bar.kind != "ground"], stood))


class _Place(Struct):
    """A place of a frame, and what may be written there in one variant or state or the other."""

    column: Column
    together: int = 0
    values: dict[str, None] = field(default_factory=dict)
    fates: dict[str, None] = field(default_factory=dict)

    @property
    def column_(self) -> Column:
        fates = [words for words in self.fates if words]
        return replace(self.column, together=self.together, value=_widest(self.values),
                       reserve=(_widest(fates),) if fates else ())


def _widest(words: Iterable[str]) -> str:
    return max(words, key=lambda one: (len(broken(one, SIZE, LABEL_ROOM)), width(one, SIZE)), default="")


def _values(part: Part | None, column: Column, state: State) -> Iterator[str]:
    """What stands as the value of a part, in each of its positions."""
    yield column.value
    if part is not None and column.fate is not Fate.REMOVED:
        for position in (*part.positions, *([ABSENT] if part.positions else [])):
            put = replace(state, positions={**state.positions, part.name: position})
            yield column_of(part, put, None, Fate.AS_FOUND).value


def _fates(part: Part | None, column: Column) -> Iterator[str]:
    """What may be said of a part against the circuit as found, and of a pack that may be out."""
    yield FATES.get(column.fate, "")
    if part is not None and part.plugged is None:
        yield column.word or "not plugged"


def twins(variants: Sequence[Fragment]) -> dict[str, str]:
    """Name of a load or capacitor to the first that is equal to it in every variant and so is drawn with it."""
    kinds = (Kind.LOAD, Kind.CAPACITOR)
    names = [name for name, part in variants[0].parts.items() if part.kind in kinds]
    leaders: dict[str, str] = {}
    for name in names:
        alike = [_nameless(variant.parts.get(name)) for variant in variants]
        same = (other for other in dict.fromkeys(leaders.values())
                if alike == [_nameless(variant.parts.get(other)) for variant in variants])
        leaders[name] = next(same, name)
    return leaders


def _nameless(part: Part | None) -> Part | None:
    """A part without what does not tell it apart on a drawing."""
    return None if part is None else replace(part, name="", mark=Mark(0, 0), at=None, note=None, marked=None)


def _leaders(frame: Picture | None, fragment: Fragment, against: Fragment | None) -> dict[str, str]:
    if frame is None:
        return twins([fragment] if against is None else [fragment, against])
    return {name: column.name for column in frame.columns for name in column.also}


def _as_one(columns: Sequence[Column], leaders: Mapping[str, str]) -> list[Column]:
    """The columns with equal parts drawn as one, in the place of the first."""
    groups: dict[tuple[str, Fate, bool], list[Column]] = {}
    for column in columns:
        groups.setdefault((leaders.get(column.name, column.name), column.fate, column.replaces), []).append(column)
    return [_one(group) for group in groups.values()]


def _one(group: Sequence[Column]) -> Column:
    first = group[0]
    if len(group) == 1:
        return first
    return replace(first, also=tuple(one.name for one in group[1:]), flow_A=sum(one.flow_A for one in group),
                   value=f"{len(group)} × {first.value}", amps=f"{first.amps} each" if first.amps else "")


def _busy(columns: Sequence[Column], fragment: Fragment,
          frame: Picture | None) -> tuple[tuple[Column, ...], dict[str, int]]:
    """Big boxes without the pins on nets that nothing else is on, and how many of each those are."""
    on: dict[str, set[str]] = {}
    for column in columns:
        for _, net in column.pins:
            on.setdefault(net, set()).add(column.name)
    busy = {net for net, names in on.items() if len(names) > 1} | {fragment.ground, *fragment.rails}
    if frame is not None:
        busy |= {bar.net for bar in frame.bars}
    lonely: dict[str, int] = {}
    kept = []
    for column in columns:
        few = tuple(pin for pin in column.pins if pin[1] in busy)
        if column.symbol == "box" and len(column.pins) > MOST_PINS and few and len(few) < len(column.pins):
            lonely[column.name] = len(column.pins) - len(few)
            column = replace(column, pins=few)
        kept.append(column)
    return tuple(kept), lonely


def _level(nets: Sequence[str], stood: Sequence[Mapping[str, float | None]]) -> tuple[tuple[str, ...], ...]:
    """Nets of which no two ever differ by more than NEAR_V, and do stand together somewhere."""
    groups: list[list[str]] = []
    for net in nets:
        mine = next((group for group in groups if all(_never_differ(net, other, stood) for other in group)), None)
        if mine is None:
            groups.append([net])
        else:
            mine.append(net)
    return tuple(tuple(group) for group in groups if len(group) > 1)


def _never_differ(one: str, other: str, stood: Sequence[Mapping[str, float | None]]) -> bool:
    differences = [abs(a - b) for volts in stood
                   if (a := volts.get(one)) is not None and (b := volts.get(other)) is not None]
    return bool(differences) and max(differences) <= NEAR_V


def with_words(picture: Picture, words: Mapping[str, str]) -> Picture:
    """The picture with a word beside each part that has one, such as its duty."""
    frame = picture.frame
    if frame is not None:
        frame = replace(frame, columns=tuple(
            replace(column, reserve=(*column.reserve, words[column.name])) if words.get(column.name) else column
            for column in frame.columns))
    return replace(picture, frame=frame, columns=tuple(
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
    """The state by its name, and what its supplies do where the name does not say it."""
    supplies = ", ".join(f"{name} {'on' if on else 'off'}" for name, on in state.supplies.items())
    return state.name if not supplies or supplies in state.name else f"{state.name}: {supplies}"


def _conditions(fragment: Fragment, corner: Corner | None) -> str:
    if corner is None:
        return ""
    cells = any(fragment.of_kind(Kind.CELL))
    return f"nominal, {corner.temperature_C:.0f} °C" + (", fresh cell" if cells and not corner.used else "")


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
    meant = _meant(fragment, (route,))
    what = "Charging that is meant" if meant else "Charge route"
    words = f"{what}: {' → '.join([*_source(fragment, route), *route])}"
    cells = [name for name in route if name in fragment.parts and fragment.parts[name].kind is Kind.CELL]
    if point is None or not cells:
        return f"{words}, current not known"
    amps = point.amps.get(cells[-1])
    if amps is None:
        return f"{words}, current not known"
    into = f"{engineering(-amps, 'A')} into {cells[-1]}"
    if amps >= -LEAST_SHOWN_A:
        return f"{words}, no charge in this state"
    return f"{words}, {into}" if meant else f"{words}, {into}, which must never be charged"


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
    names = [name for column in columns for name in (column.name, *column.also)]
    if around is not None and around not in names:
        near = nearest(around, names)
        raise ValueError(f"no part {around} to draw around" + (f"; nearest: {near}" if near else ""))
    if around is None:
        if len(columns) <= MOST_PARTS:
            return columns, ""
        wanted = [c.name for kind in ("cell", "regulator") for c in columns if c.symbol == kind]
        around = [*wanted, names[0]][0]
    around = next(column.name for column in columns if around in (column.name, *column.also))
    near_parts = _neighbourhood(columns, around, {fragment.ground, *fragment.rails})
    shown = tuple(column for column in columns if column.name in near_parts)
    left = list(dict.fromkeys(column.shown for column in columns if column.name not in near_parts))
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
