"""The capacitors of a variant as a table: equal ones on one line, grouped by role, and the parts to buy."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import Any

from msgspec import Struct

from netcheck.fragment.model import AS_FOUND, Fragment, Kind
from netcheck.parts.capacitor import family, role, role_names, usual
from netcheck.parts.specs import CapacitorSpec
from netcheck.quantities.words import natural

Results = Mapping[str, Mapping[str, Any]]
"""Capacitor name to its result, as a variant's report holds it."""


class Line(Struct, frozen=True):
    """One line of the table: parts that are alike in all that it tells.

    found: what is there as found (None: nothing), now: what the variant has there (None: taken out). said: the result
    of the first of them, in the variant; where it was taken out, as found.
    """

    parts: tuple[str, ...]
    role: str
    found: CapacitorSpec | None
    now: CapacitorSpec | None
    changed: bool
    said: Mapping[str, Any]

    @property
    def verdict(self) -> str:
        return str(self.said["verdict"]) if self.now is not None else "ok"

    def to_dict(self) -> dict[str, Any]:
        return {"parts": list(self.parts), "role": self.role, "found": _spec(self.found), "now": _spec(self.now),
                "changed": self.changed, "verdict": self.verdict, "stress_V": self.said["stress_V"],
                "may_be": self.said["may_be"], "watch": list(self.said["watch"]), "effect": self.said["effect"]}


class Buy(Struct, frozen=True):
    """One line of what to buy: value, family, least volts and size, and the places that it goes to."""

    parts: tuple[str, ...]
    capacitance_F: float
    type: str
    rated_V: float | None
    size: str | None

    @property
    def quantity(self) -> int:
        return len(self.parts)

    def to_dict(self) -> dict[str, Any]:
        return {"quantity": self.quantity, "capacitance_F": self.capacitance_F, "type": self.type,
                "rated_V": self.rated_V, "size": self.size, "parts": list(self.parts)}


class Capacitors(Struct, frozen=True):
    """The whole table. planned: whether what is bought is the mod's, and not a like for like of what is there."""

    file: str
    title: str
    variant: str
    verdict: str
    lines: tuple[Line, ...]
    buy: tuple[Buy, ...]
    planned: bool
    first: tuple[str, ...]

    def groups(self) -> Iterator[tuple[str, list[Line]]]:
        """The lines by role, in the order of the roles."""
        for name, lines in groupby(self.lines, key=lambda line: line.role):
            yield name, list(lines)

    def to_dict(self) -> dict[str, Any]:
        return {"format": "netcheck-caps/1", "file": self.file, "title": self.title, "variant": self.variant,
                "verdict": self.verdict,
                "groups": [{"role": name, "about": role(name).about, "lines": [line.to_dict() for line in lines]}
                           for name, lines in self.groups()],
                "buy": [one.to_dict() for one in self.buy], "buy_for": "mod" if self.planned else "like for like",
                "change_first": list(self.first)}


def table(
    found: Fragment, variant: Fragment, before: Results, after: Results, verdict: str
) -> Capacitors:
    """The table of a variant against the circuit as found. before, after: the results of both."""
    names = natural(dict.fromkeys([*before, *after]))
    lines = merged(_line(name, found, variant, before, after) for name in names)
    order = role_names()
    lines.sort(key=lambda line: order.index(line.role))
    planned = variant.variant != AS_FOUND
    wanted = ((line, line.now) for line in lines if line.changed and line.now is not None) if planned \
        else ((line, like_for_like(line)) for line in lines)
    return Capacitors(found.file, found.title, variant.variant, verdict, tuple(lines), tuple(_bought(wanted)), planned,
                      tuple(_first(before)))


def _line(name: str, found: Fragment, variant: Fragment, before: Results, after: Results) -> Line:
    old, new = _at(found, name), _at(variant, name)
    said = after.get(name) or before[name]
    return Line((name,), str(said["role"]), old, new, new is None or bool(said["changed"]), said)


def _at(fragment: Fragment, name: str) -> CapacitorSpec | None:
    part = fragment.parts.get(name)
    known = part is not None and part.fitted and part.kind is Kind.CAPACITOR
    return part.spec if known and part is not None and isinstance(part.spec, CapacitorSpec) else None


_TOLD = ("rail", "of", "verdict", "reversed", "bound")


def merged(lines: Iterable[Line]) -> list[Line]:
    """Lines that tell the same as one, its parts together; in the order of the first of each."""
    groups: dict[object, Line] = {}
    for line in lines:
        said = line.said
        key = (line.role, line.found, line.now, line.changed, *(said[name] for name in _TOLD), tuple(said["watch"]),
               said["tester"] and line.parts, None if said["stress_V"] is None else float(f"{said['stress_V']:.3g}"))
        first = groups.get(key)
        groups[key] = line if first is None else \
            Line((*first.parts, *line.parts), first.role, first.found, first.now, first.changed, first.said)
    return list(groups.values())


def like_for_like(line: Line) -> CapacitorSpec | None:
    """What to buy for a place as it was found: the same value and family, or the first that suits; volts enough."""
    old = line.found
    if old is None:
        return None
    may = line.said["may_be"]
    suits = old.type if old.type in may["families"] or not may["families"] else may["families"][0]
    volts = [rated for rated in (old.rated_V if suits == old.type else None, may["volts"].get(suits)) if rated]
    return CapacitorSpec(old.capacitance, type=suits, rated_V=max(volts, default=old.rated_V), size=old.size)


def _bought(wanted: Iterable[tuple[Line, CapacitorSpec | None]]) -> list[Buy]:
    groups: dict[tuple[float, str, float | None, str | None], list[str]] = {}
    for line, spec in wanted:
        if spec is not None:
            key = (spec.capacitance.value, spec.type, spec.rated_V, spec.size)
            groups.setdefault(key, []).extend(line.parts)
    found = [Buy(tuple(natural(parts)), *key) for key, parts in groups.items()]
    return sorted(found, key=lambda one: (-one.capacitance_F, one.type, one.rated_V or 0.0))


def _first(results: Results) -> list[str]:
    """Those that a tester found tired or out, the worst first."""
    grades = {"out": 0, "tired": 1}
    told = [(grades[said["tester"]["verdict"]], name) for name, said in results.items()
            if said["tester"] and said["tester"]["verdict"] in grades]
    return [name for _, name in sorted(told, key=lambda pair: pair[0])]


def _spec(spec: CapacitorSpec | None) -> dict[str, Any] | None:
    return None if spec is None else {"capacitance_F": spec.capacitance.value, "type": spec.type,
                                      "rated_V": spec.rated_V, "size": spec.size}


def cautions_for(lines: Sequence[Line]) -> list[str]:
    """Which cautions of the library a list of capacitors calls for."""
    highest_V = max((line.said["stress_V"] or 0.0 for line in lines), default=0.0)
    every = [spec for line in lines for spec in (line.found, line.now) if spec is not None]
    wet = any(spec.type in ("wet", "wet-low-impedance", "hybrid") for spec in every)
    burns = any((known := family(spec.type)) is not None and known.burns for spec in every)
    big = any(spec.capacitance.value >= usual().reservoir_F for spec in every) or highest_V > usual().charged_V
    return [subject for subject, called in (("charged", big), ("wet", wet), ("tantalum", burns), ("mains", True))
            if called]
