"""Remedies against a charge route, each proved on the changed circuit before it is offered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from netcheck.checks.survey import Survey
from netcheck.checks.voltage import across, needs
from netcheck.conduction.remedies import (
    Remedy,
    diode_places,
    removal_steps,
    removals,
)
from netcheck.conduction.routes import Route, charge_routes
from netcheck.fragment.model import Fragment, Part
from netcheck.fragment.mods import apply_steps
from netcheck.parts.catalogue import Catalogue
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.elements import Circuit, OperatingPoint

_SERIES_DIODE = "1N4148"
"""The blocking diode that is proposed first: low leakage, and in every drawer."""

_OFFERED = 8

_STOPPED_A = 5e-6
_STOPPED_SHARE = 0.01
"""A remedy stops the charging when no more than this, or this share of it, is left: leakage."""


@dataclass(frozen=True, slots=True)
class Trial:
    """A candidate, the changed circuit, and what has to be solved to prove it."""

    remedy: Remedy
    changed: Fragment
    circuits: tuple[Circuit, ...]


@dataclass(frozen=True, slots=True)
class Candidates:
    trials: tuple[Trial, ...]
    complete: bool


def candidates(survey: Survey, cell: Part, routes: Sequence[Route]) -> Candidates:
    """The remedies that the graph allows for a cell with a conducting charge route."""
    fragment = survey.fragment
    if not any(route.conducting for route in routes):
        return Candidates((), True)
    removable = removals(fragment, survey.conductions, cell)
    offered = [Remedy(removal_steps(fragment, parts), remove=parts) for parts in removable.sets[:_OFFERED]]
    diode = Catalogue.standard().diode(_SERIES_DIODE)
    alone = {parts[0] for parts in removable.sets if len(parts) == 1}
    offered += [remedy for remedy in diode_places(fragment, survey.conductions, cell, routes, diode)
                if remedy.insert_diode not in alone]
    trials = tuple(_trial(survey, remedy) for remedy in offered)
    return Candidates(trials, removable.complete and len(removable.sets) <= _OFFERED)


def _trial(survey: Survey, remedy: Remedy) -> Trial:
    changed = apply_steps(survey.fragment, remedy.steps)
    corners = (survey.corners.charge_flat, survey.corners.charge_used, survey.corners.room)
    circuits = () if survey.missing else tuple(
        circuit_of(changed, state, corner) for state in survey.states.states for corner in corners
    )
    return Trial(remedy, changed, circuits)


def proved(survey: Survey, cell: Part, worst_A: float | None, trial: Trial, points: Sequence[OperatingPoint]) -> bool:
    """Whether a remedy holds on the changed circuit: no charge route, no charge current, loads kept.

    Without a simulator the graph alone decides, and it has: that made the candidate.
    """
    if survey.missing:
        return True
    if not all(point.known for point in points):
        return False
    changed = trial.changed
    corners = (survey.corners.charge_flat, survey.corners.charge_used, survey.corners.room)
    keys = [(state.name, corner.name) for state in survey.states.states for corner in corners]
    after = Survey(changed, survey.states, survey.corners, dict(zip(keys, points, strict=True)), None)
    if any(route.conducting for one in after.conductions
           for route in charge_routes(changed, one, changed.parts[cell.name])):
        return False
    allowed = max(_STOPPED_A, _STOPPED_SHARE * (worst_A or 0.0))
    if any(-point.amps.get(cell.name, 0.0) > allowed for point in points):
        return False
    rooms = points[2::3]
    return all(
        _kept(survey, trial.changed.parts[load.name], state_point, survey.at(state, survey.corners.room))
        for state, state_point in zip(survey.states.states, rooms, strict=True)
        for load in survey.loads()
    )


def _kept(survey: Survey, load: Part, after: OperatingPoint, before: OperatingPoint) -> bool:
    """Whether a load that had enough volts still has."""
    span, had, has = needs(load), across(before, load), across(after, load)
    return span is None or had is None or had < span.low or (has is not None and has >= span.low)


def in_words(remedies: Sequence[Remedy], complete: bool) -> str:
    """The remedies as advice: Remove R1, or remove D3, or … complete: whether all ways were tried."""
    cut = "" if complete else " Not every way was tried: the circuit is large, or there are many."
    if not remedies:
        return f"No change was found that stops it and leaves every load its feed.{cut}"
    text = ", or ".join(map(remedy_words, remedies))
    return f"{text[0].upper()}{text[1:]}.{cut}"


def remedy_words(remedy: Remedy) -> str:
    """One remedy as a phrase."""
    if remedy.remove:
        return "remove " + " and ".join(remedy.remove)
    place = remedy.insert_diode or ""
    if "." in place:
        name, pin = place.split(".")
        return f"put a blocking diode in {name}'s {pin} lead"
    return f"fit a diode in place of {place}"
