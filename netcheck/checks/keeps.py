"""Whether the cells keep alive what they are there for: a cell behind a diode that is turned round keeps nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec.structs import replace

from netcheck.checks.voltage import across, must_be_kept, needs
from netcheck.conduction.graph import conduction
from netcheck.conduction.remedies import free_name
from netcheck.conduction.routes import feeds
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment, Kind, Part, Step
from netcheck.fragment.mods import apply_steps
from netcheck.fragment.states import State, enumerate_states, stands_as_set
from netcheck.parts.cell import seems_spent
from netcheck.parts.specs import CellSpec
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.elements import OperatingPoint
from netcheck.solving.asking import Asking
from netcheck.solving.solved_states import Survey

_ALIVE_V = 0.5
"""Volts below which a load of which nothing is stated gets nothing (common practice, no source)."""


def keeps(survey: Survey) -> Asking[list[Finding]]:
    """A finding where no cell keeps any load alive with the supplies off, and for each load to be kept that is not.

    Named with it: the diode, transistor or cell that, turned round, would keep one. A load that a cell kept which is
    out now is to be kept as well, unless the file says that it need not be.
    """
    stored = survey.resting(False)
    cells = [cell for cell in survey.cells() if cell.plugged is True]
    out = _out(survey.fragment)
    if survey.missing or stored is None or not (cells or out):
        return []
    point = survey.at(stored, survey.corners.room)
    wanted = [load for load in survey.loads() if must_be_kept(load) is not False]
    if not point.known or not wanted:
        return []
    dead = [load for load in wanted if not _alive(load, point)]
    nothing = bool(cells) and len(dead) == len(wanted)
    instead = nothing and _another_fitted(survey.fragment, cells)
    kept_by = _kept_by(survey.fragment, out) if dead and out and not instead else {}
    robbed = [_without(stored, load, kept_by[load.name]) for load in dead if load.name in kept_by]
    lost = [load for load in dead if load.name not in kept_by and (nothing or (cells and must_be_kept(load)))]
    if not lost:
        return robbed
    turned = yield from _turned_round(survey, stored, lost)
    return [*robbed, *([_nothing(survey, stored, cells, lost, turned, point)] if nothing else [
        _not_kept(stored, load, turned, point) for load in lost])]


def _out(fragment: Fragment) -> dict[str, Part]:
    """The cells that are not on the board: written as not fitted, or there as found and taken out by a mod."""
    found = fragment.found or fragment
    there = {part.name for part in fragment.of_kind(Kind.CELL)}
    return {part.name: part for part in found.parts.values()
            if part.kind is Kind.CELL and part.plugged is True and part.name not in there}


def _another_fitted(fragment: Fragment, cells: Sequence[Part]) -> bool:
    """Whether a mod fitted one of these cells: it is to do what one that is out did."""
    return fragment.found is not None and any(cell.name not in fragment.found.parts for cell in cells)


def _kept_by(fragment: Fragment, out: Mapping[str, Part]) -> dict[str, tuple[str, ...]]:
    """Load to those of the cells that are out from which current reached it as found, with the supplies off."""
    found = fragment.found or fragment
    full = found.with_parts({**found.parts, **{name: replace(cell, fitted=True) for name, cell in out.items()}})
    stored = next((state for state in enumerate_states(full).states if stands_as_set(full, state)
                   and not any((*state.supplies.values(), *state.plugged.values()))), None)
    if stored is None:
        return {}
    fed = feeds(full, conduction(full, stored)).items()
    return {load: names for load, feed in fed if (names := tuple(name for name in out if name in feed.by_cells))}


def _alive(load: Part, point: OperatingPoint) -> bool:
    span, volts = needs(load), across(point, load)
    return volts is not None and volts >= (_ALIVE_V if span is None else 0.5 * span.low)


def _turned_round(survey: Survey, stored: State, lost: Sequence[Part]) -> Asking[str | None]:
    """The one part that, turned round, lets a cell feed one of these loads; None where no single one does."""
    candidates = [part for part in survey.fragment.of_kind(Kind.DIODE, Kind.CELL) if part.plugged is not None]
    points = yield {
        part.name: circuit_of(apply_steps(survey.fragment, turn_steps(survey.fragment, part.name)), stored,
                              survey.corners.room) for part in candidates
    }
    helping = [part for part in candidates if points[part.name].known
               and any(_alive(load, points[part.name]) for load in lost)]
    return helping[0].name if helping else None


def turn_steps(fragment: Fragment, name: str) -> tuple[Step, ...]:
    """The steps that turn a two-ended part round: each of its pins to the net of the other.

    The first pin of a cell is lifted before: with both of them on one net it would be shorted meanwhile.
    """
    part = fragment.parts[name]
    first, second = part.pins
    if part.kind is not Kind.CELL:
        return (Step("move", part.mark, moves={(name, first): part.pins[second], (name, second): part.pins[first]}),)
    lifted = free_name(f"{name}_LIFTED", fragment.nets)
    return (Step("move", part.mark, moves={(name, first): lifted}),
            Step("move", part.mark, moves={(name, second): part.pins[first], (name, first): part.pins[second]}))


def _nothing(
    survey: Survey, stored: State, cells: Sequence[Part], lost: Sequence[Part], turned: str | None,
    point: OperatingPoint,
) -> Finding:
    volts = {load.name: across(point, load) or 0.0 for load in lost}
    dead = tuple(cell.name for cell in cells
                 if isinstance(cell.spec, CellSpec) and seems_spent(cell.spec, cell.measured_V))
    case = "no-load-turned" if turned else "no-load-dead" if dead else "no-load"
    return Finding(
        "keeps-nothing", Severity.FAILS, cells[0].name, case=case, state=stored.name,
        parts=(*([turned] if turned else ()), *volts), line=cells[0].mark.line,
        words={"cells": tuple(cell.name for cell in cells), "loads": tuple(volts), "dead": dead, **_turned(turned)},
        figures={f"loads_{place}_V": value for place, value in enumerate(volts.values())})


def _without(stored: State, load: Part, cells: tuple[str, ...]) -> Finding:
    return Finding("keeps-nothing", Severity.FAILS, load.name, case="cell-out", state=stored.name, parts=(load.name,),
                   nets=(load.pins["plus"],), line=load.mark.line, words={"cells": cells})


def _turned(name: str | None) -> dict[str, str]:
    return {} if name is None else {"turned": name}


def _not_kept(stored: State, load: Part, turned: str | None, point: OperatingPoint) -> Finding:
    return Finding(
        "keeps-nothing", Severity.FAILS, load.name, case="load-turned" if turned else "load", state=stored.name,
        parts=(load.name, *([turned] if turned else ())), nets=(load.pins["plus"],), line=load.mark.line,
        words=_turned(turned), figures={"volts_V": across(point, load) or 0.0})

