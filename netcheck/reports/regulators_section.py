"""Regulators: what stands at the output in each setting, and what the regulator bears."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from netcheck.checks.results import VariantResult
from netcheck.fragment.model import Fragment
from netcheck.quantities.values import engineering
from netcheck.reports.blocks import Block, Section, Table

_UNITS = {"output_V": "V", "output_min_V": "V", "output_max_V": "V", "dissipation_W": "W", "junction_C": "°C",
          "verdict": ""}


def blocks(result: VariantResult, fragment: Fragment) -> Iterator[Block]:
    rows = tuple((f"{name}, {_positions(setting)}", *amounts(setting, _UNITS))
                 for name, regulator in result.regulators.items() for setting in regulator.get("settings", ()))
    if rows:
        yield Table(("", "output", "least", "most", "dissipates", "junction", "verdict"), rows)


def amounts(entry: Mapping[str, Any], units: Mapping[str, str]) -> tuple[str, ...]:
    """The figures of an entry of a report, as they are printed."""
    return tuple("-" if entry.get(key) is None else engineering(entry[key], unit) if unit else str(entry[key])
                 for key, unit in units.items())


def _positions(setting: Mapping[str, Any]) -> str:
    return ", ".join(f"{name} {position}" for name, position in setting.get("positions", {}).items()) or "as set"


SECTION = Section("regulators", "Regulators", blocks)
