"""Loads: the volts each gets, over the cell's age and over all tolerances, against what it needs."""

from __future__ import annotations

import math
from collections.abc import Iterator

from netcheck.checks.results import LoadResult, VariantResult
from netcheck.fragment.model import Fragment
from netcheck.quantities import digits
from netcheck.reports.blocks import Block, Section, Table, Words
from netcheck.wording.lists import designators


def blocks(result: VariantResult, fragment: Fragment) -> Iterator[Block]:
    if not result.solved or not result.loads:
        return
    alike: dict[tuple[str, ...], list[str]] = {}
    for name, load in result.loads.items():
        alike.setdefault(_row(load), []).append(name)
    yield Table(("", "needs", "works to", "lowest", "highest", "margin"),
                tuple((designators(names), *row) for row, names in alike.items()))
    for name in result.loads:
        survives, stands = fragment.parts[name].survives_V, result.loads[name].stands_V
        if survives is not None and survives != stands:
            yield Words(f"{name} survives {digits.volts(survives)}.", hang=2)
    if any(result.regulators):
        yield Words("Lowest and highest: rails, loads and temperature at their ends, regulators as their resistors set "
                    "them; the worst case of a regulator's settings adds its reference, its resistors and lighter "
                    "loads.", hang=2)
    aged: dict[tuple[tuple[str, float | None], ...], list[str]] = {}
    for name, load in result.loads.items():
        if load.aged_V:
            aged.setdefault(tuple(load.aged_V.items()), []).append(name)
    for ages, names in aged.items():
        said = ", ".join(f"{age} {digits.volts(volts)}" for age, volts in ages)
        yield Words(f"{designators(names)} on the cell: {said}.", hang=2)


def _row(load: LoadResult) -> tuple[str, ...]:
    stands = load.stands_V
    return (
        "not stated" if load.needs_V is None else digits.volts(load.needs_V),
        "-" if stands is None or math.isinf(stands) else digits.volts(stands),
        digits.volts(load.lowest_V), digits.volts(load.highest_V),
        "-" if load.margin_V is None else digits.margin(load.margin_V),
    )


SECTION = Section("loads", "Loads, over all tolerances", blocks)
