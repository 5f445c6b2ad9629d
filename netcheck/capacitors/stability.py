"""Whether the capacitors at a regulator's output suit its loop: their series resistance against its window."""

from __future__ import annotations

import math
from collections.abc import Iterable

from msgspec import Struct

from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.parts import capacitor_laws as laws
from netcheck.parts.capacitor import usual
from netcheck.parts.capacitor_laws import Band
from netcheck.parts.specs import CapacitorSpec


class Output(Struct, frozen=True):
    """The capacitors at an output taken together at 100 kHz.

    ohm: their series resistance at room temperature, usual; least_ohm, most_ohm: over specimens, the coldest case and
    their age. farad: of those that count there. zero_Hz: the zero that they make, 1/(2π·R·C).
    """

    ohm: float
    least_ohm: float
    most_ohm: float
    farad: float

    @property
    def zero_Hz(self) -> float:
        return math.inf if self.ohm == 0 else 1 / (2 * math.pi * self.ohm * self.farad)


def zero_Hz(farad: float, ohm: float) -> float:
    """The zero of a capacitor with its series resistance.

    >>> round(zero_Hz(2.2e-6, 5.0) / 1e3, 1)    # LP2950/LP2951, National Semiconductor, page 7: 14.5 kHz
    14.5
    """
    return 1 / (2 * math.pi * farad * ohm)


def at_output(fragment: Fragment, regulator: Part, coldest_C: float) -> Output | None:
    """The capacitors at a regulator's output; None without one, or where nothing is known of the resistance of one."""
    found = [part.spec for part in fragment.of_kind(Kind.CAPACITOR)
             if regulator.pins["output"] in part.nets and isinstance(part.spec, CapacitorSpec)
             and {*part.nets} <= {regulator.pins["output"], fragment.ground, regulator.pins.get("ground", "")}]
    return together(found, coldest_C)


def together(found: Iterable[CapacitorSpec], coldest_C: float = laws.ROOM_C) -> Output | None:
    """Some capacitors in parallel at 100 kHz; None where there is none, or one of 1 % of their total is not known."""
    specs = list(found)
    total_F = sum(spec.capacitance.value for spec in specs)
    counting = [spec for spec in specs if spec.capacitance.value >= 0.01 * total_F]
    bands = [_band(spec, coldest_C) for spec in counting]
    if not counting or any(band is None for band in bands):
        return None
    known = [band for band in bands if band is not None]
    usual_ohm, least, most = (
        _parallel(counting, [pick(band) for band in known])
        for pick in (_usual, _least, _most))
    return Output(usual_ohm, min(least, usual_ohm), max(most, usual_ohm), total_F)


def _usual(bands: tuple[Band, Band]) -> float:
    return bands[0].usual


def _least(bands: tuple[Band, Band]) -> float:
    return bands[0].least


def _most(bands: tuple[Band, Band]) -> float:
    return bands[1].most


def _band(spec: CapacitorSpec, coldest_C: float) -> tuple[Band, Band] | None:
    """New at room temperature; old at the coldest."""
    new, old = laws.esr(spec), laws.esr(spec, coldest_C, aged=True)
    return None if new is None or old is None else (new, old)


def _parallel(specs: Iterable[CapacitorSpec], ohms: Iterable[float]) -> float:
    """The real part of what capacitors with their resistance make in parallel at 100 kHz."""
    omega = 2 * math.pi * usual().tester_Hz
    admittance = sum(1 / complex(max(ohm, 1e-9), -1 / (omega * spec.capacitance.value))
                     for spec, ohm in zip(specs, ohms, strict=True))
    return (1 / admittance).real

