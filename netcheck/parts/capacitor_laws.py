"""What a capacitor of a family leaks, bears, keeps and loses: the laws, with the library's figures in them.

Volts in V, currents in A, ohms, F, H, hours, temperatures in °C. A function answers None where the family is not known
(`type: unknown`), or holds no such figure.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from itertools import pairwise

from msgspec import Struct

from netcheck.parts.capacitor import EsrPoint, Family, family, usual
from netcheck.parts.specs import CapacitorSpec

ROOM_C = 25.0
COLD_C = -40.0
HOURS_A_YEAR = 8760.0
DERIVED_Hz = 120.0  # tan δ is published at this frequency

RADIAL, AXIAL, CHIP = "radial", "axial", "chip"


class Leakage(Struct, frozen=True):
    """Leakage current [A]: usual after hours at its volts, and the most that the maker allows."""

    typical_A: float
    maximum_A: float


class Band(Struct, frozen=True):
    """A figure of a family: least, usual (the geometric mean) and most."""

    least: float
    most: float

    @property
    def usual(self) -> float:
        return math.sqrt(self.least * self.most)

    def times(self, least: float, most: float) -> Band:
        return Band(self.least * least, self.most * most)


def leakage(spec: CapacitorSpec, volts_V: float, temperature_C: float = ROOM_C) -> Leakage | None:
    """Leakage at some volts and temperature; None for a family that is not known.

    The maker's limit max(k·C·Vr, least) holds at the rated volts; below them the current falls in proportion.
    Where no rating is known the limit is taken at the volts that it sees.

    >>> from netcheck.quantities.values import quantity
    >>> spec = CapacitorSpec(quantity("220u", "F"), type="wet", rated_V=10.0)
    >>> round(leakage(spec, 10.0).maximum_A * 1e6, 1)   # 0.01·C·V in µA: Nichicon ZR series
    22.0
    """
    known = family(spec.type)
    if known is None:
        return None
    at_V = abs(volts_V)
    full_V = spec.rated_V or at_V
    if full_V == 0:
        return Leakage(0.0, 0.0)
    limit_A = max(known.leakage_per_s * spec.capacitance.value * full_V, known.leakage_least_A)
    hotter = 2.0 ** ((temperature_C - ROOM_C) / known.leakage_doubling_K)
    most_A = limit_A * min(1.0, at_V / full_V) * hotter
    return Leakage(known.leakage_typical * most_A, most_A)


def reverse_V(known: Family, rated_V: float | None, temperature_C: float) -> float | None:
    """Volts backwards that a polarised capacitor bears for a short while; None for one without polarity.

    Between the temperatures published the limit runs straight; outside them it stays.

    >>> round(reverse_V(family("tantalum"), 16.0, 25.0), 2), round(reverse_V(family("tantalum"), 16.0, 85.0), 2)
    (1.0, 0.48)
    """
    if not known.polarised or not known.reverse:
        return None
    points = [(limit.temperature_C, min(limit.most_V, limit.share * rated_V if rated_V else limit.most_V))
              for limit in sorted(known.reverse, key=lambda limit: limit.temperature_C)]
    return _straight(points, temperature_C)


def bears_backwards_V(spec: CapacitorSpec, temperature_C: float) -> float | None:
    """Volts backwards from which a capacitor with a plus and a minus counts as reversed; None where it bears any.

    One whose type is not known is taken as the most tender that it may be.
    """
    known = family(spec.type) or family("tantalum")
    assert known is not None
    limit_V = reverse_V(known, spec.rated_V, temperature_C)
    return None if limit_V is None else max(limit_V, usual().backwards_V)


def derated_V(known: Family, rated_V: float, series_ohm: float = 0.0, volts_V: float = 0.0) -> float:
    """The volts for lasting use: on a stiff feed (less than the family's ohms a volt in series) those for one.

    >>> derated_V(family("tantalum"), 16.0), derated_V(family("wet"), 16.0)
    (8.0, 16.0)
    """
    stiff = series_ohm < known.stiff_below_ohm_per_V * abs(volts_V) or (series_ohm == 0 and known.use_stiff < known.use)
    return rated_V * (known.use_stiff if stiff else known.use)


def rating_V(known: Family, volts_V: float, series_ohm: float = 0.0) -> float:
    """The least rating that is made for some volts in this family; the volts over the derating beyond the largest made.

    >>> rating_V(family("tantalum"), 5.0), rating_V(family("wet"), 5.25)
    (10.0, 6.3)
    """
    wanted = abs(volts_V) / derated_V(known, 1.0, series_ohm, volts_V)
    return next((rated for rated in usual().ratings_V if rated >= wanted * (1 - 1e-9)), wanted)


def life_h(
    spec: CapacitorSpec, temperature_C: float, rise_K: float = 0.0, capped: bool = True
) -> float | None:
    """Hours to the end of life at a case temperature plus the rise of the core by its ripple.

    Capped at what makers accept as an estimate unless capped is False. None for a family that does not wear out by
    hours, or is not known. The life printed on the part counts; without one that of the family.

    >>> from netcheck.quantities.values import quantity
    >>> wet = CapacitorSpec(quantity("220u", "F"), type="wet", life_h=5000.0, life_at_C=105.0)
    >>> life_h(wet, 95.0), life_h(wet, 85.0)
    (10000.0, 20000.0)
    """
    known = family(spec.type)
    if known is None or known.wear is None:
        return None
    stated = spec.life_h is not None and spec.life_at_C is not None
    hours = spec.life_h if stated and spec.life_h is not None else known.wear.hours
    at_C = spec.life_at_C if stated and spec.life_at_C is not None else known.wear.at_C
    found: float = hours * known.wear.factor ** ((at_C - temperature_C - rise_K) / known.wear.step_K)
    return min(found, known.wear.most_years * HOURS_A_YEAR) if capped else found


def esr(spec: CapacitorSpec, temperature_C: float = ROOM_C, aged: bool = False) -> Band | None:
    """Series resistance at 100 kHz: as stated for the part, else of its family at its C·V, points joined in logarithms.

    Below room temperature it rises as published down to -40 °C; aged: at the most, at its end of life.
    """
    known = family(spec.type)
    if spec.esr_ohm is not None:
        band = Band(spec.esr_ohm, spec.esr_ohm)
    elif known is None or not known.esr:
        return None
    else:
        band = _of_family(known.esr, spec.capacitance.value * (spec.rated_V or known.esr[0].rated_V))
    if known is None:
        return band
    share = min(1.0, max(0.0, (ROOM_C - temperature_C) / (ROOM_C - COLD_C)))
    return band.times(1.0, known.esr_cold**share * (known.ends_esr if aged else 1.0))


def _of_family(points: Sequence[EsrPoint], charge: float) -> Band:
    least = _in_logarithms([(point.farad * point.rated_V, point.least_ohm) for point in points], charge)
    most = _in_logarithms([(point.farad * point.rated_V, point.most_ohm) for point in points], charge)
    return Band(min(least, most), most)


def loss_ohm(spec: CapacitorSpec, hertz: float = DERIVED_Hz) -> float | None:
    """The most series resistance that the limit of tan δ allows: tan δ / (2π·f·C), tan δ taken as at 120 Hz.

    >>> from netcheck.quantities.values import quantity
    >>> round(loss_ohm(CapacitorSpec(quantity("220u", "F"), type="wet", rated_V=10.0)), 2)
    1.45
    """
    known = family(spec.type)
    if known is None or not known.loss:
        return None
    limit = min(known.loss, key=lambda point: abs(math.log(point.rated_V / (spec.rated_V or point.rated_V))))
    return limit.most / (2 * math.pi * hertz * spec.capacitance.value)


def body(spec: CapacitorSpec) -> str:
    """The kind of body by what the file says of its size: a case code is a chip, millimetres are a can on two leads."""
    size = (spec.size or "").casefold()
    for word in (RADIAL, AXIAL, CHIP):
        if word in size:
            return word
    if "lead" in size or "disc" in size or "bead" in size or re.search(r"\d\s*[x×]\s*\d", size):
        return RADIAL
    if size:
        return CHIP
    known = family(spec.type)
    return known.esl[0].body if known and known.esl else RADIAL


def esl(spec: CapacitorSpec) -> Band | None:
    """Series inductance [H]: as stated, else of the family's body."""
    if spec.esl_H is not None:
        return Band(spec.esl_H, spec.esl_H)
    known = family(spec.type)
    if known is None or not known.esl:
        return None
    kind = body(spec)
    found = next((point for point in known.esl if point.body == kind), known.esl[0])
    return Band(found.least_H, found.most_H)


def bias_left(spec: CapacitorSpec, volts_V: float) -> float:
    """Share of its capacitance that a ceramic keeps at some direct volts; 1 for a family without that loss.

    Through each published point runs 1/(1 + (V/h)²). In one case the layers of a larger capacitance are thinner, so
    that h goes with 1/√C: what counts is the field. Derived; a case that is not stated counts as an 0805.

    >>> from netcheck.quantities.values import quantity
    >>> round(bias_left(CapacitorSpec(quantity("10u", "F"), type="X5R", size="0603"), 5.0), 2)
    0.3
    """
    known = family(spec.type)
    if known is None or not known.bias or volts_V == 0:
        return 1.0
    area = case_area(spec.size)
    point = min(known.bias, key=lambda one: abs(math.log(case_area(one.size) / area)))
    half_V = point.volts_V / math.sqrt(1 / point.left - 1) * math.sqrt(point.farad / spec.capacitance.value)
    return 1 / (1 + (volts_V / half_V) ** 2)


def case_area(size: str | None) -> float:
    """Length times width of a case code such as 0805 (2.0 x 1.25 mm), in hundredths of an inch squared."""
    found = re.fullmatch(r"\s*(\d{2})(\d{2})\s*", size or "")
    if not found or not int(found[1]) * int(found[2]):
        return 8.0 * 5.0
    return float(int(found[1]) * int(found[2]))


def at_work_F(spec: CapacitorSpec, volts_V: float) -> Band:
    """The capacitance at its working volts over its tolerance and its family's range of temperature."""
    known = family(spec.type)
    left = bias_left(spec, volts_V)
    low = known.temperature_least if known else 0.0
    high = known.temperature_most if known else 0.0
    return Band(spec.capacitance.low * left * (1 + low), spec.capacitance.high * left * (1 + high))


def rated_ripple_A(spec: CapacitorSpec) -> float | None:
    """Rated ripple of the published part nearest in C·V; None where none is within a factor of two."""
    known = family(spec.type)
    charge = spec.capacitance.value * (spec.rated_V or 0.0)
    if known is None or not charge:
        return None
    found = [point for point in known.esr if point.ripple_A is not None
             and abs(math.log2(point.farad * point.rated_V / charge)) <= 1]
    nearest = min(found, key=lambda point: abs(math.log(point.farad * point.rated_V / charge)), default=None)
    return None if nearest is None else nearest.ripple_A


def _straight(points: Sequence[tuple[float, float]], at: float) -> float:
    """Straight lines through points in order of their first number; beyond the ends it stays."""
    if at <= points[0][0]:
        return points[0][1]
    for (x0, y0), (x1, y1) in pairwise(points):
        if at <= x1:
            return y0 + (y1 - y0) * (at - x0) / (x1 - x0)
    return points[-1][1]


def _in_logarithms(points: Sequence[tuple[float, float]], at: float) -> float:
    logs = [(math.log(x), math.log(y)) for x, y in points]
    if len(logs) == 1 or at <= 0:
        return points[0][1]
    return math.exp(_straight(logs, math.log(at)))
