"""What the comparison of diodes found, in the shape that reports and other programs read."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from msgspec import Struct

FORMAT = "netcheck-diodes/1"


class Option(Struct, frozen=True):
    """One choice of diodes and what it does. Volts at the load, currents in A; None: not computable.

    drop_V: forward drop of the cell's diode at the real load current.
    leakage_in_A: into the cell while the rail is live, hot (None where a charge
    route conducts); leakage_out_A: out of it into the dead rail while stored, hot.
    life_years: with typical figures; life_least_years: with the makers' maximum, worked out for the best and for what
    is fitted now.
    suits: whether its types have the kind of body that this board has, and are still made.
    """

    at: Mapping[str, str]
    family: str
    present: bool
    drop_V: float | None
    backup_V: Mapping[str, float | None]
    leakage_in_A: Mapping[str, float | None]
    leakage_share: Mapping[str, float | None]
    leakage_out_A: Mapping[str, float | None]
    shorts_to_charge: int | None
    life_years: float | None
    verdict: str
    why: str
    suits: bool = True
    life_least_years: float | None = None
    rank: int = 0

    def to_dict(self) -> dict[str, Any]:
        return {
            "at": dict(self.at), "family": self.family, "present": self.present, "rank": self.rank,
            "why": self.why, "drop_V": self.drop_V, "backup_V": dict(self.backup_V),
            "leakage_in_A": dict(self.leakage_in_A), "leakage_share": self.leakage_share["typical"],
            "leakage_share_maximum": self.leakage_share["maximum"],
            "leakage_out_A": dict(self.leakage_out_A), "shorts_to_charge": self.shorts_to_charge,
            "life_years": self.life_years, "life_years_least": self.life_least_years, "verdict": self.verdict,
            "suits_board": self.suits,
        }


class Comparison(Struct, frozen=True):
    """All options, best first, with the sum of it in two sentences."""

    file: str
    assumed: Mapping[str, Any]
    summary: str
    options: tuple[Option, ...]
    cell: str
    load: str

    def to_dict(self) -> dict[str, Any]:
        return {"format": FORMAT, "file": self.file, "assumed": dict(self.assumed), "summary": self.summary,
                "cell": self.cell, "load": self.load, "options": [option.to_dict() for option in self.options]}
