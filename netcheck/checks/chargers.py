"""What may mend a charger: other ohms, fewer volts where the charge ends too high, or a cell that needs none.

Candidates; what each leads to is told by judging again.
"""

from __future__ import annotations

from collections.abc import Iterator

from msgspec.structs import replace

from netcheck.checks.offers import BLOCKING, by_coin_cell, fed_from, fitting, resistor_in_lead, small_zeners
from netcheck.checks.results import VariantResult
from netcheck.conduction.remedies import Remedy, next_designator, removal_steps, replaced_diode, series_diode
from netcheck.findings import Finding, Severity
from netcheck.fragment.kinds import COPPER
from netcheck.fragment.model import Kind, Part, Step
from netcheck.fragment.written import resistance
from netcheck.parts.cell import end_V
from netcheck.parts.series import nearest
from netcheck.parts.specs import CellSpec, DiodeSpec, ResistorSpec, TrickleWindow
from netcheck.parts.zener import knee
from netcheck.quantities.values import Span
from netcheck.solving.solved_states import Survey
from netcheck.wording.phrases import phrase

_TOO_HIGH = ("end-too-high", "end-too-high-lithium")

_MOST_ZENERS = 4

_JUNCTION_V = 0.6
"""The most that a diode behind a zener takes of its volts with next to no current (common practice, no source)."""


def chargers(survey: Survey, result: VariantResult) -> Iterator[Remedy]:
    """What may mend each charger that a finding is against."""
    for finding in result.findings:
        if finding.check != "charger" or finding.severity is Severity.NOTE or finding.subject not in result.cells:
            continue  # a charger that a program switches on is told of its chip
        if finding.case in _TOO_HIGH:
            yield from _lower_end(survey, result, finding)
        yield from _other_ohms(survey, result, finding)


def _on_way(survey: Survey, result: VariantResult, cell: str) -> list[Part]:
    """The parts on the ways into a cell."""
    names = dict.fromkeys(name for route in result.cells[cell].routes if route.conducting for name in route.parts)
    return [survey.fragment.parts[name] for name in names]


def _other_ohms(survey: Survey, result: VariantResult, finding: Finding) -> Iterator[Remedy]:
    """Another charging resistor for a pack that is charged too hard or too little: to the middle of its window.

    The current goes in inverse proportion to the resistance: the volts that are left fall there.
    """
    now_A = finding.figures.get("charge_A") or finding.figures.get("trickle_A")
    spec = survey.fragment.parts[finding.subject].spec
    assert isinstance(spec, CellSpec)
    if spec.trickle is None or not now_A:
        return
    way = _on_way(survey, result, finding.subject)
    resistors = [part for part in way if isinstance(part.spec, ResistorSpec) and part.spec.resistance.value > 0]
    if not resistors and now_A > spec.trickle.most_A:
        yield from _held_back(survey, way, survey.fragment.parts[finding.subject], spec.trickle)
    for part in resistors:
        if isinstance(part.spec, ResistorSpec):
            ohm = nearest(part.spec.resistance.value * now_A / _middle(spec.trickle), 24)
            fitted = replace(part, spec=ResistorSpec(resistance(ohm, 0.05)))
            yield Remedy((Step("replace", part.mark, parts=(fitted,)),),
                         words=phrase("lower-resistor", part=part.name, value_ohm=ohm),
                         extra={"replace": {part.name: ohm}})


def _held_back(survey: Survey, way: list[Part], cell: Part, window: TrickleWindow) -> Iterator[Remedy]:
    """For a pack that is charged past no resistor: one in its lead, or the link out by which it is charged."""
    fragment, spec = survey.fragment, cell.spec
    assert isinstance(spec, CellSpec)
    push_V = max((rail.volts.value for rail in fragment.rails.values()), default=0.0) - (
        spec.charge_window.high if spec.charge_window else end_V(spec))
    if push_V > 0:
        yield resistor_in_lead(fragment, cell, nearest(push_V / _middle(window), 24))
    yield from (Remedy(removal_steps(fragment, (part.name,)), remove=(part.name,))
                for part in way if part.kind in COPPER)


def _middle(window: TrickleWindow) -> float:
    """The current [A] to aim at: the middle of a window by ratio, half of the most where it has no least."""
    return float((window.least_A * window.most_A) ** 0.5) or 0.5 * window.most_A


def _lower_end(survey: Survey, result: VariantResult, finding: Finding) -> Iterator[Remedy]:
    """For a charge that ends at too many volts, which no resistor lowers.

    From a rail of fewer volts; one more diode on the way, or one of more drop; a zener that holds the volts before the
    diode that blocks; or a coin cell in the place of the rechargeable, without what charges it.
    """
    fragment = survey.fragment
    cell = fragment.parts[finding.subject]
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    if spec.capacitance_F is None:
        yield from by_coin_cell(survey, cell)
    way = _on_way(survey, result, finding.subject)
    for part in way:
        feeding = [net for net in part.nets if net in fragment.rails]
        for net in feeding:
            pin = next(pin for pin, on in part.pins.items() if on == net)
            lower = [name for name, rail in fragment.rails.items()
                     if fragment.rails[net].volts.low > rail.volts.high > finding.figures["least_V"]]
            yield from (fed_from(part, pin, name) for name in lower)
            if part.kind is Kind.RESISTOR:
                yield series_diode(fragment, part.name, net, fitting(fragment, BLOCKING))
        if isinstance(part.spec, DiodeSpec) and part.spec.zener_V is None:
            other = fitting(fragment, BLOCKING, part.name)
            if other.name != part.spec.name:
                yield replaced_diode(fragment, part.name, other)
    if spec.charge_window is not None:
        yield from _held_before(survey, way, spec.charge_window)


def _held_before(survey: Survey, way: list[Part], window: Span) -> Iterator[Remedy]:
    """A zener to ground between a resistor from a rail and the diode behind it, which keeps the cell from it."""
    fragment = survey.fragment
    anodes = {part.pins["anode"]: part for part in way if part.kind is Kind.DIODE}
    for part in way:
        rails = [net for net in part.nets if net in fragment.rails]
        between = [net for net in part.nets if net in anodes]
        if not isinstance(part.spec, ResistorSpec) or not rails or not between or part.spec.resistance.value <= 0:
            continue
        rail = fragment.rails[rails[0]]
        held = [(spec, _held_V(spec, rail.volts.value, part.spec.resistance.value)) for spec in small_zeners()]
        fit = [spec for spec, volts in held if window.low < volts < window.high + _JUNCTION_V]
        for spec in fit[-_MOST_ZENERS:]:
            fitted = Part(name=next_designator(fragment, "D"), kind=Kind.DIODE, spec=spec, mark=part.mark,
                          pins={"anode": fragment.ground, "cathode": between[0]})
            yield Remedy((Step("fit", part.mark, parts=(fitted,)),),
                         words=phrase("zener-from", zener=spec.name, net=between[0]),
                         extra={"fit": {fitted.name: spec.name}})


def _held_V(spec: DiodeSpec, rail_V: float, ohm: float) -> float:
    """The volts at which a zener holds what a rail feeds through a resistance: its current is that of the resistor."""
    low_V, high_V = 0.0, rail_V
    for _ in range(40):
        volts = 0.5 * (low_V + high_V)
        passes_A = sum(term.current(volts) for term in knee(spec))
        low_V, high_V = (low_V, volts) if passes_A > (rail_V - volts) / ohm else (volts, high_V)
    return 0.5 * (low_V + high_V)
