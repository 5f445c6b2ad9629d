"""How long a capacitor lasts at the case's temperature, and what its ripple adds to that of its core."""

from __future__ import annotations

from msgspec import Struct

from netcheck.parts import capacitor_laws as laws
from netcheck.parts.capacitor import family
from netcheck.parts.specs import CapacitorSpec


class Lasting(Struct, frozen=True):
    """Years to the end of life; None where the family does not wear out by hours, and why in words.

    rise_K: of the core by its ripple, 0 where no ripple is stated, None where it cannot be told. assumed: whether the
    hours are those of the family, as the file gives none. capped: whether the law promises more than makers accept.
    """

    years: float | None
    why: str
    rise_K: float | None = 0.0
    assumed: bool = False
    capped: bool = False


def lasting(spec: CapacitorSpec, temperature_C: float) -> Lasting:
    """Life at a temperature of the case [°C], by the law of the family and the hours of the part.

    The core is warmer by ΔT0·(I/I0)² with ripple current (Rubycon technical notes, section 5), I0 that of a published
    part of about the same C·V.
    """
    known = family(spec.type)
    if known is None:
        return Lasting(None, "its type is not known")
    if known.wear is None:
        return Lasting(None, "it does not wear out by hours")
    rise_K: float | None = 0.0
    if spec.ripple_A is not None:
        rated_A = laws.rated_ripple_A(spec)
        rise_K = None if rated_A is None or known.ripple_rise_K is None \
            else known.ripple_rise_K * (spec.ripple_A / rated_A) ** 2
    hours = laws.life_h(spec, temperature_C, rise_K or 0.0)
    free = laws.life_h(spec, temperature_C, rise_K or 0.0, capped=False)
    assert hours is not None
    assert free is not None
    return Lasting(hours / laws.HOURS_A_YEAR, "", rise_K, spec.life_h is None, free > hours)
