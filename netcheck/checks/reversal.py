"""Forced discharge: a rail in series with a cell drives current out of it that goes on when it is flat.

A flat cell that is driven on is reversed: a lithium cell then vents or bursts.
"""

from __future__ import annotations

from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Part
from netcheck.parts.catalogue import cell_rules
from netcheck.parts.specs import CellSpec
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.elements import Battery
from netcheck.solving.asking import Asking
from netcheck.solving.flows import flows, part_of, parts_on, turned, widest
from netcheck.solving.solved_states import Survey


def reversals(survey: Survey, cell: Part) -> Asking[list[Finding]]:
    """A danger where rails, or other cells, still drive current out of this cell's plus when it has no volts left."""
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    states = {state.name: state for state in survey.states.states if state.plugged.get(cell.name, True)}
    hot = survey.corners.charge_flat
    flat = Battery(cell.name, cell.pins["plus"], cell.pins["minus"], 0.0, spec.curve[-1].resistance_ohm)
    circuits = {name: circuit_of(survey.fragment, state, survey.corners.hot, without=(cell.name,), extra=(flat,))
                for name, state in states.items()}
    points = yield circuits
    limit_A = cell_rules().leak_aim_A
    forced = {name: point.amps[cell.name] for name, point in points.items()
              if point.known and point.amps[cell.name] > limit_A}
    ways = {}
    for name in forced:
        network = flows(circuits[name], points[name])
        way = widest(network, cell.pins["plus"], cell.pins["minus"], (cell.name,))
        if way is not None and way.amps > limit_A:
            ways[name] = turned(way, circuits[name])
    if not ways:
        return []
    worst = max(ways, key=lambda name: forced[name])
    way = ways[worst]
    source = part_of(survey.fragment, way.elements[0]) or way.elements[0]
    by_cell = source in survey.fragment.parts
    severity = Severity.CAUTION if by_cell else Severity.DANGER
    parts = tuple(name for name in parts_on(survey.fragment, way.elements) if name != source)
    now = survey.at(states[worst], hot)
    gives_A = now.amps.get(cell.name, 0.0) if now.known else 0.0
    return [Finding(
        "reversal", severity, cell.name, case="driven", state=worst,
        parts=(cell.name, *parts, *((source,) if by_cell else ())), line=cell.mark.line,
        words={"source": source, "through": parts}, states=tuple(ways),
        figures={"reversed_A": forced[worst], **({"gives_A": gives_A} if gives_A > 0 else {})})]
