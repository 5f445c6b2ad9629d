"""What may take a capacitor's place: value, volts and families by the rules of its role, each with its reason."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from msgspec import Struct

from netcheck.capacitors.roles import Place
from netcheck.capacitors.stress import Stress
from netcheck.parts import capacitor_laws as laws
from netcheck.parts.capacitor import family, family_names, role
from netcheck.parts.specs import CapacitorSpec, RegulatorSpec


class MayBe(Struct, frozen=True):
    """What may stand in a place.

    least_F, most_F: the capacitance, both the same where it is kept. volts: family to the least rating for it.
    may_not: family to the reason against it. conditional: family to what it takes.
    """

    least_F: float
    most_F: float
    families: tuple[str, ...]
    volts: Mapping[str, float]
    may_not: Mapping[str, str]
    volts_least: float | None

    @property
    def kept(self) -> bool:
        return self.least_F == self.most_F

    def to_dict(self) -> dict[str, Any]:
        return {"least_F": self.least_F, "most_F": self.most_F, "families": list(self.families),
                "volts_least": self.volts_least, "volts": dict(self.volts), "may_not": dict(self.may_not)}


def may_be(
    spec: CapacitorSpec, place: Place, stress: Stress, regulator: RegulatorSpec | None = None, ohm: float = 0.0
) -> MayBe:
    """What may take the place of a capacitor as found.

    regulator: the one whose output it stands at; its window of series resistance then says which families. ohm: what
    is in series with the capacitor's feed.
    """
    rule = role(place.role)
    old_F = spec.capacitance.value
    may_not = dict(rule.may_not)
    families = list(rule.may) or [name for name in (spec.type,) if family(name) is not None]
    if regulator is not None and regulator.esr is not None:
        for name in list(families):
            if reason := outside_window(CapacitorSpec(spec.capacitance, type=name, rated_V=spec.rated_V), regulator):
                families.remove(name)
                may_not[name] = reason
    volts = {name: rating for name in families if (rating := _rating(name, stress, ohm)) is not None}
    own = spec.type if spec.type in volts else next(iter(volts), None)
    return MayBe(rule.least * old_F, rule.most * old_F, tuple(families), volts, may_not,
                 None if own is None else volts[own])


def _rating(name: str, stress: Stress, ohm: float) -> float | None:
    """The least rating of a family for some stress: above the most that it sees, derated for what it sees usually."""
    known = family(name)
    if known is None or stress.most_V is None or stress.nominal_V is None:
        return None
    return max(laws.rating_V(known, stress.nominal_V, ohm), _at_least(stress.most_V))


def _at_least(volts_V: float) -> float:
    wet = family("wet")
    assert wet is not None
    return laws.rating_V(wet, volts_V)


def outside_window(spec: CapacitorSpec, regulator: RegulatorSpec) -> str:
    """Why a family's usual series resistance is outside a regulator's window; empty where it is inside."""
    band = laws.esr(spec)
    if band is None or regulator.esr is None or regulator.esr.low <= band.usual <= regulator.esr.high:
        return ""
    if band.usual < regulator.esr.low:
        return f"its series resistance is too low for {regulator.name}, which then oscillates"
    return f"its series resistance is too high for {regulator.name}, which then oscillates"


def beyond_value(spec: CapacitorSpec, old: CapacitorSpec, place: Place) -> str:
    """Why a new value does not do in a place: changed, too small or too large; empty where it does.

    >>> from netcheck.quantities.values import quantity
    >>> new, old = (CapacitorSpec(quantity(value, "F"), type="film") for value in ("4.7u", "1u"))
    >>> beyond_value(new, old, Place("loop-filter", ""))
    'changed'
    """
    rule = role(place.role)
    times = spec.capacitance.value / old.capacitance.value
    slack = 1e-9
    if rule.kept:
        return "" if abs(times - 1) <= rule.kept_within + slack else "changed"
    return "too small" if times < rule.least - slack else "too large" if times > rule.most + slack else ""


def refused(spec: CapacitorSpec, place: Place) -> str:
    """Why a family does not do in a place; empty where it does, or nothing is said against it."""
    return role(place.role).may_not.get(spec.type, "")


def without_reason(place: Place) -> tuple[str, ...]:
    """Families that a role neither wants nor refuses."""
    rule = role(place.role)
    return tuple(name for name in family_names() if name not in rule.may and name not in rule.may_not)
