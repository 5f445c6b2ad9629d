"""What a diode does at a temperature: forward drop and reverse leakage, from its published points."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import combinations
from math import log

from msgspec import Struct
from msgspec.structs import replace

from netcheck.parts.catalogue import family
from netcheck.parts.entries import Family
from netcheck.parts.junction import ZERO_CELSIUS_K, Law, Slope, fit, golden, thermal_V, weight
from netcheck.parts.leakage import ROOM_C, reverse
from netcheck.parts.specs import DiodeSpec, ForwardPoint, LeakagePoint
from netcheck.parts.zener import Knee, knee

LIMITS = ("typical", "maximum", "minimum")
PARAMETERS_AT_C = 27.0  # SPICE's temperature for parameters without one
GAPS_EV = (0.3, 1.6)  # between which a gap is fitted to points at several temperatures
OTHER_TEMPERATURE_K = 10.0  # and from how far away these count
PARAMETERS_CURRENT_A = 1e-3  # where their fall with temperature is taken


class UnknownDrop(ValueError):
    """Nothing is known from which the forward drop of this diode could be computed."""


class DiodeAt(Struct, frozen=True):
    """A diode at one temperature.

    saturation_A [A], emission [1], series_ohm [ohm]: forward law
    V = N·kT/q·ln(1 + I/IS) + I·RS. leakage_A [A] at leakage_at_V [V] of reverse
    voltage, growing with (V + leakage_from_V)**leakage_power: the whole reverse current,
    saturation current included; leakage_known is False (and leakage_A 0) where
    nothing is published about it. knees: what a zener passes beside it.
    breakdown_V [V] or None: a sharp breakdown, as parameters give it.
    extrapolated_below_A: lowest current [A] of a published point; below it the
    law runs on alone (0 where the law itself was given).
    """

    saturation_A: float
    emission: float
    series_ohm: float
    leakage_A: float
    leakage_at_V: float
    leakage_power: float
    breakdown_V: float | None
    extrapolated_below_A: float
    leakage_known: bool = True
    leakage_from_V: float = 0.0
    knees: tuple[Knee, ...] = ()


@lru_cache(maxsize=4096)
def at(
    spec: DiodeSpec, temperature_C: float, drop: str = "typical", leakage: str = "typical",
    clamp: str | None = None,
) -> DiodeAt:
    """The diode at a temperature [°C]; drop: typical, maximum or minimum, leakage: typical or maximum.

    clamp: where in its tolerance a zener stands, "maximum" for the piece that passes most (the
    least volts), "minimum" for that which passes least; None: as its leakage.
    Raises UnknownDrop where the spec says nothing about the forward drop.
    """
    law = forward_law(spec, temperature_C, drop)
    back = reverse(spec, temperature_C, leakage)
    return DiodeAt(
        law.saturation_A, law.emission, law.series_ohm, back.amps, back.at_V, back.power,
        spec.parameters.breakdown_V if spec.parameters else None, extrapolated_below(spec),
        back.known or spec.zener_V is not None,
        back.shape.from_V, knee(spec, clamp or leakage),
    )


def drop(spec: DiodeSpec, current_A: float, temperature_C: float = 25.0, which: str = "typical") -> float:
    """Forward drop [V] at a current [A] and a temperature [°C]."""
    return forward_law(spec, temperature_C, which).volts(current_A)


def leakage(
    spec: DiodeSpec, volts: float, temperature_C: float = 25.0, which: str = "typical"
) -> float | None:
    """Reverse current [A] at a reverse voltage [V] and a temperature [°C]; None where nothing is known."""
    back = reverse(spec, temperature_C, which)
    passed = sum(term.current(volts) for term in knee(spec, which))
    return back.current(volts) + passed if back.known or passed else None


def guaranteed_from(spec: DiodeSpec) -> float:
    """The least reverse voltage [V] at which the maximum leakage is a guarantee; 0 where it always is."""
    return reverse(spec, ROOM_C, "maximum").guaranteed_from_V


def breakdown(spec: DiodeSpec, which: str = "typical") -> float | None:
    """Breakdown voltage [V] of a zener (its lower limit with "maximum" leakage) or as given, else None."""
    if spec.zener_V is not None:
        return spec.zener_V.low if which == "maximum" else spec.zener_V.value
    return spec.parameters.breakdown_V if spec.parameters else None


def extrapolated_below(spec: DiodeSpec) -> float:
    """The lowest current [A] at which a forward point is known; 0 where the law itself was given."""
    return 0.0 if spec.parameters else min(point.current_A for point in typical_points(spec))


class FitRow(Struct, frozen=True):
    """A published forward point beside the law of the same limit at the same temperature."""

    point: ForwardPoint
    law_V: float

    @property
    def off_V(self) -> float:
        return self.law_V - self.point.volts_V


class LeakageRow(Struct, frozen=True):
    """A published reverse current beside the law of the same limit at the same voltage and temperature."""

    point: LeakagePoint
    law_A: float


class FitReport(Struct, frozen=True):
    """How well the laws of a diode hold at what is published, and where they run on alone.

    law: the typical forward law at its points' temperature. typical_published is
    False where the typical points are derived from maxima or from the family.
    band_V: what the drop is uncertain by for each decade below extrapolated_below_A.
    """

    law: Law
    forward: tuple[FitRow, ...]
    leakage: tuple[LeakageRow, ...]
    typical_published: bool
    extrapolated_below_A: float
    band_V: float


def fit_report(spec: DiodeSpec) -> FitReport:
    """Every published point of a diode beside what is computed there. Raises UnknownDrop."""
    points = () if spec.parameters else typical_points(spec)
    shown = [point for point in spec.forward if point not in points]
    forward = [FitRow(point, drop(spec, point.current_A, point.temperature_C, _limit(point)))
               for point in sorted((*points, *shown), key=lambda p: (p.temperature_C, p.current_A, p.volts_V))]
    reverse_rows = [LeakageRow(point, leakage(spec, point.volts_V, point.temperature_C, _limit(point)) or 0.0)
                    for point in sorted(spec.leakage, key=lambda p: (p.temperature_C, p.volts_V, p.current_A))]
    return FitReport(
        _law(spec, "typical"), tuple(forward), tuple(reverse_rows),
        any(point in spec.forward for point in points), extrapolated_below(spec),
        0.0 if spec.parameters else family(spec.family).band_V,
    )


def _limit(point: ForwardPoint | LeakagePoint) -> str:
    """The law that a published point is held against."""
    return {"scatter": "maximum", "elsewhere": "typical"}.get(point.limit, point.limit)


@lru_cache(maxsize=1024)
def forward_law(spec: DiodeSpec, temperature_C: float, which: str = "typical") -> Law:
    """The forward law at a temperature [°C].

    typical: fitted to the typical points (with the family's slope where these are
    derived). maximum: raised until it lies above every
    published maximum and every typical point. minimum: lowered in the same way. Both
    also take the family's uncertainty for each decade below the lowest published
    current. Parameters given by hand are used as they are, for all three.
    Temperature by the gap and exponent given, the gap fitted to typical points at
    other temperatures, or the family's.
    """
    if which not in LIMITS:
        raise ValueError(f"which is one of {', '.join(LIMITS)}, not {which!r}")
    law = _law(spec, which)
    return law.at(temperature_C, *_warming(spec, law))


def _warming(spec: DiodeSpec, law: Law) -> tuple[float, float]:
    """Gap [eV] and exponent [1] of the saturation current's temperature law."""
    common, given = family(spec.family), spec.parameters
    exponent = common.temperature_exponent
    if given and given.temperature_exponent is not None:
        exponent = given.temperature_exponent
    if given and given.gap_eV is not None:
        return given.gap_eV, exponent
    if warm := [] if given else _elsewhere_warm(spec, law):
        return golden(lambda gap: _misfit(law, warm, gap, exponent), *GAPS_EV), exponent
    if common.gap_eV is not None:
        return common.gap_eV, exponent
    # The gap with which dV/dT = (V - EG - XTI·kT/q)/T is the family's fall.
    volts = law.volts(extrapolated_below(spec) or PARAMETERS_CURRENT_A)
    kelvin = law.temperature_C + ZERO_CELSIUS_K
    return volts + (common.fall_V or 0.0) * kelvin - exponent * thermal_V(law.temperature_C), exponent


def _elsewhere_warm(spec: DiodeSpec, law: Law) -> list[ForwardPoint]:
    """The typical points published at other temperatures than the law's."""
    return [point for point in spec.forward
            if point.limit == "typical" and abs(point.temperature_C - law.temperature_C) >= OTHER_TEMPERATURE_K]


def _misfit(law: Law, points: Sequence[ForwardPoint], gap_eV: float, exponent: float) -> float:
    """The squared misfit [V²] of a law warmed to the temperatures of points."""
    return sum(weight(point.current_A)
               * (law.at(point.temperature_C, gap_eV, exponent).volts(point.current_A) - point.volts_V) ** 2
               for point in points)


def typical_points(spec: DiodeSpec) -> tuple[ForwardPoint, ...]:
    """The typical forward points; where none is published, the maxima times the family's share.

    Points at the temperature nearest to 25 °C. A derived point says so. Raises UnknownDrop.
    """
    points = _nearest_room([point for point in spec.forward if point.limit == "typical"])
    if points:
        return tuple(points)
    common = family(spec.family)
    points = _nearest_room([point for point in spec.forward if point.limit == "maximum"])
    if points:
        return tuple(_derived(point, common) for point in points)
    if common.forward:
        return (common.forward,)
    raise UnknownDrop(f"nothing is known of the forward drop of {spec.name} ({spec.family}): "
                      "give a point such as [10 mA, 1.9 V]")


def _derived(point: ForwardPoint, common: Family) -> ForwardPoint:
    origin = replace(point.figure, sure="derived",
                     source=f"{common.typical_share:g} of the maximum: {point.figure.source}")
    return replace(point, volts_V=point.volts_V * common.typical_share, limit="typical", figure=origin)


def _nearest_room(points: Sequence[ForwardPoint]) -> list[ForwardPoint]:
    if not points:
        return []
    nearest = min((point.temperature_C for point in points), key=lambda celsius: abs(celsius - 25.0))
    return [point for point in points if point.temperature_C == nearest]


@lru_cache(maxsize=1024)
def _law(spec: DiodeSpec, which: str) -> Law:
    """The forward law at the temperature of its points."""
    common = family(spec.family)
    if given := spec.parameters:
        return Law(given.saturation_A, given.emission, given.series_ohm, PARAMETERS_AT_C)
    points = typical_points(spec)
    slope = Slope(common.emission, common.emission_low, common.emission_high)
    if points[0] not in spec.forward:  # shares of test limits, which tell nothing of the slope
        slope = Slope(common.emission, common.emission, common.emission)
    law = fit([(point.current_A, point.volts_V) for point in points], slope, points[0].temperature_C)
    if which == "typical":
        return law
    limits = _nearest_room([point for point in spec.forward if point.limit == which])
    others = [point for point in spec.forward if point.limit == "elsewhere"
              and abs(point.temperature_C - points[0].temperature_C) < OTHER_TEMPERATURE_K]
    typical = [(point.current_A, point.volts_V) for point in (*points, *others)]
    published = [(point.current_A, point.volts_V) for point in limits]
    return (_upper if which == "maximum" else _lower)(law, typical, published, common)


def _shifted(law: Law, at_A: float, by_V: float, emission: float, more_ohm: float = 0.0) -> Law:
    """A law of slope `emission` that lies by_V beside another at one current."""
    junction = law.junction_V(at_A)
    return law.through(at_A, max(junction + by_V, junction / 4), emission, law.series_ohm + more_ohm)


Pairs = list[tuple[float, float]]


def _upper(law: Law, typical: Pairs, maxima: Pairs, common: Family) -> Law:
    """The law of the highest drop: flatter below the lowest point, above all published points."""
    lowest_A = min(current for current, _ in typical)
    emission = law.emission - common.band_V / (thermal_V(law.temperature_C) * log(10))
    start = _shifted(law, lowest_A, 0.0, emission)
    by_V, more_ohm = common.spread_V, 0.0
    if maxima:
        by_V, more_ohm = _least_cover(
            [(current, volts - start.volts(current)) for current, volts in maxima],
            [(current, volts - start.volts(current)) for current, volts in typical], common.spread_V)
    for _ in range(8):  # the shift acts in full only where I >> IS
        found = _shifted(law, lowest_A, by_V, emission, more_ohm)
        short = max(volts - found.volts(current) for current, volts in maxima + typical)
        if short <= 0:
            break
        by_V += short
    return found


def _lower(law: Law, typical: Pairs, minima: Pairs, common: Family) -> Law:
    """The law of the lowest drop: steeper below the lowest point, below all published points."""
    lowest_A = min(current for current, _ in typical)
    emission = law.emission + common.band_V / (thermal_V(law.temperature_C) * log(10))
    by_V = 0.0 if minima else common.spread_V
    for _ in range(8):
        found = _shifted(law, lowest_A, -by_V, emission)
        over = max(found.volts(current) - volts for current, volts in minima + typical)
        if over <= 0:
            break
        by_V += over
    return found


def _least_cover(limits: Pairs, floor: Pairs, spread_V: float) -> tuple[float, float]:
    """The shift [V] and added resistance [ohm] that lift a curve over all limits and overshoot least.

    limits and floor: (current, lift needed there). Where one limit leaves the choice open, one
    piece's spread is shift and the rest resistance. A linear programme of two
    unknowns: its answer is a corner, so all corners are tried.
    """
    lines = [*limits, *floor]
    corners = [(0.0, 0.0), *((max(lift, 0.0), 0.0) for _, lift in lines)]
    corners += [(shift, max(lift - shift, 0.0) / amps) for amps, lift in lines for shift in (0.0, spread_V)]
    for (amps, lift), (other_A, other) in combinations(lines, 2):
        if amps != other_A:
            ohm = (other - lift) / (other_A - amps)
            corners.append((lift - ohm * amps, ohm))

    def feasible(corner: tuple[float, float]) -> bool:
        shift, ohm = corner
        return shift >= 0 and ohm >= 0 and all(shift + ohm * amps >= lift - 1e-9 for amps, lift in lines)

    def overshoot(corner: tuple[float, float]) -> tuple[float, float]:
        shift, ohm = corner
        over = sum(weight(amps) * (shift + ohm * amps - lift) for amps, lift in limits)
        return round(over, 6), abs(shift - spread_V)

    return min(filter(feasible, corners), key=overshoot)
