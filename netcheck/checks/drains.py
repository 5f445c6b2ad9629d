"""What may stop a cell from being emptied for nothing: the part out, a zener of more volts, a feed from a rail.

Candidates; whether a part was needed (a zener that clamps a load, a diode that feeds one) is told by judging again.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from netcheck.checks.fewer_volts import of_fewer_volts, overfeeding
from netcheck.checks.offers import USUAL_OHM, fed_from, holding, resistor_in_lead, small_zeners, zener_series, zener_V
from netcheck.checks.voltage import drops
from netcheck.conduction.remedies import Remedy, next_designator, removal_steps, replaced_diode
from netcheck.conduction.routes import feed_path
from netcheck.findings import Finding
from netcheck.fragment.kinds import kinds_where
from netcheck.fragment.model import Fragment, Kind, Part, Step
from netcheck.parts.catalogue import cell_rules
from netcheck.parts.cell import volts
from netcheck.parts.specs import CellSpec, DiodeSpec
from netcheck.parts.zener import knee
from netcheck.solving.solved_states import Survey
from netcheck.wording.phrases import phrase

_REMOVABLE = frozenset(kinds_where("removable"))
_SWITCHES = (Kind.TRANSISTOR, Kind.RELAY, Kind.SWITCH, Kind.JUMPER)


def relieved(survey: Survey, finding: Finding) -> Iterator[Remedy]:
    """What might end a drain that a finding names the parts of: of each part what fits its kind."""
    fragment = survey.fragment
    named = [fragment.parts[name] for name in dict.fromkeys(finding.parts) if name in fragment.parts]
    fixed = {fragment.ground, *fragment.rails, *_backed(survey)}
    switched = {net for part in named if part.kind in _SWITCHES for net in part.nets} - fixed
    for part in named:
        yield from _more_volts(survey, part)
        if switched.intersection(part.nets):
            continue  # somebody switches it: it is there for something
        if part.kind in _REMOVABLE and not _leaves_a_chip_alone(fragment, part):
            yield Remedy(removal_steps(fragment, (part.name,)), remove=(part.name,))
        yield from _on_the_rail(survey, part, fixed, named)


def in_lead(survey: Survey, finding: Finding) -> Iterator[Remedy]:
    """A resistor in the plus lead of a cell that is drained too hard: fresh, it then gives no more than it may."""
    cell = survey.fragment.parts.get(finding.subject)
    if cell is None or not isinstance(cell.spec, CellSpec):
        return
    limit_A = finding.figures.get("limit_A")
    ohm = holding(volts(cell.spec, 0.0, cell.measured_V) / limit_A) if limit_A else USUAL_OHM
    yield resistor_in_lead(survey.fragment, cell, ohm)


def overfed(survey: Survey, finding: Finding) -> Iterator[Remedy]:
    """Out with a part on the way from a rail of too many volts to a load; or a zener that holds the load's volts.

    Where a cell alone gives too many, a cell of fewer instead: the zener would empty it.
    """
    fragment = survey.fragment
    load, limit_V = fragment.parts.get(finding.subject), finding.figures.get("limit_V")
    state = next((one for one in survey.states.states if one.name == finding.state), None)
    if load is None or load.kind is not Kind.LOAD or state is None or limit_V is None:
        return
    graph = survey.conduction(state)
    for rail in (net for net, held in graph.held.items() if held.live and held.high_V > limit_V):
        for name, _, _ in feed_path(fragment, graph, load, rail):
            if fragment.parts[name].kind in _REMOVABLE:
                yield Remedy(removal_steps(fragment, (name,)), remove=(name,))
    if cells := overfeeding(survey, load, limit_V):
        yield from of_fewer_volts(survey, cells, limit_V)
        return
    holding = [one for one in small_zeners() if one.zener_V is not None and one.zener_V.high <= limit_V]
    for spec in holding[-1:]:
        fitted = Part(name=next_designator(fragment, "D"), kind=Kind.DIODE, spec=spec, mark=load.mark,
                      pins={"anode": load.pins["minus"], "cathode": load.pins["plus"]})
        yield Remedy((Step("fit", load.mark, parts=(fitted,)),), words=phrase("zener", zener=spec.name, load=load.name),
                     extra={"fit": {fitted.name: spec.name}})


def _leaves_a_chip_alone(fragment: Fragment, part: Part) -> bool:
    """Whether a pin of a chip or connector would hang on nothing without this part."""
    for net in part.nets:
        others = [one for one in fragment.fitted if one.name != part.name and net in one.nets]
        if net not in (fragment.ground, *fragment.rails) and others and all(
                one.kind in (Kind.CHIP, Kind.CONNECTOR) for one in others):
            return True
    return False


def _more_volts(survey: Survey, part: Part) -> Iterator[Remedy]:
    """Zeners of more volts from the same series: the first that is quiet at a fresh cell's volts, and those beside it.

    Quiet is one that typically passes no more than makers let leak. The one below may clamp better and drain little.
    """
    spec = part.spec
    if not isinstance(spec, DiodeSpec) or spec.zener_V is None:
        return
    now_V = spec.zener_V.value
    fresh_V = max((volts(cell.spec, 0.0, cell.measured_V) for cell in survey.cells()
                   if isinstance(cell.spec, CellSpec)), default=0.0)
    larger = [other for other in zener_series(spec) if zener_V(other) > now_V]
    quiet = next((place for place, other in enumerate(larger)
                  if sum(term.current(fresh_V) for term in knee(other)) <= cell_rules().leak_limit_A), len(larger))
    yield from (replaced_diode(survey.fragment, part.name, other) for other in larger[max(quiet - 1, 0):quiet + 2])


def _on_the_rail(survey: Survey, part: Part, fixed: Collection[str], way: Sequence[Part]) -> Iterator[Remedy]:
    """A resistor or diode that hangs on what the cell backs up, on a rail instead: what follows is fed from there."""
    if part.kind not in (Kind.RESISTOR, Kind.DIODE):
        return
    for pin, net in part.pins.items():
        leads_on = net in fixed and not (set(part.nets) - {net}).intersection(fixed) and not _is_lead(survey, part, net)
        rail = _feeding(survey, net) if leads_on else None
        if rail is not None and not any(rail in one.nets for one in way):
            yield fed_from(part, pin, rail)


def _is_lead(survey: Survey, part: Part, net: str) -> bool:
    """Whether a part is all that hangs on a cell's pin there."""
    return all(one.kind is Kind.CELL or one.name == part.name for one in survey.fragment.fitted if net in one.nets)


def _backed(survey: Survey) -> set[str]:
    """The nets on which a cell feeds loads with the supplies off."""
    fragment, stored = survey.fragment, survey.resting(False)
    way = drops(survey, stored) if stored is not None else {}
    return {*(cell.pins["plus"] for cell in survey.cells()), *(load.pins["plus"] for load in survey.loads()),
            *(net for name in way for net in fragment.parts[name].nets)}


def _feeding(survey: Survey, net: str) -> str | None:
    """The rail that stands next above a net while all supplies are on: what hangs there gets about what it got."""
    live = survey.resting(True)
    point = survey.at(live, survey.corners.room) if live is not None else None
    found_V = point.volts.get(net) if point is not None and point.known else None
    if found_V is None or found_V <= 0:
        return None
    above = {name: rail.volts.value for name, rail in survey.fragment.rails.items() if rail.volts.value >= found_V}
    return min(above, key=above.__getitem__, default=None)
