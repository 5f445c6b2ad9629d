"""A single blocking diode may fail: the least series resistor that then protects the cell, or a second diode.

UL's two accepted protections, as Renata's designer's guide restates them
("3V Lithium Coin Cells - Designer's Guide", pp. 52-53): two diodes in series,
or one diode and a resistor that keeps the fault current within the cell's limit.
"""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace

from netcheck.checks.voltage import across, needs
from netcheck.conduction.remedies import free_name, lead_steps, next_designator
from netcheck.conduction.routes import charge_routes
from netcheck.diodes.comparison import Question
from netcheck.fragment.model import Fragment, Kind, Part, Step
from netcheck.fragment.mods import apply_steps
from netcheck.fragment.written import resistance
from netcheck.parts.catalogue import Catalogue
from netcheck.parts.series import at_least
from netcheck.parts.specs import CellSpec, ResistorSpec
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.corner import Corner
from netcheck.simulation.operating_point import solve
from netcheck.solving.failures import failures, single_faults
from netcheck.solving.solved_states import Survey
from netcheck.wording.phrases import phrase


class Protection(Struct, frozen=True):
    """resistor_ohm: the least standard value (None: none is needed, or none can be told)."""

    fault_A: float
    allowed_A: float
    resistor_ohm: float | None
    resistor_costs_V: float | None
    diode_costs_V: float | None
    words: str
    mods: tuple[tuple[str, tuple[Step, ...]], ...]


def protection(asked: Question) -> Protection | None:
    """What a failed diode would do to the cell, and the two cures; None where one diode does not decide it."""
    spec = asked.cell.spec
    assert isinstance(spec, CellSpec)
    routes = [r for one in asked.survey.conductions for r in charge_routes(asked.fragment, one, asked.cell)]
    shorts = min((len(route.shorts) for route in routes), default=None)
    if not spec.primary or shorts != 1 or spec.abnormal_charge_A is None:
        return None
    fault_A = worst_fault_A(asked.survey, asked.cell.name)
    if fault_A is None:
        return None
    allowed = spec.abnormal_charge_A
    second, resistor = _second_diode(asked), _resistor(asked, fault_A, allowed)
    fresh = _volts(asked, ())
    costs = [None if fresh is None or (volts := _volts(asked, steps)) is None else fresh - volts
             for steps in (second, resistor[1] if resistor else ())]
    diode_costs, resistor_costs = costs
    if fault_A <= allowed:
        words = phrase("fault-within", cell=asked.cell.name, fault_A=fault_A, allowed_A=allowed)
        return Protection(fault_A, allowed, None, None, diode_costs, words, ())
    words = phrase("fault-beyond", cell=asked.cell.name, fault_A=fault_A, allowed_A=allowed,
                   lead_ohm=resistor[0] if resistor else None,
                   lead_costs_V=_cost(resistor_costs) if resistor else None, diode_costs_V=_cost(diode_costs),
                   **_short(asked, second))
    mods: list[tuple[str, tuple[Step, ...]]] = []
    if resistor:
        mods.append((phrase("with-resistor", lead_ohm=resistor[0]), resistor[1]))
    mods.append(("with a second diode", second))
    return Protection(fault_A, allowed, resistor[0] if resistor else None, resistor_costs, diode_costs, words,
                      tuple(mods))


def _short(asked: Question, steps: Sequence[Step]) -> dict[str, str | float]:
    """What an old cell leaves the load after these steps, where that is less than it needs."""
    span, left_V = needs(asked.load), _volts(asked, steps, asked.survey.corners.old)
    if span is None or left_V is None or left_V >= span.low:
        return {}
    return {"load": asked.load.name, "short_V": left_V, "needs_V": span.low}


def _cost(volts: float | None) -> float | None:
    return None if volts is None else max(volts, 0.0)


def worst_fault_A(found: Survey, cell: str) -> float | None:
    """The hardest charge current after any single failure; None where one could not be computed."""
    failed = [one for one in failures(found, single_faults(found.fragment)) if one.fault.part != cell]
    if any(not one.point.known for one in failed):
        return None
    return max((max(0.0, -one.point.amps[cell]) for one in failed if cell in one.point.amps), default=0.0)


def _resistor(asked: Question, fault_A: float, allowed_A: float) -> tuple[float, tuple[Step, ...]] | None:
    """The least E24 value whose low end keeps every single failure within the limit, proved by simulation."""
    if fault_A <= allowed_A:
        return None
    ohms = 1.0
    for _ in range(200):
        ohms = at_least(ohms, 24)
        steps = _resistor_steps(asked.fragment, asked.cell, ohms)
        changed = replace(asked.survey, fragment=apply_steps(asked.fragment, steps))
        amps = worst_fault_A(_fresh(changed), asked.cell.name)
        if amps is None:
            return None
        if amps <= allowed_A:
            return ohms, steps
        ohms *= max(1.04, min(0.9 * amps / allowed_A, 30.0))
    return None


def _fresh(found: Survey) -> Survey:
    """The survey of a changed fragment: the same states and corners, its graphs worked out anew."""
    return Survey(found.fragment, found.states, found.corners, found.points, found.missing)


def _resistor_steps(fragment: Fragment, cell: Part, ohms: float) -> tuple[Step, ...]:
    board, lead = cell.pins["plus"], free_name(f"{cell.name}_PLUS", fragment.nets)
    value = resistance(ohms, 0.05)
    fitted = Part(name=next_designator(fragment, "R"), kind=Kind.RESISTOR, pins={"1": lead, "2": board},
                  spec=ResistorSpec(value), mark=cell.mark)
    return (Step("move", cell.mark, moves={(cell.name, "plus"): lead}), Step("fit", cell.mark, parts=(fitted,)))


def _second_diode(asked: Question) -> tuple[Step, ...]:
    place = asked.cell_places[0] if asked.cell_places else None
    spec = asked.fragment.parts[place].spec if place else Catalogue.standard().diode("1N4148")
    return lead_steps(asked.fragment, asked.cell, "plus", spec)[0]  # type: ignore[arg-type]


def _volts(asked: Question, steps: Sequence[Step], corner: Corner | None = None) -> float | None:
    """Backup volts after these steps, with a fresh cell at room temperature unless another corner is given."""
    stored = asked.survey.resting(False)
    assert stored is not None
    changed = apply_steps(asked.fragment, steps)
    point = solve([circuit_of(changed, stored, corner or asked.survey.corners.room)])[0]
    return across(point, asked.load) if point.known else None
