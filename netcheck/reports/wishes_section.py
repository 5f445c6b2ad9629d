"""What the tracer expects, and what was found, the met ones too."""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.checks.results import VariantResult
from netcheck.fragment.model import Fragment
from netcheck.reports.blocks import Block, Bullets, Section

_HOLDS = {True: "holds", False: "does not hold", None: "unknown"}


def blocks(result: VariantResult, fragment: Fragment) -> Iterator[Block]:
    if result.solved and result.expectations:
        yield Bullets(tuple(
            f"{_HOLDS[entry['holds']]}: {entry['wanted']}; found: {entry['words']}"
            + (f" ({entry['state']})" if entry["state"] else "") for entry in result.expectations))


SECTION = Section("expected", "What you expect", blocks)
