"""Remedies against a charge route, each proved on the changed circuit before it is offered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from netcheck.checks.voltage import across, needs
from netcheck.conduction.remedies import (
    Remedy,
    diode_places,
    removal_steps,
    removals,
)
from netcheck.conduction.routes import Route, charge_routes
from netcheck.fragment.model import Part
from netcheck.fragment.mods import apply_steps
from netcheck.parts.catalogue import Catalogue
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.elements import OperatingPoint
from netcheck.solving.asking import Asking, abreast
from netcheck.solving.solved_states import Survey

_SERIES_DIODE = "1N4148"
"""The blocking diode that is proposed first: low leakage, and in every drawer."""

_OFFERED = 8

_STOPPED_A = 5e-6
_STOPPED_SHARE = 0.01
"""A remedy stops the charging when no more than this, or this share of it, is left: leakage."""


def cures(
    survey: Survey, cell: Part, routes: Sequence[Route], worst_A: float | None
) -> Asking[tuple[tuple[Remedy, ...], bool]]:
    """The remedies that hold on the changed circuit, and whether all ways were tried."""
    fragment = survey.fragment
    if not any(route.conducting for route in routes):
        return (), True
    removable = removals(fragment, survey.conductions, cell)
    offered = [Remedy(removal_steps(fragment, parts), remove=parts) for parts in removable.sets[:_OFFERED]]
    diode = Catalogue.standard().diode(_SERIES_DIODE)
    alone = {parts[0] for parts in removable.sets if len(parts) == 1}
    offered += [remedy for remedy in diode_places(fragment, survey.conductions, cell, routes, diode)
                if remedy.insert_diode not in alone]
    proofs = yield from abreast(_proof(survey, cell, worst_A, remedy) for remedy in offered)
    holding = tuple(remedy for remedy, holds in zip(offered, proofs, strict=True) if holds)
    return holding, removable.complete and len(removable.sets) <= _OFFERED


def _proof(survey: Survey, cell: Part, worst_A: float | None, remedy: Remedy) -> Asking[bool]:
    """Whether a remedy holds on the changed circuit: no charge route, no charge current, loads kept.

    Without a simulator the graph alone decides, and it has: that made the candidate.
    """
    if survey.missing:
        return True
    changed, room = apply_steps(survey.fragment, remedy.steps), survey.corners.room
    points = yield {(state.name, corner.name): circuit_of(changed, state, corner) for state in survey.states.states
                    for corner in (survey.corners.charge_flat, survey.corners.charge_used, room)}
    if not all(point.known for point in points.values()):
        return False
    after = replace(survey, fragment=changed, points=points)
    if any(route.conducting for one in after.conductions
           for route in charge_routes(changed, one, changed.parts[cell.name])):
        return False
    allowed = max(_STOPPED_A, _STOPPED_SHARE * (worst_A or 0.0))
    if any(-point.amps.get(cell.name, 0.0) > allowed for point in points.values()):
        return False
    return all(_kept(changed.parts[load.name], after.at(state, room), survey.at(state, room))
               for state in survey.states.states for load in survey.loads())


def _kept(load: Part, after: OperatingPoint, before: OperatingPoint) -> bool:
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
