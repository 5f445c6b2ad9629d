"""How long a cell lasts: its discharge curve walked down, with the current simulated on the way."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, isfinite

from msgspec import Struct
from msgspec.structs import replace

from netcheck.checks.backfeed import back_feed
from netcheck.checks.results import Life
from netcheck.checks.voltage import across, must_be_kept, needs
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Part
from netcheck.fragment.states import State
from netcheck.parts.cell import HOURS_A_YEAR, depth_at, self_discharge_A
from netcheck.parts.specs import CellSpec
from netcheck.simulation.corner import Corner
from netcheck.simulation.elements import Battery, OperatingPoint
from netcheck.solving.asking import Asking, abreast
from netcheck.solving.solved_states import RESOLVED_A, Survey

STEPS = tuple(step / 10 for step in range(11))
"""Shares of the capacity used at which the circuit is solved."""

LEAST_YEARS = 1 / 12
"""A primary cell that is used up in less is no backup (common practice, no source)."""

LEAST_SHARE = 0.1
"""Share of the years wanted below which a life fails them (common practice, no source)."""


def _plugged(survey: Survey, state: State | None, cell: Part) -> State | None:
    """The state that is like this one but for this cell, plugged in; None where it was not tried."""
    if state is None or state.plugged.get(cell.name, True):
        return state
    wanted = (state.supplies, state.positions, {**state.plugged, cell.name: True})
    return next((s for s in survey.states.states if (s.supplies, s.positions, s.plugged) == wanted), None)


class Walk(Struct, frozen=True):
    """A cell's curve walked down: the shares used, and the points there, stored and (live) powered."""

    used: tuple[float, ...]
    stored: State | None
    rest: tuple[OperatingPoint, ...]
    live: tuple[OperatingPoint, ...]

    @property
    def problem(self) -> str | None:
        return next((point.problem for point in (*self.rest, *self.live) if point.problem), None)


def walk(survey: Survey, cell: Part, corner: Corner) -> Asking[Walk]:
    """The operating points down a cell's curve at one corner."""
    assert isinstance(cell.spec, CellSpec)
    start = depth_at(cell.spec, cell.measured_V)
    used = tuple(start + (1 - start) * step for step in STEPS)
    stored, powered = (_plugged(survey, survey.resting(live), cell) for live in (False, True))
    states = (stored, powered if survey.fragment.conditions.powered_hours_a_day else None)
    points = yield {(state.name, share): survey.circuit(cell, state, replace(corner, used=share))
                    for state in states if state for share in used}
    rest, live = (tuple(points[state.name, share] for share in used) if state else () for state in states)
    return Walk(used, stored, rest, live)


def life(survey: Survey, cell: Part, worst: bool = False) -> Asking[tuple[Life | None, str | None]]:
    """Years until the load gives up or the curve ends, and (worst) the least; or why that is not known."""
    room = survey.corners.room
    most = replace(room, leakage="maximum", draw="maximum")
    # A large drop leaves the load fewer volts, a small one lets more flow back: either may end sooner.
    corners = [room, replace(most, drop="maximum"), replace(most, drop="minimum")] if worst else [room]
    walks = yield from abreast(walk(survey, cell, corner) for corner in corners)
    problem = next((one.problem for one in walks if one.problem), None)
    if problem or walks[0].stored is None:
        return None, problem
    typical, *least = (_one_life(survey, cell, one) for one in walks)
    years = [one.years for one in (typical, *least) if one.years is not None]
    return replace(typical, least_years=min(years, default=None) if worst else None), None


def _one_life(survey: Survey, cell: Part, done: Walk) -> Life:
    """Life at one corner.

    The charge drawn between two points of the curve takes as long as the mean
    of the currents there says; self-discharge is added as a constant current.
    """
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    assert done.stored is not None
    used, rest, live = done.used, done.rest, done.live
    hours = survey.fragment.conditions.powered_hours_a_day or 0.0
    share = hours / 24.0 if live else 0.0
    own_A = self_discharge_A(spec)
    drawn = [
        (1 - share) * max(0.0, rest[i].amps[cell.name])
        + (share * max(0.0, live[i].amps[cell.name]) if live else 0.0)
        for i in range(len(used))
    ]
    loads = [load for load in survey.loads() if cell.name in survey.feeds[done.stored.name, load.name].by_cells]
    stop, end = _end(used, rest, loads)
    if max(drawn) + own_A <= 0:
        return Life(None, stop, shelf_years=spec.shelf_years)
    hours_lasted = _walked(used, [amps + own_A for amps in drawn], spec.capacity_Ah, stop)
    dominated = _dominated(cell, loads, [(rest[0], 1 - share), *([(live[0], share)] if live else [])], own_A)
    return Life(hours_lasted / HOURS_A_YEAR if isfinite(hours_lasted) else None, stop, *dominated, *end,
                shelf_years=spec.shelf_years)


def _end(
    used: tuple[float, ...], rest: Sequence[OperatingPoint], loads: list[Part]
) -> tuple[float, tuple[str | None, float]]:
    """The share used at which the first load falls below what it needs, between two points of the curve; which load."""
    stop: float = 1.0
    end: tuple[str | None, float] = (None, 0.0)
    for load in loads:
        span = needs(load)
        if span is None:
            continue
        volts = [across(point, load) for point in rest]
        for i, here in enumerate(volts):
            if here is None or here >= span.low:
                continue
            before = volts[i - 1] if i else None
            share = used[i] if before is None else used[i - 1] + (
                (before - span.low) / (before - here) * (used[i] - used[i - 1]))
            if share < stop:
                stop, end = share, (load.name, span.low)
            break
    return stop, end


def _walked(used: tuple[float, ...], amps: list[float], capacity_Ah: float, stop: float) -> float:
    """Hours to walk the curve down to `stop`, each step at the mean of its two currents."""
    hours = 0.0
    for i in range(len(used) - 1):
        width = min(used[i + 1], stop) - used[i]
        if width <= 0:
            break
        mean = 0.5 * (amps[i] + amps[i + 1])
        if mean <= 0:
            return inf  # here nothing draws on it any more
        hours += width * capacity_Ah / mean
    return hours


def _dominated(
    cell: Part, loads: list[Part], times: list[tuple[OperatingPoint, float]], own_A: float
) -> tuple[str, str, float]:
    """What takes the most of the cell: what it is, of which part, and its mean current [A].

    times: what was found, and its share of time.
    """
    takers = dict.fromkeys((("load", load.name) for load in loads), 0.0)
    total = 0.0
    for point, share in times:
        given = max(0.0, point.amps[cell.name])
        total += share * given
        for load in loads:
            takers["load", load.name] += share * min(given, max(0.0, point.amps.get(load.name, 0.0)))
    for part in (name.removesuffix(".leak") for name in times[0][0].amps if name.endswith(".leak")):
        takers["leakage", part] = sum(
            share * abs(point.amps.get(f"{part}.leak", 0.0)) for point, share in times)
    takers["back", ""] = max(0.0, total - sum(takers.values()))
    takers["itself", ""] = own_A
    most = max(takers, key=lambda taker: takers[taker])
    return *most, takers[most]


def hold_up(survey: Survey, cell: Part, charged_V: float) -> Asking[tuple[Life | None, str | None]]:
    """Years that a supercapacitor charged to `charged_V` carries its loads: the integral of C dV / I; or why unknown.

    I: what it gives, and what it loses by itself.
    """
    stored = _plugged(survey, survey.resting(False), cell)
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    assert spec.capacitance_F is not None
    if stored is None or charged_V <= 0:
        return None, None
    used, ohm = STEPS[:-1], spec.curve[0].resistance_ohm
    found = yield {
        share: survey.circuit(cell, stored, survey.corners.room, without=(cell.name,), extra=(
            Battery(cell.name, cell.pins["plus"], cell.pins["minus"], charged_V * (1 - share), ohm),))
        for share in used
    }
    points = [found[share] for share in used]
    if problem := next((point.problem for point in points if point.problem), None):
        return None, problem
    loads = [load for load in survey.loads() if cell.name in survey.feeds[stored.name, load.name].by_cells]
    stop, end = _end(used, points, loads)
    own_A = self_discharge_A(spec)
    amps = [max(0.0, point.amps[cell.name]) + own_A for point in points]
    if max(amps) <= 0:
        return Life(None, stop), None
    charge_Ah = spec.capacitance_F * charged_V / 3600.0
    hours = _walked(used, [max(a, max(amps) * 1e-6) for a in amps], charge_Ah, stop)
    return Life(hours / HOURS_A_YEAR, stop, *_dominated(cell, loads, [(points[0], 1.0)], own_A), *end), None


def gives(survey: Survey, cell: Part) -> dict[str, float | None]:
    """What the cell gives in every state, nominal, in A; negative where it is charged, None where unknown."""
    found: dict[str, float | None] = {}
    for state in survey.states.states:
        point = survey.at(state, survey.corners.room)
        amps = point.amps.get(cell.name, 0.0) if point.known else None
        found[state.name] = 0.0 if amps is not None and abs(amps) < RESOLVED_A else amps
    return found


def life_findings(survey: Survey, cell: Part, found: Life | None) -> list[Finding]:
    """Back-feed into a dead rail, and a life shorter than wanted; one that is over at once fails, whatever takes it."""
    findings = back_feed(survey, cell)
    if found is None or found.years is None:
        return findings
    wanted, stated = survey.fragment.conditions.years, "years" in survey.fragment.conditions.stated
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    least = found.least_years
    asked = {"years": "wanted" if stated else "assumed"}
    over = _over_at_once(survey, cell, found)
    if over and (taken := _taken_away(survey, findings)):
        figures = {"life_years": found.years, **({"wanted_years": wanted} if stated else {})}
        return [replace(one, severity=Severity.FAILS, figures={**one.figures, **figures}) if one in taken else one
                for one in findings]
    if spec.primary and least is not None and found.years >= wanted > least:
        findings.append(Finding(
            "life", Severity.CAUTION if stated else Severity.NOTE, cell.name,
            case="worst-shorter" if least else "worst-never-kept", words=asked,
            figures={"life_years": min(found.years, spec.shelf_years or found.years), "least_years": least,
                     "wanted_years": wanted}, line=cell.mark.line))
    if spec.primary and found.years == 0:
        findings.append(_never(cell, found, Severity.CAUTION if stated else Severity.NOTE))
    elif spec.primary and found.years < wanted:
        findings.append(Finding(
            "life", Severity.FAILS if over else Severity.CAUTION if stated else Severity.NOTE, cell.name,
            case="at-once" if over and not stated else "shorter",
            words={**asked, "taking": found.taking, "taker": found.taker, **_perhaps_spared(survey, found)},
            figures={"life_years": found.years, "wanted_years": wanted, "taken_A": found.taken_A},
            line=cell.mark.line))
    if spec.shelf_years is not None and found.years > spec.shelf_years:
        findings.append(Finding(
            "life", Severity.NOTE, cell.name, case="beyond-shelf", line=cell.mark.line,
            figures={"life_years": found.years, "shelf_years": spec.shelf_years}))
    return findings


def _over_at_once(survey: Survey, cell: Part, found: Life) -> bool:
    """Whether a primary cell that has a load to keep is used up, with typical figures, before it was of any use."""
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    return (spec.primary and bool(found.years) and _has_to_keep(survey, cell)
            and found.years is not None and found.years < _least_years(survey))


def _least_years(survey: Survey) -> float:
    """Years below which a life is none: of those stated a share, or a month."""
    conditions = survey.fragment.conditions
    return LEAST_SHARE * conditions.years if "years" in conditions.stated else LEAST_YEARS


def _has_to_keep(survey: Survey, cell: Part) -> bool:
    """Whether with the supplies off a cell feeds a load of which the file does not say that it need not be kept."""
    stored = _plugged(survey, survey.resting(False), cell)
    return stored is not None and any(
        must_be_kept(load) is not False and cell.name in survey.feeds[stored.name, load.name].by_cells
        for load in survey.loads())


def _taken_away(survey: Survey, findings: list[Finding]) -> list[Finding]:
    """What a cell gives for nothing, where that is most of what it gives and counts in its life."""
    counted = bool(survey.fragment.conditions.powered_hours_a_day)
    return [one for one in findings if one.severity is Severity.CAUTION
            and (counted or "hours_a_day_h" not in one.figures)]


def may_be_over_at_once(survey: Survey, cell: Part) -> bool:
    """Whether what a cell gives while fresh would use it up too soon; with room for what it gives later."""
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    points = [survey.at(state, survey.corners.room) for live in (False, True)
              if (state := _plugged(survey, survey.resting(live), cell)) is not None]
    most_A = max((point.amps.get(cell.name, 0.0) for point in points if point.known), default=0.0)
    return spec.primary and most_A * _least_years(survey) * HOURS_A_YEAR > 0.5 * spec.capacity_Ah


def _never(cell: Part, found: Life, severity: Severity) -> Finding:
    """A cell that keeps nothing for any time: it is empty, or what it feeds is short of volts however full it is."""
    if found.ends_for is None:
        return Finding("life", severity, cell.name, case="empty", line=cell.mark.line)
    return Finding(
        "life", severity, cell.name, case="never-kept", words={"load": found.ends_for}, line=cell.mark.line,
        figures={"life_years": 0.0, "least_V": found.least_V,
                 **({"elsewhere_A": found.taken_A} if found.taking == "back" else {})})


def _perhaps_spared(survey: Survey, found: Life) -> dict[str, str]:
    """The load that takes the most, where there are others and the file does not say whether it must be kept."""
    loads = {load.name: load for load in survey.loads()}
    asked = found.taking == "load" and len(loads) > 1 and must_be_kept(loads[found.taker]) is None
    return {"asked": found.taker} if asked else {}
