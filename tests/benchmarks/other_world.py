"""A board whose parts are not those of the program's own laws: what a study of suspects may be measured on.

Every diode follows a Shockley law of two parameters, laid through its typical drop at two currents and then put off by
up to 30 mV, not the fitted law; its leakage is off by up to three times. Resistors, rails, references and zeners stand
anywhere in their tolerance (5 % where the file states none), cells anywhere between nine tenths used and fresh, loads
between half and one and a half times their typical current, gains between half and twice theirs. All of it is drawn
once for a board, so that its readings are consistent (sizes: common practice, no source).
"""

from __future__ import annotations

import random
from math import exp, log

from msgspec.structs import replace

from netcheck.bench.measure import Subject
from netcheck.fragment.model import Fragment, Part
from netcheck.parts import cell, diode
from netcheck.parts.junction import thermal_V
from netcheck.parts.specs import (
    CellSpec,
    DiodeParameters,
    DiodeSpec,
    LoadSpec,
    RegulatorSpec,
    ResistorSpec,
    TransistorSpec,
)
from netcheck.quantities.values import Quantity

MOST_OFF_V = 0.030
OLDEST = 0.9
_TOLERANCE = 0.05
_LOW_A, _HIGH_A = 1e-5, 1e-3
_PARAMETERS_AT_C = 27.0


def other_board(subject: Subject, seed: str) -> Subject:
    """The same board made of other specimens; the same seed gives each part the same specimen whatever is wrong."""
    fragment = subject.fragment
    parts = {name: _specimen(part, random.Random(f"{seed} {name}")) for name, part in fragment.parts.items()}
    rails = {net: replace(rail, volts=_within(rail.volts, random.Random(f"{seed} {net}")))
             for net, rail in fragment.rails.items()}
    return replace(subject, fragment=_with(fragment.with_parts(parts), rails))


def _with(fragment: Fragment, rails: object) -> Fragment:
    return replace(fragment, rails=rails)


def _specimen(part: Part, chance: random.Random) -> Part:
    match part.spec:
        case ResistorSpec() as spec:
            return replace(part, spec=replace(spec, resistance=_within(spec.resistance, chance)))
        case DiodeSpec() as spec:
            return replace(part, spec=other_diode(spec, chance.uniform(-MOST_OFF_V, MOST_OFF_V),
                                                  3 ** chance.uniform(-1, 1), chance))
        case CellSpec() as spec if part.measured_V is None:
            old, fresh = cell.volts(spec, OLDEST), cell.volts(spec, 0.0)
            return replace(part, measured_V=chance.uniform(old, fresh))
        case LoadSpec() as spec:
            factor = chance.uniform(0.5, 1.5)
            return replace(part, spec=replace(spec, draws=tuple(
                replace(point, current_A=point.current_A * factor) for point in spec.draws)))
        case TransistorSpec(gain=float() as gain) as spec:
            return replace(part, spec=replace(spec, gain=gain * 2 ** chance.uniform(-1, 1)))
        case RegulatorSpec() as spec:
            return replace(part, spec=replace(
                spec, reference=spec.reference and _within(spec.reference, chance),
                output=spec.output and _within(spec.output, chance)))
        case _:
            return part


def other_diode(spec: DiodeSpec, off_V: float, leaks: float, chance: random.Random) -> DiodeSpec:
    """A two-parameter law through the typical drop at 10 µA and 1 mA, off by off_V; leakage times `leaks`."""
    scaled = tuple(replace(point, current_A=point.current_A * leaks) for point in spec.leakage)
    if spec.parameters is not None:
        return replace(spec, leakage=scaled)
    low, high = (diode.drop(spec, amps, _PARAMETERS_AT_C) for amps in (_LOW_A, _HIGH_A))
    slope = (high - low) / log(_HIGH_A / _LOW_A)
    parameters = DiodeParameters(_HIGH_A * exp(-(high + off_V) / slope), slope / thermal_V(_PARAMETERS_AT_C))
    return replace(spec, parameters=parameters, leakage=scaled, forward=(),
                   zener_V=spec.zener_V and _within(spec.zener_V, chance))


def _within(stated: Quantity, chance: random.Random) -> Quantity:
    """A value somewhere in its tolerance."""
    low, high = stated.low, stated.high
    if low == high:
        low, high = sorted((stated.value * (1 - _TOLERANCE), stated.value * (1 + _TOLERANCE)))
    value = chance.uniform(low, high)
    return replace(stated, value=value, low=value, high=value)
