"""Cures: each is applied and the whole variant judged again, and says what it leads to.

Which are tried follows from what was found: parts out, a diode put in or turned round, another diode by name, a
resistor with its ohms, the other cell out.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable, Iterator, Mapping, Sequence
from typing import TypeVar

from msgspec.structs import replace

from netcheck.checks.chargers import chargers
from netcheck.checks.drains import in_lead, overfed, relieved
from netcheck.checks.fewer_volts import bridged
from netcheck.checks.keeps import turn_steps
from netcheck.checks.offers import (
    BLOCKING,
    LOW_DROP,
    USUAL_OHM,
    by_rail_alone,
    fitting,
    holding,
    other_cells,
    packs,
    pulls,
    resistor_in_lead,
)
from netcheck.checks.results import CellResult, VariantResult
from netcheck.checks.standing import RANK, better, fed, idled, unkept
from netcheck.checks.stopping import stopping_sets
from netcheck.checks.trials import Trial, Trials
from netcheck.checks.unreached import best_rank
from netcheck.conduction.remedies import (
    Remedy,
    diode_candidates,
    diode_places,
    lead_steps,
    removal_steps,
    removals,
    replaced_diode,
    series_diode,
)
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment, Kind, Step
from netcheck.fragment.mods import apply_steps
from netcheck.fragment.written import resistance
from netcheck.parts.cell import end_V
from netcheck.parts.specs import CellSpec, DiodeSpec, ResistorSpec
from netcheck.solving.asking import Asking
from netcheck.solving.solved_states import Survey
from netcheck.wording.phrases import phrase
from netcheck.wording.sentence import Word

Then = Callable[[Remedy, VariantResult], Sequence[Trial]]
"""What will be tried once a remedy has been judged to its end, if it leads to what it did without single failures."""

_MOST_TRIED, _FEWEST_TRIED = 8, 3
_LARGE = 120
"""Cures that are tried, fewer on a fragment of more parts than this, and where none leads out of what is gravest."""

OFFERED = 4
_LEAST_WHOLE = 3
"""Cures that are judged with single failures where fewer are offered: with them the best may help no more."""


def candidates(survey: Survey, result: VariantResult) -> Asking[tuple[list[Remedy], bool]]:
    """What might cure a variant, and whether every way to stop a charge was tried.

    What is against the gravest comes first (nothing against less could lead as far), of that the fewest joints. Where
    nothing is against it, as where a jumper shorts a supply, a few of the others: they leave the verdict as it is.
    """
    found: list[tuple[int, Remedy]] = []
    whole = True
    severities = list(Severity)
    gravest = min((severities.index(finding.severity) for finding in result.findings), default=0)
    for finding in result.findings:
        rank = severities.index(finding.severity)
        if finding.check == "charge-route" and finding.severity is Severity.DANGER:
            cell = survey.fragment.parts[finding.subject]
            routes = [route for route in result.cells[cell.name].routes if route.conducting]
            ways = [(*route.parts, *((route.source,) if route.source in survey.fragment.parts else ()))
                    for route in routes]
            sets, complete = yield from stopping_sets(survey, cell, ways)
            whole = whole and complete
            found += [(rank, _removal(survey.fragment, parts)) for parts in sets]
            diodes = diode_candidates(survey.fragment, cell, ways, fitting(survey.fragment, BLOCKING))
            found += [(rank, remedy) for remedy in diodes]
        else:
            found += [(rank, remedy) for remedy in against(survey, finding)]
    found += [(gravest, remedy) for remedy in (*pulls(survey), *packs(survey, result), *chargers(survey, result))]
    found.sort(key=lambda one: (one[0], bool(one[1].spares), joints(one[1])))
    unique: dict[str, Remedy] = {}
    for _, remedy in found:
        unique.setdefault(repr(remedy.steps), remedy)
    most = None if any(rank == gravest for rank, _ in found) else _FEWEST_TRIED
    return list(unique.values())[:most], whole


def _removal(fragment: Fragment, parts: Iterable[str]) -> Remedy:
    names = tuple(name for name in fragment.parts if name in set(parts))
    return Remedy(removal_steps(fragment, names), remove=names)


def against(survey: Survey, finding: Finding) -> Iterator[Remedy]:
    """What might cure one finding that is no charge."""
    fragment = survey.fragment
    if finding.severity is Severity.NOTE:
        return
    match finding.check:
        case "keeps-nothing" | "reversal":
            yield from (_turned(fragment, name) for name in dict.fromkeys((finding.subject, *finding.parts))
                        if name in fragment.parts and fragment.parts[name].kind in (Kind.DIODE, Kind.CELL))
        case "running-volts" if finding.case == "by-cell":
            yield from (_turned(fragment, name) for name in finding.parts if fragment.parts[name].kind is Kind.DIODE)
        case "tracing" if finding.case == "backwards":
            yield _turned(fragment, finding.subject)
        case "leakage":
            yield from _other_diodes(fragment, finding.parts, BLOCKING)
        case "backup-voltage":
            for name in _way(survey, finding):
                yield from _other_diodes(fragment, (name,), LOW_DROP)
                yield from _lowered(survey, name)
            yield from by_rail_alone(survey, (load.name for load in survey.loads()))
        case "fault-current" if finding.subject in fragment.parts:
            yield from _protected(fragment, finding)
        case "over-voltage":
            yield from _dropped(survey, finding)
            yield from overfed(survey, finding)
        case "charger":
            yield from other_cells(survey, finding)
        case "over-current" if finding.case == "cell":
            yield from by_rail_alone(survey, finding.parts)
            yield from other_cells(survey, finding)
        case "short-circuit":
            yield from _turned_alone(fragment, finding)
            yield from other_cells(survey, finding)
            yield from relieved(survey, finding)
            yield from in_lead(survey, finding)
        case "back-feed":
            yield from other_cells(survey, finding)
            yield from bridged(survey, survey.cells())
            yield from relieved(survey, finding)
            yield from by_rail_alone(survey, finding.parts)
            yield from (series_diode(fragment, name, net, fitting(fragment, BLOCKING))
                        for name in finding.parts for net in fragment.parts[name].nets
                        if fragment.parts[name].kind is Kind.RESISTOR and net in (*finding.nets, *fragment.rails))
            yield from _other_diodes(fragment, finding.parts, BLOCKING)


def _other_diodes(fragment: Fragment, names: Iterable[str], types: dict[str, str]) -> Iterator[Remedy]:
    """Another type in the place of each diode of these parts, with the body of the one that stands there."""
    for name in names:
        spec = fragment.parts[name].spec if name in fragment.parts else None
        if isinstance(spec, DiodeSpec) and spec.zener_V is None:
            other = fitting(fragment, types, name)
            if other.name != spec.name:
                yield replaced_diode(fragment, name, other)


def _dropped(survey: Survey, finding: Finding) -> Iterator[Remedy]:
    """A diode in the plus lead of each cell that gives a load too many volts by itself."""
    if finding.subject in survey.fragment.parts and finding.state is not None:
        fed = survey.feeds.get((finding.state, finding.subject))
        for name in sorted(fed.by_cells) if fed is not None and not fed.by_rail else ():
            steps, _ = lead_steps(survey.fragment, survey.fragment.parts[name], "plus",
                                  fitting(survey.fragment, BLOCKING))
            yield Remedy(steps, insert_diode=f"{name}.plus")


def _way(survey: Survey, finding: Finding) -> list[str]:
    """The parts that lose volts on the way to a load while it is stored, the one that loses the most first."""
    from netcheck.checks.voltage import drops

    stored = survey.resting(False)
    lost_V = drops(survey, stored) if stored is not None else {}
    return sorted(lost_V, key=lambda name: -lost_V[name]) if stored is not None else list(finding.parts)


def _turned_alone(fragment: Fragment, finding: Finding) -> Iterator[Remedy]:
    """The diode turned round that shorts a supply by itself: it may have been meant to clamp."""
    diodes = [name for name in finding.parts if name in fragment.parts and fragment.parts[name].kind is Kind.DIODE]
    if finding.case.startswith("supply") and len(diodes) == 1:
        yield _turned(fragment, diodes[0])


def _turned(fragment: Fragment, name: str) -> Remedy:
    return Remedy(turn_steps(fragment, name), words=f"turn {name} round", extra={"turn": name})


def _lowered(survey: Survey, name: str) -> Iterator[Remedy]:
    """A resistor of fewer ohms: the usual ones, and the least that hold a fault current into a cell by themselves."""
    fragment = survey.fragment
    part = fragment.parts[name]
    if not isinstance(part.spec, ResistorSpec):
        return
    allowed_A = [cell.spec.abnormal_charge_A for cell in survey.cells()
                 if isinstance(cell.spec, CellSpec) and cell.spec.abnormal_charge_A]
    push_V = max((_push_V(fragment, cell.spec) for cell in survey.cells() if isinstance(cell.spec, CellSpec)),
                 default=0.0)
    least_ohm = [holding(push_V / min(allowed_A))] if allowed_A and push_V > 0 else []
    for ohm in (USUAL_OHM, *(ohm for ohm in least_ohm if ohm < USUAL_OHM)):
        if ohm < part.spec.resistance.value:
            fitted = replace(part, spec=ResistorSpec(resistance(ohm, 0.05)))
            yield Remedy((Step("replace", part.mark, parts=(fitted,)),),
                         words=phrase("lower-resistor", part=name, value_ohm=ohm), extra={"replace": {name: ohm}})


def _push_V(fragment: Fragment, spec: CellSpec) -> float:
    """The most volts that a rail stands above a spent cell."""
    return max((rail.volts.high for rail in fragment.rails.values()), default=0.0) - end_V(spec)


def _protected(fragment: Fragment, finding: Finding) -> Iterator[Remedy]:
    """A resistor or a second diode in the cell's lead; each with diodes of a lower drop, where volts are short."""
    plain = [*_resistor(fragment, finding), _diode(fragment, finding, fitting(fragment, BLOCKING))]
    low = _diode(fragment, finding, fitting(fragment, LOW_DROP))
    yield from (*plain, replace(low, spares=plain[-1].steps))
    for first in _other_diodes(fragment, finding.parts, LOW_DROP):
        changed = apply_steps(fragment, first.steps)
        further = [*_resistor(changed, finding), _diode(changed, finding, fitting(fragment, LOW_DROP))]
        for spared, second in zip(plain, further, strict=True):
            words = phrase("both", first=remedy_words(first), second=remedy_words(second))
            extra = second.extra or {"insert_diode": second.insert_diode}
            yield Remedy((*first.steps, *second.steps), words=words, extra={**first.extra, **extra},
                         of=(first, second), spares=spared.steps)


def _resistor(fragment: Fragment, finding: Finding) -> list[Remedy]:
    """A resistor in the cell's plus lead that holds a fault current below the limit; none where no limit is known."""
    cell = fragment.parts[finding.subject]
    assert isinstance(cell.spec, CellSpec)
    fault_A, allowed_A = (finding.figures.get(name) for name in ("fault_charge_A", "allowed_A"))
    push_V = _push_V(fragment, cell.spec)
    if not fault_A or not allowed_A or push_V <= 0:
        return []
    return [resistor_in_lead(fragment, cell, holding(push_V / allowed_A - push_V / fault_A))]


def _diode(fragment: Fragment, finding: Finding, diode: DiodeSpec) -> Remedy:
    """This diode in the cell's plus lead."""
    cell = fragment.parts[finding.subject]
    steps, _ = lead_steps(fragment, cell, "plus", diode)
    usual = diode.name == fitting(fragment, BLOCKING).name
    words = "" if usual else phrase("lead-diode", diode=diode.name, cell=cell.name, pin="plus")
    return Remedy(steps, insert_diode=f"{cell.name}.plus", words=words)


def joints(remedy: Remedy) -> int:
    """Joints that it takes to solder: two for each part out or in, one for each lead moved."""
    return sum(len(step.moves) + 2 * len(step.names) * (step.action == "remove")
               + sum(len(part.pins) * (2 if step.action == "replace" else 1) for part in step.parts)
               for step in remedy.steps)


def most_tried(fragment: Fragment) -> int:
    """Cures that are tried in one go."""
    return _MOST_TRIED if len(fragment.parts) <= _LARGE else _FEWEST_TRIED


def tried(
    fragment: Fragment, result: VariantResult, found: Sequence[Remedy], trials: Trials, offered: int = OFFERED,
    then: Then = lambda remedy, after: (),
) -> Generator[tuple[Remedy, VariantResult], None, None]:
    """Each remedy with the verdict that it leads to, the best first and as soon as it is sure; none that helps nothing.

    None is tried once the time allowed for all is used up, and one that was not judged to its end is none. then: what
    will be tried once the best has been judged to its end, if it is what it seems.
    """
    found = found[:most_tried(fragment)]
    steps = [remedy.steps for remedy in found]
    free = unkept(fragment)
    try:
        seeming, left = _promising(fragment, result, found, trials, offered, then)
        seeming.sort(key=lambda pair: _ranked(pair[0], pair[1], result))
        # A single failure makes a caution at most, so that none that harms is offered beside one that does not.
        promising = _offered(seeming, result)[:max(offered, _LEAST_WHOLE)]
        trials.drop([pair[0].steps for pair in seeming if pair not in promising])
        judged: list[tuple[Remedy, VariantResult]] = []
        best = None
        for place, end in trials.in_turn([remedy.steps for remedy, _ in promising], failing=True,
                                         what="Trying changes with single failures", sure=offered,
                                         then=then(*promising[0]) if promising else ()):
            remedy, seemed = promising[place]
            if end is not None and better(end, result, free):
                judged.append((_told(remedy, end), end))
                if place == 0 and end.verdict == seemed.verdict:
                    best = judged[0]  # single failures make nothing better
                    yield best
            if len(judged) == offered:
                break
        judged.sort(key=lambda pair: _ranked(pair[0], pair[1], result))
        yield from (pair for pair in _offered(judged, result) if pair is not best)
        if seeming and not judged:
            yield from tried(fragment, result, left, trials, offered, then)
    finally:
        trials.drop(steps, failing=False)
        trials.drop(steps)


def _promising(
    fragment: Fragment, result: VariantResult, found: Sequence[Remedy], trials: Trials, offered: int, then: Then
) -> tuple[list[tuple[Remedy, VariantResult]], list[Remedy]]:
    """The remedies that help as far as can be told without single failures, each with what it leads to then.

    With them those that were not tried, since none could go before these.
    """
    promising: list[tuple[Remedy, VariantResult]] = []
    ends: dict[str, VariantResult | None] = {}
    free = unkept(fragment)
    steps = [remedy.steps for remedy in found]

    def left() -> list[Remedy]:
        return [one for one in found if repr(one.steps) not in ends
                and (one.spares not in steps or _short(ends.get(repr(one.spares)), result))]

    def enough() -> bool:
        if sum(after.verdict == "ok" for _, after in promising) >= offered:
            return True
        best = min((_ranked(remedy, after, result) for remedy, after in promising), default=None)
        return offered == 1 and best is not None and not best[1] and all(
            best <= (best_rank(fragment, result, one.steps), 0, 0, joints(one)) for one in left())

    for sparing in (False, True):
        if enough():
            break
        some = [one for one in found
                if (one.spares in steps) is sparing and (not sparing or _short(ends.get(repr(one.spares)), result))]
        all_whole = len(some) <= offered  # each that helps is judged to its end, whichever is the best
        for place, end in trials.in_turn([one.steps for one in some], failing=False, what="Trying changes"):
            ends[repr(some[place].steps)] = end
            if end is None or not better(end, result, free):
                trials.drop([some[place].steps])
                continue
            promising.append((some[place], end))
            if enough():
                rest = [one.steps for one in some[place + 1:]]
                trials.drop(rest, failing=False)
                trials.drop(rest)
                break
            if len(promising) == 1 and place + 1 < len(some) and (all_whole or offered == 1):
                others = [trials.trial(one.steps) for one in some[place + 1:]] if all_whole else ()
                trials.ahead(some[place].steps, others or then(some[place], end))  # the first is the best, as a rule
    return promising, left() if offered == 1 else []


_AT_STAKE = ("backup-voltage", "running-volts", "keeps-nothing", "life", "expectation")
"""Checks that may speak because a part in a cell's lead costs volts."""


def _short(after: VariantResult | None, before: VariantResult) -> bool:
    """Whether a change leaves volts short, or does harm that was not there; as good as that where it is not known."""
    known = {(finding.check, finding.subject) for finding in before.findings}
    return after is None or any(
        finding.severity is not Severity.NOTE
        and (finding.check in _AT_STAKE or (finding.check, finding.subject) not in known)
        for finding in after.findings)


_Of = TypeVar("_Of")


def _offered(found: list[tuple[_Of, VariantResult]], before: VariantResult) -> list[tuple[_Of, VariantResult]]:
    """Without what ends in danger or fails, or takes a rail from a load, where something else does not."""
    best = min((RANK.index(after.verdict) for _, after in found), default=0)
    if RANK[best] in (harmful := ("danger", "fails")):
        return found
    harmless = [pair for pair in found if pair[1].verdict not in harmful]
    return [pair for pair in harmless if fed(pair[1], before)] or harmless


def _ranked(remedy: Remedy, after: VariantResult, before: VariantResult) -> tuple[int, ...]:
    """What a remedy leads to, then the rails and cells that loads lose by it, then how little there is to solder."""
    return RANK.index(after.verdict), not fed(after, before), len(idled(after, before)), joints(remedy)


def _told(remedy: Remedy, after: VariantResult) -> Remedy:
    """A remedy with what it leads to."""
    lowest = [load.lowest_V for load in after.loads.values() if load.carried_by_cell and load.lowest_V is not None]
    lives = [cell.life.years for cell in after.cells.values() if cell.life is not None and cell.life.years is not None]
    return replace(remedy, verdict=after.verdict, lowest_V=min(lowest, default=None),
                   life_years=min(lives, default=None), because=_because(after, min(lowest, default=None)))


def gravest(after: VariantResult) -> Finding | None:
    """The first finding that makes the verdict; None where it is ok."""
    return next((finding for finding in after.findings if str(finding.severity) == after.verdict), None)


def _because(after: VariantResult, lowest_V: float | None) -> str:
    """Why it leads there: the worst that is left, or what is achieved."""
    left = gravest(after)
    if left is not None:
        return f"{left.check}: {left.message.partition('. ')[0].rstrip('.')}"
    return phrase("no-charge", lowest_V=lowest_V)


def for_cell(name: str, found: Sequence[tuple[Remedy, VariantResult]], before: VariantResult) -> list[Remedy]:
    """The remedies that concern one cell: where it is charged, those after which it is charged no more."""
    if not _charged(before.cells[name]):
        return [remedy for remedy, _ in found] if not any(map(_charged, before.cells.values())) else []
    return [remedy for remedy, after in found if name not in after.cells or not _charged(after.cells[name])]


def _charged(cell: CellResult) -> bool:
    return cell.primary and any(route.conducting for route in cell.routes)


def stops(survey: Survey, name: str, cell: CellResult) -> tuple[Remedy, ...]:
    """What would stop the charging of a cell that may be charged, as far as the graph can tell."""
    if cell.primary or not any(route.conducting for route in cell.routes):
        return ()
    found = removals(survey.fragment, survey.conductions, survey.fragment.parts[name])
    return tuple(_removal(survey.fragment, parts) for parts in found.sets[:OFFERED])


def by_graph(survey: Survey, result: VariantResult) -> dict[str, tuple[Remedy, ...]]:
    """The remedies of each charged cell as far as the graph alone can tell, where nothing could be simulated."""
    found = {}
    for name, cell in result.cells.items():
        part = survey.fragment.parts[name]
        if _charged(cell):
            sets = removals(survey.fragment, survey.conductions, part).sets[:OFFERED]
            places = diode_places(survey.fragment, survey.conductions, part, cell.routes,
                                  fitting(survey.fragment, BLOCKING))
            found[name] = (*(_removal(survey.fragment, parts) for parts in sets), *places)
    return found


def named(remedies: Sequence[Remedy], complete: bool) -> Mapping[str, Word]:
    """The remedies for the advice: remove R1, remove D3 … complete: whether all ways were tried."""
    found: dict[str, Word] = {"cures": tuple(map(remedy_words, remedies))} if remedies else {"cured": "not"}
    return found if complete else {**found, "tried": "not all"}


def remedy_words(remedy: Remedy) -> str:
    """One remedy as a phrase."""
    if remedy.words:
        return remedy.words
    if remedy.remove:
        return "remove " + " and ".join(remedy.remove)
    place = remedy.insert_diode or ""
    if "." in place:
        name, pin = place.split(".")
        return f"put a blocking diode in {name}'s {pin} lead"
    return f"fit a diode in place of {place}"
