"""What a change of a capacitor does where it stands: times, loops, regulators, the cell, the rail; before and after."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from msgspec import Struct

from netcheck.capacitors.roles import Place, Surroundings, resistance_ohm
from netcheck.capacitors.stability import Output, at_output
from netcheck.capacitors.stress import Stress
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.parts import capacitor_laws as laws
from netcheck.parts.capacitor import Start, starts, usual
from netcheck.parts.specs import CapacitorSpec, RegulatorSpec
from netcheck.simulation.process import available
from netcheck.simulation.transient import NoTransient, charging

_SAME_VOLTS = 0.1
"""Share by which a rail's volts may differ from those that a supply's figure is for."""

CONSTANTS = 12
"""Time constants that a transient runs for: by then what is left to charge is under a hundred-thousandth."""


class Effect(Struct, frozen=True):
    """what: in words. before, after: figures by name with their unit (None: never, or not known). more: beside them."""

    what: str
    before: Mapping[str, float | None]
    after: Mapping[str, float | None]
    more: Mapping[str, float | None]

    def to_dict(self) -> dict[str, Any]:
        return {"what": self.what,
                **{f"before_{name}": value for name, value in self.before.items()},
                **{f"after_{name}": value for name, value in self.after.items()}, **self.more}


class Change(Struct, frozen=True):
    """A capacitor before and after, in the two fragments, with its place and stress after."""

    before: Fragment
    after: Fragment
    old: Part
    new: Part
    place: Place
    stress: Stress
    coldest_C: float
    hottest_C: float

    @property
    def specs(self) -> tuple[CapacitorSpec, CapacitorSpec]:
        assert isinstance(self.old.spec, CapacitorSpec)
        assert isinstance(self.new.spec, CapacitorSpec)
        return self.old.spec, self.new.spec


def effect(change: Change) -> Effect | None:
    """What the change does in its place; None where a role has no figure of its own."""
    match change.place.role:
        case "reset" | "timing":
            return _time(change)
        case "loop-filter":
            return loop(*(_at_work(spec, change.stress) for spec in change.specs))
        case "regulator-output":
            return _stability(change)
        case "backup":
            return _leakage(change)
        case "coupling" | "audio":
            return _corner(change)
        case "crystal-load":
            return _crystal(change)
        case "rail" | "decoupling" | "between-rails" | "regulator-input":
            return _total(change)
        case _:
            return None


def time_s(ohm: float, farad: float, final_V: float, threshold_V: float) -> float | None:
    """Time that a capacitor takes to a threshold on its way to the final volts; None where it never gets there.

    >>> round(time_s(10e3, 10e-6, 5.0, 2.5), 3), round(time_s(10e3, 10e-6, 5.0, 3.0), 3)
    (0.069, 0.092)
    """
    return None if threshold_V >= final_V else -ohm * farad * math.log1p(-threshold_V / final_V)


def loop(before_F: float, after_F: float) -> Effect:
    """A second-order loop with a charge pump: ωn goes with 1/√C and ζ with √C (ICS673 data sheet, page 5)."""
    times = after_F / before_F
    return Effect("loop filter", {"F": before_F}, {"F": after_F},
                  {"frequency_times": 1 / math.sqrt(times), "damping_times": math.sqrt(times)})


def load_F(first_F: float, second_F: float, stray_F: float) -> float:
    """Load of a crystal: C1·C2/(C1 + C2) + stray (answers of NXP on crystal load capacitors).

    >>> round(load_F(26e-12, 26e-12, 2e-12) * 1e12, 9)
    15.0
    """
    return first_F * second_F / (first_F + second_F) + stray_F


def _at_work(spec: CapacitorSpec, stress: Stress) -> float:
    return spec.capacitance.value * laws.bias_left(spec, stress.nominal_V or 0.0)


def _time(change: Change) -> Effect | None:
    """To the threshold, from the resistors on its net, its leakage through them counted in."""
    ohm = resistance_ohm(change.after, change.place.resistors)
    final_V, supply_V = _final(change)
    if ohm is None or final_V is None or supply_V is None:
        return _only_ratio(change)
    threshold_V = usual().threshold * supply_V
    times, worst, simulated = [], [], []
    for spec in change.specs:
        leak = laws.leakage(spec, final_V, laws.ROOM_C)
        lost = (0.0, 0.0) if leak is None else (leak.typical_A * ohm, leak.maximum_A * ohm)
        farad = spec.capacitance.value * laws.bias_left(spec, threshold_V)
        times.append(time_s(ohm, farad, final_V - lost[0], threshold_V))
        worst.append(time_s(ohm, spec.capacitance.high, final_V - lost[1], threshold_V))
        simulated.append(_simulated(spec, ohm, farad, final_V - lost[0], threshold_V))
    return Effect(f"{change.place.role} time", {"s": times[0]}, {"s": times[1]}, {
        "ohm": ohm, "threshold_V": threshold_V, "before_most_s": worst[0], "after_most_s": worst[1],
        "before_simulated_s": simulated[0], "after_simulated_s": simulated[1]})


def _simulated(spec: CapacitorSpec, ohm: float, farad: float, final_V: float, threshold_V: float) -> float | None:
    """The same time by the simulator's transient, where it can be had."""
    if final_V <= threshold_V or available() is not None:
        return None
    own = laws.esr(spec)
    try:
        found = charging(final_V, 1e-6 * ohm * farad, ohm, farad, CONSTANTS * ohm * farad, own.usual if own else 0.0)
    except NoTransient:
        return None
    return found.reaches_s(threshold_V)


def _final(change: Change) -> tuple[float | None, float | None]:
    """The volts that its resistors by themselves bring its net to, and those of the highest supply among them."""
    around = Surroundings(change.after)
    pulls = [(_rail_V(change.after, other), resistance_ohm(change.after, (name,)))
             for net in change.new.nets if not around.held(net)
             for name, other in around.resistors(net).items() if name in change.place.resistors]
    known = [(volts, ohm) for volts, ohm in pulls if volts is not None and ohm is not None]
    supply_V = max((abs(volts) for volts, _ in known), default=0.0)
    if not supply_V or len(known) < len(pulls):
        return None, None
    return abs(sum(volts / ohm for volts, ohm in known) / sum(1 / ohm for _, ohm in known)), supply_V


def _rail_V(fragment: Fragment, net: str) -> float | None:
    if net == fragment.ground:
        return 0.0
    rail = fragment.rails.get(net)
    return None if rail is None else rail.volts.value


def _only_ratio(change: Change) -> Effect:
    before, after = (_at_work(spec, change.stress) for spec in change.specs)
    return Effect(f"{change.place.role} time", {"s": None}, {"s": None}, {"time_times": after / before})


def _stability(change: Change) -> Effect | None:
    regulator = change.after.parts.get(change.place.of or "")
    if regulator is None or not isinstance(regulator.spec, RegulatorSpec):
        return None
    found = [None if regulator.name not in fragment.parts else at_output(fragment, regulator, change.coldest_C)
             for fragment in (change.before, change.after)]
    window = regulator.spec.esr

    def figures(output: Output | None) -> dict[str, float | None]:
        return {"ohm": output.ohm, "least_ohm": output.least_ohm, "most_ohm": output.most_ohm,
                "zero_Hz": output.zero_Hz} if output is not None else {"ohm": None}

    return Effect("regulator stability", figures(found[0]), figures(found[1]),
                  {} if window is None else {"window_least_ohm": window.low, "window_most_ohm": window.high})


def _leakage(change: Change) -> Effect | None:
    volts = change.stress.nominal_V
    if volts is None:
        return None
    leaks = [laws.leakage(spec, volts, change.hottest_C) for spec in change.specs]

    def figures(leak: laws.Leakage | None) -> dict[str, float | None]:
        return {"A": None, "most_A": None} if leak is None else {"A": leak.typical_A, "most_A": leak.maximum_A}

    return Effect("leakage on the backup net", figures(leaks[0]), figures(leaks[1]), {})


def _corner(change: Change) -> Effect | None:
    ohm = resistance_ohm(change.after, change.place.resistors)
    if ohm is None:
        return None
    before, after = (1 / (2 * math.pi * ohm * _at_work(spec, change.stress)) for spec in change.specs)
    return Effect("corner frequency", {"Hz": before}, {"Hz": after}, {"ohm": ohm})


def _crystal(change: Change) -> Effect:
    """The load that the crystal sees: both capacitors at the chip's crystal pins in series, and the stray."""
    stray_F = usual().stray_F
    loads = []
    for fragment, part in ((change.before, change.old), (change.after, change.new)):
        other = _partner(fragment, part, change.place)
        own_F = _farad(part)
        loads.append(load_F(own_F, own_F if other is None else _farad(other), stray_F))
    return Effect("crystal load", {"F": loads[0]}, {"F": loads[1]}, {"stray_F": stray_F})


def _partner(fragment: Fragment, part: Part, place: Place) -> Part | None:
    chip = fragment.parts.get(place.of or "")
    nets = set() if chip is None else {chip.pins[pin] for pin, word in chip.pin_roles.items() if word == "crystal"}
    return next((other for other in fragment.of_kind(Kind.CAPACITOR)
                 if other.name != part.name and nets & set(other.nets) and set(other.nets) != set(part.nets)), None)


def _farad(part: Part) -> float:
    assert isinstance(part.spec, CapacitorSpec)
    return part.spec.capacitance.value


def _total(change: Change) -> Effect | None:
    rail = change.place.rail
    if rail is None:
        return None
    limit = start_limit(change.after, rail)
    more = {} if limit is None else {"may_start_F": limit.most_F}
    before, after = total_F(change.before, rail), total_F(change.after, rail)
    return Effect("capacitance on the rail", {"F": before}, {"F": after}, more)


def total_F(fragment: Fragment, rail: str) -> float:
    """What a supply has to charge at switch-on: every capacitor between this rail and ground or another supply."""
    around = Surroundings(fragment)
    return sum(_farad(part) for part in fragment.of_kind(Kind.CAPACITOR)
               if rail in (around.supply(part.nets[0]), around.supply(part.nets[1]))
               and all(around.held(net) for net in part.nets) and len(set(part.nets)) == 2)


def start_limit(fragment: Fragment, rail: str) -> Start | None:
    """What a supply of these volts is made to start; None for a rail of other volts."""
    known = fragment.rails.get(rail)
    if known is None:
        return None
    volts = known.volts.value
    return next((start for start in starts()
                 if start.volts_V * volts > 0 and abs(start.volts_V / volts - 1) < _SAME_VOLTS), None)
