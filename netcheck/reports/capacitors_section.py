"""Capacitors: what each is for, and the volts it sees."""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.checks.results import VariantResult
from netcheck.fragment.model import Fragment
from netcheck.reports.blocks import Block, Section, Table
from netcheck.reports.regulators_section import amounts

_UNITS = {"role": "", "rail": "", "stress_V": "V", "rated_V": "V", "life_years": "year"}


def blocks(result: VariantResult, fragment: Fragment) -> Iterator[Block]:
    rows = tuple((name, *amounts(capacitor, _UNITS)) for name, capacitor in result.capacitors.items())
    if rows:
        yield Table(("", "role", "rail", "sees", "rated", "lasts"), rows)


SECTION = Section("capacitors", "Capacitors", blocks)
