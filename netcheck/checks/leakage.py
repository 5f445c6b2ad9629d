"""What leaks into a primary cell through the parts that block, and whether that is too much."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct

from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.parts import diode
from netcheck.parts.catalogue import cell_rules
from netcheck.parts.chip import settled
from netcheck.parts.specs import CellSpec, ChipSpec, DiodeSpec, TransistorSpec
from netcheck.simulation.corner import Corner
from netcheck.solving.flows import flows, leaking_on, part_of
from netcheck.solving.solved_states import ROOM_C, Survey

HOURS_A_DAY, DAYS_A_YEAR = 24.0, 365.0
ASSUMED_HOURS = 4.0
"""Hours under power a day that leakage is judged at where the file states none (a sampler used in the evening)."""

KINDS = ("typical", "maximum")


class Leakage(Struct, frozen=True):
    """Currents in A into the cell, None where not computable or where it is charged.

    hot_A: at the hot end, typical and with the makers' maximum figures, the worst of all states.
    live_A, off_A: with a supply on and with all off; typical then is the middle of the temperature range and a
    cell half used, maximum the hot end and a flat cell. share: of its capacity over the years of service.
    hours_within: hours under power a day up to which the share is kept. by_state: typical at the hot end, as far as it
    is known. parts: those that leak.
    """

    hot_A: Mapping[str, float | None]
    live_A: Mapping[str, float | None]
    off_A: Mapping[str, float | None]
    share: Mapping[str, float | None]
    hours_within: Mapping[str, float | None]
    by_state: Mapping[str, float]
    parts: tuple[str, ...]


NOTHING_KNOWN: Mapping[str, float | None] = dict.fromkeys(KINDS)


def leakage(survey: Survey, cell: Part, charged: bool) -> Leakage:
    """What leaks into a cell that is not charged."""
    spec, corners = spec_of(cell), survey.corners
    if charged or survey.missing:
        return Leakage(NOTHING_KNOWN, NOTHING_KNOWN, NOTHING_KNOWN, NOTHING_KNOWN, NOTHING_KNOWN, {}, ())
    states = survey.states.states
    usual: Mapping[str, tuple[Corner, ...]] = {
        "typical": (corners.leak_usual,), "maximum": corners.leaking(cell.name, "maximum")}
    hot = {kind: most(survey.into(state, corner, cell) for state in states
                      for corner in corners.leaking(cell.name, kind)) for kind in KINDS}
    live, off = ({kind: most([0.0, *(survey.into(state, corner, cell) for state in states if state.live is on
                                     for corner in usual[kind])]) for kind in KINDS} for on in (True, False))
    share = {kind: leaked_share(live[kind], survey.fragment, spec, off[kind]) for kind in KINDS}
    hours = {kind: hours_within(live[kind], off[kind], survey.fragment.conditions.years, spec) for kind in KINDS}
    by_state = {state.name: max((amps for corner in corners.leaking(cell.name, "typical")
                                 if (amps := survey.into(state, corner, cell)) is not None), default=0.0)
                for state in states}
    return Leakage(hot, live, off, share, hours, by_state, _leaking_parts(survey, cell, by_state))


def _leaking_parts(survey: Survey, cell: Part, by_state: Mapping[str, float]) -> tuple[str, ...]:
    """The parts that leak into the cell in its worst state."""
    worst = max(survey.states.states, key=lambda state: by_state[state.name], default=None)
    if worst is None or by_state[worst.name] <= 0:
        return ()
    corner = survey.corners.leak_typical
    circuit = survey.circuit(cell, worst, corner)
    network = flows(circuit, survey.around(cell, worst, corner))
    found = leaking_on(network, cell.pins["minus"], cell.pins["plus"], (cell.name,))
    return tuple(dict.fromkeys(part for name in found if (part := part_of(survey.fragment, name)) is not None))


def spec_of(cell: Part) -> CellSpec:
    assert isinstance(cell.spec, CellSpec)
    return cell.spec


def most(values: object) -> float | None:
    """The largest; None where one of them is not known, or where there is none."""
    found = list(values)  # type: ignore[call-overload]
    return None if not found or None in found else max(found)


def allowed_share(spec: CellSpec) -> float:
    """Share of its capacity that may leak into a cell over the years of service."""
    return spec.leak_share if spec.leak_share is not None else cell_rules().leak_share


def powered_hours(fragment: Fragment, unstated: float = ASSUMED_HOURS) -> float:
    """Hours under power over the years of service: as stated, else at `unstated` hours a day."""
    return live_hours_a_day(fragment, unstated) * DAYS_A_YEAR * fragment.conditions.years


def live_hours_a_day(fragment: Fragment, unstated: float = ASSUMED_HOURS) -> float:
    stated = fragment.conditions.powered_hours_a_day
    return unstated if stated is None else stated


def leaked_share(
    amps: float | None, fragment: Fragment, spec: CellSpec, off_A: float | None = 0.0
) -> float | None:
    """Charge put in over the years of service, as a share of the capacity: each current in its own hours."""
    if amps is None or off_A is None or not spec.capacity_Ah:
        return None
    live = powered_hours(fragment)
    off = HOURS_A_DAY * DAYS_A_YEAR * fragment.conditions.years - live
    return (amps * live + off_A * off) / spec.capacity_Ah


def hours_within(live_A: float | None, off_A: float | None, years: float, spec: CellSpec) -> float | None:
    """Hours under power a day at which the share of the capacity is just kept over these years, 0 to 24.

    >>> from netcheck.parts.catalogue import Catalogue
    >>> round(hours_within(1e-6, 0.0, 10, Catalogue.standard().cell("CR2032")), 2)
    1.85
    """
    if live_A is None or off_A is None or not spec.capacity_Ah:
        return None
    a_day_Ah = allowed_share(spec) * spec.capacity_Ah / (DAYS_A_YEAR * years)
    if HOURS_A_DAY * off_A > a_day_Ah:
        return 0.0
    if live_A <= off_A or HOURS_A_DAY * live_A <= a_day_Ah:
        return HOURS_A_DAY
    return (a_day_Ah - HOURS_A_DAY * off_A) / (live_A - off_A)


def unstated(fragment: Fragment, blocking: Sequence[str]) -> tuple[str, ...]:
    """The parts that block a way into the cell and of whose leakage nothing is known."""
    return tuple(name for name in blocking if not _known(fragment.parts[name]))


def _known(part: Part) -> bool:
    """Whether a blocking part's leakage is known: published, stated, or that of the SPICE law given for it."""
    spec = part.spec
    if part.kind is Kind.CHIP:
        assert isinstance(spec, ChipSpec)
        return bool(part.paths) or settled(spec, part.pins)  # ways that are stated say that there are no others
    if isinstance(spec, TransistorSpec):
        return spec.cutoff_A is not None
    return not isinstance(spec, DiodeSpec) or spec.parameters is not None or diode.at(spec, ROOM_C).leakage_known


def leakage_findings(survey: Survey, cell: Part, found: Leakage, blocking: Sequence[str]) -> list[Finding]:
    """Danger above the most that a maker allows; caution where the share of the capacity is passed.

    What is known to be too much is a danger, whatever else is not known.
    """
    spec, fragment = spec_of(cell), survey.fragment
    line = cell.mark.line
    figures, allowed = _figures(found), allowed_share(spec)
    harm = _too_much(survey, cell, found, figures)
    if names := unstated(fragment, blocking):
        return [*harm, Finding("leakage", Severity.UNKNOWN, cell.name, case="not-stated", parts=names, line=line)]
    typical, maximum = found.share["typical"], found.share["maximum"]
    if found.hot_A["typical"] is None or typical is None or maximum is None:
        return [*harm, Finding("leakage", Severity.UNKNOWN, cell.name, case="not-solved", line=line)]
    if harm:
        return harm
    curved = _by_curve_alone(fragment, found.parts)
    if maximum <= allowed:
        return _no_guarantee(survey, cell, found, curved, allowed)
    curve = {} if not curved else {"guaranteed_V": min(curved.values())}
    return [Finding(
        "leakage", Severity.CAUTION, cell.name, case="beyond-share" if typical > allowed else "worst-beyond-share",
        words={**_blocks(found), **({"curved": tuple(curved)} if curved else {})},
        parts=found.parts, nets=cell.nets, line=line,
        figures={**figures, **curve, "allowed_share": allowed, "service_years": fragment.conditions.years,
                 **({} if fragment.conditions.powered_hours_a_day is not None else {"assumed_h": ASSUMED_HOURS})})]


def _by_curve_alone(fragment: Fragment, parts: Sequence[str]) -> dict[str, float]:
    """Diodes whose maximum leakage is a guarantee only from volts on that no rail of the board reaches, with these."""
    reached_V = max((rail.volts.high for rail in fragment.rails.values()), default=0.0)
    specs = {name: fragment.parts[name].spec for name in parts}
    return {name: from_V for name, spec in specs.items()
            if isinstance(spec, DiodeSpec) and (from_V := diode.guaranteed_from(spec)) > reached_V}


def _no_guarantee(
    survey: Survey, cell: Part, found: Leakage, curved: Mapping[str, float], allowed: float
) -> list[Finding]:
    """A note where the usual share is kept by a published curve alone: with what is guaranteed it would not be."""
    fragment, spec = survey.fragment, spec_of(cell)
    warm_C = survey.corners.leak_maximum.temperature_C
    amps = 0.0
    for name, from_V in curved.items():
        own = fragment.parts[name].spec
        assert isinstance(own, DiodeSpec)
        amps = max(amps, diode.leakage(own, from_V, warm_C, "maximum") or 0.0)
    share = leaked_share(amps, fragment, spec)
    if not curved or share is None or share <= allowed:
        return []
    return [Finding(
        "leakage", Severity.NOTE, cell.name, case="no-guarantee", parts=tuple(curved), nets=cell.nets,
        line=cell.mark.line,
        figures={"guaranteed_V": min(curved.values()), "share_maximum": found.share["maximum"] or 0.0,
                 "guaranteed_share": share, "service_years": fragment.conditions.years})]


def _too_much(survey: Survey, cell: Part, found: Leakage, figures: Mapping[str, float]) -> list[Finding]:
    limit_A = cell_rules().leak_limit_A
    beyond = sorted((name for name, amps in found.by_state.items() if amps > limit_A),
                    key=lambda name: -found.by_state[name])
    if not beyond:
        return []
    return [Finding(
        "leakage", Severity.DANGER, cell.name, case="beyond-limit", state=beyond[0],
        parts=found.parts, nets=cell.nets, line=cell.mark.line, states=tuple(beyond),
        words=_blocks(found),
        sources=tuple(dict.fromkeys(figure.source for figure in cell_rules().figures if figure.of == "leak limit")),
        figures={**figures, "leakage_A": found.by_state[beyond[0]], "limit_A": limit_A,
                 "warm_C": survey.corners.leak_typical.temperature_C})]


def _blocks(found: Leakage) -> Mapping[str, str]:
    """What is to leak less, where no part of it could be named."""
    return {} if found.parts else {"blocks": "what"}


def _figures(found: Leakage) -> dict[str, float]:
    named = {
        "leakage_A": found.hot_A["typical"], "leakage_maximum_A": found.hot_A["maximum"],
        "share": found.share["typical"], "share_maximum": found.share["maximum"],
        "hours_within_h": found.hours_within["typical"], "hours_within_worst_h": found.hours_within["maximum"],
    }
    return {name: value for name, value in named.items() if value is not None}
