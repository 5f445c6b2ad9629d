"""Chips with a pin for a cell, chargers that a program switches on, and modules that have a cell of their own."""

from __future__ import annotations

from collections.abc import Iterator

import networkx as nx
from msgspec.structs import replace

from netcheck.checks.leakage import allowed_share, most, powered_hours
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.parts.catalogue import cell_rules
from netcheck.parts.chip import traced_pin
from netcheck.parts.specs import CellSpec, ChipSpec, LoadSpec
from netcheck.simulation.assemble import circuit_of
from netcheck.solving.asking import Asking
from netcheck.solving.flows import DRIVEN_A
from netcheck.solving.solved_states import Survey

_WIRES = (Kind.RESISTOR, Kind.FUSE, Kind.JUMPER, Kind.SWITCH, Kind.INDUCTOR)
"""Kinds through which a pin and a cell hang together without a diode."""


def module_findings(survey: Survey) -> list[Finding]:
    """Loads that keep their contents by themselves: what a cell of the board gives them is not published."""
    findings = []
    for load in survey.loads():
        spec = load.spec
        assert isinstance(spec, LoadSpec)
        if not spec.needs_no_cell:
            continue
        cells = _fed_by(survey, load)
        findings.append(Finding(
            "own-cell", Severity.UNKNOWN if cells else Severity.NOTE, load.name, case="fed" if cells else "none",
            parts=(load.name, *cells), nets=(load.pins["plus"],), line=load.mark.line,
            words={"why": spec.needs_no_cell, "cells": cells}))
    return findings


def feeds_a_module(survey: Survey, cell: Part) -> bool:
    """Whether a cell feeds a load that keeps its contents by itself, so that its life cannot be told."""
    return any(isinstance(load.spec, LoadSpec) and load.spec.needs_no_cell and cell.name in _fed_by(survey, load)
               for load in survey.loads())


def _fed_by(survey: Survey, load: Part) -> tuple[str, ...]:
    """The cells that feed a load in any state in which its supply is off."""
    return tuple(sorted({name for state in survey.states.states if not state.live
                         for name in survey.feeds[state.name, load.name].by_cells}))


def software_findings(survey: Survey) -> Asking[list[Finding]]:
    """What the chargers that only a program switches on would do to the cells: off as the chip powers up."""
    fragment, cells = survey.fragment, survey.cells()
    chips = [part for part in fragment.of_kind(Kind.CHIP) if any(path.software for path in part.paths)]
    live = [state for state in survey.states.states if state.live]
    wanted = [(chip, cell, state, corner) for chip in chips for cell in cells for state in live
              for corner in survey.corners.charging(cell.name) if state.plugged.get(cell.name, True)]
    points = yield {
        (chip.name, state.name, corner.name): circuit_of(_switched_on(fragment, chip), state, corner)
        for chip, _, state, corner in wanted
    }
    findings: list[Finding] = []
    for chip in chips:
        for cell in cells:
            found = {}
            for one, other, state, corner in wanted:
                if (one.name, other.name) == (chip.name, cell.name):
                    point = points[chip.name, state.name, corner.name]
                    found[state.name, corner.name] = -point.amps[cell.name] if point.known else None
            before = most(survey.into(state, corner, cell) for one, other, state, corner in wanted
                          if (one.name, other.name) == (chip.name, cell.name))
            findings += _software(chip, cell, found, before)
    return findings


def _switched_on(fragment: Fragment, chip: Part) -> Fragment:
    paths = tuple(replace(path, software=False) for path in chip.paths)
    return fragment.with_parts({**fragment.parts, chip.name: replace(chip, paths=paths)})


def _software(
    chip: Part, cell: Part, found: dict[tuple[str, str], float | None], before: float | None
) -> Iterator[Finding]:
    """found: state and corner to the current into the cell [A] with the charger on; before: the most with it off."""
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    known = {key: amps for key, amps in found.items() if amps is not None}
    worst = max(known, key=lambda key: known[key], default=None)
    leaks_A = cell_rules().leak_limit_A if spec.primary else DRIVEN_A  # a blocking diode lets some through
    if worst is not None and known[worst] > max(before or 0.0, leaks_A) + DRIVEN_A:
        yield Finding(
            "charger", Severity.CAUTION if spec.primary else Severity.NOTE, chip.name,
            case="primary" if spec.primary else "rechargeable", state=worst[0], parts=(chip.name, cell.name),
            line=chip.mark.line, figures={"charge_A": known[worst]}, words={"cell": cell.name}, sources=_sources(chip))
    elif len(known) < len(found) and spec.primary:
        yield Finding(
            "charger", Severity.UNKNOWN, chip.name, case="unsolved", parts=(chip.name, cell.name),
            line=chip.mark.line, words={"cell": cell.name, "why": "the circuit with it on was not solved"})


def _sources(chip: Part) -> tuple[str, ...]:
    assert isinstance(chip.spec, ChipSpec)
    return tuple(dict.fromkeys(way.figure.source for way in chip.spec.ways if way.software))


def cell_pin_findings(survey: Survey) -> list[Finding]:
    """What makers say of the pin that a cell hangs on: no diode there, and what flows at it under power."""
    findings: list[Finding] = []
    for chip in survey.fragment.of_kind(Kind.CHIP):
        spec = chip.spec
        assert isinstance(spec, ChipSpec)
        pin = traced_pin(spec, spec.cell, chip.pins) if spec.cell else None
        if pin is None:
            continue
        near = _wired(survey.fragment, chip.pins[pin])
        direct = [cell for cell in survey.cells() if cell.pins["plus"] in near]
        findings += _leaks(survey.fragment, chip, spec, direct)
        if spec.no_diode and not direct:
            findings += _diodes(survey, chip, spec, near)
    return findings


def _leaks(fragment: Fragment, chip: Part, spec: ChipSpec, cells: list[Part]) -> Iterator[Finding]:
    for cell in cells:
        own = cell.spec
        assert isinstance(own, CellSpec)
        if spec.leak_A is not None and own.primary and own.capacity_Ah:
            share = spec.leak_A * powered_hours(fragment) / own.capacity_Ah
            severity = Severity.CAUTION if share > allowed_share(own) else Severity.NOTE
            yield Finding(
                "cell-pin", severity, chip.name, case="leaks", parts=(chip.name, cell.name), line=chip.mark.line,
                figures={"leak_A": spec.leak_A, "leaked_share": share, "service_years": fragment.conditions.years},
                words={"cell": cell.name},
                sources=tuple(figure.source for figure in spec.figures if figure.of == "leaks"))


def _diodes(survey: Survey, chip: Part, spec: ChipSpec, near: set[str]) -> Iterator[Finding]:
    for part in survey.fragment.of_kind(Kind.DIODE):
        if part.pins["cathode"] not in near:
            continue
        beyond = _wired(survey.fragment, part.pins["anode"])
        for cell in survey.cells():
            if cell.pins["plus"] in beyond:
                yield Finding(
                    "cell-pin", Severity.CAUTION, chip.name, case="diode", parts=(chip.name, part.name, cell.name),
                    nets=(part.pins["cathode"],), line=chip.mark.line,
                    words={"diode": part.name, "cell": cell.name,
                           **({"recognised": spec.recognised} if spec.recognised else {})},
                    sources=tuple(figure.source for figure in spec.figures if figure.of == "no diode"))


def _wired(fragment: Fragment, net: str) -> set[str]:
    """The nets that hang together with one without a diode on the way, not through ground or a rail."""
    held = {fragment.ground, *fragment.rails}
    together: nx.Graph[str] = nx.Graph()
    together.add_node(net)
    for part in fragment.fitted:
        if part.kind in _WIRES:
            nx.add_path(together, [other for other in part.nets if other not in held])
    return set(nx.node_connected_component(together, net))
