"""What draws too much: a cell or a supply that is short-circuited, a part beyond its rating."""

from __future__ import annotations

import networkx as nx

from netcheck.checks.expectations import linked
from netcheck.checks.voltage import across
from netcheck.findings import Finding, Severity
from netcheck.fragment.kinds import OHMIC
from netcheck.fragment.model import Kind, Part
from netcheck.fragment.states import State
from netcheck.parts.cell import volts
from netcheck.parts.specs import CellSpec, DiodeSpec, ResistorSpec, TrimmerSpec
from netcheck.quantities.values import engineering
from netcheck.simulation.elements import OperatingPoint
from netcheck.solving.solved_states import Survey

_SMALL_W = 0.25
"""What a small resistor stands where the file does not say (common practice, no source)."""

_PULLED_DOWN = 0.8
"""A fresh cell pulled below this share of its own volts is called short-circuited (common practice, no source)."""


def excess_findings(survey: Survey) -> list[Finding]:
    """One finding for each pair of rails, cell, diode and resistor that a state overloads, the state as set first."""
    states = sorted(survey.states.states, key=lambda state: not survey.is_resting(state))
    judged = {Kind.CELL: _shorted_cell, Kind.DIODE: _overloaded_diode, Kind.RESISTOR: _hot_resistor,
              Kind.TRIMMER: _hot_trimmer}
    findings = _joined_rails(survey, states)
    for kind, judge in judged.items():
        for part in survey.fragment.of_kind(kind):
            told = (judge(survey, part, state, survey.at(state, survey.corners.room)) for state in states)
            findings += list(filter(None, told))[:1]
    return findings


def _joined_rails(survey: Survey, states: list[State]) -> list[Finding]:
    """Held nets of different potential that jumpers and switches join, each pair once."""
    findings: dict[frozenset[str], Finding] = {}
    for state in states:
        held, links = survey.conduction(state).held, linked(survey, state)
        for one in held.values():
            for other in held.values():
                apart = one.low_V > other.high_V and one.live
                pair = frozenset((one.net, other.net))
                if not apart or pair in findings or not nx.has_path(links, one.net, other.net):
                    continue
                rail = survey.fragment.rails[one.net]
                findings[pair] = Finding(
                    "short-circuit", _severity(survey, state), one.net,
                    f"In state {state.name} jumpers or switches join {one.net} with {other.net}: the supply is "
                    "short-circuited.", "Keep the board out of this state while it is powered.",
                    state.name, (), (one.net, other.net), rail.mark.line)
    return list(findings.values())


def _shorted_cell(survey: Survey, cell: Part, state: State, point: OperatingPoint) -> Finding | None:
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    left_V, gives_A = across(point, cell), point.amps.get(cell.name, 0.0)
    if left_V is None or gives_A <= 0 or left_V >= _PULLED_DOWN * volts(spec, 0.0, cell.measured_V):
        return None
    return Finding(
        "short-circuit", _severity(survey, state), cell.name,
        f"In state {state.name} {cell.name} is all but short-circuited: it gives {engineering(gives_A, 'A')} and is "
        f"pulled down to {engineering(left_V, 'V')}.",
        "Take the cell out before the board is put into this state, or keep its current small with a resistor.",
        state.name, (cell.name, *_carrying(survey, point, cell)), (), cell.mark.line)


def _overloaded_diode(survey: Survey, part: Part, state: State, point: OperatingPoint) -> Finding | None:
    spec = part.spec
    assert isinstance(spec, DiodeSpec)
    amps = point.amps.get(part.name, 0.0)
    if spec.current_A is None or amps <= spec.current_A:
        return None
    return Finding(
        "over-current", _severity(survey, state), part.name,
        f"In state {state.name} {engineering(amps, 'A')} would flow through {part.name}, a {spec.name} "
        f"for {engineering(spec.current_A, 'A')} at most: it burns, or what feeds it gives way first.",
        "Keep the board out of this state while it is powered, or limit the current.",
        state.name, (part.name,), part.nets, part.mark.line)


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
        "over-power", _severity(survey, state) if stated else Severity.CAUTION, part.name,
        f"In state {state.name} {part.name} turns {engineering(watts, 'W')} into heat; "
        f"{'it stands' if stated else 'a small one stands'} {engineering(limit_W, 'W')}.",
        "" if stated else "State its rating, for example power: 1 W.",
        state.name, (part.name,), part.nets, part.mark.line)


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
        "over-current", _severity(survey, state) if stated else Severity.CAUTION, part.name,
        f"In state {state.name} {engineering(most_A, 'A')} would flow through the track of {part.name}; "
        f"{'one of' if stated else 'a small one of'} {engineering(limit_W, 'W')} stands {engineering(limit_A, 'A')}.",
        "" if stated else "State its rating, for example power: 0.5 W.",
        state.name, (part.name,), part.nets, part.mark.line)


def _severity(survey: Survey, state: State) -> Severity:
    """Danger where the board stands so by itself, caution where somebody has to put it so."""
    return Severity.DANGER if survey.is_resting(state) else Severity.CAUTION


def _carrying(survey: Survey, point: OperatingPoint, cell: Part) -> list[str]:
    """The parts that carry most of what the cell gives."""
    kinds = (Kind.DIODE, Kind.TRANSISTOR, *OHMIC)
    return [part.name for part in survey.fragment.of_kind(*kinds)
            if abs(point.amps.get(part.name, 0.0)) > 0.5 * point.amps[cell.name]]
