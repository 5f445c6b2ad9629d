"""The main check: a variant of a traced fragment, judged in every state it can stand in."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from netcheck.checks import charging, curing, expectations, life, rechargeable, voltage
from netcheck.checks.excess import excess_findings
from netcheck.checks.results import CellResult, Life, VariantResult
from netcheck.checks.survey import (
    Failure,
    Survey,
    affordable_faults,
    failures,
    single_faults,
    survey,
)
from netcheck.conduction.section import around
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.parts.specs import CellSpec
from netcheck.simulation.elements import Circuit, OperatingPoint
from netcheck.simulation.operating_point import solve

_SEVERITIES = list(Severity)


def check_variant(fragment: Fragment, warnings: Iterable[Finding] = ()) -> VariantResult:
    """Judge one variant: every cell, every load, every state."""
    found = survey(_relevant(fragment))
    tried, left_out = affordable_faults(found, single_faults(found.fragment)) if found.cells() else ([], 0)
    failed = failures(found, tried)
    cells, cell_findings = _cells(found, failed)
    loads = {load.name: voltage.load_result(found, load) for load in found.loads()}
    judged = expectations.judge(found)
    findings = [
        *warnings,
        *cell_findings,
        *(finding for load in found.loads()
          for finding in voltage.voltage_findings(found, load, loads[load.name])),
        *excess_findings(found),
        *expectations.expectation_findings(found, judged),
        *_readings(found, fragment),
        *_unknowns(found),
        *_untried_faults(found, left_out),
        *_made_rails(found),
        *_unjudged(fragment),
    ]
    findings.sort(key=lambda finding: _SEVERITIES.index(finding.severity))
    states = found.states.states
    return VariantResult(
        name=fragment.variant,
        findings=tuple(findings),
        cells=cells,
        loads=loads,
        drops_V={state.name: voltage.drops(found, state) for state in states},
        net_volts={state.name: voltage.net_volts(found, state) for state in states},
        expectations=tuple(case.to_dict() for case in judged),
        simulated=found.engine,
    )


_SMALL = 400
"""Parts up to which everything in the file is simulated, whether it touches a cell or a load or not."""


def _relevant(fragment: Fragment) -> Fragment:
    """Of a big fragment, what hangs together with its cells, its loads and what the tracer expects."""
    if len(fragment.parts) <= _SMALL:
        return fragment
    wanted = [net for wish in fragment.expectations for net in (*wish.joined, *wish.apart, wish.at, wish.against)]
    through = [net for wish in fragment.expectations if wish.through is not None and wish.through in fragment.parts
               for net in fragment.parts[wish.through].nets]
    return around(fragment, {net for net in (*wanted, *through) if net is not None})


def _made_rails(found: Survey) -> list[Finding]:
    """Regulator outputs: a rail made on the board, which the rest of the board loads when it is off."""
    findings = []
    fed = {part for load in found.loads() for state in found.states.states
           for part in found.feeds[state.name, load.name].by_cells}
    for part in found.fragment.of_kind(Kind.REGULATOR):
        net = part.pins["output"]
        if fed and net not in found.fragment.rails:
            findings.append(Finding(
                "back-feed", Severity.CAUTION, part.name,
                f"{net}, which {part.name} makes, is taken to float when the supply is off. What else hangs on it "
                "pulls it near 0 V, and the cell then leaks into it; that is not counted here.",
                f"Add what hangs on {net} as a resistor to ground, for example 1k, and check again.",
                parts=(part.name,), nets=(net,), line=part.mark.line))
    return findings


def _readings(found: Survey, fragment: Fragment) -> list[Finding]:
    if found.missing or not fragment.readings:
        return []
    from netcheck.checks.readings import reading_findings  # the bench is large, and most files have no readings

    return reading_findings(fragment, explained=False)


def _untried_faults(found: Survey, left_out: int) -> list[Finding]:
    if not left_out or found.missing:
        return []
    return [Finding("fault-current", Severity.UNKNOWN, found.fragment.title,
                    f"Of the single failures {left_out} were not tried, as the circuit is large; those on the "
                    "routes into a cell were.", "Check the section around the cell by itself.")]


@dataclass(frozen=True, slots=True)
class _Work:
    """One cell with all that has to be solved for it."""

    cell: Part
    charging: charging.Charging
    candidates: curing.Candidates
    walk: life.Walk
    charger: rechargeable.Charger


def _cells(found: Survey, failed: Sequence[Failure]) -> tuple[dict[str, CellResult], list[Finding]]:
    """Every cell's figures and findings; what all cells still need solved is solved in one go."""
    work = [_work(found, cell, failed) for cell in found.cells()]
    batches = [_circuits(one) for one in work]
    solved = iter(_solve(found, [circuit for batch in batches for circuit in batch]))
    results: dict[str, CellResult] = {}
    findings: list[Finding] = []
    for one, batch in zip(work, batches, strict=True):
        points = [next(solved) for _ in batch]
        results[one.cell.name], said = _cell(found, one, points)
        findings += said
    return results, findings


def _work(found: Survey, cell: Part, failed: Sequence[Failure]) -> _Work:
    into = charging.charging(found, cell, failed)
    return _Work(cell, into, curing.candidates(found, cell, into.routes), life.walk(found, cell, worst=True),
                 rechargeable.charger(found, cell))


def _circuits(work: _Work) -> list[Circuit]:
    trials = [circuit for trial in work.candidates.trials for circuit in trial.circuits]
    return [*work.walk.circuits, *work.charger.circuits, *trials]


def _solve(found: Survey, circuits: Sequence[Circuit]) -> list[OperatingPoint]:
    if found.missing:
        return [OperatingPoint(problem=found.missing)] * len(circuits)
    return solve(circuits)


def _cell(found: Survey, work: _Work, points: list[OperatingPoint]) -> tuple[CellResult, list[Finding]]:
    cell, into = work.cell, work.charging
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    walked, points = _take(points, len(work.walk.circuits))
    charged, points = _take(points, len(work.charger.circuits))
    remedies = []
    for trial in work.candidates.trials:
        tried, points = _take(points, len(trial.circuits))
        if curing.proved(found, cell, into.worst_A, trial, tried):
            remedies.append(trial.remedy)
    charge = rechargeable.charge(found, work.charger, charged)
    lasts = _life(found, work, walked, charge)
    cure = curing.in_words(remedies, work.candidates.complete) if into.conducting else ""
    unsolved = next((point.problem for point in (*walked, *charged) if point.problem), None)
    findings = [
        *charging.charging_findings(found, cell, into, cure),
        *rechargeable.charge_findings(cell, charge, bool(into.conducting), into.worst_A),
        *life.life_findings(found, cell, lasts),
        *_fault_unknown(cell, into),
        *_unsolved(found, cell, unsolved),
    ]
    nearest = into.nearest
    given = life.gives(found, cell)
    result = CellResult(
        primary=spec.primary,
        routes=into.routes,
        shorts_to_charge=None if nearest is None else len(nearest.shorts),
        shorts=() if nearest is None else nearest.shorts,
        remedies=tuple(remedies),
        charge_A=into.worst_A,
        charge_state=into.worst_state,
        charge_by_state=into.by_state,
        fault=into.fault,
        leakage_A=into.leakage_A,
        leakage_share=into.leakage_share,
        drain_A={state: None if amps is None else max(0.0, amps) for state, amps in given.items()},
        takes_A={state: None if amps is None else max(0.0, -amps) for state, amps in given.items()},
        life=lasts,
        end_of_charge_V=charge.end_V if spec.charge_window else None,
        trickle_A=charge.trickle_A if spec.trickle else None,
    )
    return result, findings


def _take(points: list[OperatingPoint], count: int) -> tuple[list[OperatingPoint], list[OperatingPoint]]:
    return points[:count], points[count:]


def _life(found: Survey, work: _Work, walked: list[OperatingPoint], charge: rechargeable.Charge) -> Life | None:
    spec = work.cell.spec
    assert isinstance(spec, CellSpec)
    if spec.capacitance_F is None:
        return life.life(found, work.walk, walked)
    hold = life.hold_up_walk(found, work.cell, min(charge.low_end_V or 0.0, spec.curve[0].volts_V))
    return None if hold is None else life.hold_up(found, hold, _solve(found, hold.circuits))


def _unsolved(found: Survey, cell: Part, problem: str | None) -> list[Finding]:
    if problem is None or found.missing:
        return []
    return [Finding("life", Severity.UNKNOWN, cell.name,
                    f"The life or the charging of {cell.name} could not be worked out: {problem}.",
                    line=cell.mark.line)]


def _fault_unknown(cell: Part, into: charging.Charging) -> list[Finding]:
    if into.fault_unknown is None:
        return []
    return [Finding("fault-current", Severity.UNKNOWN, cell.name,
                    f"Not every single failure around {cell.name} could be worked out ({into.fault_unknown}).",
                    "", line=cell.mark.line)]


def _unknowns(found: Survey) -> list[Finding]:
    findings = []
    fragment = found.fragment
    if not (found.cells() or found.loads() or fragment.expectations):
        findings.append(Finding("not-judged", Severity.UNKNOWN, fragment.title,
                                "There is no cell, no load and no expectation here, so nothing could be judged.",
                                "Add the cell and the supply pin that it keeps alive, or say what you expect."))
    if found.missing:
        findings.append(Finding("simulation", Severity.UNKNOWN, found.fragment.title,
                                f"No volts or currents could be worked out: {found.missing}."))
        return findings
    findings += voltage.unknown_points(
        found, [(state, found.at(state, corner))
                for state in found.states.states for corner in found.corners.everywhere])
    helped = next((state.name for state in found.states.states for corner in found.corners.everywhere
                   if found.at(state, corner).helped), None)
    if helped:
        findings.append(Finding(
            "simulation", Severity.NOTE, found.fragment.title,
            f"State {helped} was solved to 0.1 % only, and not to a millionth: some net there is held by next to "
            "nothing.", state=helped))
    if found.states.untried:
        findings.append(Finding(
            "states", Severity.UNKNOWN, found.fragment.title,
            f"{len(found.states.states)} ways the board can stand were tried; {found.states.untried} more "
            "combinations of supplies, jumpers and packs were not, and nothing is said of them.",
            "Leave jumpers that do not touch this section out of the file, or check it in pieces."))
    return findings


_LATER = {
    Kind.CAPACITOR: "capacitors (rating, polarity, ageing)",
    Kind.REGULATOR: "regulator settings",
    Kind.CONNECTOR: "connector pinouts",
    Kind.CHIP: "chips beyond their protection diodes",
}


def _unjudged(fragment: Fragment) -> list[Finding]:
    """What the file holds and this check does not judge, so that silence is not taken for safety."""
    findings = []
    for kind, what in _LATER.items():
        parts = tuple(part.name for part in fragment.of_kind(kind))
        if parts:
            shown = ", ".join(parts[:8]) + (f" and {len(parts) - 8} more" if len(parts) > 8 else "")
            findings.append(Finding("not-judged", Severity.NOTE, parts[0],
                                    f"Not judged here: {what}: {shown}.", parts=parts))
    return findings
