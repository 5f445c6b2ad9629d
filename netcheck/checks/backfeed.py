"""What a cell gives into a dead rail, another cell or a part that keeps nothing alive: named way by way."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from msgspec import Struct
from msgspec.structs import replace

from netcheck.checks.leakage import live_hours_a_day
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.states import State
from netcheck.parts.catalogue import cell_rules
from netcheck.parts.cell import HOURS_A_YEAR, self_discharge_A
from netcheck.parts.specs import CellSpec
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.elements import OperatingPoint
from netcheck.solving.flows import Way, flows, own_flows, part_of, parts_on, ways, widest
from netcheck.solving.solved_states import Survey
from netcheck.wording.sentence import Word

TOLD = 0.2
"""Share of a cell's drain that flows elsewhere than into its loads from which it is told."""

LITTLE = 0.05
"""Share of a cell's life up to which what is lost is no more than worth knowing (common practice, no source)."""

_SMALL = 0.05  # of what is lost: a way that takes less is not named
_LEAST_A = 1e-9
_NONE: Mapping[str, bool] = {}

_CURED = (Kind.CELL, Kind.LOAD, Kind.RESISTOR, Kind.TRANSISTOR, Kind.DIODE, Kind.CAPACITOR)
"""The kinds of part that something can be done about, the likeliest first."""


class Loss(Struct, frozen=True):
    """Current [A] that goes through `parts`, which serve no load, into `into` (a rail, a cell or ground)."""

    amps: float
    parts: tuple[str, ...]
    into: str

    @property
    def through(self) -> tuple[str, ...]:
        return tuple(part for part in self.parts if self.into != f"the cell {part}")


def back_feed(survey: Survey, cell: Part) -> list[Finding]:
    """What flows into rails, other cells and parts that keep nothing alive: stored, else while all supplies are on.

    hours_a_day_h among the figures: how long it is on, as stated or assumed; without it it flows for good.
    """
    return _stored(survey, cell) or _powered(survey, cell)


def _stored(survey: Survey, cell: Part) -> list[Finding]:
    return _for_nothing(survey, cell, survey.resting(False), _LEAST_A)


def _powered(survey: Survey, cell: Part) -> list[Finding]:
    """With the supplies on a rail ought to feed all that a cell feeds."""
    hours = live_hours_a_day(survey.fragment)
    return [replace(told, figures={**told.figures, "hours_a_day_h": hours})
            for told in _for_nothing(survey, cell, survey.resting(True), cell_rules().leak_aim_A, hours / 24.0)]


def _for_nothing(
    survey: Survey, cell: Part, state: State | None, least_A: float, share: float = 1.0
) -> list[Finding]:
    """What of a cell's own current reaches no load that it is there for. share: of the day in which it flows."""
    point = None if state is None else survey.at(state, survey.corners.room)
    if state is None or point is None or not point.known or cell.name not in point.amps:
        return []
    given = point.amps[cell.name]
    if given < least_A:
        return []
    circuit = circuit_of(survey.fragment, state, survey.corners.room)
    own = own_flows(flows(circuit, point), cell.name, cell.pins["plus"], cell.pins["minus"])
    loads = served(survey.fragment)
    lost = given - sum(flow.amps for flow in own if flow.element in loads)
    if lost <= TOLD * given or lost < least_A:
        return []
    losses = losses_of(survey.fragment, ways(own, cell.pins["plus"], cell.pins["minus"]), state.supplies)
    told = [loss for loss in losses if loss.amps > _SMALL * lost]
    return [_lost(survey, cell, state, point, told, lost, share)]


def _lost(
    survey: Survey, cell: Part, state: State, point: OperatingPoint, losses: list[Loss], lost: float,
    share: float,
) -> Finding:
    """share: of the day in which it flows."""
    given = point.amps[cell.name]
    little = life_lost(survey, cell, share * given, share * lost) <= LITTLE
    return Finding(
        "back-feed", Severity.CAUTION if lost > 0.5 * given and not little else Severity.NOTE, cell.name,
        case="losses" if losses else "lost", state=state.name,
        parts=tuple(dict.fromkeys(part for loss in losses for part in loss.parts)), line=cell.mark.line,
        words=_named(survey.fragment, losses, point) | ({"cured": "little"} if little and losses else {}),
        figures={"lost_A": lost, "given_A": given,
                 **{f"losses_{place}_A": loss.amps for place, loss in enumerate(losses)}})


def life_lost(survey: Survey, cell: Part, given_A: float, lost_A: float) -> float:
    """The share of a cell's life that a current costs which is part of the mean that it gives.

    The life of a primary cell ends on its shelf, that of a rechargeable between two charges does not.
    """
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    own_A = self_discharge_A(spec)
    with_it, without = given_A + own_A, given_A - lost_A + own_A
    if spec.primary and spec.shelf_years:
        least_A = spec.capacity_Ah / (spec.shelf_years * HOURS_A_YEAR)
        with_it, without = max(with_it, least_A), max(without, least_A)
    return 1.0 - without / with_it if with_it > 0 else 0.0


def into_packs(survey: Survey, cell: Part) -> list[Finding]:
    """What a cell gives into another one that is flat, with the supplies off and nothing in between that blocks."""
    findings = []
    for corner in survey.corners.one_flat:
        if corner.flat is None or corner.flat == cell.name:
            continue
        given = {state.name: (point.amps.get(cell.name, 0.0), -point.amps.get(corner.flat, 0.0))
                 for state in survey.states.states if not state.live
                 if (point := survey.at(state, corner)).known}
        taking = {name: min(pair) for name, pair in given.items() if min(pair) > max(_LEAST_A, TOLD * pair[0])}
        if not taking:
            continue
        state = next(one for one in survey.states.states if one.name == max(taking, key=lambda name: taking[name]))
        other = survey.fragment.parts[corner.flat]
        way = widest(flows(circuit_of(survey.fragment, state, corner), survey.at(state, corner)),
                     cell.pins["plus"], other.pins["plus"])
        parts = parts_on(survey.fragment, way.elements) if way else ()
        if way is None or way.amps < 0.5 * taking[state.name]:
            continue  # what it takes comes back through parts that block
        findings.append(Finding(
            "back-feed", Severity.CAUTION, cell.name, case="into-flat-pack", state=state.name,
            parts=(*parts, other.name), line=cell.mark.line, words={"through": parts, "pack": other.name},
            figures={"lost_A": taking[state.name]}))
    return findings


def served(fragment: Fragment) -> frozenset[str]:
    """The loads that a cell is there for: those that may have to be kept; all of them where none has to be."""
    loads = list(fragment.of_kind(Kind.LOAD))
    return frozenset(load.name for load in loads if load.kept is not False) or frozenset(load.name for load in loads)


def losses_of(fragment: Fragment, apart: Iterable[Way], supplies: Mapping[str, bool] = _NONE) -> list[Loss]:
    """The ways that reach no load, those through the same parts as one, the largest first; supplies: which are on."""
    apart, loads = list(apart), served(fragment)
    on = [[part for element in way.elements if (part := part_of(fragment, element)) is not None] for way in apart]
    serving = [any(part in loads for part in parts) for parts in on]
    needed = {part for parts, serves in zip(on, serving, strict=True) if serves for part in parts}
    found: dict[tuple[tuple[str, ...], str], Loss] = {}
    for way, parts, serves in zip(apart, on, serving, strict=True):
        if serves:
            continue
        into = _end(fragment, way, parts, supplies)
        through = tuple(part for part in dict.fromkeys(parts) if f"the cell {part}" != into)
        own = tuple(part for part in through if part not in needed) or through
        cell = (into.removeprefix("the cell "),) if into.startswith("the cell ") else ()
        loss = Loss(way.amps, (*own, *cell), into)
        old = found.get((own, into))
        found[own, into] = loss if old is None else replace(old, amps=old.amps + loss.amps)
    return sorted(found.values(), key=lambda loss: -loss.amps)


def _end(fragment: Fragment, way: Way, parts: list[str], supplies: Mapping[str, bool]) -> str:
    """Where a way ends: another cell or a rail that it passes, else ground."""
    cells = (fragment.parts[part] for part in parts if fragment.parts[part].kind is Kind.CELL)
    cell = next((one.name for one in cells if not _in_row(way, one)), None)
    if cell is not None:
        return f"the cell {cell}"
    rail = next((element for element in way.elements if element in fragment.rails), None)
    if rail is None:
        return "the ground"
    return rail if supplies.get(fragment.rails[rail].supply) else f"the dead {rail}"


def _in_row(way: Way, cell: Part) -> bool:
    """Whether a way passes a cell from its minus to its plus: one in series, which gives as much and takes nothing."""
    return any((element, tail, head) == (cell.name, cell.pins["minus"], cell.pins["plus"])
               for element, tail, head in zip(way.elements, way.nets, way.nets[1:], strict=False))


def _named(fragment: Fragment, losses: list[Loss], point: OperatingPoint) -> dict[str, Word]:
    """Where each loss goes and through what, and which parts of the largest can be changed for it.

    A diode that conducts forward there leaks nothing, so another one would not help.
    """
    words: dict[str, Word] = {"losses": tuple(loss.into for loss in losses)}
    words |= {f"losses_{place}_through": loss.through for place, loss in enumerate(losses)}
    parts = [fragment.parts[part] for part in losses[0].parts] if losses else []
    for kind in _CURED:
        if names := tuple(part.name for part in parts if part.kind is kind
                          and not (kind is Kind.DIODE and point.amps.get(part.name, 0.0) > 0)):
            return words | {"kind": str(kind), "changed": names} | ({"spared": names} if kind is Kind.LOAD else {})
    return words
