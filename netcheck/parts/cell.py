"""What a cell gives: open-circuit volts and resistance against the share of its capacity used."""

from __future__ import annotations

from itertools import pairwise

from netcheck.parts.entries import between
from netcheck.parts.specs import CellSpec


def volts(spec: CellSpec, used: float, measured_V: float | None = None) -> float:
    """Open-circuit volts [V] at `used` (0 new … 1 at its end point) of the capacity.

    measured_V: what the meter showed on the real cell. It then stands at least
    as deep in its curve as that voltage lies, and never above it.
    Raises ValueError for a share outside 0 … 1.
    """
    _check(used)
    depth = max(used, depth_at(spec, measured_V))
    found = between([(point.used, point.volts_V) for point in spec.curve], depth)
    return found if measured_V is None else min(found, measured_V)


def resistance(spec: CellSpec, used: float) -> float:
    """Internal resistance [ohm] at `used` (0 new … 1 at its end point) of the capacity."""
    _check(used)
    return between([(point.used, point.resistance_ohm) for point in spec.curve], used)


def end_V(spec: CellSpec) -> float:
    """Open-circuit volts [V] at the end point to which the capacity is stated."""
    return spec.curve[-1].volts_V


def depth_at(spec: CellSpec, open_circuit_V: float | None) -> float:
    """The share used at which the curve has fallen to these volts: 0 above it or not measured, 1 below it."""
    if open_circuit_V is None:
        return 0.0
    for before, after in pairwise(spec.curve):
        if open_circuit_V >= before.volts_V:
            return before.used
        if open_circuit_V > after.volts_V:
            fallen = (before.volts_V - open_circuit_V) / (before.volts_V - after.volts_V)
            return before.used + fallen * (after.used - before.used)
    return spec.curve[-1].used


def _check(used: float) -> None:
    if not 0 <= used <= 1:
        raise ValueError(f"the share used runs from 0 to 1, not {used:g}")
