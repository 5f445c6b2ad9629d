"""What may be offered as a cure beyond parts out and diodes in leads: types that fit the board, pulls, other cells."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from msgspec.structs import replace

from netcheck.checks.results import VariantResult
from netcheck.checks.voltage import needs
from netcheck.conduction.graph import conduction
from netcheck.conduction.remedies import Remedy, lead_resistor, next_designator, removal_steps, removals
from netcheck.findings import Finding
from netcheck.fragment.model import AS_FOUND, Fragment, Kind, Part, Step
from netcheck.fragment.mods import apply_steps
from netcheck.fragment.written import resistance
from netcheck.parts.catalogue import Catalogue
from netcheck.parts.cell import is_dead
from netcheck.parts.families import LEADED_BODIES
from netcheck.parts.series import at_least
from netcheck.parts.specs import CellSpec, DiodeSpec, ResistorSpec
from netcheck.simulation import topology
from netcheck.simulation.assemble import circuit_of
from netcheck.solving.solved_states import Survey
from netcheck.wording.phrases import phrase

BLOCKING = {"": "1N4148", "MELF": "LL4148", "SOD-123": "1N4148W", "SOD-323": "1N4148WS", "SOT-23": "BAS116"}
"""The blocking diode that is proposed first, by the body that the board has: low leakage, and in every drawer."""

LOW_DROP = {"": "1N5711", "MELF": "BAS70", "SOD-123": "BAS70", "SOD-323": "BAS70", "SOT-23": "BAS70"}
"""What is proposed where volts are short: a small Schottky diode of low leakage."""

USUAL_OHM = 1e3
"""The protection resistor that is usual in a coin cell's lead (common practice, no source)."""

COIN = "CR2032"
"""The coin cell that is proposed for a dead pack (common practice, no source)."""

_PULL_OHM = {"gate": 100e3, "rail": 10e3}
"""A pull to ground that holds a gate, or a dead rail, and loads it little (common practice, no source)."""

_MOST_PULLS = 3


def fitting(fragment: Fragment, types: dict[str, str], place: str | None = None) -> DiodeSpec:
    """The type with the body of the diode in that place, else with the body that most diodes of the board have."""
    bodies = Counter(part.spec.body for part in fragment.of_kind(Kind.DIODE)
                     if isinstance(part.spec, DiodeSpec) and part.spec.body is not None)
    own = fragment.parts[place].spec if place is not None else None
    body = own.body if isinstance(own, DiodeSpec) and own.body else bodies.most_common(1)[0][0] if bodies else ""
    if body in LEADED_BODIES:
        body = ""
    return Catalogue.standard().diode(types.get(body, types["SOD-323"] if body else types[""]))


def pulls(survey: Survey) -> Iterator[Remedy]:
    """A resistor to ground for each gate that floats in some state, and for each dead rail that is left alone."""
    fragment = survey.fragment
    loose: dict[str, str] = {}
    for state in survey.states.states:
        if not survey.as_set(state):
            continue
        circuit = circuit_of(fragment, state, survey.corners.room)
        floating = {net for island in topology.survey(circuit).islands for net in island}
        gates = [part.pins["gate"] for part in fragment.of_kind(Kind.TRANSISTOR) if "gate" in part.pins]
        loose |= {net: "gate" for net in gates if net in floating and net not in fragment.rails}
        loose |= {net: "rail" for net, rail in fragment.rails.items()
                  if rail.when_off == "open" and not state.supplies[rail.supply]}
    for net, what in list(loose.items())[:_MOST_PULLS]:
        ohm = _PULL_OHM[what]
        mark = next(part.mark for part in fragment.parts.values())
        fitted = Part(name=next_designator(fragment, "R"), kind=Kind.RESISTOR, pins={"1": net, "2": fragment.ground},
                      spec=ResistorSpec(resistance(ohm, 0.05)), mark=mark)
        yield Remedy((Step("fit", mark, parts=(fitted,)),),
                     words=phrase("pull", net=net, value_ohm=ohm),
                     extra={"fit_resistor": {"between": [net, fragment.ground], "ohm": ohm}})


def resistor_in_lead(fragment: Fragment, cell: Part, ohm: float) -> Remedy:
    """A resistor of 5 % in a cell's plus lead. ohm: its nominal value."""
    steps, _ = lead_resistor(fragment, cell, "plus", ohm)
    return Remedy(steps, words=phrase("lead-resistor", cell=cell.name, value_ohm=ohm),
                  extra={"fit_resistor": {"at": f"{cell.name}.plus", "ohm": ohm}})


def holding(least_ohm: float) -> float:
    """The standard value of 5 % that has so many ohms at its low end, too; 1 Ω at least."""
    return at_least(max(1.0, least_ohm / 0.95), 24)


def fed_from(part: Part, pin: str, rail: str) -> Remedy:
    """A pin of a part moved to a rail."""
    return Remedy((Step("move", part.mark, moves={(part.name, pin): rail}),),
                  words=phrase("by-rail", load=part.name, net=rail), extra={"move": {f"{part.name}.{pin}": rail}})


def small_zeners() -> list[DiodeSpec]:
    """The zeners of the small series that is in every drawer, by their volts (common practice, no source)."""
    return zener_series(Catalogue.standard().diode("BZX55C5V1"))


def zener_series(spec: DiodeSpec) -> list[DiodeSpec]:
    """The zeners of the library that a zener's maker lists with it, by their volts; all of them where none is known."""
    known = [one for one in Catalogue.standard().entries("diode") if isinstance(one, DiodeSpec) and one.zener_V]
    alike = [one for one in known if _listed_in(one) and _listed_in(one) == _listed_in(spec)]
    return sorted(alike or known, key=zener_V)


def _listed_in(spec: DiodeSpec) -> str | None:
    """The data sheet that its volts stand in."""
    return next((one.source.partition(": ")[0] for one in spec.figures if one.of == "zener"), None)


def zener_V(spec: DiodeSpec) -> float:
    """Its nominal volts; 0 where it is no zener."""
    return spec.zener_V.value if spec.zener_V else 0.0


def other_cells(survey: Survey, finding: Finding) -> Iterator[Remedy]:
    """The dead or second cell out: each cell that a finding on another one, or on what they feed, names."""
    named = [name for name in finding.parts if name in survey.fragment.parts and name != finding.subject]
    for name in dict.fromkeys(named):
        if survey.fragment.parts[name].kind is Kind.CELL:
            yield Remedy(removal_steps(survey.fragment, (name,)), remove=(name,))


def by_rail_alone(survey: Survey, names: Iterable[str]) -> Iterator[Remedy]:
    """Each load of these that need not be kept, on each rail whose volts it works with, and no more on its net."""
    fragment = survey.fragment
    for name in names:
        part = fragment.parts.get(name)
        if part is None or part.kind is not Kind.LOAD or part.kept is not False:
            continue
        span = needs(part)
        for net in [net for net, rail in fragment.rails.items() if net not in part.nets
                    if span is None or (span.low <= rail.volts.low and rail.volts.high <= span.high)]:
            yield fed_from(part, "plus", net)


def packs(survey: Survey, result: VariantResult) -> Iterator[Remedy]:
    """For each pack that is dead, or that a mod leaves without a charger: out, or a coin cell in its place.

    With the coin cell goes what would charge it; where another cell is left the pack just comes out.
    """
    fragment = survey.fragment
    cells = survey.cells()
    for cell in cells:
        spec = cell.spec
        assert isinstance(spec, CellSpec)
        if spec.primary or spec.capacitance_F is not None or not (
                is_dead(spec, cell.measured_V) or (fragment.variant != AS_FOUND and _uncharged(result, cell))):
            continue
        if len(cells) > 1:
            yield Remedy(removal_steps(fragment, (cell.name,)), remove=(cell.name,))
        yield from by_coin_cell(survey, cell)


def _uncharged(result: VariantResult, cell: Part) -> bool:
    return any((finding.check, finding.case, finding.subject) == ("charger", "not-charged", cell.name)
               for finding in result.findings)


def by_coin_cell(survey: Survey, cell: Part) -> Iterator[Remedy]:
    """A coin cell in the place of a rechargeable, without what would charge it; also with the usual resistor."""
    coin = replace(cell, spec=Catalogue.standard().cell(COIN), measured_V=None)
    swap = Step("replace", cell.mark, parts=(coin,))
    changed = apply_steps(survey.fragment, (swap,))
    after = [conduction(changed, one.state, one.channels) for one in survey.conductions]
    stops: Sequence[tuple[str, ...]] = removals(changed, after, coin).sets[:2] or [()]
    for parts in stops:
        out = (Step("remove", changed.parts[parts[0]].mark, names=parts),) if parts else ()
        words = phrase("coin-cell", coin=COIN, cell=cell.name, parts=parts or None)
        extra = {"replace": {cell.name: COIN}, "remove": list(parts)}
        yield Remedy((*out, swap), words=words, extra=extra)
        lead, _ = lead_resistor(changed, coin, "plus", USUAL_OHM)
        yield Remedy((*out, swap, *lead), words=phrase("with-lead", cure=words, value_ohm=USUAL_OHM),
                     extra={**extra, "fit_resistor": {"at": f"{cell.name}.plus", "ohm": USUAL_OHM}})
