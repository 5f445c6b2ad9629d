"""What draws too much: a cell that is short-circuited, a diode beyond its rated current."""

from __future__ import annotations

from netcheck.checks.survey import Survey
from netcheck.checks.voltage import across
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Kind, Part
from netcheck.fragment.states import State
from netcheck.fragment.values import engineering
from netcheck.parts.cell import volts
from netcheck.parts.specs import CellSpec, DiodeSpec
from netcheck.simulation.elements import OperatingPoint

_PULLED_DOWN = 0.8
"""A fresh cell pulled below this share of its own volts is called short-circuited (common practice, no source)."""


def excess_findings(survey: Survey) -> list[Finding]:
    """One finding for each cell and each diode that a state overloads, the state as set first."""
    states = sorted(survey.states.states, key=lambda state: not survey.is_resting(state))
    return [*_shorted_cells(survey, states), *_overloaded_diodes(survey, states)]


def _shorted_cells(survey: Survey, states: list[State]) -> list[Finding]:
    findings = []
    for cell in survey.cells():
        spec = cell.spec
        assert isinstance(spec, CellSpec)
        own_V = volts(spec, 0.0, cell.measured_V)
        for state in states:
            point = survey.at(state, survey.corners.room)
            left_V = across(point, cell) if point.known and cell.name in point.amps else None
            if left_V is not None and point.amps[cell.name] > 0 and left_V < _PULLED_DOWN * own_V:
                findings.append(Finding(
                    "short-circuit", _severity(survey, state), cell.name,
                    f"In state {state.name} {cell.name} is all but short-circuited: it gives "
                    f"{engineering(point.amps[cell.name], 'A')} and is pulled down to {engineering(left_V, 'V')}.",
                    "Take the cell out before the board is put into this state, or keep its current small with a "
                    "resistor.", state.name, (cell.name, *_carrying(survey, point, cell)), (), cell.mark.line))
                break
    return findings


def _overloaded_diodes(survey: Survey, states: list[State]) -> list[Finding]:
    findings = []
    for part in survey.fragment.of_kind(Kind.DIODE):
        spec = part.spec
        assert isinstance(spec, DiodeSpec)
        for state in states:
            point = survey.at(state, survey.corners.room)
            amps = point.amps.get(part.name, 0.0) if point.known else 0.0
            if spec.current_A is not None and amps > spec.current_A:
                findings.append(Finding(
                    "over-current", _severity(survey, state), part.name,
                    f"In state {state.name} {engineering(amps, 'A')} would flow through {part.name}, a {spec.name} "
                    f"for {engineering(spec.current_A, 'A')} at most: it burns, or what feeds it gives way first.",
                    "Keep the board out of this state while it is powered, or limit the current.",
                    state.name, (part.name,), part.nets, part.mark.line))
                break
    return findings


def _severity(survey: Survey, state: State) -> Severity:
    """Danger where the board stands so by itself, caution where somebody has to put it so."""
    return Severity.DANGER if survey.is_resting(state) else Severity.CAUTION


def _carrying(survey: Survey, point: OperatingPoint, cell: Part) -> list[str]:
    """The parts that carry most of what the cell gives."""
    kinds = (Kind.DIODE, Kind.RESISTOR, Kind.JUMPER, Kind.SWITCH, Kind.TRANSISTOR)
    return [part.name for part in survey.fragment.of_kind(*kinds)
            if abs(point.amps.get(part.name, 0.0)) > 0.5 * point.amps[cell.name]]
