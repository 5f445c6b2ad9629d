"""What each capacitor bears: volts in every state and corner, volts backwards, after a single failure, at switch-on."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass

from netcheck.capacitors.roles import Surroundings, resistance_ohm
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.states import State
from netcheck.parts import capacitor_laws as laws
from netcheck.parts.capacitor import usual
from netcheck.parts.specs import CapacitorSpec
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.corner import Fault
from netcheck.simulation.elements import Circuit, OperatingPoint
from netcheck.solving.solved_states import Survey


@dataclass(frozen=True, slots=True)
class Stress:
    """Volts across a capacitor, plus less minus where it is polarised.

    most_V: the largest size of them over all states and corners. nominal_V: the same at room temperature with every
    tolerance in its middle. backwards_V: the largest the wrong way round, 0 where none. state, backwards_state: where.
    bound: why most_V is only a bound (what the pin or the board could bring), empty where it was worked out.
    None where nothing is known.
    """

    most_V: float | None
    nominal_V: float | None
    backwards_V: float
    state: str | None = None
    backwards_state: str | None = None
    bound: str = ""


UNKNOWN = Stress(None, None, 0.0)


def seen(found: Survey, part: Part) -> Stress:
    """The volts across one capacitor in every state at every corner that was solved."""
    if found.missing:
        return UNKNOWN
    first, second = part.nets
    polarised = "plus" in part.pins
    most = nominal = (0.0, "")
    least = (0.0, "")
    floats = solved = False
    known: dict[bool, set[float]] = {}
    for state in found.states.states:
        for corner in found.corners.everywhere:
            point = found.at(state, corner)
            a, b = point.volts.get(first), point.volts.get(second)
            if a is None or b is None:
                floats = floats or state.live or not point.known
                held = known.setdefault((a, b) != (None, None), set())
                held.update(volts for volts in (a, b) if volts is not None)
                continue
            solved = True
            volts = a - b
            most = max(most, (abs(volts), state.name))
            if corner is found.corners.room:
                nominal = max(nominal, (abs(volts), state.name))
            if polarised:
                least = min(least, (volts, state.name))
    if floats or not solved or first == second:
        bounded = bound(found.fragment, part, known.get(True, set()) if False not in known else set())
        if bounded is None:
            return UNKNOWN
        most_V, nominal_V, why = bounded
        return Stress(max(most_V, most[0]), max(nominal_V, nominal[0]), -least[0], None, least[1] or None, why)
    return Stress(most[0], nominal[0], -least[0], most[1] or None, least[1] or None)


def bound(fragment: Fragment, part: Part, other_V: Collection[float] = ()) -> tuple[float, float, str] | None:
    """The most that a capacitor on a net that floats in the trace can see, the same nominally, and why.

    None without any rail.

    other_V: the volts that its other net was found at, where that one does not float.
    A chip's pin stays within that chip's own supplies where these are known, and every net within the rails.
    """
    chips = [other for other in fragment.of_kind(Kind.CHIP) if set(other.nets) & set(part.nets) - {fragment.ground}]
    for nets, why in (*((chip.nets, f"the supply of {chip.name}") for chip in chips),
                      (tuple(fragment.rails), "the rails of the board")):
        volts = [fragment.rails[net].volts for net in nets if net in fragment.rails]
        if volts:
            return (_farthest([one.high for one in volts], [one.low for one in volts], other_V),
                    _farthest([one.value for one in volts], [one.value for one in volts], other_V), why)
    return None


def _farthest(highs: Collection[float], lows: Collection[float], other_V: Collection[float]) -> float:
    """The most between a net that may be anywhere within its supplies and ground, and the other one."""
    high, low = max(0.0, *highs), min(0.0, *lows)
    return max((max(high - volts, volts - low) for volts in other_V), default=high - low)


def series_ohm(around: Surroundings, part: Part) -> float:
    """Resistance between a capacitor and what feeds it; 0 on a supply, and wherever anything but resistors feeds it.

    A chip's pin by itself feeds no surge: without end.
    """
    net = next((net for net in part.nets if net != around.fragment.ground), part.nets[0])
    others = [other for other, _ in around.on[net] if other.kind not in (Kind.CAPACITOR, Kind.CHIP, Kind.LOAD)]
    if around.held(net) or any(other.kind is not Kind.RESISTOR for other in others):
        return 0.0
    return (resistance_ohm(around.fragment, [other.name for other in others]) or 0.0) if others else math.inf


@dataclass(frozen=True, slots=True)
class Surge:
    """The current that charges a capacitor at switch-on: its peak, the rail's rise and the series resistance."""

    amps: float
    rise_s: float
    ohm: float


def surge(spec: CapacitorSpec, volts_V: float, ohm: float, rise_s: float | None = None) -> Surge:
    """Peak of the current through R and C while the rail rises evenly: C·V/t · (1 - exp(-t/RC)), reached at its end.

    ohm: outside the capacitor; its own series resistance at its least is added.
    """
    rise = usual().rise_s if rise_s is None else rise_s
    own = laws.esr(spec)
    total = ohm + (own.least if own is not None else 0.0)
    steady_A = spec.capacitance.value * abs(volts_V) / rise
    if total == 0:
        return Surge(steady_A, rise, 0.0)
    return Surge(steady_A * -math.expm1(-rise / (total * spec.capacitance.value)), rise, total)


@dataclass(frozen=True, slots=True)
class AfterFault:
    """The most volts across a capacitor after one failure elsewhere."""

    volts_V: float
    part: str
    how: str
    state: str


def fault_circuits(found: Survey, capacitors: Iterable[Part]) -> dict[tuple[str, str], Circuit]:
    """The circuits that single failures around these capacitors make, by fault and state.

    Tried are the parts that feed a net which no supply holds: regulators through, and short or open resistors and
    short diodes beside it; in the states with a supply on, hot and high.
    """
    nets = {net for part in capacitors for net in part.nets} - set(found.fragment.rails) - {found.fragment.ground}
    circuits = {}
    for fault in _faults(found.fragment, nets):
        for state in _live(found.states.states):
            key = f"{fault.part} {fault.how}"
            circuits[key, state.name] = circuit_of(found.fragment, state, found.corners.hot, faults=(fault,))
    return circuits


_MOST_FAULTS = 40


def _faults(fragment: Fragment, nets: set[str]) -> list[Fault]:
    faults = [Fault(part.name, "short", ("input", "output")) for part in fragment.of_kind(Kind.REGULATOR)
              if nets & set(part.nets)]
    for part in fragment.of_kind(Kind.RESISTOR, Kind.DIODE):
        if nets & set(part.nets) and len(set(part.nets)) == 2:
            faults.append(Fault(part.name, "short"))
            if part.kind is Kind.RESISTOR:
                faults.append(Fault(part.name, "open"))
    return faults[:_MOST_FAULTS]


def _live(states: Iterable[State]) -> list[State]:
    return [state for state in states if state.live]


def after_faults(part: Part, points: Mapping[tuple[str, str], OperatingPoint]) -> AfterFault | None:
    """The failure that puts most volts across one capacitor; None where none was tried or solved."""
    first, second = part.nets
    return max(_each(points, first, second), key=lambda one: one.volts_V, default=None)


def _each(points: Mapping[tuple[str, str], OperatingPoint], first: str, second: str) -> Iterator[AfterFault]:
    for (fault, state), point in points.items():
        a, b = point.volts.get(first), point.volts.get(second)
        if a is not None and b is not None:
            name, _, how = fault.rpartition(" ")
            yield AfterFault(abs(a - b), name, how, state)
