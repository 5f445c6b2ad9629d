"""What each load gets: backup voltage, hand-over, over-voltage, and where the volts go on the way."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence

from netcheck.checks.results import LoadResult
from netcheck.clock import OutOfTime
from netcheck.conduction.graph import Conduction, present
from netcheck.conduction.routes import feed_path
from netcheck.findings import Finding, Severity
from netcheck.fragment.kinds import kinds_where
from netcheck.fragment.model import Kind, Part
from netcheck.fragment.states import State
from netcheck.parts.cell import seems_spent
from netcheck.parts.specs import CellSpec, LoadSpec
from netcheck.quantities.values import Span
from netcheck.simulation.corner import Corner
from netcheck.simulation.elements import OperatingPoint
from netcheck.solving.solved_states import OLD, Survey

THIN_V = 0.1
"""A margin below this is called thin (common practice, no source)."""

_LOGIC_V = 7.0
"""The most that 5 V logic stands on its supply (Intel, 8086 data sheet, p. 14: -1 V to +7 V on any pin; that the TTL
and CMOS families and the memories for 5 V have the same limit is from memory)."""

_CARRIES = 0.1
"""Share of its loads' current from which a cell is said to carry them."""

_TOLD_V = 0.02
"""Volts lost in a part from which it is told to take them."""

_DROP_A = 0.05
"""A part is said to be on the way to the loads from this share of their current upward."""


def needs(load: Part) -> Span | None:
    """The range a load keeps time or data in: the file's own where it gives one."""
    assert isinstance(load.spec, LoadSpec)
    return load.works or load.spec.works


def stands(load: Part) -> float | None:
    """The most volts that a load survives, else works with; None where not stated."""
    span = needs(load)
    works = None if span is None or span.high == float("inf") else span.high
    return works if load.survives_V is None else load.survives_V


def must_be_kept(load: Part) -> bool | None:
    """Whether the file says that a load must be kept alive, or that it need not be; None where it says nothing.

    One that keeps its contents by itself need not be.
    """
    assert isinstance(load.spec, LoadSpec)
    return False if load.kept is None and load.spec.needs_no_cell else load.kept


def across(point: OperatingPoint, part: Part) -> float | None:
    """Volts from plus to minus of a load or cell; None where not known."""
    plus, minus = (point.volts.get(part.pins[pin]) for pin in ("plus", "minus"))
    return None if plus is None or minus is None else plus - minus


def load_result(survey: Survey, load: Part) -> LoadResult:
    """Volts of one load in every state and over the corners."""
    states, corners = survey.states.states, survey.corners
    kept = _kept(survey, load)
    span = needs(load)
    lowest = _extreme(min, survey, kept, load, corners.lowest)
    highest = _extreme(max, survey, states, load, corners.highest)
    stored = next((state for state in kept if not state.live), None)
    return LoadResult(
        volts={state.name: _volts(survey, state, corners.room, load) for state in states},
        lowest_V=lowest,
        highest_V=highest,
        margin_V=None if lowest is None or span is None or math.isinf(span.low) else lowest - span.low,
        needs_V=span.low if span and math.isfinite(span.low) else None,
        stands_V=span.high if span and math.isfinite(span.high) else None,
        aged_V={} if stored is None else {
            "fresh": _volts(survey, stored, corners.room, load),
            "old": _volts(survey, stored, corners.old, load),
            "fresh at the worst": _least(survey, stored, load, corners.lowest_fresh),
            "old at the worst": _least(survey, stored, load, corners.lowest),
        },
        carried_by_cell=tuple(state.name for state in states if carried(survey, state, load)),
        fed_by_rail=tuple(state.name for state in states if survey.as_set(state) and all(state.supplies.values())
                          and survey.feeds[state.name, load.name].by_rail),
        reached_by=frozenset(cell for state in states if not state.live
                             for cell in survey.feeds[state.name, load.name].by_cells),
    )


def _kept(survey: Survey, load: Part) -> list[State]:
    """The states in which the load is to be kept alive: jumpers as set, and something that can feed it."""
    return [s for s in survey.states.states if survey.as_set(s) and (s.live or must_be_kept(load) is not False)
            and (survey.feeds[s.name, load.name].by_rail or survey.feeds[s.name, load.name].by_cells)]


def _volts(survey: Survey, state: State, corner: Corner, part: Part) -> float | None:
    point = survey.at(state, corner)
    return across(point, part) if point.known else None


def _least(survey: Survey, state: State, load: Part, corners: tuple[Corner, ...]) -> float | None:
    return _extreme(min, survey, (state,), load, corners)


def _extreme(
    pick: Callable[[list[float]], float], survey: Survey, states: Iterable[State], load: Part,
    corners: tuple[Corner, ...],
) -> float | None:
    """The lowest or highest volts of a load; None where one is not known. A load that floats has none."""
    points = [survey.at(state, corner) for state in states for corner in corners]
    volts = [across(point, load) for point in points if point.known]
    settled = [value for value in volts if value is not None]
    return pick(settled) if settled and len(volts) == len(points) else None


def carried(survey: Survey, state: State, load: Part, corner: Corner | None = None) -> bool:
    """Whether a cell supplies this load in a state, as simulated: it can reach it, and it gives current."""
    point = survey.at(state, corner or survey.corners.room)
    supplied = survey.feeds[state.name, load.name]
    if not point.known:
        return False
    drawn = point.amps.get(load.name, 0.0)
    graph = survey.conduction(state)
    given = sum(_arriving(survey, graph, point, load, cell) for cell in supplied.by_cells)
    return drawn > 0 and given >= _CARRIES * drawn


def _arriving(survey: Survey, graph: Conduction, point: OperatingPoint, load: Part, cell: str) -> float:
    """Current on the way from a cell to a load: the least along it, and no more than the cell gives."""
    amps = [max(0.0, point.amps.get(cell, 0.0))]
    for name, tail, head in feed_path(survey.fragment, graph, load, cell):
        amps.append(_along(survey.fragment.parts[name], tail, head, point))
    return min(amps)


def _along(part: Part, tail: str, head: str, point: OperatingPoint) -> float:
    """Current through a part from one net to another; 0 where it flows the other way."""
    tail_V, head_V = point.volts.get(tail), point.volts.get(head)
    if tail_V is None or head_V is None or tail_V < head_V:
        return 0.0
    return abs(point.amps.get(part.name, 0.0))


def drops(survey: Survey, state: State, loads: Iterable[Part] | None = None) -> dict[str, float]:
    """Volts lost in each part on the way to the loads (all unless some are given), nominal; empty where unknown."""
    point = survey.at(state, survey.corners.room)
    if not point.known:
        return {}
    graph = survey.conduction(state)
    sources = [*(net for net, held in graph.held.items() if held.live),
               *(cell.name for cell in survey.cells() if present(cell, state))]
    found: dict[str, float] = {}
    for load in survey.loads() if loads is None else loads:
        drawn = point.amps.get(load.name, 0.0)
        for source in sources:
            path = feed_path(survey.fragment, graph, load, source)
            for name, tail, head in path:
                part = survey.fragment.parts[name]
                one, other = point.volts.get(tail), point.volts.get(head)
                if part.kind in _DROPPING and drawn > 0 and one is not None and other is not None and \
                        _along(part, tail, head, point) >= _DROP_A * drawn:
                    found[name] = one - other
    return found


_DROPPING = kinds_where("drops")


def voltage_findings(survey: Survey, load: Part, found: LoadResult) -> list[Finding]:
    """Backup voltage, over-voltage and hand-over of one load."""
    span = needs(load)
    if span is None:
        beyond = _unlimited(survey, load, found.volts)
        if beyond or (isinstance(load.spec, LoadSpec) and load.spec.needs_no_cell):
            return beyond
        return [Finding("backup-voltage", Severity.NOTE, load.name, case="not-stated", line=load.mark.line)]
    return [
        *_backup(survey, load, found, span),
        *_overvoltage(survey, load, found.volts, span),
        *_hand_over(survey, load),
    ]


def _unlimited(survey: Survey, load: Part, at_room: Mapping[str, float | None]) -> list[Finding]:
    """Of a load whose range is not stated: beyond what it survives, or unknown where 5 V logic would not survive it."""
    if load.survives_V is not None:
        return _overvoltage(survey, load, at_room, Span(-math.inf, load.survives_V, "V"))
    most = {state.name: max(volts) for state in survey.states.states if (volts := _most(survey, state, load))}
    state = max(most, key=most.__getitem__, default=None)
    if state is None or most[state] <= _LOGIC_V:
        return []
    return [Finding(
        "over-voltage", Severity.UNKNOWN, load.name, case="not-stated", state=state, parts=(load.name,),
        nets=(load.pins["plus"],), line=load.mark.line, figures={"volts_V": most[state], "logic_V": _LOGIC_V})]


def _most(survey: Survey, state: State, load: Part) -> list[float]:
    """The volts of a load at the corners at which they are highest, of those that are known."""
    return [volts for corner in survey.corners.highest
            if (volts := _volts(survey, state, corner, load)) is not None]


def _backup(survey: Survey, load: Part, found: LoadResult, span: Span) -> list[Finding]:
    findings = []
    usual = {state.name: [volts for corner in (survey.corners.room, survey.corners.usual)
                          if (volts := _volts(survey, state, corner, load)) is not None]
             for state in _kept(survey, load)}
    low = [(state, min(usual[state.name])) for state in _kept(survey, load)
           if usual[state.name] and min(usual[state.name]) < span.low]
    if low:
        state, volts = min(low, key=lambda pair: pair[1])
        fresh = found.volts[state.name]
        case = _short_case(survey, state, load)
        lost_V = drops(survey, state)
        taker = _taker(survey, lost_V) if case == "short-of-cell" else {}
        age = {} if not survey.cells() else {"cell": "fresh" if fresh is not None and fresh < span.low else "half used"}
        findings.append(Finding(
            "backup-voltage", Severity.FAILS, load.name,
            case=case, words={**age, **_dead_cells(survey, state, load), **taker},
            state=state.name, parts=tuple(lost_V), nets=(load.pins["plus"],), line=load.mark.line,
            figures={"volts_V": volts, "needs_V": span.low,
                     **({"taken_V": max(lost_V.values())} if taker else {})},
            states=tuple(state.name for state, _ in low)))
    elif found.margin_V is not None and found.margin_V < THIN_V:
        findings.append(_thin(survey, load, found, span))
    backed = any(survey.feeds[state.name, load.name].by_cells for state in survey.states.states)
    unfed = [state for state in survey.states.states if survey.is_resting(state)
             and (all(state.supplies.values()) if state.live else backed and must_be_kept(load) is not False)
             and not survey.feeds[state.name, load.name].by_rail
             and not survey.feeds[state.name, load.name].by_cells]
    if unfed:
        findings.append(Finding(
            "backup-voltage", Severity.FAILS, load.name, case="not-fed", state=unfed[0].name, parts=(load.name,),
            nets=(load.pins["plus"],), line=load.mark.line))
    return findings


def _taker(survey: Survey, lost_V: Mapping[str, float]) -> dict[str, str]:
    """The part that takes the most volts on the way to a load, and its kind; nothing where none takes any."""
    most = max(lost_V, key=lost_V.__getitem__, default=None)
    if most is None or lost_V[most] < _TOLD_V:
        return {}
    kind = survey.fragment.parts[most].kind
    return {"taker": most, "kind": str(kind) if kind in (Kind.DIODE, Kind.RESISTOR) else "other"}


def _dead_cells(survey: Survey, state: State, load: Part) -> dict[str, tuple[str, ...]]:
    """The cells that should feed a load and that the meter found spent."""
    dead = tuple(name for name in sorted(survey.feeds[state.name, load.name].by_cells)
                 if isinstance(spec := survey.fragment.parts[name].spec, CellSpec)
                 and seems_spent(spec, survey.fragment.parts[name].measured_V))
    return {"dead": dead} if dead else {}


def _short_case(survey: Survey, state: State, load: Part) -> str:
    if _dead_cells(survey, state, load):
        return "short-of-dead"
    return "short-of-cell" if survey.feeds[state.name, load.name].by_cells else "short-of-rail"


def _thin(survey: Survey, load: Part, found: LoadResult, span: Span) -> Finding:
    corners = survey.corners
    kept = _kept(survey, load)
    fresh = _extreme(min, survey, kept, load, corners.lowest_fresh)
    early = fresh is not None and fresh - span.low < THIN_V
    volts = fresh if early else found.lowest_V
    assert volts is not None
    return Finding(
        "backup-voltage", Severity.CAUTION, load.name, case=_thin_case(survey),
        words={"when": "no cell" if not survey.cells() else "fresh" if early else "old"},
        parts=(load.name,), nets=(load.pins["plus"],), line=load.mark.line,
        figures={"volts_V": volts, "needs_V": span.low, "margin_V": volts - span.low, "used_share": OLD})


def _thin_case(survey: Survey) -> str:
    if not survey.cells():
        return "thin-of-rail"
    return "thin-by-diode" if _by_diode(survey) else "thin"


def _by_diode(survey: Survey) -> bool:
    """Whether a diode takes the most volts on the way to a load, so that another one may give more."""
    stored = survey.resting(False)
    return stored is not None and _taker(survey, drops(survey, stored)).get("kind") == str(Kind.DIODE)


def _overvoltage(survey: Survey, load: Part, at_room: Mapping[str, float | None], span: Span) -> list[Finding]:
    """Above what it survives a danger, above what it works with a caution; so is what only the tolerances do.

    Of what is known: a state or a corner without a solution hides no harm in another.
    """
    survives = stands(load)
    most = {state.name: max(volts) for state in survey.states.states if (volts := _most(survey, state, load))}
    if survives is None or max(most.values(), default=-math.inf) <= span.high:
        return []
    nominal = {name: volts for name, volts in at_room.items() if volts is not None}
    state = max(most, key=lambda name: (nominal.get(name, 0.0) > survives, most[name]))
    dangerous = tuple(name for name, volts in nominal.items() if volts > survives)
    beyond = tuple(name for name, volts in most.items() if volts > span.high)
    beyond_all = most[state] > survives or survives <= span.high
    return [Finding(
        "over-voltage", Severity.DANGER if dangerous else Severity.CAUTION, load.name,
        case=_over_case(survey, load, state, beyond_all), state=state, parts=(load.name,), nets=(load.pins["plus"],),
        line=load.mark.line,
        words={"cells": tuple(sorted(survey.feeds[state, load.name].by_cells)),
               **({} if nominal.get(state, 0.0) > span.high else {"at": "tolerances"})},
        figures={"volts_V": most[state], "limit_V": survives, **({} if beyond_all else {"works_V": span.high})},
        states=dangerous or beyond)]


def _over_case(survey: Survey, load: Part, state: str, survives: bool) -> str:
    """Whether it is beyond what the load survives or only beyond what it works with, and by a cell alone or not."""
    fed = survey.feeds[state, load.name]
    return ("beyond" if survives else "beyond-works") + ("-by-cell" if fed.by_cells and not fed.by_rail else "")


def _hand_over(survey: Survey, load: Part) -> list[Finding]:
    """While a rail is live the rail must carry the load: with the supply low and the cell fresh as well."""
    low_supply = survey.corners.cold
    for corner, severity in ((survey.corners.room, Severity.CAUTION), (low_supply, Severity.NOTE)):
        for state in survey.states.states:
            supplied = survey.feeds[state.name, load.name]
            wears = any(not _capacitor(survey.fragment.parts[cell]) for cell in supplied.by_cells)
            by_rail = survey.as_set(state) and supplied.by_rail and wears
            if by_rail and carried(survey, state, load, corner):
                cells = [cell for cell in sorted(survey.feeds[state.name, load.name].by_cells)
                         if survey.at(state, corner).amps.get(cell, 0.0) > 0]
                return [Finding(
                    "hand-over", severity, load.name, case="usual" if corner is survey.corners.room else "low-supply",
                    state=state.name, parts=tuple(cells), nets=(load.pins["plus"],), line=load.mark.line)]
    return []


def _capacitor(cell: Part) -> bool:
    """Whether a cell is a supercapacitor, which takes back from the rail whatever it gave."""
    assert isinstance(cell.spec, CellSpec)
    return cell.spec.capacitance_F is not None


def net_volts(survey: Survey, state: State) -> dict[str, float | None]:
    """Every net's volts against ground, nominal; None for a net that floats or is not known."""
    point = survey.at(state, survey.corners.room)
    return {net: point.volts.get(net) for net in survey.fragment.nets}


def unknown_points(survey: Survey, points: Sequence[tuple[State, OperatingPoint]]) -> list[Finding]:
    """One finding for each reason why an operating point has no result."""
    reasons: dict[str, str] = {}
    for state, point in points:
        if point.problem is not None:
            reasons.setdefault(point.problem, state.name)
    return [
        Finding("simulation", Severity.UNKNOWN, survey.fragment.title, state=state, words={"why": reason},
                case="state-late" if isinstance(reason, OutOfTime) else "state-unknown")
        for reason, state in reasons.items()
    ]
