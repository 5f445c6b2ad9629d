"""What is not known of a chip and could change the answer: ways through it, and how a memory is selected."""

from __future__ import annotations

from collections.abc import Sequence

import networkx as nx

from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.parts.chip import missing_pins, settled
from netcheck.parts.specs import ChipSpec, LoadSpec
from netcheck.simulation.elements import Lacking
from netcheck.solving.solved_states import Survey


def unstated_chips(fragment: Fragment) -> list[Finding]:
    """Chips with a pin on what hangs together with a cell and another on something else, and nothing stated of them.

    Such a chip may hold a switch between rail and cell, or a charger.
    """
    near = _beside_cells(fragment)
    findings = []
    for part in fragment.of_kind(Kind.CHIP):
        spec = part.spec
        assert isinstance(spec, ChipSpec)
        stated = any(not path.published for path in part.paths) or (part.clamp is not None and not spec.pins)
        if stated or settled(spec, part.pins):
            continue
        nets = [net for net in dict.fromkeys(part.nets) if net != fragment.ground]
        touched = [net for net in nets if net in near]
        others = [net for net in nets if net not in touched[:1] and _elsewhere(fragment, part, net)]
        if touched and others:
            findings.append(Finding(
                "not-judged", Severity.UNKNOWN, part.name, case="known-chip-at-cell" if spec.pins else "chip-at-cell",
                parts=(part.name,), nets=(touched[0], *others), line=part.mark.line,
                words={"others": tuple(others), "touched": touched[0], "type": spec.name,
                       "from": _pin(part, others[0]), "to": _pin(part, touched[0]),
                       "missing": missing_pins(spec, part.pins)}))
    return findings


def _pin(chip: Part, net: str) -> str:
    """The pin of a chip on a net, by the name that the file has for it."""
    return next(pin for pin, other in chip.pins.items() if other == net)


def _elsewhere(fragment: Fragment, chip: Part, net: str) -> bool:
    """Whether a net leads on to anything but this chip."""
    return net in fragment.rails or any(net in part.nets for part in fragment.fitted if part.name != chip.name)


def _beside_cells(fragment: Fragment) -> set[str]:
    """The nets that hang together with a cell's terminals, not through ground or a rail."""
    held = {fragment.ground, *fragment.rails}
    together: nx.Graph[str] = nx.Graph()
    for part in fragment.fitted:
        if part.kind in (Kind.CHIP, Kind.CONNECTOR):
            continue
        free = [net for net in part.nets if net not in held]
        together.add_nodes_from(free)
        nx.add_path(together, free)
    ends = {net for cell in fragment.of_kind(Kind.CELL) for net in cell.nets} - held
    return {net for group in nx.connected_components(together) if not ends.isdisjoint(group) for net in group}


def told_once(findings: Sequence[Finding], fragment: Fragment) -> list[Finding]:
    """The findings, with one for each charger of which no resistance is known in place of all that fails for it."""
    kept = list(findings)
    for part in fragment.of_kind(Kind.CHIP):
        for place, path in enumerate(part.paths, 1):
            if path.ohm is not None:
                continue
            lost = [one for one in kept if one.severity is Severity.UNKNOWN
                    and isinstance(why := one.words.get("why"), Lacking) and why.element == f"{part.name}.path{place}"]
            if not lost:
                continue
            cells = tuple(dict.fromkeys(one.subject for one in lost if one.subject in fragment.parts))
            states = tuple(dict.fromkeys(one.state for one in lost if one.state))
            one = Finding(
                "charger", Severity.UNKNOWN, part.name, case="no-ohms", parts=(part.name, *cells),
                nets=(part.pins[path.start], part.pins[path.end]), line=part.mark.line,
                words={"start": part.pins[path.start], "end": part.pins[path.end], "states": states, "cells": cells,
                       "from": path.start, "to": path.end})
            kept[kept.index(lost[0])] = one
            kept = [other for other in kept if other not in lost]
    return kept


_MEMORY = "SRAM"
"""How the names of the library's static memories begin."""


def retention_findings(survey: Survey) -> list[Finding]:
    """A memory keeps its retention current only with its chip select held near its supply."""
    findings = []
    for load in survey.loads():
        backed = any(survey.feeds[state.name, load.name].by_cells for state in survey.states.states if not state.live)
        spec = load.spec
        assert isinstance(spec, LoadSpec)
        if not backed or load.selected == "held" or not (spec.name.startswith(_MEMORY) or load.selected):
            continue
        floats = load.selected == "floating"
        findings.append(Finding(
            "retention", Severity.CAUTION if floats else Severity.NOTE, load.name,
            case="floating" if floats else "not-traced", parts=(load.name,), line=load.mark.line))
    return findings
