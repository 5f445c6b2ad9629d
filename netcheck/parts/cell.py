"""What a cell gives: volts and resistance against the share of its capacity used, by load and temperature."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from math import log

from netcheck.parts.entries import between
from netcheck.parts.specs import CellSpec, LoadedCurve

ROOM_C = 25.0

HOURS_A_YEAR = 8760.0


def volts(
    spec: CellSpec, used: float, measured_V: float | None = None, temperature_C: float = ROOM_C, load_A: float = 0.0
) -> float:
    """Volts [V] at `used` (0 new … 1 at its end point) of the capacity, with nothing but its steady load.

    measured_V: what the meter showed on the real cell. It then stands at least
    as deep in its curve as that voltage lies, and never above it.
    load_A: the steady load; up to spec.backup_A the curve of a backup holds, heavier
    ones lie between it and the published curve of a heavier load (by the logarithm of the
    current), which is interpolated in temperature_C [°C]. Beyond the published loads and
    temperatures the nearest one holds. Raises ValueError for a share outside 0 … 1.
    """
    _check(used)
    depth = max(used, depth_at(spec, measured_V))
    found = between([(point.used, point.volts_V) for point in spec.curve], depth)
    if spec.loaded and spec.backup_A and load_A > spec.backup_A:
        heavy_A = min(curve.load_A for curve in spec.loaded)
        share = min(log(load_A / spec.backup_A) / log(heavy_A / spec.backup_A), 1.0)
        found += share * (loaded_V(spec.loaded, depth, temperature_C) - found)
    return found if measured_V is None else min(found, measured_V)


def loaded_V(curves: Iterable[LoadedCurve], used: float, temperature_C: float) -> float:
    """Volts [V] of published curves of one load, between the two temperatures on either side."""
    by_heat = sorted((curve.temperature_C, between(list(curve.points), used)) for curve in curves)
    return between(by_heat, temperature_C)


def resistance(spec: CellSpec, used: float) -> float:
    """Internal resistance [ohm] at `used` (0 new … 1 at its end point) of the capacity."""
    _check(used)
    return between([(point.used, point.resistance_ohm) for point in spec.curve], used)


def end_V(spec: CellSpec) -> float:
    """Volts [V] at the end point to which the capacity is stated."""
    return spec.curve[-1].volts_V


_DEAD = 0.8
"""A pack is dead below this share of the volts at which it is empty (common practice, no source)."""


def is_dead(spec: CellSpec, measured_V: float | None) -> bool:
    """Whether the meter found a rechargeable far below the volts at which it is empty; a supercapacitor never is."""
    return not spec.primary and spec.capacitance_F is None and measured_V is not None \
        and measured_V < _DEAD * end_V(spec)


def seems_spent(spec: CellSpec, measured_V: float | None) -> bool:
    """Whether by the meter a cell cannot be what feeds a load: a dead rechargeable, or a primary cell at its end."""
    return is_dead(spec, measured_V) or (spec.primary and measured_V is not None and depth_at(spec, measured_V) >= 1.0)


def depth_at(spec: CellSpec, open_circuit_V: float | None) -> float:
    """The share used at which the curve has fallen to these volts: 0 above it or not measured, 1 below it.

    Where it stands still at these volts, the deepest such share: it may be as old as that.
    """
    if open_circuit_V is None or open_circuit_V > spec.curve[0].volts_V:
        return 0.0
    for before, after in reversed(list(pairwise(spec.curve))):
        if open_circuit_V <= before.volts_V:
            fall = before.volts_V - after.volts_V
            fallen = (before.volts_V - max(open_circuit_V, after.volts_V)) / fall if fall else 1.0
            return before.used + fallen * (after.used - before.used)
    return 0.0


def _check(used: float) -> None:
    if not 0 <= used <= 1:
        raise ValueError(f"the share used runs from 0 to 1, not {used:g}")

def self_discharge_A(spec: CellSpec) -> float:
    """Self-discharge as a constant current [A]; of a capacitor's full charge where it is one.

    The current itself where that is published.
    """
    if spec.capacitance_leak_A is not None:
        return spec.capacitance_leak_A
    capacity_Ah = spec.capacity_Ah if spec.capacitance_F is None else spec.capacitance_F * spec.nominal_V / 3600.0
    return capacity_Ah * spec.self_discharge_per_year / HOURS_A_YEAR
