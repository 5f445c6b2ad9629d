"""What changed between two variants, or two files: parts, verdict, every voltage, the cells' figures."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from msgspec import Struct, field

from netcheck.checks.results import CellResult, VariantResult
from netcheck.fragment.model import AS_FOUND, Fragment, Part

FORMAT = "netcheck-changes/1"


class PartChange(Struct, frozen=True):
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


class Figure(Struct, frozen=True):
    """What a figure is of.

    kind: load, cell, regulator or net; subject: its name. state: None for a figure over
    all states. unit: V, A, W, °C, year or count (of parts that must fail short, where
    no value means that there is no charge route at all).
    """

    kind: str
    subject: str
    what: str
    state: str | None
    unit: str


class FigureChange(Struct, frozen=True):
    """One figure before and after, in its unit.

    None: could not be computed there, or `there` says that the variant has no such figure.
    An endless life is infinite.
    """

    figure: Figure
    before: float | None
    after: float | None
    there: tuple[bool, bool]

    @property
    def differs(self) -> bool:
        """Whether it changed by more than the solver's own tolerance."""
        if self.before is None or self.after is None:
            return self.before is not self.after or self.there[0] != self.there[1]
        if math.isinf(self.before) or math.isinf(self.after):
            return self.before != self.after
        least = _NOISE.get(self.figure.unit, 0.0)
        return abs(self.after - self.before) > max(least, _PART * max(abs(self.before), abs(self.after)))

    def to_dict(self) -> dict[str, Any]:
        return {"kind": self.figure.kind, "subject": self.figure.subject, "what": self.figure.what,
                "state": self.figure.state, "unit": self.figure.unit, "before": _finite(self.before),
                "after": _finite(self.after), "differs": self.differs}


_NOISE: Mapping[str, float] = {"V": 5e-4, "A": 1e-10}
_PART = 1e-3
"""Differences below these (absolute, or as a part of the figure) are the solver's own tolerance."""


class Changes(Struct, frozen=True):
    """Everything that differs, and every figure that was compared; `gone` and `come` are findings in words.

    effects: capacitor name to what its change does, as a report holds it.
    """

    before: str
    after: str
    verdicts: tuple[str, str]
    parts: tuple[PartChange, ...]
    figures: tuple[FigureChange, ...]
    gone: tuple[str, ...]
    come: tuple[str, ...]
    effects: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)

    def to_dict(self) -> dict[str, Any]:
        return {
            "format": FORMAT, "before": self.before, "after": self.after,
            "verdict": {"before": self.verdicts[0], "after": self.verdicts[1]},
            "parts": [change.to_dict() for change in self.parts],
            "figures": [figure.to_dict() for figure in self.figures],
            "findings": {"gone": list(self.gone), "come": list(self.come)},
            "effects": {name: dict(effect) for name, effect in self.effects.items()},
        }


def changes(
    old: Fragment, new: Fragment, before: VariantResult, after: VariantResult,
    names: tuple[str, str] | None = None,
) -> Changes:
    """Compare two variants and what the checks found of each. names: what to call them."""
    called = names or (before.name, after.name)
    said_before, said_after = ([f"{f.check}: {f.message}" for f in one.findings] for one in (before, after))
    return Changes(
        called[0], called[1], (before.verdict, after.verdict), tuple(part_changes(old, new)),
        tuple(_compared(before, after)),
        tuple(words for words in said_before if words not in said_after),
        tuple(words for words in said_after if words not in said_before),
        {name: found["effect"] for name, found in after.capacitors.items()
         if found["effect"] and before.name == AS_FOUND},
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
    for attribute in ("resistance", "capacitance", "inductance", "coil"):
        value = getattr(part.spec, attribute, None)
        if value is not None:
            return str(value.text)
    return str(getattr(part.spec, "name", ""))


def figures(result: VariantResult) -> dict[Figure, float | None]:
    """Every figure of a variant that can be compared, loads and cells first, then the nets."""
    found: dict[Figure, float | None] = {}
    for name, load in result.loads.items():
        found |= {Figure("load", name, "volts", state, "V"): volts for state, volts in load.volts.items()}
        for what, value in (("lowest volts", load.lowest_V), ("highest volts", load.highest_V),
                            ("margin", load.margin_V)):
            found[Figure("load", name, what, None, "V")] = value
    for name, cell in result.cells.items():
        found |= {Figure("cell", name, *key): value for key, value in _cell(cell).items()}
    for name, regulator in result.regulators.items():
        found |= {Figure("regulator", name, *key): value for key, value in _regulator(regulator).items()}
    for state, nets in result.net_volts.items():
        found |= {Figure("net", net, "volts", state, "V"): volts for net, volts in nets.items()}
    return found


def _cell(cell: CellResult) -> dict[tuple[str, str | None, str], float | None]:
    life = cell.life
    leaks = cell.leakage_A if cell.primary else {}
    return {
        ("parts that must fail short to charge it", None, "count"): cell.shorts_to_charge,
        ("charge current, worst", None, "A"): cell.charge_A,
        ("charge current after one failure", None, "A"): cell.fault.amps if cell.fault else None,
        **{(f"leakage into it, {limit}", None, "A"): amps for limit, amps in leaks.items()},
        **{("gives", state, "A"): amps for state, amps in cell.drain_A.items()},
        ("life", None, "year"): None if life is None else math.inf if life.lasts is None else life.lasts,
    }


_OF_A_SETTING: Mapping[str, tuple[str, str]] = {
    "output_V": ("output", "V"), "output_min_V": ("least output", "V"), "output_max_V": ("most output", "V"),
    "headroom_V": ("headroom", "V"), "dissipation_W": ("heat", "W"), "junction_C": ("junction", "°C"),
}


def _regulator(regulator: Mapping[str, Any]) -> dict[tuple[str, str | None, str], float | None]:
    """Every setting's output, and every figure of the one that the links stand at."""
    found: dict[tuple[str, str | None, str], float | None] = {}
    for setting in regulator["settings"]:
        words = ", ".join(f"{name} {position}" for name, position in setting["positions"].items())
        if setting["as_set"]:
            found |= {(what, "as set", unit): setting[key] for key, (what, unit) in _OF_A_SETTING.items()}
        if words:
            found["output", words, "V"] = setting["output_V"]
    return found


def _compared(before: VariantResult, after: VariantResult) -> Iterator[FigureChange]:
    one, other = figures(before), figures(after)
    for figure in in_order([*one, *other]):
        yield FigureChange(figure, one.get(figure), other.get(figure), (figure in one, figure in other))


def in_order(every: Iterable[Figure]) -> list[Figure]:
    """Each figure once: loads, cells, then nets, all of one subject together."""
    each = list(dict.fromkeys(every))
    subjects = list(dict.fromkeys((figure.kind, figure.subject) for figure in each))
    return sorted(each, key=lambda one: (_KINDS.index(one.kind), subjects.index((one.kind, one.subject))))


_KINDS = ("load", "cell", "regulator", "net")


def _finite(value: float | None) -> float | None:
    return None if value is None or math.isinf(value) else value
