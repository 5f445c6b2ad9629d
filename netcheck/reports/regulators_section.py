"""Regulators: every setting, what each is good for, what a slip or a failed part would do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from netcheck.checks.results import VariantResult
from netcheck.fragment.model import Fragment
from netcheck.quantities.values import engineering
from netcheck.reports.blocks import Block, Heading, Picture, Section
from netcheck.reports.settings_plot import settings_plot
from netcheck.reports.settings_text import below, heading, table


def blocks(result: VariantResult, fragment: Fragment) -> Iterator[Block]:
    for name, regulator in result.regulators.items():
        yield Heading(heading(name, regulator))
        yield table(regulator, fragment)
        if len(regulator["settings"]) > 1 and any(one["output_V"] is not None for one in regulator["settings"]):
            yield Picture(f"{name} in each setting", settings_plot(name, regulator, fragment))
        yield from below(regulator, fragment)


def amounts(entry: Mapping[str, Any], units: Mapping[str, str]) -> tuple[str, ...]:
    """The figures of an entry of a report, as they are printed."""
    return tuple("-" if entry.get(key) is None else engineering(entry[key], unit) if unit else str(entry[key])
                 for key, unit in units.items())


SECTION = Section("regulators", "Regulators", blocks)
