"""Features of the board against the positions of its links: in which of them each works."""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.checks.results import VariantResult
from netcheck.fragment.model import Fragment
from netcheck.reports.blocks import Block, Section, Table

_WORKS = {True: "works", False: "does not work", None: "not known"}


def blocks(result: VariantResult, fragment: Fragment) -> Iterator[Block]:
    rows = []
    for name, feature in result.features.items():
        rows.append((name, "as the links stand", _WORKS[feature.holds], feature.why))
        for positions, holds in feature.settings:
            if positions:
                said = ", ".join(f"{link} {position}" for link, position in positions.items())
                rows.append(("", said, _WORKS[holds], ""))
    if rows:
        yield Table(("feature", "links", "", "why"), tuple(rows), worded=True)


SECTION = Section("features", "Features", blocks)
