"""Many boards: a line each as they come, then the count and the worst; and the same as a table for a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from netcheck.archive.many import ORDER, BoardResult, count
from netcheck.reports.bench_csv import as_text
from netcheck.reports.text import verdict_line

COLUMNS = ("file", "verdict", "title", "variant", "check", "subject", "message", "advice")
_SHOWN = 3


def board_line(result: BoardResult, width: int) -> str:
    """One board on one line: verdict, file, and what decides it."""
    said = " ".join(result.message.split())
    if result.verdict == "unusable":
        said = said.removeprefix(f"{result.file}:").lstrip()
    return verdict_line(result.verdict, result.file, result.variant, said, width)


def closing(results: Sequence[BoardResult], width: int) -> str:
    """The count of each verdict, then the worst boards, the very worst last."""
    counted = count(results)
    told = ", ".join(f"{number} {verdict}" for verdict, number in counted.items()) or "none"
    harmless = ("ok", "caution")
    worst = [one for one in sorted(results, key=lambda one: ORDER.index(one.verdict))
             if one.verdict not in harmless][-_SHOWN:]
    lines = [f"{len(results)} boards: {told}."]
    if worst:
        lines += ["", "The worst:", *(board_line(one, width) for one in worst)]
    return "\n".join(lines)


def archive_csv(results: Sequence[BoardResult]) -> str:
    """A row a board. No cell begins like a formula."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(COLUMNS)
    for one in results:
        table.writerow([as_text(" ".join(str(getattr(one, column)).split())) for column in COLUMNS])
    return out.getvalue()
