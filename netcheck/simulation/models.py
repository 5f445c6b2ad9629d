"""The laws of the elements that ngspice has no card for, each as its formula and as ngspice reads it.

Amps in ampere, volts in volt. The two forms of a law stand side by side: the
simulator solves with the text, the result is read with the function.
"""

from __future__ import annotations

from functools import lru_cache
from math import exp, tanh

from netcheck.parts.junction import thermal_V
from netcheck.parts.zener import Knee
from netcheck.simulation.elements import Bipolar, Draw, Junction, Regulation

LEAST_OHM = 1e-4  # what a part of 0 Ω is taken as
LEAST_SERIES_OHM = 1e-2  # of a diode whose fit leaves none: without it a wrong one passes 1e50 A (from memory)
_LEAST_DRAW_A = 1e-12  # so that a net with nothing but a load on it is not left floating
LAW_FROM_V = 0.5  # below it the power law of the leakage stands still: at 0 V it would rise without bound
_ON_OHM = 1e-4  # of a regulator in regulation: its output sags 0.1 mV for each ampere
_OFF_OHM = 1e10  # of one that is off, before what it lets back is cancelled
_LIMIT_OHM = 1e4  # past its limit: 0.1 mA for each volt that is missing
_PIN_SIEMENS = 1e-12  # what a pin leaks, so that one left open has volts: 5 pA at 5 V
_ADJUST_KNEE_V = 0.3  # below this headroom the current of a regulator's pin dies away


@lru_cache(maxsize=256)  # what is found is looked at more than once
def leakage_A(junction: Junction, reverse_V: float, temperature_C: float) -> float:
    """What a diode's leakage source adds from cathode to anode, beyond the saturation current.

    (leakage(V) - IS)·(1 - exp(-V/(N·kT/q))), which makes the whole reverse
    current the published one and vanishes in forward direction, and what its knees
    pass. A power law that would rise without bound at 0 V stands still below LAW_FROM_V.
    """
    volts = max(reverse_V, 0.0)
    found = sum(knee.current(volts) for knee in junction.knees)
    if junction.leakage_A:
        slope_V = junction.emission * thermal_V(temperature_C)
        grown = (max(volts, _still_below(junction)) + junction.leakage_from_V) / _full_V(junction)
        published: float = junction.leakage_A * grown**junction.leakage_power
        found += (published - junction.saturation_A) * (1 - exp(-volts / slope_V))
    return found


def leaks(junction: Junction) -> bool:
    """Whether a diode needs a leakage source beside its forward law."""
    return bool(junction.leakage_A or junction.knees)


def leakage_text(junction: Junction, cathode: str, anode: str, temperature_C: float) -> str:
    return _leakage_between(junction, temperature_C).replace(_BETWEEN, f"{cathode},{anode}")


_BETWEEN = "?"  # stands for the two nodes


@lru_cache(maxsize=8192)
def _leakage_between(junction: Junction, temperature_C: float) -> str:
    """The law with a mark where its nodes go: to write its figures takes longest, and nodes change most."""
    across = f"v({_BETWEEN})"
    volts = f"max({across},0)"
    terms = [_knee_text(knee, volts) for knee in junction.knees]
    if junction.leakage_A:
        slope = junction.emission * thermal_V(temperature_C)
        if junction.leakage_power:
            still, start = _still_below(junction), junction.leakage_from_V
            grown = f"max({across},{still!r})" + (f"+{start!r}" if start else "")
            growth = f"(({grown})/{_full_V(junction)!r})**{junction.leakage_power!r}"
            published = f"({junction.leakage_A!r}*{growth}-{junction.saturation_A!r})"
        else:
            published = f"({junction.leakage_A - junction.saturation_A!r})"
        terms.append(f"{published}*(1-exp(-{volts}/{slope!r}))")
    return "+".join(terms)


def _still_below(junction: Junction) -> float:
    return 0.0 if junction.leakage_from_V >= LAW_FROM_V else LAW_FROM_V - junction.leakage_from_V


def _full_V(junction: Junction) -> float:
    return junction.leakage_at_V + junction.leakage_from_V


def _knee_text(knee: Knee, volts: str) -> str:
    grown = f"{volts}/{knee.at_V!r}"
    return (f"{knee.amps!r}*(min({grown},{knee.top!r})**{knee.power!r}"
            f"+{knee.tangent!r}*max({grown}-{knee.top!r},0))")


def bipolar_A(
    transistor: Bipolar, base_emitter_V: float, base_collector_V: float, temperature_C: float
) -> tuple[float, float, float]:
    """The three currents of the SPICE transistor law without its second-order effects, reverse gain 1.

    Transport from collector to emitter, base to emitter, base to collector, for an NPN; for a PNP with
    all signs turned. Volts beyond 2 V forward are taken as 2 V.
    """
    thermal = thermal_V(temperature_C)
    forward, backward = (transistor.saturation_A * (exp(min(volts, 2.0) / thermal) - 1)
                         for volts in (base_emitter_V, base_collector_V))
    return forward - backward, forward / transistor.gain, backward


def draw_A(draw: Draw, volts: float) -> float:
    """Current of a load: max(0, amps + siemens·(V - at_V))·tanh(V/knee_V).

    >>> load = Draw("U1", "VRAM", "GND", amps=2e-6)
    >>> [round(draw_A(load, volts) * 1e6, 3) for volts in (3.0, 0.3, 0.0)]
    [2.0, 1.523, 0.0]
    """
    wanted = draw.amps + draw.siemens * (volts - draw.at_V) if draw.siemens else draw.amps
    return max(wanted, _LEAST_DRAW_A) * tanh(volts / draw.knee_V)


def draw_text(draw: Draw, plus: str, minus: str) -> str:
    if draw.siemens:
        wanted = f"{draw.amps!r}+{draw.siemens!r}*(v({plus},{minus})-{draw.at_V!r})"
        return f"max({wanted},{_LEAST_DRAW_A!r})*tanh(v({plus},{minus})/{draw.knee_V!r})"
    return f"{max(draw.amps, _LEAST_DRAW_A)!r}*tanh(v({plus},{minus})/{draw.knee_V!r})"


def pass_text(regulation: Regulation, source: str, output: str, adjust: str, ground: str, sensed: str) -> str:
    """Volts across a regulator that passes the current I of the source `sensed`: V(in, out) - U + F(I), so U = F(I).

    U = min(headroom, lacking), with headroom = V(in, out) - dropout and lacking = what the reference misses, is
    what drives it. F(I) is next to nothing up to the limit, steep beyond it and steep backwards. As a law for the
    volts it settles in a few steps, where one for the current would jump between off and limit. Of a negative
    regulator all of it is mirrored. What it passes on at least (`idle_A`) flows beside this, and counts to the
    limit.
    """
    across, drives = _driven(regulation, source, output, adjust, ground)
    amps = f"(-i({sensed}))" if regulation.negative else f"i({sensed})"
    resists = f"{_ON_OHM!r}*{amps}+{_OFF_OHM!r}*min(0,{amps})"
    if regulation.limit_A is not None:
        resists += f"+{_LIMIT_OHM!r}*max(0,{amps}-{max(0.0, regulation.limit_A - regulation.idle_A)!r})"
    law = f"{across}-({drives})+{resists}"
    return f"-({law})" if regulation.negative else law


def off_text(regulation: Regulation, source: str, output: str, adjust: str, ground: str) -> str:
    """Current from input to output beside it that cancels, but for a trace, what `pass_text` lets back while off."""
    across, drives = _driven(regulation, source, output, adjust, ground)
    law = f"{_PIN_SIEMENS!r}*{across}-min(0,{drives})/{_OFF_OHM!r}"
    return f"-({law})" if regulation.negative else law


def _driven(regulation: Regulation, source: str, output: str, adjust: str, ground: str) -> tuple[str, str]:
    """Volts from input to output, and U, both counted downwards for a negative regulator."""
    def volts(one: str, other: str) -> str:
        return f"v({other},{one})" if regulation.negative else f"v({one},{other})"

    reference = repr(regulation.reference_V)
    if regulation.between == "output-adjust":
        lacking = f"{reference}-{volts(output, adjust)}"
    elif regulation.between == "adjust-ground":
        lacking = f"{reference}-{volts(adjust, ground)}"
    elif regulation.between == "shunt":
        lacking = f"{volts(adjust, output)}-{reference}"
    else:
        lacking = f"{reference}-{volts(output, ground)}"
    across = volts(source, output)
    return across, f"min({across}-{regulation.dropout_V!r},{lacking})"


def pin_text(amps: float, plus: str, minus: str, negative: bool = False) -> str:
    """What a control or ground pin carries from plus to minus; it dies away with the volts that drive it."""
    if negative:
        return f"-({pin_text(amps, minus, plus)})"
    volts = f"v({plus},{minus})"
    return f"{amps!r}*tanh(max({volts},0)/{_ADJUST_KNEE_V!r})+{_PIN_SIEMENS!r}*{volts}"
