"""What a single failure does to the loads and to the other parts: harm by it is one failure away from danger.

Left out for the parts: a failure that leaves nothing but links and diodes between a supply, a cell and another held
net, which stops the supply, or empties or charges the cell (whose figures tell it); a load or chip that shorts, which
what feeds it is there to bear; a resistor that shorts, as film resistors fail open (common practice, no source). A
primary cell that a failure shorts is told and not judged: all boards without a resistor in its lead have it in common.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from operator import itemgetter

import networkx as nx
from msgspec import Struct

from netcheck.checks.overloads import LARGE_W, PULLED_DOWN, next_to_nothing
from netcheck.checks.voltage import across, stands
from netcheck.conduction.graph import present
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Kind, Part
from netcheck.fragment.states import State
from netcheck.parts.capacitor_laws import bears_backwards_V
from netcheck.parts.catalogue import cell_rules
from netcheck.parts.cell import volts as cell_volts
from netcheck.parts.specs import CapacitorSpec, CellSpec, DiodeSpec, ResistorSpec, TransistorSpec
from netcheck.simulation.elements import OperatingPoint
from netcheck.solving.failures import ABSENT, Failure
from netcheck.solving.missing_rails import MISSING
from netcheck.solving.solved_states import Survey


class _Harm(Struct, frozen=True):
    """How far something is taken beyond what it stands: figures by name, and how many times the limit."""

    case: str
    figures: Mapping[str, float]
    times: float


_Measure = Callable[[Part, OperatingPoint, float], _Harm | None]
"""What harms a part at an operating point and a temperature in °C; None where nothing does."""


def failing_findings(survey: Survey, failed: Sequence[Failure]) -> list[Finding]:
    """A finding for each load and part that a failure takes beyond what it survives, the failure that does it most."""
    known = [failure for failure in failed if failure.point.known]
    loads = [failure for failure in known if failure.fault.how != ABSENT]  # clamp.py judges the loads with a cell out
    over = _by_reach(loads)
    found = [_worst(survey, load, "fault-voltage", _too_many_volts, _reaching(over, load)) for load in survey.loads()]
    harmful = _Harmful(survey)
    breaking = [failure for failure in known if harmful.may_harm(failure)]
    borne = {part.name for part in survey.fragment.of_kind(*_BORNE)}
    by_parts = [one for one in known if one.fault.part not in borne or one.fault.how != "short"]
    tried_on = {Kind.CELL: by_parts, Kind.CAPACITOR: [one for one in breaking if _only_here(survey, one)]}
    for kind, measure in _MEASURES.items():
        tried = _by_reach(tried_on.get(kind, breaking))
        found += [_worst(survey, part, "fault-part", measure, _reaching(tried, part)) for part in
                  survey.fragment.of_kind(kind) if kind is not Kind.CELL or not _charged(survey, part)]
    return [finding for finding in found if finding is not None]


def _by_reach(failed: Sequence[Failure]) -> list[list[tuple[int, Failure]]]:
    """The failures, each with its place, by what they reach."""
    groups: dict[int, list[tuple[int, Failure]]] = {}
    for place, failure in enumerate(failed):
        groups.setdefault(id(failure.reached), []).append((place, failure))
    return list(groups.values())


def _reaching(groups: Sequence[Sequence[tuple[int, Failure]]], part: Part) -> list[Failure]:
    """The failures that can change anything for a part, as they came."""
    reaching = [one for group in groups if group[0][1].reaches(part.name) for one in group]
    return [failure for _, failure in sorted(reaching, key=itemgetter(0))]


def _charged(survey: Survey, cell: Part) -> bool:
    """Whether current flows into a cell in some state, which is graver than what a failure takes out of it."""
    return any((survey.into(state, corner, cell) or 0.0) > cell_rules().leak_limit_A
               for state in survey.states.states for corner in survey.corners.charging(cell.name))


def _worst(
    survey: Survey, part: Part, check: str, measure: _Measure, failed: Sequence[Failure]
) -> Finding | None:
    beyond: list[tuple[_Harm, Failure]] = []
    for failure in failed:
        if failure.fault.part == part.name or (
                harm := measure(part, failure.point, failure.corner.temperature_C)) is None:
            continue
        sound = survey.at(failure.state, failure.corner)
        if not sound.known or measure(part, sound, failure.corner.temperature_C) is None:
            beyond.append((harm, failure))
    if not beyond:
        return None
    beyond.sort(key=lambda pair: -pair[0].times)
    harm, failure = beyond[0]
    names = tuple(dict.fromkeys(one.fault.part for _, one in beyond))
    parts = tuple(name for name in names if name in survey.fragment.parts)
    return Finding(
        check, Severity.NOTE if harm.case == "cell" else Severity.CAUTION, part.name, case=harm.case,
        state=failure.state.name, parts=(*parts, part.name), line=part.mark.line, figures=harm.figures,
        nets=tuple(dict.fromkeys((*(name for name in names if name not in parts), *part.nets))),
        words={"failing": names[0], "how": failure.fault.how, "others": names[1:]})


def _too_many_volts(load: Part, point: OperatingPoint, _: float) -> _Harm | None:
    most_V, volts = stands(load), across(point, load)
    if most_V is None or volts is None or volts <= most_V:
        return None
    return _Harm("load", {"fault_V": volts, "limit_V": most_V}, volts / most_V)


def _too_much_current(part: Part, point: OperatingPoint, _: float) -> _Harm | None:
    spec, amps = part.spec, point.amps.get(part.name, 0.0)
    assert isinstance(spec, DiodeSpec)
    if spec.current_A is None or amps <= spec.current_A:
        return None
    return _Harm("diode", {"current_A": amps, "limit_A": spec.current_A}, amps / spec.current_A)


def _too_hot(part: Part, point: OperatingPoint, _: float) -> _Harm | None:
    """Beyond the power that the file states; where it states none, beyond what no resistor of a board stands."""
    spec = part.spec
    assert isinstance(spec, ResistorSpec)
    limit_W = LARGE_W if spec.power_W is None else spec.power_W
    watts = point.amps.get(part.name, 0.0) ** 2 * spec.resistance.value
    return _Harm("resistor", {"power_W": watts, "limit_W": limit_W}, watts / limit_W) if watts > limit_W else None


def _beyond_rating(part: Part, point: OperatingPoint, temperature_C: float) -> _Harm | None:
    spec = part.spec
    assert isinstance(spec, CapacitorSpec)
    first, second = (point.volts.get(net) for net in part.nets)
    if first is None or second is None:
        return None
    volts = first - second
    bears_V = bears_backwards_V(spec, temperature_C) if "plus" in part.pins else None
    if bears_V is not None and volts < -bears_V:
        return _Harm("reversed", {"fault_V": -volts, "limit_V": bears_V}, -volts / bears_V)
    if spec.rated_V is None or abs(volts) <= spec.rated_V:
        return None
    return _Harm("capacitor", {"fault_V": abs(volts), "limit_V": spec.rated_V}, abs(volts) / spec.rated_V)


def _pulled_down(cell: Part, point: OperatingPoint, _: float) -> _Harm | None:
    """A primary cell that is left with less than a cell that is shorted has."""
    spec, left_V = cell.spec, across(point, cell)
    assert isinstance(spec, CellSpec)
    amps = point.amps.get(cell.name, 0.0)
    if not spec.primary or left_V is None or amps <= 0:
        return None
    # The points are those of flat cells, too: a cell at its end point is not pulled down further by its own age.
    most_V = cell_volts(spec, 1.0, cell.measured_V)
    if left_V >= PULLED_DOWN * most_V:
        return None
    return _Harm("cell", {"current_A": amps, "left_V": left_V}, amps)


_MEASURES: Mapping[Kind, _Measure] = {
    Kind.DIODE: _too_much_current, Kind.RESISTOR: _too_hot, Kind.CAPACITOR: _beyond_rating, Kind.CELL: _pulled_down,
}


_BORNE = (Kind.RESISTOR, Kind.LOAD, Kind.CHIP)
"""Kinds whose short is not held against other parts."""


def _only_here(survey: Survey, failure: Failure) -> bool:
    """Whether capacitors are not judged with this failure in their own section, which tries what feeds their net."""
    fault = failure.fault
    return fault.how == MISSING or survey.fragment.parts[fault.part].kind in (Kind.CELL, Kind.TRANSISTOR)


class _Harmful:
    """Which failures may harm another part; what joins held nets by links and diodes is worked out once a state."""

    def __init__(self, survey: Survey) -> None:
        self._survey = survey
        self._known: dict[tuple[object, str], bool] = {}
        self._states: dict[str, _Ways] = {}

    def may_harm(self, failure: Failure) -> bool:
        key = failure.fault, failure.state.name
        if key not in self._known:
            self._known[key] = self._may_harm(failure)
        return self._known[key]

    def _may_harm(self, failure: Failure) -> bool:
        fault, fragment = failure.fault, self._survey.fragment
        if fault.how == MISSING:
            return True
        kind = fragment.parts[fault.part].kind
        return fault.how != "short" or not (kind in _BORNE or self._stops_supply(failure))

    def _stops_supply(self, failure: Failure) -> bool:
        """Whether a short leaves next to nothing between a live net, or a cell, and another that is held below it."""
        fault = failure.fault
        ends = fault.nets or tuple(self._survey.fragment.parts[fault.part].pins[pin] for pin in fault.pins or ())
        if failure.state.name not in self._states:
            self._states[failure.state.name] = _Ways(self._survey, failure.state)
        return self._states[failure.state.name].stops_supply(*ends[:2])


class _Ways:
    """The ways by links and diodes alone in one state; what can be reached by them is worked out once."""

    def __init__(self, survey: Survey, state: State) -> None:
        fragment, held = survey.fragment, survey.conduction(state).held
        self._ways: nx.DiGraph[str] = nx.DiGraph()
        for one, two in next_to_nothing(fragment, state).edges():
            self._ways.add_edges_from(((one, two), (two, one)))
        for part in fragment.of_kind(Kind.DIODE, Kind.TRANSISTOR):
            if present(part, state):
                self._ways.add_edges_from(_junctions(part))
        self._above = [(one.net, two.net) for one in held.values() for two in held.values()
                       if one.low_V > two.high_V and (one.live or two.live)]
        below = {fragment.ground, *(one.net for one in held.values() if not one.live)}
        for cell in survey.cells():
            if present(cell, state):
                self._above += [(cell.pins["plus"], net) for net in (*below, cell.pins["minus"])]
                self._above += [(one.net, cell.pins["plus"]) for one in held.values()
                                if one.live and one.net != cell.pins["plus"]]
        self._reach: dict[str, frozenset[str]] = {}

    def stops_supply(self, one: str, other: str) -> bool:
        """Whether some net is joined with one that is held below it once these two are."""
        return any(low in self._from(high) or self._by(one, other, high, low) or self._by(other, one, high, low)
                   for high, low in self._above)

    def _by(self, one: str, other: str, high: str, low: str) -> bool:
        return one in self._from(high) and low in self._from(other)

    def _from(self, net: str) -> frozenset[str]:
        if net not in self._reach:
            beyond = nx.descendants(self._ways, net) if net in self._ways else ()
            self._reach[net] = frozenset((net, *beyond))
        return self._reach[net]


def _junctions(part: Part) -> Iterator[tuple[str, str]]:
    """The ways through a diode, and through the junctions of a transistor: from anode to cathode."""
    if part.kind is Kind.DIODE:
        yield part.pins["anode"], part.pins["cathode"]
        return
    spec = part.spec
    assert isinstance(spec, TransistorSpec)
    one, others = ("base", ("emitter", "collector")) if spec.bipolar else ("source", ("drain",))
    for other in others:
        ends = part.pins[one], part.pins[other]
        yield ends if spec.polarity in ("npn", "n-channel") else ends[::-1]
