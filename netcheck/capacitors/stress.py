"""What each capacitor bears: volts in every state and corner, volts backwards, after a single failure, at switch-on."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping

from msgspec import Struct, field
from msgspec.structs import replace

from netcheck.capacitors.roles import Surroundings, resistance_ohm
from netcheck.capacitors.untraced import Reach, Untraced
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.states import State
from netcheck.parts import capacitor_laws as laws
from netcheck.parts.capacitor import usual
from netcheck.parts.specs import CapacitorSpec
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.corner import Fault
from netcheck.simulation.elements import Circuit, OperatingPoint
from netcheck.solving.solved_states import Survey


class Stress(Struct, frozen=True):
    """Volts across a capacitor, plus less minus where it is polarised.

    most_V: the largest size of them over all states and corners. nominal_V: the same at room temperature with every
    tolerance in its middle. backwards_V: the largest the wrong way round, 0 where none. state, backwards_state: where.
    bound: why most_V is only a bound (what the pin or the board could bring), empty where it was worked out;
    then may_backwards_V and may_forwards_V are the most that a polarised one with one side on known volts could see
    either way round. spans_V: the lowest and highest across it in each state, as far as they were worked out.
    None where nothing is known.
    """

    most_V: float | None
    nominal_V: float | None
    backwards_V: float
    state: str | None = None
    backwards_state: str | None = None
    bound: str = ""
    may_backwards_V: float = 0.0
    may_forwards_V: float = 0.0
    spans_V: Mapping[str, tuple[float, float]] = field(default_factory=dict)

    def backwards_in(self, limit_V: float) -> tuple[str, ...]:
        """The states in which it stands the wrong way round by more than this [V]."""
        return tuple(state for state, (low, _) in self.spans_V.items() if -low > limit_V)

    def beyond_in(self, limit_V: float) -> tuple[str, ...]:
        """The states in which more than this [V] stands across it, either way round."""
        return tuple(state for state, span in self.spans_V.items() if max(map(abs, span)) > limit_V)


UNKNOWN = Stress(None, None, 0.0)


def seen(found: Survey, part: Part, untraced: Untraced) -> Stress:
    """The volts across one capacitor in every state at every corner that was solved; a bound where a net floats."""
    if found.missing:
        return UNKNOWN
    first, second = part.nets
    polarised = "plus" in part.pins
    most = nominal = (0.0, "")
    least = (0.0, "")
    known: dict[str, list[tuple[float, bool]]] = {first: [], second: []}
    loose = set(part.nets) if first == second else {net for net in part.nets if net in untraced}
    guessed = bool(loose)
    spans: dict[str, tuple[float, float]] = {}
    for state in found.states.states:
        for corner in found.corners.everywhere:
            point = found.at(state, corner)
            for net in known:
                volts = point.volts.get(net)
                if volts is not None:
                    known[net].append((volts, corner is found.corners.room))
                elif state.live or not point.known:
                    loose.add(net)
            a, b = point.volts.get(first), point.volts.get(second)
            if a is None or b is None:
                continue
            across = a - b
            low, high = spans.get(state.name, (across, across))
            spans[state.name] = min(low, across), max(high, across)
            most = max(most, (abs(across), state.name))
            if corner is found.corners.room:
                nominal = max(nominal, (abs(across), state.name))
            if polarised:
                least = min(least, (across, state.name))
    loose.update(net for net, volts in known.items() if not volts)
    if not loose:
        return Stress(most[0], nominal[0], -least[0], most[1] or None, least[1] or None,
                      spans_V=spans)
    bounded = _bounded(untraced, part.nets, {net: [] if net in loose else volts for net, volts in known.items()})
    if bounded is None:
        return UNKNOWN
    if not polarised:
        bounded = replace(bounded, backwards_V=0.0, may_backwards_V=0.0, may_forwards_V=0.0)
    if guessed:  # where leakage alone takes a net says nothing
        return bounded
    return replace(bounded, most_V=max(bounded.most_V or 0.0, most[0]),
                   nominal_V=max(bounded.nominal_V or 0.0, nominal[0]),
                   backwards_V=max(bounded.backwards_V, -least[0]), backwards_state=least[1] or None, spans_V=spans)


def _bounded(
    untraced: Untraced, nets: tuple[str, ...], known: Mapping[str, Collection[tuple[float, bool]]]
) -> Stress | None:
    """The most that a capacitor can see whose nets may be anywhere within reach; None without any rail.

    known: by net, its volts and whether they are those at room temperature; none for a net that floats.
    """
    plus, minus = (_within(known[net]) or untraced.reach(net) for net in nets)
    if plus is None or minus is None:
        return None
    forwards, backwards = max(0.0, plus.high - minus.low), max(0.0, minus.high - plus.low)
    stress = Stress(max(forwards, backwards),
                    max(plus.nominal_high - minus.nominal_low, minus.nominal_high - plus.nominal_low), 0.0,
                    bound=" and ".join(dict.fromkeys(filter(None, (plus.why, minus.why)))))
    if not any(known.values()):  # between two signals, of which either may be the higher one
        return stress
    # The wrong way round for certain: the side that is known lies beyond all that the other one may be.
    certain = minus.high - plus.high if known[nets[1]] else minus.low - plus.low
    return replace(stress, backwards_V=max(0.0, certain), may_backwards_V=backwards, may_forwards_V=forwards)


def _within(known: Collection[tuple[float, bool]]) -> Reach | None:
    """Where a net was found, over every state and corner; None for one that floats."""
    if not known:
        return None
    volts = [one for one, _ in known]
    usual_V = [one for one, room in known if room] or volts
    return Reach(min(volts), max(volts), min(usual_V), max(usual_V))


def series_ohm(around: Surroundings, part: Part) -> float:
    """Resistance between a capacitor and what feeds it; 0 on a supply, and wherever anything but resistors feeds it.

    A chip's pin by itself feeds no surge: without end. What feeds a net without even that was not traced, and is taken
    as a supply.
    """
    net = next((net for net in part.nets if net != around.fragment.ground), part.nets[0])
    others = [other for other, _ in around.on[net] if other.kind not in (Kind.CAPACITOR, Kind.CHIP, Kind.LOAD)]
    if around.held(net) or any(other.kind is not Kind.RESISTOR for other in others):
        return 0.0
    if not others:
        return math.inf if any(around.of_kinds(net, Kind.CHIP)) else 0.0
    return resistance_ohm(around.fragment, [other.name for other in others]) or 0.0


class Surge(Struct, frozen=True):
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


class AfterFault(Struct, frozen=True):
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
