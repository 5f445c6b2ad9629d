"""Whether what a simulator found is a solution at all: what flows into a net must flow out of it again."""

from __future__ import annotations

from collections.abc import Mapping

from netcheck.simulation.elements import Battery, Bipolar, Circuit, Element, Junction, Resistance
from netcheck.simulation.laws import ideal, is_junction_A, junction_A, law
from netcheck.simulation.models import LEAST_OHM
from netcheck.simulation.pieces import terminals

_SHARE = 1e-3
_NOISE_A = 1e-12
"""What may be missing at a net: this share of what flows there, and the solver's rounding."""


def unbalanced(
    circuit: Circuit, volts: Mapping[str, float], amps: Mapping[str, float], settled: float = 1e-6
) -> str | None:
    """A net at which the currents that belong to these volts do not add up; None where all do.

    At each net of a saturated transistor the difference of large currents flows; the largest is its measure there.
    amps: what the elements carry as the simulator has it. settled: the share to which the volts are known. Where a
    regulator is, whose current has no law here, nothing can be told.
    """
    into = dict.fromkeys(volts, 0.0)
    flowing = dict.fromkeys(volts, 0.0)
    untold = {circuit.ground}
    for element in circuit.elements:
        through = _through(element, volts, amps, circuit.temperature_C)
        if through is not None:  # most elements have two nets
            one, other, amps_A = through
            size_A = abs(amps_A)
            into[one] += amps_A
            into[other] -= amps_A
            flowing[one] += size_A
            flowing[other] += size_A
            continue
        found = law(element, circuit.temperature_C)
        if found is not None:
            nets, flows = found
            currents = flows([volts[net] for net in nets])
        elif ideal(element):
            nets = terminals(element)
            currents = -amps[element.name], amps[element.name]
        else:
            untold.update(terminals(element))
            continue
        for net, current in zip(nets, currents, strict=True):
            into[net] += current
            flowing[net] += max(map(abs, currents)) if isinstance(element, Bipolar) else abs(current)
    doubtful = {net: abs(current) - _SHARE * flowing[net] - _NOISE_A for net, current in into.items()
                if net not in untold and not abs(current) <= _SHARE * flowing[net] + _NOISE_A}
    return next((net for net, amps_A in doubtful.items() if not amps_A <= _slack_A(circuit, net, volts, settled)), None)


def _through(
    element: Element, volts: Mapping[str, float], amps: Mapping[str, float], temperature_C: float
) -> tuple[str, str, float] | None:
    """The two nets of a resistance or a junction, and the current from the first to the other; None of what is neither.

    As `law` has it, without making the law first: it is asked of every result. What a junction carries is believed
    where it is what its law makes of these volts.
    """
    if isinstance(element, Resistance):
        one, other = element.a, element.b
        return one, other, (volts[one] - volts[other]) / max(element.ohm, LEAST_OHM)
    if isinstance(element, Junction):
        one, other = element.anode, element.cathode
        across_V, found_A = volts[one] - volts[other], amps[element.name]
        if is_junction_A(element, across_V, found_A, temperature_C):
            return one, other, found_A
        return one, other, junction_A(element, across_V, temperature_C)
    return None


def _slack_A(circuit: Circuit, net: str, volts: Mapping[str, float], settled: float) -> float:
    """By how much the currents of curved laws at a net differ within what its volts are known to."""
    found = 0.0
    for element in circuit.elements:
        if isinstance(element, (Resistance, Battery)) or (told := law(element, circuit.temperature_C)) is None:
            continue
        nets, flows = told
        if net in nets:
            across = [volts[one] for one in nets]
            off_V = 2 * settled * max(map(abs, across))
            place = nets.index(net)
            low, high = (flows([v + by if n == net else v for n, v in zip(nets, across, strict=True)])[place]
                         for by in (-off_V, off_V))
            found += abs(high - low)
    return found
