"""What would stop a cell from being charged: parts to take out, or a place for a series diode.

These are candidates, right as far as the graph can tell: no conducting charge
route in any state, and every load still fed as before. The check that offers
one re-runs itself on the changed circuit first.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from itertools import chain, count

from msgspec import Struct, field
from msgspec.structs import replace

from netcheck.clock import used_up
from netcheck.conduction.graph import Conduction, conduction
from netcheck.conduction.routes import Feed, Route, charge_routes, feeds
from netcheck.fragment.kinds import kinds_where
from netcheck.fragment.model import Fragment, Kind, Part, Step
from netcheck.fragment.mods import apply_steps
from netcheck.fragment.written import resistance
from netcheck.parts.specs import DiodeSpec, ResistorSpec

_REMOVABLE = frozenset(kinds_where("removable"))
_MOST_PARTS = 3
_MOST_TRIED, _FEWEST_TRIED = 400, 4
_MOST_RESISTORS = 6
_MOST_WORK = 200_000
"""Sets of parts tried before the search is cut short, fewer the larger the graphs; a cut is told to the caller."""


class Remedy(Struct, frozen=True):
    """Parts to remove, the place of a series diode, or what `words` and `extra` say; `steps` make a mod of it.

    of: the remedies that it is put together from, where it is more than one. spares: the steps of the remedy than which
    it costs fewer volts, and that comes first where there are volts enough.
    verdict, lowest_V [V], life_years, because: what the whole variant is judged to be with it, the least volts of a
    load that a cell carries, the shortest life of a cell, and why; None and empty where it was not judged.
    """

    steps: tuple[Step, ...]
    remove: tuple[str, ...] = ()
    insert_diode: str | None = None
    words: str = ""
    extra: Mapping[str, object] = field(default_factory=dict)
    of: tuple[Remedy, ...] = ()
    spares: tuple[Step, ...] = ()
    verdict: str | None = None
    lowest_V: float | None = None
    life_years: float | None = None
    because: str = ""

    def to_dict(self) -> dict[str, object]:
        what: Mapping[str, object] = self.extra or (
            {"remove": list(self.remove)} if self.remove else {"insert_diode": self.insert_diode})
        return {**what, "verdict": self.verdict, "lowest_V": self.lowest_V, "life_years": self.life_years,
                "because": self.because}


class Removals(Struct, frozen=True):
    """The smallest sets of parts found; `complete` is False where the search was cut short."""

    sets: tuple[tuple[str, ...], ...]
    complete: bool


def all_feeds(
    fragment: Fragment, conductions: Sequence[Conduction], hidden: Collection[str] = ()
) -> dict[tuple[str, str], Feed]:
    """(state, load) to what supplies the load there."""
    return {
        (one.state.name, load): supplied
        for one in conductions
        for load, supplied in feeds(fragment, one, hidden).items()
    }


def keeps_feeds(before: Mapping[tuple[str, str], Feed], after: Mapping[tuple[str, str], Feed]) -> bool:
    """Whether every load keeps its rail where one fed it, and a cell where none did and one could."""
    return all(
        after[key].by_rail if was.by_rail else bool(after[key].by_cells) or not was.by_cells
        for key, was in before.items()
    )


def removals(fragment: Fragment, conductions: Sequence[Conduction], cell: Part) -> Removals:
    """Every smallest set of up to three parts whose removal leaves no conducting charge route.

    Each set must hit the first route that is found, so the search branches on
    the parts of one route at a time.
    """
    before = all_feeds(fragment, conductions)
    work = sum(one.graph.number_of_edges() for one in conductions)
    most_tried = max(_FEWEST_TRIED, min(_MOST_TRIED, _MOST_WORK // max(1, work)))
    tried: set[frozenset[str]] = set()

    def first_route(hidden: Collection[str]) -> Route | None:
        routes = chain.from_iterable(charge_routes(fragment, one, cell, hidden) for one in conductions)
        return next((route for route in routes if route.conducting), None)

    def sets(removed: frozenset[str], room: int) -> Iterator[frozenset[str]]:
        if removed in tried or len(tried) >= most_tried or used_up():
            return
        tried.add(removed)
        if removed and not keeps_feeds(before, all_feeds(fragment, conductions, removed)):
            return
        route = first_route(removed)
        if route is None:
            yield removed
        elif room:
            for part in dict.fromkeys(route.parts):
                if fragment.parts[part].kind in _REMOVABLE:
                    yield from sets(removed | {part}, room - 1)

    for size in range(1, _MOST_PARTS + 1):
        tried.clear()
        found = [one for one in sets(frozenset(), size) if one]
        if found or len(tried) >= most_tried:
            place = {name: number for number, name in enumerate(fragment.parts)}
            ordered = sorted((sorted(one, key=place.__getitem__) for one in found),
                             key=lambda one: [place[name] for name in one])
            return Removals(tuple(map(tuple, ordered)), len(tried) < most_tried)
    return Removals((), True)


def removal_steps(fragment: Fragment, parts: Sequence[str]) -> tuple[Step, ...]:
    return (Step("remove", fragment.parts[parts[0]].mark, names=tuple(parts)),)


def diode_places(
    fragment: Fragment, conductions: Sequence[Conduction], cell: Part, routes: Sequence[Route], diode: DiodeSpec
) -> list[Remedy]:
    """Places where one series diode blocks every charge route and leaves every load its feed.

    Tried are the cell's plus lead, its minus lead, and each resistor of a
    conducting route, replaced by the diode in either direction; only the first
    few resistors, and none in a very large circuit.
    """
    before = all_feeds(fragment, conductions)
    work = sum(one.graph.number_of_edges() for one in conductions)
    shared = dict.fromkeys(
        part for route in routes if route.conducting for part in route.parts
        if fragment.parts[part].kind is Kind.RESISTOR
    )
    candidates = [_in_lead(fragment, cell, "plus", diode), _in_lead(fragment, cell, "minus", diode)]
    for name in list(shared)[: min(_MOST_RESISTORS, _MOST_WORK // max(1, work))]:
        candidates += [_in_place_of(fragment, name, diode, pins) for pins in (("1", "2"), ("2", "1"))]
    return [remedy for remedy in candidates if _blocks(fragment, conductions, cell, remedy, before)]


def _blocks(
    fragment: Fragment, conductions: Sequence[Conduction], cell: Part, remedy: Remedy,
    before: Mapping[tuple[str, str], Feed],
) -> bool:
    changed = apply_steps(fragment, remedy.steps)
    after = [conduction(changed, one.state, one.channels) for one in conductions]
    charged = any(
        route.conducting for one in after for route in charge_routes(changed, one, changed.parts[cell.name])
    )
    return not charged and keeps_feeds(before, all_feeds(changed, after))


def _in_lead(fragment: Fragment, cell: Part, pin: str, diode: DiodeSpec) -> Remedy:
    return Remedy(lead_steps(fragment, cell, pin, diode)[0], insert_diode=f"{cell.name}.{pin}")


def lead_steps(fragment: Fragment, cell: Part, pin: str, diode: DiodeSpec) -> tuple[tuple[Step, ...], str]:
    """The steps that put a blocking diode in a cell's plus or minus lead, and the name it gets."""
    board, lead = cell.pins[pin], free_name(f"{cell.name}_{pin.upper()}", fragment.nets)
    anode, cathode = (lead, board) if pin == "plus" else (board, lead)
    fitted = _diode(fragment, diode, anode, cathode, cell)
    steps = (
        Step("move", cell.mark, moves={(cell.name, pin): lead}),
        Step("fit", cell.mark, parts=(fitted,)),
    )
    return steps, fitted.name


def _in_place_of(fragment: Fragment, name: str, diode: DiodeSpec, pins: tuple[str, str]) -> Remedy:
    old = fragment.parts[name]
    fitted = _diode(fragment, diode, old.pins[pins[0]], old.pins[pins[1]], old)
    steps = (Step("remove", old.mark, names=(name,)), Step("fit", old.mark, parts=(fitted,)))
    return Remedy(steps, insert_diode=name)


def diode_candidates(
    fragment: Fragment, cell: Part, ways: Iterable[Sequence[str]], diode: DiodeSpec
) -> list[Remedy]:
    """A series diode in the cell's plus or minus lead, or in place of a resistor on one of these ways into it."""
    found = [_in_lead(fragment, cell, pin, diode) for pin in ("plus", "minus")]
    shared = dict.fromkeys(name for way in ways for name in way if fragment.parts[name].kind is Kind.RESISTOR)
    for name in list(shared)[:_MOST_RESISTORS // 2]:
        found += [_in_place_of(fragment, name, diode, pins) for pins in (("1", "2"), ("2", "1"))]
    return found


def replaced_diode(fragment: Fragment, name: str, diode: DiodeSpec) -> Remedy:
    """Another diode by name in the place of one."""
    part = fragment.parts[name]
    return Remedy((Step("replace", part.mark, parts=(replace(part, spec=diode),)),),
                  words=f"fit a {diode.name} as {name}", extra={"replace": {name: diode.name}})


def series_diode(fragment: Fragment, name: str, net: str, diode: DiodeSpec) -> Remedy:
    """A diode in series with a resistor, at its end on `net`, that lets current come from there alone."""
    part = fragment.parts[name]
    pin = next(pin for pin, on in part.pins.items() if on == net)
    lead = free_name(f"{name}_{pin}", fragment.nets)
    fitted = _diode(fragment, diode, net, lead, part)
    steps = (Step("move", part.mark, moves={(name, pin): lead}), Step("fit", part.mark, parts=(fitted,)))
    return Remedy(steps, words=f"put a diode between {net} and {name}, its anode to {net}",
                  extra={"insert_diode": f"{name}.{pin}"})


def lead_resistor(fragment: Fragment, part: Part, pin: str, ohm: float) -> tuple[tuple[Step, ...], Part]:
    """The steps that put a resistor of 5 % in a lead of a part, and that resistor."""
    board, lead = part.pins[pin], free_name(f"{part.name}_{pin.upper()}", fragment.nets)
    value = resistance(ohm, 0.05)
    fitted = Part(name=next_designator(fragment, "R"), kind=Kind.RESISTOR, pins={"1": lead, "2": board},
                  spec=ResistorSpec(value), mark=part.mark)
    return (Step("move", part.mark, moves={(part.name, pin): lead}), Step("fit", part.mark, parts=(fitted,))), fitted


def _diode(fragment: Fragment, spec: DiodeSpec, anode: str, cathode: str, beside: Part) -> Part:
    return Part(name=next_designator(fragment, "D"), kind=Kind.DIODE, pins={"anode": anode, "cathode": cathode},
                spec=spec, mark=beside.mark)


def next_designator(fragment: Fragment, letter: str) -> str:
    """The first designator of this class letter that no part of the fragment has."""
    return next(name for number in count(1) if (name := f"{letter}{number}") not in fragment.parts)


def free_name(name: str, taken: Collection[str]) -> str:
    while name in taken:
        name += "_"
    return name
