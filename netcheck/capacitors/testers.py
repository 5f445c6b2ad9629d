"""What a component tester said of a capacitor, against the limits of its family at the tester's frequency."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from msgspec import Struct

from netcheck.fragment.model import TesterReading
from netcheck.parts import capacitor_laws as laws
from netcheck.parts.capacitor import family, usual
from netcheck.parts.specs import CapacitorSpec

GOOD, TIRED, OUT = "good", "tired", "out"
_ORDER = (GOOD, TIRED, OUT)


class Told(Struct, frozen=True):
    """What a reading means.

    verdict: good, tired or out. capacitance_least_F: below it the part is out; good_F: from here on it is good.
    esr_good_ohm, esr_out_ohm: good up to, out above (None where the family has no figure at that frequency).
    worn: how far gone, 1 at the limit where it is out; the worst of its readings.
    """

    reading: TesterReading
    verdict: str
    why: str
    capacitance_good_F: float
    capacitance_out_F: float
    esr_good_ohm: float | None
    esr_out_ohm: float | None
    worn: float

    def to_dict(self) -> dict[str, Any]:
        return {"capacitance_F": self.reading.capacitance_F, "esr_ohm": self.reading.esr_ohm,
                "at_Hz": self.reading.at_Hz, "verdict": self.verdict, "why": self.why,
                "good_from_F": self.capacitance_good_F, "out_below_F": self.capacitance_out_F,
                "good_to_ohm": self.esr_good_ohm, "out_above_ohm": self.esr_out_ohm}


def told(spec: CapacitorSpec, reading: TesterReading) -> Told | None:
    """What one reading means; None for a type whose limits are not known.

    Capacitance is good within the tolerance (the usual one where none is stated),
    and out below what the family keeps at its end. Series resistance is
    good up to the most of a new part, and out above that times the family's end of life; a simple tester's own leads
    are allowed for. Below 10 kHz the limit of tan δ counts, where there is one.
    """
    known = family(spec.type)
    if known is None:
        return None
    exact = spec.capacitance.low == spec.capacitance.value  # no tolerance is stated
    good_F = spec.capacitance.value * (1 - usual().tolerance) if exact else spec.capacitance.low
    out_F = min(known.ends_capacitance * spec.capacitance.value, good_F)
    hertz = reading.at_Hz or usual().tester_Hz
    esr_good = _new_ohm(spec, hertz)
    esr_out = None if esr_good is None else known.ends_esr * esr_good
    leads = usual().tester_leads_ohm
    grades: list[tuple[str, str, float]] = []
    if reading.capacitance_F is not None:
        grades.append(_capacitance(reading.capacitance_F, good_F, out_F, spec))
    if reading.esr_ohm is not None and esr_good is not None and esr_out is not None:
        grades.append(_resistance(reading.esr_ohm, esr_good, esr_out, leads))
    if not grades:
        return None
    verdict, why, worn = max(grades, key=lambda grade: (_ORDER.index(grade[0]), grade[2]))
    return Told(reading, verdict, why, good_F, out_F, esr_good, esr_out, worn)


def _new_ohm(spec: CapacitorSpec, hertz: float) -> float | None:
    """The most series resistance of a new part at a frequency."""
    if hertz < usual().slow_tester_Hz and (ohm := laws.loss_ohm(spec, hertz)) is not None:
        return ohm
    band = laws.esr(CapacitorSpec(spec.capacitance, type=spec.type, rated_V=spec.rated_V))
    return None if band is None else band.most


def _capacitance(farad: float, good_F: float, out_F: float, spec: CapacitorSpec) -> tuple[str, str, float]:
    nominal = spec.capacitance.value
    worn = (nominal - farad) / (nominal - out_F) if out_F < nominal else 0.0
    if farad > 2 * spec.capacitance.high:
        return TIRED, "it reads far too much: a leaky capacitor does that on most testers", 1.0
    if farad >= good_F:
        return GOOD, "its capacitance is within its tolerance", max(0.0, worn)
    if farad >= out_F:
        return TIRED, "its capacitance has fallen below its tolerance", worn
    return OUT, "its capacitance is below what a worn out one keeps", worn


def _resistance(ohm: float, good: float, out: float, leads: float) -> tuple[str, str, float]:
    worn = max(0.0, ohm - leads) / out
    if ohm <= good:
        return GOOD, "its series resistance is that of a new one", worn
    if ohm <= good + leads:
        return GOOD, "its series resistance is lost in what a simple tester and its leads add", worn
    if ohm <= out + leads:
        return TIRED, "its series resistance is above that of a new one", worn
    return OUT, "its series resistance is above that of a worn out one", worn


def first_to_change(found: Iterable[tuple[str, Told]]) -> list[str]:
    """The names of those that are tired or out, the worst first."""
    worn = [(name, one) for name, one in found if one.verdict != GOOD]
    return [name for name, _ in sorted(worn, key=lambda pair: (-_ORDER.index(pair[1].verdict), -pair[1].worn))]
