"""Watts and junction temperature of a regulator: TJ = TA + P·(θJC + θCS + θSA).

Source of the formula: Analog Devices (Linear Technology), LT1083/84/85 data sheet, "Thermal considerations", page 12.
"""

from __future__ import annotations

from msgspec import Struct

from netcheck.fragment.model import Part
from netcheck.parts.specs import RegulatorSpec
from netcheck.wording import supplies


class Cooling(Struct, frozen=True):
    """Thermal resistance from junction to air in K/W, None where not known, and where the heat goes.

    sink_K_per_W: that of a heat sink, 0.0 where there is none.
    """

    theta: float | None
    into: str
    sink_K_per_W: float = 0.0

    @property
    def words(self) -> str:
        return supplies.cooling(self.into, self.sink_K_per_W)


def cooling(part: Part) -> Cooling:
    """What a regulator is cooled by: its heat sink, the board's copper, or nothing but itself.

    A heat sink's own figure is taken as given, mounting included, unless the regulator's entry tells what lies
    between case and sink. On a board the figure of a test board is used where there is one, else that of the case
    alone, which is the worse.
    """
    spec = part.spec
    assert isinstance(spec, RegulatorSpec)
    if part.heatsink_K_per_W is not None:
        case = spec.theta_junction_case
        theta = None if case is None else case + (spec.theta_case_sink or 0.0) + part.heatsink_K_per_W
        return Cooling(theta, "sink", part.heatsink_K_per_W)
    if part.heatsink == "board":
        if spec.theta_board is not None:
            return Cooling(spec.theta_board, "board")
        return Cooling(spec.theta_junction_ambient, "board as case")
    return Cooling(spec.theta_junction_ambient, "none" if part.heatsink == "none" else "none stated")


def junction_C(ambient_C: float, watts: float, theta: float) -> float:
    """TJ = TA + P·θ.

    >>> round(junction_C(75.0, 1.253, 56.0), 1)
    145.2
    """
    return ambient_C + watts * theta


def sink_needed(ambient_C: float, limit_C: float, watts: float, spec: RegulatorSpec) -> float | None:
    """The largest thermal resistance from heat sink to air, K/W, that keeps the junction at its limit.

    Zero or less where no heat sink can; None where the resistance from junction to case is not known.
    """
    if spec.theta_junction_case is None or watts <= 0:
        return None
    return (limit_C - ambient_C) / watts - spec.theta_junction_case - (spec.theta_case_sink or 0.0)


def amps_at_limit(
    ambient_C: float, limit_C: float, theta: float, across_V: float, own_W: float, beside_A: float
) -> float | None:
    """The load current at which the junction meets its limit; None where more load makes no more heat.

    across_V: input less output. own_W: heat that does not depend on the load. beside_A: what the regulator passes
    beside the load.

    >>> amps_at_limit(40.0, 125.0, 50.0, 1.7, 0.0, 0.0)
    1.0
    """
    if across_V <= 0:
        return None
    return max(0.0, ((limit_C - ambient_C) / theta - own_W) / across_V - beside_A)
