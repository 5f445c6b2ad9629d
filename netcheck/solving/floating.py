"""Gates that are left floating: each may stand anywhere between the nets that are held."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from netcheck.clock import in_time
from netcheck.simulation import topology
from netcheck.simulation.elements import Battery, Circuit, OperatingPoint, Resistance, Source
from netcheck.simulation.operating_point import solve


def wherever_gates_float(circuits: Sequence[Circuit], points: Sequence[OperatingPoint]) -> list[list[OperatingPoint]]:
    """Each circuit's point; where gates float in it, those with the gates at every end that they may take.

    A floating gate may stand anywhere between the lowest and the highest net that is held: at either the transistor is
    as far off, or on, as it can be.
    """
    held: dict[tuple[int, int], Circuit] = {}
    for place, (circuit, point) in enumerate(in_time(list(zip(circuits, points, strict=True)))):
        gates = {} if point.known else dict.fromkeys(topology.floating_controls(circuit))
        for end, net in enumerate(_ends(circuit) if gates else ()):
            leads = (Resistance(f"{gate} (floating)", gate, net, _ANYWHERE_OHM) for gate in gates)
            held[place, end] = replace(circuit, elements=(*circuit.elements, *leads))
    solved = dict(zip(held, solve(list(held.values())), strict=True)) if held else {}
    ends: dict[int, list[OperatingPoint]] = {}
    for (place, _), after in solved.items():
        ends.setdefault(place, []).append(after)
    return [ends.get(place, [point]) for place, point in enumerate(points)]


_ANYWHERE_OHM = 1e6
"""What leads a floating gate to where it may stand; it carries nothing."""


def _ends(circuit: Circuit) -> tuple[str, ...]:
    """The ground, and the nets that stand furthest above and below it by a source or a cell."""
    volts = {circuit.ground: 0.0}
    for element in circuit.elements:
        if isinstance(element, Source | Battery) and element.minus == circuit.ground:
            volts[element.plus] = element.volts
    ordered = sorted(volts, key=lambda net: volts[net])
    return tuple(dict.fromkeys((circuit.ground, ordered[0], ordered[-1])))
