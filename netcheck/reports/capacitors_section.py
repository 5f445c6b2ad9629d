"""Capacitors: what each is for, the volts it sees, what may take its place, and what a change does."""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.capacitors.table import table
from netcheck.checks.results import VariantResult
from netcheck.fragment.model import Fragment
from netcheck.quantities.values import engineering
from netcheck.quantities.words import in_ranges
from netcheck.reports.blocks import Block, Bullets, Section, Table, Words
from netcheck.reports.caps_words import may_words, place_words, sees_words, spec_words, watch_words
from netcheck.wording.lists import listed


def blocks(result: VariantResult, fragment: Fragment) -> Iterator[Block]:
    if not result.capacitors:
        return
    found = table(fragment.found or fragment, fragment, result.capacitors, result.capacitors, result.verdict)
    lines = [line for line in found.lines if line.now is not None]
    if result.cells and all(line.verdict == "ok" and not line.changed for line in lines):
        called = [f"{in_ranges(line.parts)} ({spec_words(line.now)}; {line.role}, {sees_words(line)})"
                  for line in lines]
        yield Words(f"Nothing against {listed(called)}.")
        return
    yield Table(("", "", "role", "at", "sees", "lasts", "verdict"), tuple(
        (in_ranges(line.parts), spec_words(line.now), line.role, place_words(line), _amount(line.said["stress_V"], "V"),
         _amount(line.said["life_years"], "year"), line.verdict) for line in lines), worded=True)
    if not result.cells or any(line.changed for line in lines):
        yield Bullets(tuple(f"{in_ranges(line.parts)} may be {may_words(line.said['may_be'])}." for line in lines))
    if watched := [f"{in_ranges(line.parts)}: {'; '.join(said)}." for line in lines if (said := watch_words(line))]:
        yield Bullets(tuple(watched))


def _amount(value: float | None, unit: str) -> str:
    return "-" if value is None else engineering(value, unit)


SECTION = Section("capacitors", "Capacitors", blocks)
