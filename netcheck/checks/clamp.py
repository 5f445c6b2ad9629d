"""A cell as the clamp of a supply: what the loads get with it pulled out of its holder, or dried out."""

from __future__ import annotations

from netcheck.checks.voltage import across, stands
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import AS_FOUND, Part
from netcheck.parts.specs import CellSpec
from netcheck.solving.asking import Asking
from netcheck.solving.solved_states import Survey


def clamping(survey: Survey, cell: Part) -> Asking[list[Finding]]:
    """What stands above its limit only while this cell is out, one finding for each load.

    A caution as found, where nobody is to power it so; a danger in a mod whose cell is not one that may clamp. Unknown
    where a state that has a solution as it stands has none without the cell, at neither corner.
    """
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    states = {state.name: state for state in survey.states.states if state.live and state.plugged.get(cell.name, True)}
    corners = (survey.corners.room, survey.corners.hot)
    standing = survey.standing(cell, states.values())
    points = yield {(state.name, corner.name): survey.circuit(cell, state, corner, without=(cell.name,))
                    for state in {one.name: one for one in standing.values()}.values() for corner in corners}
    findings = []
    for load in survey.loads():
        most_V = stands(load)
        if most_V is None or survey.sections[load.name] is not survey.sections[cell.name]:
            continue
        beyond: dict[str, float] = {}
        unsolved: dict[str, str] = {}
        for name, state in states.items():
            problems = [points[standing[name].name, corner.name].problem for corner in corners
                        if survey.around(cell, state, corner).known]
            if problems and all(problems):
                unsolved[name] = problems[0] or ""
            for corner in corners:
                out, there = points[standing[name].name, corner.name], survey.around(cell, state, corner)
                volts = across(out, load) if out.known else None
                before = across(there, load) if there.known else None
                if volts is not None and volts > most_V and (before is None or before <= most_V):
                    beyond[name] = max(volts, beyond.get(name, 0.0))
        if beyond:
            findings.append(_clamped(survey, cell, spec, load, beyond, most_V))
        for name, why in list(unsolved.items())[:1]:
            findings.append(Finding(
                "clamp", Severity.UNKNOWN, load.name, case="not-solved", state=name, nets=(load.pins["plus"],),
                line=load.mark.line, words={"cell": cell.name, "why": why}))
    return findings


def _clamped(
    survey: Survey, cell: Part, spec: CellSpec, load: Part, beyond: dict[str, float], most_V: float
) -> Finding:
    worst = max(beyond, key=beyond.__getitem__)
    replaced = survey.fragment.variant != AS_FOUND and spec.primary
    severity = Severity.DANGER if replaced else Severity.CAUTION
    return Finding(
        "clamp", severity, load.name, case="primary" if spec.primary else "rechargeable", state=worst,
        parts=(cell.name, load.name), nets=(load.pins["plus"],), line=load.mark.line, words={"cell": cell.name},
        figures={"volts_V": beyond[worst], "limit_V": most_V}, states=tuple(beyond))
