"""What the checks of one variant found, in the shape that reports and other programs read."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape
from typing import Any

from msgspec import Struct, field

from netcheck.conduction.remedies import Remedy
from netcheck.conduction.routes import Route
from netcheck.findings import Finding, Severity, verdict
from netcheck.fragment.model import Step
from netcheck.wording import living

REPORT_FORMAT = "netcheck-report/1"


class FaultCurrent(Struct, frozen=True):
    """The single failure that charges a cell hardest."""

    part: str
    how: str
    amps: float
    state: str

    def to_dict(self) -> dict[str, Any]:
        return {"part": self.part, "as": self.how, "state": self.state}


class Life(Struct, frozen=True):
    """How long a cell carries its loads; `used_at_end` is the share of its capacity spent by then.

    years is None where nothing draws on it. taking: what takes the most (a load, leakage, back-feed, itself, nothing),
    taker: of which part, where it is one; taken_A: its mean current. ends_for: the load that then gets less than its
    least_V; None where the curve itself ends, or nothing does. least_years: with the makers' maximum figures for
    loads, leakage and drop. shelf_years: beyond which its makers promise nothing. What is told of a cell is `lasts` and
    `lasts_least`, no longer than that; `years` is by its charge alone.
    """

    years: float | None
    used_at_end: float
    taking: str = "nothing"
    taker: str = ""
    taken_A: float = 0.0
    ends_for: str | None = None
    least_V: float = 0.0
    least_years: float | None = None
    shelf_years: float | None = None

    @property
    def lasts(self) -> float | None:
        """Years with typical figures, no longer than on the shelf."""
        return self._kept(self.years)

    @property
    def lasts_least(self) -> float | None:
        """Years with the makers' maximum figures, no longer than on the shelf."""
        return self._kept(self.least_years)

    def _kept(self, years: float | None) -> float | None:
        return years if years is None or self.shelf_years is None else min(years, self.shelf_years)

    @property
    def dominated_by(self) -> str:
        """What takes the most, in words."""
        return living.takes(self.taking, self.taker, self.taken_A)

    @property
    def ends(self) -> str:
        """Why it ends there, in words."""
        return living.ends(self.taking, self.ends_for, self.least_V)


class Proposal(Struct, frozen=True):
    """One whole mod: its YAML, to be pasted under `mods:`, the verdict that it leads to, and what it does in words.

    left: the gravest finding that is left, where it is not ok.
    """

    mod: str
    verdict: str
    words: tuple[str, ...]
    steps: tuple[Step, ...]
    left: Finding | None = None

    def to_dict(self) -> dict[str, Any]:
        told = {"mod": self.mod, "verdict": self.verdict, "words": list(self.words)}
        return told if self.left is None else {**told, "left": self.left.to_dict()}


class CellResult(Struct, frozen=True, kw_only=True):
    """One cell of one variant. Currents in A, positive; None where not computable.

    hours_within: hours under power a day up to which leakage keeps within its share of the capacity.
    shorts_to_charge: least number of parts that must fail short before a
    charge route conducts (0: one conducts now; None: no route at all).
    """

    primary: bool
    routes: tuple[Route, ...]
    shorts_to_charge: int | None
    shorts: tuple[str, ...]
    remedies: tuple[Remedy, ...]
    charge_A: float | None
    charge_state: str | None
    charge_by_state: Mapping[str, float | None]
    fault: FaultCurrent | None
    leakage_A: Mapping[str, float | None]
    leakage_share: Mapping[str, float | None]
    hours_within: Mapping[str, float | None]
    drain_A: Mapping[str, float | None]
    takes_A: Mapping[str, float | None]
    life: Life | None
    end_of_charge_V: float | None = None
    trickle_A: float | None = None
    proposal: Proposal | None = None

    def to_dict(self) -> dict[str, Any]:
        return {
            "primary": self.primary,
            "charge_routes": [
                {"from": route.source, "parts": list(route.parts), "nets": list(route.nets),
                 "conducting": route.conducting, "state": route.state}
                for route in self.routes
            ],
            "shorts_to_charge": self.shorts_to_charge,
            "shorts": list(self.shorts),
            "remedies": [remedy.to_dict() for remedy in self.remedies],
            "proposal": self.proposal.to_dict() if self.proposal else None,
            "charge_current_A": self.charge_A,
            "charge_state": self.charge_state,
            "fault_charge_current_A": self.fault.amps if self.fault else None,
            "fault": self.fault.to_dict() if self.fault else None,
            "leakage_A": dict(self.leakage_A),
            "leakage_share": self.leakage_share.get("typical"),
            "leakage_share_maximum": self.leakage_share.get("maximum"),
            "hours_within_share": {"typical": self.hours_within.get("typical"),
                                   "worst": self.hours_within.get("maximum")},
            "drain_A": dict(self.drain_A),
            "takes_A": dict(self.takes_A),
            "life_years": self.life.years if self.life else None,
            "life_years_least": self.life.least_years if self.life else None,
            "lasts_years": self.life.lasts if self.life else None,
            "life_dominated_by": self.life.dominated_by if self.life else None,
            "end_of_charge_V": self.end_of_charge_V,
            "trickle_A": self.trickle_A,
        }


class LoadResult(Struct, frozen=True, kw_only=True):
    """The volts across one load, nominal in every state, and over the corners.

    fed_by_rail: the states with every supply on and all as set in which a rail feeds it. reached_by: the cells that
    have a way to it with the supplies off.

    margin_V: lowest volts while it is to be kept alive, over age, temperature
    and tolerance, less what it needs; None where either is not known.
    """

    volts: Mapping[str, float | None]
    lowest_V: float | None
    highest_V: float | None
    margin_V: float | None
    needs_V: float | None
    stands_V: float | None
    aged_V: Mapping[str, float | None] = field(default_factory=dict)
    carried_by_cell: tuple[str, ...] = ()
    fed_by_rail: tuple[str, ...] = ()
    reached_by: frozenset[str] = frozenset()

    def to_dict(self) -> dict[str, Any]:
        return {
            "volts": dict(self.volts), "lowest_V": self.lowest_V, "highest_V": self.highest_V,
            "margin_V": self.margin_V, "cell_carries_it_in": list(self.carried_by_cell),
        }


OUT_OF_TIME = "time"
"""The check that says that the time allowed was used up."""


class VariantResult(Struct, frozen=True, kw_only=True):
    """Everything that was found about one variant."""

    name: str
    findings: tuple[Finding, ...]
    cells: Mapping[str, CellResult] = field(default_factory=dict)
    loads: Mapping[str, LoadResult] = field(default_factory=dict)
    drops_V: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    net_volts: Mapping[str, Mapping[str, float | None]] = field(default_factory=dict)
    regulators: Mapping[str, Any] = field(default_factory=dict)
    capacitors: Mapping[str, Any] = field(default_factory=dict)
    duties: Mapping[str, Any] = field(default_factory=dict)
    features: Mapping[str, Any] = field(default_factory=dict)
    expectations: tuple[Mapping[str, Any], ...] = ()
    simulated: bool = True

    @property
    def dangers(self) -> tuple[Finding, ...]:
        """What destroys or harms something, in the order in which it is told."""
        return tuple(finding for finding in self.findings if finding.severity is Severity.DANGER)

    @property
    def dangerous_states(self) -> frozenset[str]:
        return frozenset(state for finding in self.dangers for state in finding.held_in)

    @property
    def verdict(self) -> str:
        """The worst finding; without a simulator nothing better or worse than unknown."""
        return verdict(self.findings) if self.simulated else str(Severity.UNKNOWN)

    def _repr_html_(self) -> str:
        rows = "".join(f"<li><b>{escape(str(one.severity))}</b> {escape(one.message)}</li>"
                       for one in self.findings if one.severity is not Severity.NOTE)
        return f"<p><b>{escape(self.verdict.upper())}</b>, {escape(self.name)}</p><ul>{rows}</ul>"

    @property
    def cut_short(self) -> bool:
        """Whether the time allowed was used up before everything was judged."""
        return any(finding.check == OUT_OF_TIME for finding in self.findings)

    @property
    def solved(self) -> bool:
        """Whether any net's volts were worked out."""
        return any(volts is not None for state in self.net_volts.values() for volts in state.values())

    def to_dict(self) -> dict[str, Any]:
        return {
            "name": self.name,
            "verdict": self.verdict,
            "findings": [finding.to_dict() for finding in self.findings],
            "cells": {name: cell.to_dict() for name, cell in self.cells.items()},
            "loads": {name: load.to_dict() for name, load in self.loads.items()},
            "drops_V": {state: dict(drops) for state, drops in self.drops_V.items()},
            "dangerous_states": sorted(self.dangerous_states),
            "volts": {state: dict(volts) for state, volts in self.net_volts.items()},
            "regulators": dict(self.regulators),
            "capacitors": dict(self.capacitors),
            "features": {name: found.to_dict() for name, found in self.features.items()},
            "duties": {name: found.to_list() for name, found in self.duties.items()},
            "expect": [dict(entry) for entry in self.expectations],
        }


class Report(Struct, frozen=True):
    """The report on a file: what was assumed, and each variant that was checked, in order."""

    file: str
    title: str
    assumed: Mapping[str, Any]
    variants: tuple[VariantResult, ...]

    @property
    def verdict(self) -> str:
        """That of the last variant checked: the mod, where there is one."""
        return self.variants[-1].verdict

    def _repr_html_(self) -> str:
        """How a notebook shows it: each variant's verdict and what was found, the worst first."""
        return f"<h4>{escape(self.title)}</h4>" + "".join(variant._repr_html_() for variant in self.variants)

    @property
    def safe(self) -> bool:
        """Whether the last variant shows no danger and nothing unknown."""
        return self.verdict in ("ok", "caution")

    def to_dict(self) -> dict[str, Any]:
        return {
            "format": REPORT_FORMAT, "file": self.file, "title": self.title, "assumed": dict(self.assumed),
            "variants": [variant.to_dict() for variant in self.variants],
        }
