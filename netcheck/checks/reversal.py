"""Forced discharge: a rail in series with a cell drives current out of it that goes on when it is flat.

A flat cell that is driven on is reversed: a lithium cell then vents or bursts. Another cell can do it only while it is
not flat itself: cells of one type that are equally used go flat together, to within their spread, which is one failure
(a weak specimen) away; of unlike ones the one that lasts longer drives the other for good.
"""

from __future__ import annotations

from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Part
from netcheck.parts.catalogue import cell_rules
from netcheck.parts.cell import depth_at
from netcheck.parts.specs import CellSpec
from netcheck.simulation.elements import Battery
from netcheck.solving.asking import Asking
from netcheck.solving.flows import flows, part_of, parts_on, turned, widest
from netcheck.solving.solved_states import Survey


def reversals(survey: Survey, cell: Part) -> Asking[list[Finding]]:
    """Rails or other cells that still drive current out of this cell's plus when it has no volts left.

    A danger by rails, and of a primary cell by another cell that outlasts it; by one like it a caution. Unknown where
    a state that has a solution as it stands has none with the cell flat.
    """
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    states = {state.name: state for state in survey.states.states if state.plugged.get(cell.name, True)}
    hot = survey.corners.charge_flat
    flat = Battery(cell.name, cell.pins["plus"], cell.pins["minus"], 0.0, spec.curve[-1].resistance_ohm)
    standing = survey.standing(cell, states.values())
    asked = {state.name: survey.circuit(cell, state, survey.corners.hot, without=(cell.name,), extra=(flat,))
             for state in standing.values()}
    found = yield asked
    circuits = {name: asked[state.name] for name, state in standing.items()}
    points = {name: found[state.name] for name, state in standing.items()}
    limit_A = cell_rules().leak_aim_A
    forced = {name: point.amps[cell.name] for name, point in points.items()
              if point.known and point.amps[cell.name] > limit_A}
    ways = {}
    for name in forced:
        network = flows(circuits[name], points[name])
        way = widest(network, cell.pins["plus"], cell.pins["minus"], (cell.name,))
        if way is not None and way.amps > limit_A:
            ways[name] = turned(way, circuits[name])
    unknown = _unknown(cell, next(((name, point.problem) for name, point in points.items()
                                   if point.problem and survey.at(states[name], survey.corners.hot).known), None))
    if not ways:
        return unknown
    worst = max(ways, key=lambda name: forced[name])
    way = ways[worst]
    source = part_of(survey.fragment, way.elements[0]) or way.elements[0]
    by_cell = source in survey.fragment.parts
    alike = by_cell and not _outlasts(survey.fragment.parts[source], cell)
    severity = Severity.CAUTION if by_cell and (alike or not spec.primary) else Severity.DANGER
    parts = tuple(name for name in parts_on(survey.fragment, way.elements) if name != source)
    now = survey.at(states[worst], hot)
    gives_A = now.amps.get(cell.name, 0.0) if now.known else 0.0
    return [Finding(
        "reversal", severity, cell.name, case="alike" if alike else "unlike" if by_cell else "driven", state=worst,
        parts=(cell.name, *parts, *((source,) if by_cell else ())), line=cell.mark.line,
        words={"source": source, "through": parts}, states=tuple(ways),
        figures={"reversed_A": forced[worst], **({"gives_A": gives_A} if gives_A > 0 else {})}), *unknown]


def _unknown(cell: Part, unsolved: tuple[str, str] | None) -> list[Finding]:
    """unsolved: a state, and why it has no solution with the cell flat."""
    if unsolved is None:
        return []
    state, why = unsolved
    return [Finding("reversal", Severity.UNKNOWN, cell.name, case="not-solved", state=state, line=cell.mark.line,
                    words={"why": why})]


_SURELY_LESS = 0.5
"""An unlike cell with less than this share of the other's charge left is flat first (common practice, no source)."""

_EQUALLY = 0.1
"""Two cells of one type whose used shares differ by less count as equally used (common practice, no source)."""


def _outlasts(driver: Part, driven: Part) -> bool:
    """Whether a cell in series may still give current when the other is flat."""
    one, other = driver.spec, driven.spec
    assert isinstance(one, CellSpec)
    assert isinstance(other, CellSpec)
    used, spent = (depth_at(part.spec, part.measured_V) for part in (driver, driven) if isinstance(part.spec, CellSpec))
    if one.name == other.name:
        return spent - used > _EQUALLY
    if one.capacitance_F is not None:
        return False
    return one.capacity_Ah * (1 - used) > _SURELY_LESS * other.capacity_Ah * (1 - spent)
