"""What a load gets while it is powered, against the volts at which it can be read and written."""

from __future__ import annotations

from netcheck.checks.keeps import turn_steps
from netcheck.checks.voltage import across, drops
from netcheck.conduction.graph import conduction
from netcheck.conduction.routes import feeds
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.mods import apply_steps
from netcheck.fragment.states import State
from netcheck.simulation.corner import Corner
from netcheck.solving.solved_states import Survey

SLACK_V = 0.005
"""Below its least volts by less than this is not told: nobody reads it off a meter (common practice, no source)."""


_MOST_RUN_V = 0.5
"""A load that many volts below its least runs as a rule, and no maker says so of every one: 5 V memories behind one
silicon diode on a supply that is 5 % low ran for decades (common practice, no source)."""


def running_findings(survey: Survey) -> list[Finding]:
    """Loads that keep their data, but cannot be relied on to run: with typical figures, or only at the worst."""
    return [finding for load in survey.loads() if (finding := _running(survey, load)) is not None]


def _running(survey: Survey, load: Part) -> Finding | None:
    if load.runs is None:
        return None
    on = [state for state in survey.states.states if state.live and all(state.supplies.values())]
    by_rail = [state for state in on if survey.feeds[state.name, load.name].by_rail]
    powered = [state for state in by_rail if survey.as_set(state)]
    if on and not by_rail:
        return _by_cells_alone(survey, load, load.runs.low, [state for state in on if survey.is_resting(state)])
    usual = _least(survey, load, powered, (survey.corners.room, survey.corners.usual))
    worst = _least(survey, load, powered, survey.corners.lowest)
    least = load.runs.low - SLACK_V
    typically = usual is not None and usual[0] < least
    lowest = usual if typically else worst
    if lowest is None or lowest[0] >= least:
        return None
    volts, state = lowest
    way = tuple(name for name, lost in drops(survey, state, [load]).items() if lost > SLACK_V)
    built = _as_built(survey.fragment, (load.name, *way))
    return Finding(
        "running-volts", _severity(volts - load.runs.low, typically, built), load.name,
        case="short" if typically else "as-built" if built else "short-at-worst", state=state.name,
        parts=(load.name, *way), nets=(load.pins["plus"],), line=load.mark.line,
        words={"way": way} if way else {},
        figures={"volts_V": volts, "runs_V": load.runs.low})


def _by_cells_alone(survey: Survey, load: Part, runs_V: float, on: list[State]) -> Finding | None:
    """A load that only cells feed while the board is powered, at the usual volts of these if they are short."""
    fed = [state for state in on if survey.feeds[state.name, load.name].by_cells]
    usual = _least(survey, load, fed, (survey.corners.room, survey.corners.usual))
    worst = _least(survey, load, fed, survey.corners.lowest)
    typically = usual is not None and usual[0] < runs_V - SLACK_V
    lowest = usual if typically else worst
    if lowest is None or lowest[0] >= runs_V - SLACK_V:
        return None
    volts, state = lowest
    turned = _turned(survey.fragment, load, state)
    return Finding(
        "running-volts", _severity(volts - runs_V, typically, built=False), load.name, case="by-cell", state=state.name,
        parts=(load.name, *turned), nets=(load.pins["plus"],), line=load.mark.line,
        words={"cells": tuple(sorted(survey.feeds[state.name, load.name].by_cells)),
               "when": "usual" if typically else "worst", "turned": turned[:1]},
        figures={"volts_V": volts, "runs_V": runs_V})


def _turned(fragment: Fragment, load: Part, state: State) -> tuple[str, ...]:
    """The diodes that, turned round, would let a rail feed a load."""
    found = []
    for diode in fragment.of_kind(Kind.DIODE):
        changed = apply_steps(fragment, turn_steps(fragment, diode.name))
        if feeds(changed, conduction(changed, state))[load.name].by_rail:
            found.append(diode.name)
    return tuple(found)


def _severity(beside_V: float, typically: bool, built: bool) -> Severity:
    """How much it matters; beside_V: below the volts that every specimen runs at, a negative figure."""
    if not typically:
        return Severity.NOTE if built else Severity.CAUTION
    return Severity.CAUTION if beside_V >= -_MOST_RUN_V else Severity.FAILS


def _as_built(fragment: Fragment, names: tuple[str, ...]) -> bool:
    """Whether these parts are those of the board as found, on the same nets."""
    found = fragment.found
    return found is None or all(
        (old := found.parts.get(name)) is not None and old.fitted
        and (old.spec, old.pins) == (fragment.parts[name].spec, fragment.parts[name].pins) for name in names)


def _least(
    survey: Survey, load: Part, states: list[State], corners: tuple[Corner, ...]
) -> tuple[float, State] | None:
    """The least volts that are known, and the state; what has no solution is told elsewhere."""
    known = [(volts, state) for state in states for corner in corners
             if (point := survey.at(state, corner)).known and (volts := across(point, load)) is not None]
    return min(known, key=lambda pair: pair[0], default=None)
