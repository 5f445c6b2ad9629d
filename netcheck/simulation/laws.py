"""What flows into each element at each of its nets, from the volts there: ngspice's own laws, written out.

They look at a result from outside (`balance.py`) and find values to start from (`starting.py`); what flows is always
ngspice's word. Amps in ampere, volts in volt, temperature in °C. A regulator has no law here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from math import exp, inf, log

from netcheck.parts.junction import thermal_V
from netcheck.simulation import models
from netcheck.simulation.deck import BODY_DIODE_A, BREAKDOWN_AT_A
from netcheck.simulation.elements import (
    Battery,
    Bipolar,
    Draw,
    Element,
    FieldEffect,
    Junction,
    Resistance,
    Source,
)

_GMIN_S = 1e-15
_AGREES, _ROUNDED_A = 1e-4, 1e-13  # far below what may be missing at a net
_STEEPEST = 80.0  # an exponent beyond which the exponential is continued by its tangent
_REVERSE = 3.0  # thermal volts backwards, from which ngspice has a cubic in place of the exponential

Law = Callable[[Sequence[float]], tuple[float, ...]]
"""From the volts at an element's nets to the current into it at each of them."""


def law(element: Element, temperature_C: float) -> tuple[tuple[str, ...], Law] | None:
    """The nets of an element and its law; None where it has none: an ideal source, a capacitor, a regulator."""
    if isinstance(element, Resistance):
        return (element.a, element.b), _resistive(max(element.ohm, models.LEAST_OHM), 0.0)
    if isinstance(element, Battery) and element.ohm:
        return (element.plus, element.minus), _resistive(element.ohm, element.volts)
    if isinstance(element, Draw):
        draw = element
        return (draw.plus, draw.minus), lambda v: _through(models.draw_A(draw, v[0] - v[1]))
    if isinstance(element, Junction):
        junction = element
        return (junction.anode, junction.cathode), \
            lambda v: _through(junction_A(junction, v[0] - v[1], temperature_C))
    if isinstance(element, Bipolar):
        return (element.collector, element.base, element.emitter), _bipolar(element, thermal_V(temperature_C))
    if isinstance(element, FieldEffect):
        return (element.drain, element.gate, element.source), _field_effect(element, thermal_V(temperature_C))
    return None


def ideal(element: Element) -> bool:
    """Whether an element fixes the volts between its nets, whatever flows."""
    return isinstance(element, Source) or (isinstance(element, Battery) and element.ohm == 0)


def junction_A(junction: Junction, volts: float, temperature_C: float) -> float:
    """The current from anode to cathode at these volts from anode to cathode, leakage and series resistance in."""
    slope_V = junction.emission * thermal_V(temperature_C)

    def inner(v: float) -> tuple[float, float]:
        return _inner(junction, v, slope_V)

    if junction.series_ohm < models.LEAST_OHM:
        at = inner(volts)[0]
    elif volts < -_breakdown_V(junction, slope_V):
        at = _broken(inner, volts, junction.series_ohm)
    else:
        at = _behind(inner, volts, junction.series_ohm, slope_V, junction.saturation_A)
    return at - _leaks_A(junction, volts, temperature_C)


def is_junction_A(junction: Junction, volts: float, amps: float, temperature_C: float) -> bool:
    """Whether a current from anode to cathode is that of these volts, to a ten-thousandth: sooner told than found."""
    inside_A = amps + _leaks_A(junction, volts, temperature_C)
    ohm = junction.series_ohm if junction.series_ohm >= models.LEAST_OHM else 0.0
    law_A, _ = _inner(junction, volts - ohm * inside_A, junction.emission * thermal_V(temperature_C))
    return abs(law_A - inside_A) <= _AGREES * abs(inside_A) + _ROUNDED_A


def _leaks_A(junction: Junction, volts: float, temperature_C: float) -> float:
    return models.leakage_A(junction, -volts, temperature_C) if models.leaks(junction) else 0.0


def _inner(junction: Junction, volts: float, slope_V: float) -> tuple[float, float]:
    """Amps and siemens of a junction without its series resistance and its leakage."""
    knee_V = _breakdown_V(junction, slope_V) if junction.breakdown_V is not None else inf
    if volts < -knee_V:
        amps = -junction.saturation_A * _bounded_exp((-knee_V - volts) / slope_V)
        return amps + _GMIN_S * volts, -amps / slope_V + _GMIN_S
    amps, siemens = _exponential(junction.saturation_A, volts, slope_V)
    return amps + _GMIN_S * volts, siemens + _GMIN_S


def _behind(
    inner: Callable[[float], tuple[float, float]], volts: float, ohm: float, slope_V: float, saturation_A: float
) -> float:
    """The current of a junction behind its series resistance: Newton from the side where it cannot overshoot.

    The start is the less of the whole volts and of those at which the resistance alone would carry the current. In
    reverse the resistance counts as well: next to 0 V a hot Schottky diode is a few ohms itself.
    """
    v = volts if volts <= 0 else min(volts, slope_V * log(1 + volts / ohm / saturation_A))
    for _ in range(60):
        amps, siemens = inner(v)
        step = (volts - v - ohm * amps) / (1 + ohm * siemens)
        v += step
        if abs(step) < 1e-13:
            break
    return inner(v)[0]


def _broken(inner: Callable[[float], tuple[float, float]], volts: float, ohm: float) -> float:
    """The current of a junction in breakdown behind its series resistance, by halving."""
    low, high = volts, 0.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if middle + ohm * inner(middle)[0] < volts else (low, middle)
    return inner(high)[0]


@lru_cache(maxsize=4096)
def _breakdown_V(junction: Junction, slope_V: float) -> float:
    """Where ngspice starts the breakdown so that BREAKDOWN_AT_A flows at the stated volts."""
    if junction.breakdown_V is None:
        return inf
    wanted = max(BREAKDOWN_AT_A, junction.saturation_A * junction.breakdown_V / slope_V)
    return junction.breakdown_V - slope_V * log(1 + wanted / junction.saturation_A)


def _through(amps: float) -> tuple[float, float]:
    return amps, -amps


def _resistive(ohm: float, volts: float) -> Law:
    return lambda v: _through((v[0] - v[1] - volts) / ohm)


def _bounded_exp(exponent: float) -> float:
    return exp(exponent) if exponent < _STEEPEST else exp(_STEEPEST) * (1 + exponent - _STEEPEST)


def _exponential(saturation_A: float, volts: float, slope_V: float) -> tuple[float, float]:
    """ngspice's junction: amps and siemens."""
    if volts >= -_REVERSE * slope_V:
        grown = _bounded_exp(volts / slope_V)
        return saturation_A * (grown - 1), saturation_A * grown / slope_V
    cubed = (_REVERSE * slope_V / (volts * exp(1))) ** 3
    return -saturation_A * (1 + cubed), 3 * saturation_A * cubed / volts


def _bipolar(transistor: Bipolar, slope_V: float) -> Law:
    sign = 1.0 if transistor.npn else -1.0

    def flows(v: Sequence[float]) -> tuple[float, ...]:
        collector, base, emitter = v
        one, other = sign * (base - emitter), sign * (base - collector)
        forward = _exponential(transistor.saturation_A, one, slope_V)[0]
        backward = _exponential(transistor.saturation_A, other, slope_V)[0]
        into_base = forward / transistor.gain + backward + _GMIN_S * (one + other)
        into_collector = forward - 2 * backward - _GMIN_S * other
        return sign * into_collector, sign * into_base, -sign * (into_collector + into_base)

    return flows


def _field_effect(transistor: FieldEffect, slope_V: float) -> Law:
    """Level 1, its substrate on the source."""
    sign = 1.0 if transistor.n_channel else -1.0
    gain = 1 / (2.0 * transistor.on_ohm)
    threshold_V = transistor.threshold_V

    def channel(drain: float, gate: float, source: float) -> float:
        if drain < source:
            return -channel(source, gate, drain)
        over = gate - source - threshold_V
        across = min(drain - source, over)
        return gain * across * (over - across / 2) if over > 0 else 0.0

    def flows(v: Sequence[float]) -> tuple[float, ...]:
        drain, gate, source = (sign * one for one in v)
        body = _exponential(BODY_DIODE_A, source - drain, slope_V)[0]
        amps = sign * (channel(drain, gate, source) - body + _GMIN_S * (drain - source))
        return amps, 0.0, -amps

    return flows
