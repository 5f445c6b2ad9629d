"""The main check: a variant of a traced fragment, judged in every state it can stand in."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from enum import Enum
from itertools import tee
from typing import Any

from msgspec import Struct, field
from msgspec.structs import replace

from netcheck.checks import charging, expectations, leakage, life, rechargeable, voltage
from netcheck.checks import cures as curing
from netcheck.checks.advising import advised
from netcheck.checks.backfeed import into_packs
from netcheck.checks.cell_pins import cell_pin_findings, feeds_a_module, module_findings, software_findings
from netcheck.checks.chips import retention_findings, told_once, unstated_chips
from netcheck.checks.clamp import clamping
from netcheck.checks.failing import failing_findings
from netcheck.checks.keeps import keeps
from netcheck.checks.overloads import excess_findings
from netcheck.checks.proposal import Proved, proposal, undoes
from netcheck.checks.results import OUT_OF_TIME, CellResult, Proposal, VariantResult
from netcheck.checks.reversal import reversals
from netcheck.checks.running import running_findings
from netcheck.checks.shorts import Shorts, shorts_to_charge
from netcheck.checks.trials import Steps, Trials, applied, trials
from netcheck.checks.unjudged import unjudged
from netcheck.clock import used_up
from netcheck.conduction.remedies import Remedy
from netcheck.conduction.section import around
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.parts.specs import CellSpec
from netcheck.simulation.deck import HELPED
from netcheck.solving.asking import Asking, abreast, answered, done
from netcheck.solving.failures import Failure, affordable_faults, failures, single_faults
from netcheck.solving.solved_states import Survey, survey

_SEVERITIES = list(Severity)


class Judged(Struct, frozen=True, kw_only=True):
    """What one section of the judgement found, beyond the cells and loads of the backup section.

    regulators, capacitors, duties: by part name, as the report's JSON holds them. judges: the kinds of part
    that the section has judged, which are then no longer told as not judged.
    """

    findings: tuple[Finding, ...] = ()
    regulators: Mapping[str, Any] = field(default_factory=dict)
    capacitors: Mapping[str, Any] = field(default_factory=dict)
    duties: Mapping[str, Any] = field(default_factory=dict)
    features: Mapping[str, Any] = field(default_factory=dict)
    judges: frozenset[Kind] = frozenset()


Section = Callable[[Survey], Asking[Judged]]
"""One section of the judgement: it asks for the circuits that it needs by name, and returns what it found."""


class _Depth(Enum):
    """How much of a variant is worked out.

    WHOLE: all that is told of it. CURE: what its verdict, its findings and its life rest on. CANDIDATE: the same
    without single failures, to tell which changes might cure.
    """

    WHOLE = 0
    CURE = 1
    CANDIDATE = 2


def check_variant(
    fragment: Fragment, warnings: Callable[[Fragment], Iterable[Finding]] = lambda fragment: (),
    sections: Sequence[Section] = (), cured: bool = True,
) -> VariantResult:
    """Judge one variant: every cell, every load, every state, what each section judges; cured: and what cures it."""
    judged: list[tuple[Fragment, VariantResult]] = []
    solved: list[tuple[Fragment, Survey]] = []  # they are looked at more than once

    def surveyed(changed: Fragment) -> Survey:
        found = next((found for one, found in solved if one == changed), None)
        if found is None:
            found = survey(_relevant(changed))
            if len(changed.parts) <= _SMALL and not found.unreached:  # of a large one it holds much
                solved.append((changed, found))
        return found

    def judge(changed: Fragment, failing: bool) -> VariantResult:
        if not failing:
            return _once(changed, warnings, sections, _Depth.CANDIDATE, found=surveyed(changed))[0]
        known = next((after for one, after in judged if one == changed), None)
        if known is None:
            known = _once(changed, warnings, sections, _Depth.CURE, found=surveyed(changed))[0]
            judged.append((changed, known))
        return known

    result, found = _once(fragment, warnings, sections)
    if found.missing or used_up():
        guessed = curing.by_graph(found, result)
        return replace(result, cells={name: replace(cell, remedies=guessed.get(name, ()))
                                      for name, cell in result.cells.items()})
    result = replace(result, cells={name: replace(cell, remedies=curing.stops(found, name, cell))
                                    for name, cell in result.cells.items()})
    if result.verdict == "ok" or not result.cells or not cured:
        return result
    with trials(fragment, judge) as trying:

        def of_one(finding: Finding) -> Sequence[tuple[Remedy, VariantResult]] | None:
            if str(finding.severity) != result.verdict:
                return None  # with what is graver still there, what is against it helps nothing
            tried = list(curing.tried(fragment, result, list(curing.against(found, finding)), trying))
            return None if used_up() else tried

        def further(made: Steps, after: VariantResult, then: curing.Then) -> Proved:
            changed = applied(fragment, made)
            candidates, _ = answered(curing.candidates(surveyed(changed), after))
            candidates = [one for one in candidates if not undoes(one, made)]
            return _cures(changed, after, candidates, trying.on(made), 1, then)

        candidates, complete = answered(curing.candidates(found, result))
        in_turn, kept = tee(_cures(fragment, result, candidates, trying))
        whole = None if used_up() else proposal(fragment, result, in_turn, further, trying)
        cures = list(kept)
        after = None if whole is None else trying.after(whole.steps)
        led_to = None if whole is None or after is None else (whole, after)
        cured_result = _cured(result, cures, complete and not used_up(), whole)
        spare_V = min((load.margin_V for load in result.loads.values()
                       if load.carried_by_cell and load.margin_V is not None), default=None)
        return replace(cured_result, findings=tuple(
            advised(one, cures, of_one, led_to if str(one.severity) == result.verdict else None, spare_V)
            for one in cured_result.findings))


def uncured(
    fragment: Fragment, warnings: Callable[[Fragment], Iterable[Finding]] = lambda fragment: (),
    sections: Sequence[Section] = (), failing: bool = True,
) -> VariantResult:
    """One variant judged without what cures it, which decides no verdict; failing: with single failures.

    A single failure makes a caution at most.
    """
    return _once(fragment, warnings, sections, failing=failing)[0]


def _cures(
    fragment: Fragment, result: VariantResult, candidates: Sequence[Remedy], trying: Trials,
    offered: int = curing.OFFERED, then: curing.Then = lambda remedy, after: (),
) -> Proved:
    """The best of the candidates first, as soon as it is sure; of the further ones where the first lead nowhere."""
    most, some = curing.most_tried(fragment), False
    for one in curing.tried(fragment, result, candidates, trying, offered, then):
        some = True
        yield one
    if not some:
        yield from curing.tried(fragment, result, candidates[most:], trying, offered, then)


def _cured(
    result: VariantResult, cures: Sequence[tuple[Remedy, VariantResult]], complete: bool,
    whole: Proposal | None,
) -> VariantResult:
    """The result with the remedies of each cell, and with what cures a charge as the advice on it."""
    remedies = {name: tuple(curing.for_cell(name, cures, result)) or cell.remedies
                for name, cell in result.cells.items()}
    cells = {name: replace(cell, remedies=remedies[name], proposal=whole) for name, cell in result.cells.items()}
    findings = tuple(
        replace(finding, words={**finding.words, **curing.named(remedies[finding.subject], complete)})
        if finding.check == "charge-route" and finding.severity is Severity.DANGER else finding
        for finding in result.findings)
    return replace(result, cells=cells, findings=findings)


def _once(
    fragment: Fragment, warnings: Callable[[Fragment], Iterable[Finding]], sections: Sequence[Section],
    depth: _Depth = _Depth.WHOLE, failing: bool = True, found: Survey | None = None,
) -> tuple[VariantResult, Survey]:
    """One variant judged, without what cures it; failing: with single failures. found: its survey, where known."""
    found = found or survey(_relevant(fragment))
    failing = failing and depth is not _Depth.CANDIDATE and bool(found.cells())
    tried, left_out = affordable_faults(found, single_faults(found.fragment)) if failing else ([], 0)
    failed = failures(found, tried)
    cells, cell_findings = _cells(found, failed, depth)
    loads = {load.name: voltage.load_result(found, load) for load in found.loads()}
    judged = expectations.judge(found)
    further: list[Judged] = answered(abreast(section(found) for section in sections), found.missing)
    findings = [
        *_out_of_time(found),  # the first of what is unknown, since most of the rest follows from it
        *warnings(fragment),
        *cell_findings,
        *(finding for load in found.loads()
          for finding in voltage.voltage_findings(found, load, loads[load.name])),
        *running_findings(found),
        *answered(keeps(found), found.missing),
        *failing_findings(found, failed),
        *excess_findings(found),
        *expectations.expectation_findings(found, judged),
        *(finding for section in further for finding in section.findings),
        *_unknowns(found, further),
        *_untried_faults(found, left_out),
        *_made_rails(found),
        *retention_findings(found),
        *unstated_chips(found.fragment),
        *module_findings(found),
        *answered(software_findings(found), found.missing),
        *cell_pin_findings(found),
        *unjudged(fragment, frozenset().union(*(section.judges for section in further)), found.fragment.parts),
    ]
    findings = told_once(findings, found.fragment)
    findings.sort(key=lambda finding: _SEVERITIES.index(finding.severity))
    told = found.states.states if depth is _Depth.WHOLE else ()
    result = VariantResult(
        name=fragment.variant,
        findings=tuple(findings),
        cells=cells,
        loads=loads,
        drops_V={state.name: voltage.drops(found, state) for state in told},
        net_volts={state.name: voltage.net_volts(found, state) for state in told},
        regulators={name: figures for section in further for name, figures in section.regulators.items()},
        capacitors={name: figures for section in further for name, figures in section.capacitors.items()},
        features={name: found for section in further for name, found in section.features.items()},
        duties={name: found for section in further for name, found in section.duties.items()},
        expectations=tuple(case.to_dict() for case in judged),
        simulated=found.engine,
    )
    return result, found


_SMALL = 400
"""Parts up to which everything in the file is simulated, whether it touches a cell or a load or not."""


def _relevant(fragment: Fragment) -> Fragment:
    """Of a big fragment, what hangs together with its cells, its loads and what the tracer expects."""
    if len(fragment.parts) <= _SMALL:
        return fragment
    wanted = [net for wish in fragment.expectations for net in (*wish.joined, *wish.apart, wish.at, wish.against)]
    through = [net for wish in fragment.expectations if wish.through is not None and wish.through in fragment.parts
               for net in fragment.parts[wish.through].nets]
    section = around(fragment, {net for net in (*wanted, *through) if net is not None})
    # A capacitor across supplies has nothing to do with what hangs together, and is judged all the same.
    supplies = {fragment.ground, *fragment.rails}
    kept = {name: part for name, part in fragment.parts.items()
            if name in section.parts or (part.kind is Kind.CAPACITOR and supplies.issuperset(part.nets))}
    return section.with_parts(kept)


def _made_rails(found: Survey) -> list[Finding]:
    """Regulator outputs: a rail made on the board, which the rest of the board loads when it is off.

    Where the file has what loads it, that is counted, and nothing is to be said.
    """
    findings = []
    fed = {part for load in found.loads() for state in found.states.states
           for part in found.feeds[state.name, load.name].by_cells}
    for part in found.fragment.of_kind(Kind.REGULATOR):
        net = part.pins["output"]
        if fed and net not in found.fragment.rails and not (
                _loaded(found.fragment, net) or _held_down(found, part.pins["input"], net)):
            findings.append(Finding(
                "back-feed", Severity.CAUTION, part.name, case="made-rail", parts=(part.name,), nets=(net,),
                line=part.mark.line))
    return findings


def _loaded(fragment: Fragment, net: str) -> bool:
    """Whether the file has what loads a net when its supply is off: a resistor from it to ground."""
    return any({net, fragment.ground} == set(part.nets) for part in fragment.of_kind(Kind.RESISTOR))


_NEAR_0_V = 0.1
"""A dead rail at no more than this takes in all that leaks, whatever else hangs on it (common practice, no source)."""


def _held_down(found: Survey, feed: str, net: str) -> bool:
    """Whether loads of the file hold a made rail near 0 V wherever its input is dead, at the worst leakage too."""
    points = [found.at(state, corner) for state in found.states.states if not state.live
              for corner in (found.corners.room, found.corners.leak_maximum)]
    dead = [point.volts.get(net) for point in points if point.known and (point.volts.get(feed) or 0.0) <= _NEAR_0_V]
    loads = any({net, found.fragment.ground} == set(load.nets) for load in found.loads())
    return loads and bool(dead) and all(volts is not None and volts <= _NEAR_0_V for volts in dead)


def _untried_faults(found: Survey, left_out: int) -> list[Finding]:
    if not left_out or found.missing:
        return []
    return [Finding("fault-current", Severity.UNKNOWN, found.fragment.title, case="untried",
                    figures={"untried_count": left_out})]


def _out_of_time(found: Survey) -> list[Finding]:
    """Said where the time was used up, whatever it was that was cut short: it keeps the variant from being ok."""
    if (reason := used_up()) is None or found.missing:
        return []
    return [Finding(OUT_OF_TIME, Severity.UNKNOWN, found.fragment.title, case="used-up",
                    words={"why": reason.partition(": ")[2]})]


def _cells(found: Survey, failed: Sequence[Failure], depth: _Depth) -> tuple[dict[str, CellResult], list[Finding]]:
    """Every cell's figures and findings; what all cells still need solved is solved in one go."""
    cells = found.cells()
    judged = answered(abreast(_cell(found, cell, failed, depth) for cell in cells), found.missing)
    return ({cell.name: result for cell, (result, _) in zip(cells, judged, strict=True)},
            [finding for _, said in judged for finding in said])


def _cell(
    found: Survey, cell: Part, failed: Sequence[Failure], depth: _Depth
) -> Asking[tuple[CellResult, list[Finding]]]:
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    into = charging.charging(found, cell, failed)
    counted = depth is _Depth.WHOLE or charging.counts_shorts(spec, into)
    told = depth is not _Depth.CANDIDATE or "years" in found.fragment.conditions.stated  # else it is only noted
    lived = told or life.may_be_over_at_once(found, cell)
    (lasts, unsolved), (charge, uncharged), shorts = yield from abreast((
        life.life(found, cell, worst=told) if lived else done((None, None)), rechargeable.charge(found, cell),
        shorts_to_charge(found, cell, into.charged, failed) if counted else done(Shorts(None))))
    if spec.capacitance_F is not None and lived:
        lasts, emptied = yield from life.hold_up(found, cell, min(charge.low_end_V or 0.0, spec.curve[0].volts_V))
        unsolved = unsolved or emptied
    if feeds_a_module(found, cell):
        lasts = None
    driven, clamps = (yield from abreast((reversals(found, cell), clamping(found, cell))))
    findings = [
        *charging.charging_findings(found, cell, into, shorts),
        *(leakage.leakage_findings(found, cell, into.leakage, into.blocking)
          if spec.primary and not into.charged else ()),
        *rechargeable.charge_findings(cell, charge, into.charged, into.worst_A),
        *life.life_findings(found, cell, lasts),
        *driven,
        *clamps,
        *into_packs(found, cell),
        *_fault_unknown(cell, into),
        *_unsolved(found, cell, unsolved or uncharged),
    ]
    given = life.gives(found, cell)
    result = CellResult(
        primary=spec.primary,
        routes=into.routes,
        shorts_to_charge=shorts.count,
        shorts=shorts.parts,
        remedies=(),
        charge_A=into.worst_A,
        charge_state=into.worst_state,
        charge_by_state=into.by_state,
        fault=into.fault,
        leakage_A=into.leakage.hot_A,
        leakage_share=into.leakage.share,
        hours_within=into.leakage.hours_within,
        drain_A={state: None if amps is None else max(0.0, amps) for state, amps in given.items()},
        takes_A={state: None if amps is None else max(0.0, -amps) for state, amps in given.items()},
        life=lasts,
        end_of_charge_V=charge.end_V if spec.charge_window else None,
        trickle_A=charge.trickle_A if spec.trickle else None,
    )
    return result, findings


def _unsolved(found: Survey, cell: Part, problem: str | None) -> list[Finding]:
    if problem is None or found.missing:
        return []
    return [Finding("life", Severity.UNKNOWN, cell.name, case="not-solved", line=cell.mark.line,
                    words={"why": problem})]


def _fault_unknown(cell: Part, into: charging.Charging) -> list[Finding]:
    if into.fault_unknown is None:
        return []
    return [Finding("fault-current", Severity.UNKNOWN, cell.name, case="not-solved", line=cell.mark.line,
                    words={"why": into.fault_unknown})]


def _unknowns(found: Survey, further: Sequence[Judged]) -> list[Finding]:
    findings = []
    fragment = found.fragment
    if not (found.cells() or found.loads() or fragment.expectations
            or any(section.judges or section.features for section in further)):
        findings.append(Finding("not-judged", Severity.UNKNOWN, fragment.title, case="nothing-here"))
    if found.missing:
        findings.append(Finding("simulation", Severity.UNKNOWN, found.fragment.title, case="none",
                                words={"why": found.missing}))
        return findings
    findings += voltage.unknown_points(
        found, [(state, found.at(state, corner))
                for state in found.states.states for corner in found.corners.everywhere])
    helped = next((state.name for state in found.states.states for corner in found.corners.everywhere
                   if found.at(state, corner).helped), None)
    if helped:
        findings.append(Finding("simulation", Severity.NOTE, found.fragment.title, case="helped", state=helped,
                                figures={"within_share": float(HELPED)}))
    if found.states.untried:
        findings.append(Finding(
            "states", Severity.UNKNOWN, found.fragment.title, case="late" if found.unreached else "untried",
            figures={"tried_count": len(found.states.states), "untried_count": found.states.untried}))
    return findings
