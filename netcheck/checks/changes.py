"""What changed between two variants, or two files: parts, verdict, every voltage, the cells' figures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from netcheck.checks.results import CellResult, VariantResult
from netcheck.fragment.model import Fragment, Part

FORMAT = "netcheck-changes/1"


@dataclass(frozen=True, slots=True)
class PartChange:
    """One part that is not as before: `how` is removed, fitted, replaced, moved or set.

    A part that was both replaced and moved counts as replaced. `before` and
    `after` are the part as it was and as it is, None where it was or is not there.
    """

    how: str
    before: Part | None
    after: Part | None

    @property
    def name(self) -> str:
        part = self.after or self.before
        assert part is not None
        return part.name

    def to_dict(self) -> dict[str, Any]:
        return {"part": self.name, "how": self.how, "before": _said(self.before), "after": _said(self.after)}


@dataclass(frozen=True, slots=True)
class FigureChange:
    """One figure before and after; None where it does not exist there or could not be computed.

    kind: net, load, cell or state-of-the-cell figures ("charge", "drain", …).
    unit: V, A, year, share or count. state: None for figures over all states.
    known: on which side the figure exists at all (before, after).
    """

    kind: str
    subject: str
    what: str
    state: str | None
    unit: str
    before: float | None
    after: float | None
    known: tuple[bool, bool] = (True, True)

    @property
    def differs(self) -> bool:
        """Whether it changed by more than the solver's own noise."""
        if self.before is None or self.after is None or self.known != (True, True):
            return self.before is not self.after or self.known[0] != self.known[1]
        least = _NOISE.get(self.unit, 0.0)
        return abs(self.after - self.before) > max(least, 1e-3 * max(abs(self.before), abs(self.after)))

    def to_dict(self) -> dict[str, Any]:
        return {"kind": self.kind, "subject": self.subject, "what": self.what, "state": self.state,
                "unit": self.unit, "before": self.before, "after": self.after, "differs": self.differs}


_NOISE: Mapping[str, float] = {"V": 5e-4, "A": 1e-10}
"""Smaller differences are the solver's own tolerance."""


@dataclass(frozen=True, slots=True)
class Changes:
    """Everything that differs, and every figure that was compared. Findings by (check, subject)."""

    before: str
    after: str
    verdicts: tuple[str, str]
    parts: tuple[PartChange, ...]
    figures: tuple[FigureChange, ...]
    gone: tuple[str, ...]
    come: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        return {
            "format": FORMAT, "before": self.before, "after": self.after,
            "verdict": {"before": self.verdicts[0], "after": self.verdicts[1]},
            "parts": [change.to_dict() for change in self.parts],
            "figures": [figure.to_dict() for figure in self.figures],
            "findings": {"gone": list(self.gone), "come": list(self.come)},
        }


def changes(
    old: Fragment, new: Fragment, before: VariantResult, after: VariantResult, names: tuple[str, str] | None = None
) -> Changes:
    """Compare two variants and what the checks found of each. names: what to call them."""
    called = names or (before.name, after.name)
    said_before, said_after = ([f"{f.check}: {f.message}" for f in one.findings] for one in (before, after))
    return Changes(
        called[0], called[1], (before.verdict, after.verdict), tuple(part_changes(old, new)),
        tuple(_figures(before, after)),
        tuple(words for words in said_before if words not in said_after),
        tuple(words for words in said_after if words not in said_before),
    )


def part_changes(old: Fragment, new: Fragment) -> Iterator[PartChange]:
    """The parts that are not as before, in the order of the files."""
    for name in dict.fromkeys([*old.parts, *new.parts]):
        before, after = old.parts.get(name), new.parts.get(name)
        before = before if before is not None and before.fitted else None
        after = after if after is not None and after.fitted else None
        how = _how(before, after)
        if how is not None:
            yield PartChange(how, before, after)


def _how(before: Part | None, after: Part | None) -> str | None:
    if before is None or after is None:
        return "removed" if before is not None else "fitted" if after is not None else None
    if before.kind is not after.kind or before.spec != after.spec or before.pins.keys() != after.pins.keys():
        return "replaced"
    if before.pins != after.pins:
        return "moved"
    return "set" if before.position != after.position else None


def _said(part: Part | None) -> dict[str, Any] | None:
    if part is None:
        return None
    return {"kind": str(part.kind), "is": _name(part), "pins": dict(part.pins), "position": part.position}


def _name(part: Part) -> str:
    for attribute in ("resistance", "capacitance", "inductance"):
        value = getattr(part.spec, attribute, None)
        if value is not None:
            return str(value.text)
    return str(getattr(part.spec, "name", ""))


def _figures(before: VariantResult, after: VariantResult) -> Iterator[FigureChange]:
    for name in dict.fromkeys([*before.loads, *after.loads]):
        one, other = before.loads.get(name), after.loads.get(name)
        yield from _by_state("load", name, "volts", "V", one and one.volts, other and other.volts)
        for what in ("lowest_V", "highest_V", "margin_V"):
            yield _figure("load", name, what.removesuffix("_V"), "V", one, other, what)
    for name in dict.fromkeys([*before.cells, *after.cells]):
        yield from _cell(name, before.cells.get(name), after.cells.get(name))
    nets = dict.fromkeys(net for one in (before, after) for volts in one.net_volts.values() for net in volts)
    for net in nets:
        yield from _by_state("net", net, "volts", "V", *(
            {state: volts[net] for state, volts in one.net_volts.items() if net in volts} or None
            for one in (before, after)))


def _cell(name: str, one: CellResult | None, other: CellResult | None) -> Iterator[FigureChange]:
    def figure(what: str, unit: str, before: float | None, after: float | None) -> FigureChange:
        return FigureChange("cell", name, what, None, unit, before, after, (one is not None, other is not None))

    yield figure("parts that must fail short before it is charged", "count",
                 one and one.shorts_to_charge, other and other.shorts_to_charge)
    yield figure("charge current, worst", "A", one and one.charge_A, other and other.charge_A)
    yield figure("charge current after one failure, worst", "A",
                 one.fault.amps if one and one.fault else None, other.fault.amps if other and other.fault else None)
    for limit in ("typical", "maximum"):
        yield figure(f"leakage into it, {limit}", "A",
                     one and one.leakage_A.get(limit), other and other.leakage_A.get(limit))
    yield figure("life", "year", one.life.years if one and one.life else None,
                 other.life.years if other and other.life else None)
    yield from _by_state("cell", name, "gives", "A", one and one.drain_A, other and other.drain_A)


def _by_state(
    kind: str, subject: str, what: str, unit: str,
    one: Mapping[str, float | None] | None, other: Mapping[str, float | None] | None,
) -> Iterator[FigureChange]:
    for state in dict.fromkeys([*(one or ()), *(other or ())]):
        known = (one is not None and state in one, other is not None and state in other)
        yield FigureChange(kind, subject, what, state, unit, (one or {}).get(state), (other or {}).get(state), known)


def _figure(kind: str, subject: str, what: str, unit: str, one: Any, other: Any, attribute: str) -> FigureChange:
    return FigureChange(kind, subject, what, None, unit, getattr(one, attribute, None),
                        getattr(other, attribute, None), (one is not None, other is not None))
