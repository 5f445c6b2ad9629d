"""What was found about one capacitor, in the shape that reports and other programs read."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from msgspec import Struct, field

from netcheck.capacitors.effect import Effect
from netcheck.capacitors.life import Lasting
from netcheck.capacitors.replacement import MayBe
from netcheck.capacitors.roles import Place
from netcheck.capacitors.stress import AfterFault, Stress, Surge
from netcheck.capacitors.testers import Told
from netcheck.findings import Finding, verdict
from netcheck.parts.capacitor_laws import Leakage
from netcheck.parts.specs import CapacitorSpec


class CapacitorResult(Struct, frozen=True, kw_only=True):
    """One capacitor of one variant.

    own: its own verdict word where no finding of the variant carries it (a rating that is not stated). changed: whether
    the mod put it there. was: what the mod took out.
    """

    name: str
    spec: CapacitorSpec
    place: Place
    stress: Stress
    backwards_limit_V: float | None
    derated_V: float | None
    may_be: MayBe
    lasting: Lasting
    leakage: Leakage | None
    surge: Surge | None
    fault: AfterFault | None
    findings: tuple[Finding, ...]
    own: str | None = None
    effect: Effect | None = None
    tester: Told | None = None
    changed: bool = False
    was: CapacitorSpec | None = None
    amounts: Mapping[str, float] = field(default_factory=dict)

    @property
    def watch(self) -> tuple[str, ...]:
        """What to look at, in a few words each."""
        return tuple(dict.fromkeys(finding.short for finding in self.findings if finding.short))

    @property
    def reversed(self) -> bool:
        return self.backwards_limit_V is not None and self.stress.backwards_V > self.backwards_limit_V

    @property
    def verdict(self) -> str:
        found = verdict(self.findings)
        return self.own if self.own is not None and found in ("ok", "caution") else found

    def to_dict(self) -> dict[str, Any]:
        spec, stress = self.spec, self.stress
        return {
            "role": self.place.role, "why": self.place.why, "rail": self.place.rail, "of": self.place.of,
            "capacitance_F": spec.capacitance.value, "type": spec.type, "size": spec.size,
            "stress_V": stress.most_V, "nominal_V": stress.nominal_V, "state": stress.state,
            "bound": stress.bound or None, "rated_V": spec.rated_V, "derated_V": self.derated_V,
            "reversed": self.reversed, "backwards_V": stress.backwards_V,
            "fault_V": self.fault.volts_V if self.fault else None,
            "fault": {"part": self.fault.part, "as": self.fault.how} if self.fault else None,
            "surge_A": self.surge.amps if self.surge else None,
            "leakage_A": {"typical": self.leakage.typical_A, "maximum": self.leakage.maximum_A}
            if self.leakage else None,
            "life_years": self.lasting.years, "life_why": self.lasting.why or None,
            "life_capped": self.lasting.capped,
            "life_assumed": self.lasting.assumed, "core_rise_K": self.lasting.rise_K,
            "may_be": self.may_be.to_dict(), "verdict": self.verdict, "watch": list(self.watch),
            "effect": self.effect.to_dict() if self.effect else None,
            "tester": self.tester.to_dict() if self.tester else None, "changed": self.changed,
        }
