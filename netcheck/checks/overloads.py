"""What draws too much, in any position the board can be put into: a supply or cell short-circuited, a part overloaded.

A dead short has one answer whatever makes it: jumper, switch, fuse, bead, inductor or a resistor of next to nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise

import networkx as nx
from msgspec.structs import replace

from netcheck.checks.voltage import across
from netcheck.conduction.graph import Held, held_nets, present
from netcheck.findings import Finding, Severity
from netcheck.fragment.kinds import COPPER
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.states import State, joined_pins
from netcheck.parts.cell import volts
from netcheck.parts.specs import (
    CellSpec,
    DiodeSpec,
    FuseSpec,
    InductorSpec,
    LinkSpec,
    RelaySpec,
    ResistorSpec,
    TrimmerSpec,
)
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.elements import OperatingPoint
from netcheck.solving.flows import flows, parts_on, widest
from netcheck.solving.solved_states import Survey

_SMALL_W = 0.25
"""What a small resistor stands where the file does not say (common practice, no source)."""

LARGE_W = 10.0
"""What no resistor of a small board stands, whatever its size (common practice, no source)."""

LARGE_A = 30.0
"""What no diode of a small board passes for good, whatever its size (common practice, no source)."""

_SHORT_OHM = 1.0
"""Resistance from a supply to another net of fixed volts below which it is a short-circuit."""

PULLED_DOWN = 0.8
"""A fresh cell pulled below this share of its own volts is called short-circuited (common practice, no source)."""


def excess_findings(survey: Survey) -> list[Finding]:
    """One finding for each supply, cell, diode and resistor that a state overloads, the state as set first."""
    states = sorted(survey.states.states, key=lambda state: not survey.is_resting(state))
    judged = {Kind.CELL: _shorted_cell, Kind.DIODE: _overloaded_diode, Kind.RESISTOR: _hot_resistor,
              Kind.TRIMMER: _hot_trimmer}
    by_diodes = _shorted_by_diodes(survey, states)
    covered = {(name, state) for finding in by_diodes for state in finding.states for name in finding.parts}
    findings = [*_shorted_supplies(survey, [*states, *survey.unreached]), *by_diodes, *_cells_by_copper(survey, states)]
    for kind, judge in judged.items():
        for part in survey.fragment.of_kind(kind):
            told = [found for state in states if (part.name, state.name) not in covered
                    and (found := judge(survey, part, state, survey.at(state, survey.corners.room))) is not None]
            findings += _in_every_state(told)
    return findings


def _in_every_state(told: list[Finding]) -> list[Finding]:
    """The first of the gravest, which tells of all the states that it holds in."""
    if not told:
        return []
    gravest = min(told, key=lambda finding: list(Severity).index(finding.severity))
    same = tuple(finding.state for finding in told if finding.severity is gravest.severity and finding.state)
    return [replace(gravest, states=same)]


def _shorted_supplies(survey: Survey, states: list[State]) -> list[Finding]:
    """Nets of fixed and different volts that next to no resistance joins, each pair once."""
    findings: dict[tuple[frozenset[str], tuple[str, ...]], list[Finding]] = {}
    for state in states:
        held = held_nets(survey.fragment, state)
        links = next_to_nothing(survey.fragment, state)
        for one, other in _apart(held):
            if (joined := _joining(links, one.net, other.net)) is not None:
                finding = _short(survey, one, other, state, *joined)
                findings.setdefault((frozenset((one.net, other.net)), joined[0]), []).append(finding)
    return [finding for told in findings.values() for finding in _in_every_state(told)]


def _shorted_by_diodes(survey: Survey, states: list[State]) -> list[Finding]:
    """Nets of fixed and different volts with nothing but diodes between them, which pass more than they stand."""
    told: dict[tuple[str, str, tuple[str, ...]], list[Finding]] = {}
    for state in states:
        point = survey.at(state, survey.corners.room)
        if not any(_beyond(part, point.amps.get(part.name, 0.0)) for part in survey.fragment.of_kind(Kind.DIODE)):
            continue
        found = flows(circuit_of(survey.fragment, state, survey.corners.room), point)
        for one, other in _apart(held_nets(survey.fragment, state)):
            start, end = (one, other) if one.low_V > other.high_V else (other, one)
            way = widest(found, start.net, end.net)
            parts = parts_on(survey.fragment, way.elements) if way else ()
            if way is not None and all(_alone(survey.fragment.parts[name]) for name in parts) and any(
                    _beyond(survey.fragment.parts[name], way.amps) for name in parts):
                told.setdefault((one.net, other.net, parts), []).append(
                    _by_diodes(survey, one, other, state, parts, way.amps))
    return [finding for found in told.values() for finding in _in_every_state(found)]


def _by_diodes(
    survey: Survey, live: Held, other: Held, state: State, parts: tuple[str, ...], amps: float
) -> Finding:
    limits = {name: _stands_A(spec) for name in parts
              if isinstance(spec := survey.fragment.parts[name].spec, DiodeSpec)}
    weakest = min(limits, key=limits.__getitem__)
    rated = limits[weakest] < LARGE_A
    return Finding(
        "short-circuit", Severity.DANGER, live.net, case="supply-by-diodes" if rated else "supply-by-any-diodes",
        state=state.name, parts=parts, nets=(live.net, other.net), line=survey.fragment.rails[live.net].mark.line,
        words={"other": other.net, **({"weakest": weakest} if rated else {})},
        figures={"current_A": amps, "limit_A": limits[weakest]})


def _alone(part: Part) -> bool:
    """Whether nothing of a part limits a current: a diode, or next to nothing."""
    return part.kind is Kind.DIODE or _ohm(part) <= _SHORT_OHM


def _beyond(part: Part, amps: float) -> bool:
    """Whether it is more than a diode stands."""
    return isinstance(part.spec, DiodeSpec) and abs(amps) > _stands_A(part.spec)


def _stands_A(spec: DiodeSpec) -> float:
    return LARGE_A if spec.current_A is None else spec.current_A


def _cells_by_copper(survey: Survey, states: list[State]) -> list[Finding]:
    """Cells whose ends next to nothing joins in a state without a solution; the simulator decides all others."""
    told: dict[str, list[Finding]] = {}
    unsolved = [state for state in states if not survey.at(state, survey.corners.room).known]
    for state in (*unsolved, *survey.unreached):
        links = next_to_nothing(survey.fragment, state)
        for cell in survey.cells():
            joined = _joining(links, cell.pins["plus"], cell.pins["minus"]) if present(cell, state) else None
            if joined is not None:
                parts, _ = joined
                told.setdefault(cell.name, []).append(Finding(
                    "short-circuit", Severity.DANGER, cell.name, case="cell-by-copper", state=state.name,
                    parts=(cell.name, *parts), line=cell.mark.line, words={"through": parts}))
    return [finding for found in told.values() for finding in _in_every_state(found)]


def _apart(held: Mapping[str, Held]) -> Iterator[tuple[Held, Held]]:
    """The pairs of held nets of which one is live and stands above the other, or below it."""
    for one in held.values():
        for other in held.values():
            if one.low_V > other.high_V and (one.live or other.live):
                yield (one, other) if one.live else (other, one)


def _joining(links: nx.Graph[str], one: str, other: str) -> tuple[tuple[str, ...], float] | None:
    """The parts by which next to nothing joins two nets, and their resistance [ohm]; None where nothing does."""
    if one not in links or other not in links or not nx.has_path(links, one, other):
        return None
    ohm, path = nx.single_source_dijkstra(links, one, other, weight="ohm")
    return (tuple(links[a][b]["part"] for a, b in pairwise(path)), ohm) if ohm <= _SHORT_OHM else None


def next_to_nothing(fragment: Fragment, state: State) -> nx.Graph[str]:
    """Every part that is next to nothing between two nets, with its resistance."""
    graph: nx.Graph[str] = nx.Graph()
    for part in fragment.of_kind(Kind.RESISTOR, Kind.INDUCTOR, Kind.FUSE, *COPPER):
        if not present(part, state):
            continue
        ohm = _ohm(part)
        pairs = joined_pins(part, state.positions[part.name]) if part.kind in COPPER else (
            ("1", "2"),)
        for one, two in pairs:
            a, b = part.pins[one], part.pins[two]
            if ohm <= _SHORT_OHM and a != b and (not graph.has_edge(a, b) or graph[a][b]["ohm"] > ohm):
                graph.add_edge(a, b, ohm=ohm, part=part.name)
    return graph


def _ohm(part: Part) -> float:
    match part.spec:
        case ResistorSpec(resistance=value):
            return value.value
        case InductorSpec(resistance_ohm=ohm) | FuseSpec(resistance_ohm=ohm) | LinkSpec(resistance_ohm=ohm):
            return ohm
        case RelaySpec(contact_ohm=ohm):
            return ohm
    return float("inf")


def _short(
    survey: Survey, live: Held, other: Held, state: State, parts: tuple[str, ...], ohm: float
) -> Finding:
    rail = survey.fragment.rails[live.net]
    apart_V = abs(live.high_V - other.low_V)
    return Finding(
        "short-circuit", Severity.DANGER, live.net, case="supply" if ohm else "supply-by-copper", state=state.name,
        parts=parts, nets=(live.net, other.net), line=rail.mark.line, words={"other": other.net},
        figures={"ohm": ohm, **({"current_A": apart_V / ohm} if ohm else {})})


def _shorted_cell(survey: Survey, cell: Part, state: State, point: OperatingPoint) -> Finding | None:
    """A cell that gives more than it may for good, or that is pulled down; through a load it is overloaded."""
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    left_V, gives_A = across(point, cell), point.amps.get(cell.name, 0.0)
    if left_V is None or gives_A <= 0:
        return None
    pulled = left_V < PULLED_DOWN * volts(spec, 0.0, cell.measured_V)
    limit_A = spec.continuous_A
    if not pulled and (limit_A is None or gives_A <= limit_A):
        return None
    way = widest(flows(circuit_of(survey.fragment, state, survey.corners.room), point),
                 cell.pins["plus"], cell.pins["minus"], (cell.name,))
    parts = parts_on(survey.fragment, way.elements) if way else ()
    working = any(survey.fragment.parts[name].kind is Kind.LOAD for name in parts)
    return Finding(
        "over-current" if working else "short-circuit", Severity.CAUTION if working else Severity.DANGER, cell.name,
        case="cell" if working or pulled else "cell-drained", state=state.name, parts=(cell.name, *parts),
        line=cell.mark.line, words={"through": parts},
        figures={"current_A": gives_A, "volts_V": left_V, **({} if limit_A is None else {"limit_A": limit_A})})


def _overloaded_diode(survey: Survey, part: Part, state: State, point: OperatingPoint) -> Finding | None:
    spec = part.spec
    assert isinstance(spec, DiodeSpec)
    amps = point.amps.get(part.name, 0.0)
    if amps <= _stands_A(spec):
        return None
    case, words = ("any-diode", {}) if spec.current_A is None else ("diode", {"type": spec.name})
    return Finding(
        "over-current", Severity.DANGER, part.name, case=case, state=state.name, parts=(part.name,),
        nets=part.nets, line=part.mark.line, words=words, figures={"current_A": amps, "limit_A": _stands_A(spec)})


def _hot_resistor(survey: Survey, part: Part, state: State, point: OperatingPoint) -> Finding | None:
    """A resistor beyond its power: as stated, or the quarter of a watt of a small one."""
    spec = part.spec
    assert isinstance(spec, ResistorSpec)
    stated = spec.power_W is not None
    limit_W = _SMALL_W if spec.power_W is None else spec.power_W
    watts = point.amps.get(part.name, 0.0) ** 2 * spec.resistance.value
    if watts <= limit_W:
        return None
    return Finding(
        "over-power", Severity.DANGER if stated or watts > LARGE_W else Severity.CAUTION, part.name,
        case="resistor" if stated else "small-resistor", state=state.name, parts=(part.name,), nets=part.nets,
        line=part.mark.line, figures={"power_W": watts, "limit_W": limit_W})


def _hot_trimmer(survey: Survey, part: Part, state: State, point: OperatingPoint) -> Finding | None:
    """A trimmer's track bears, in any piece of it, the current that its power allows in the whole of it."""
    spec = part.spec
    assert isinstance(spec, TrimmerSpec)
    limit_W = _SMALL_W if spec.power_W is None else spec.power_W
    most_A = max(abs(point.amps.get(name, 0.0)) for name in (part.name, f"{part.name}.2"))
    limit_A = (limit_W / spec.resistance.value) ** 0.5
    if most_A <= limit_A:
        return None
    stated = spec.power_W is not None
    return Finding(
        "over-current", Severity.DANGER if stated else Severity.CAUTION, part.name,
        case="trimmer" if stated else "small-trimmer", state=state.name, parts=(part.name,), nets=part.nets,
        line=part.mark.line, figures={"current_A": most_A, "limit_A": limit_A, "limit_W": limit_W})
