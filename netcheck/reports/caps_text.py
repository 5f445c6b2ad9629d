"""The table of capacitors as text, CSV and Markdown."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from netcheck.capacitors.table import Capacitors, Line
from netcheck.quantities.words import in_ranges
from netcheck.reports.bench_csv import as_text
from netcheck.reports.caps_words import (
    buy_title,
    buy_words,
    cautions_of,
    first_words,
    head,
    lasts_words,
    left_words,
    may_words,
    measured_words,
    mod_words,
    now_words,
    place_words,
    role_title,
    sees_words,
    spec_words,
    watch_words,
)
from netcheck.reports.screen import folded
from netcheck.reports.vocabulary import MARKS, sentence

_NAMES, _PLACE, _SEES, _VERDICT = 13, 8, 13, 7
_INDENT = " " * 6

COLUMNS = ("parts", "role", "place", "found", "sees_V", "lasts_years", "value_least_F", "value_most_F", "families",
           "volts_least", "mod", "verdict", "watch")


def caps_text(found: Capacitors, width: int = 80) -> str:
    """The answer, the capacitors by role, what to change first, what to buy, the cautions."""
    lines = [*folded(head(found), width), *folded(f"{found.title} ({found.file})", width), ""]
    for name, group in found.groups():
        lines += [*folded(role_title(name), width, "  ")]
        for line in group:
            lines += _line(line, found, width)
        lines.append("")
    if found.first:
        lines += [*folded(first_words(found), width), ""]
    if found.buy:
        lines.append(buy_title(found))
        for one in found.buy:
            lines += folded(f"  {one.quantity:>3} x {buy_words(one):<32} {in_ranges(one.parts)}", width, " " * 41)
        lines.append("")
    if left := left_words(found):
        lines += [*folded(left, width), ""]
    lines += ["Take care", *(text for said in cautions_of(found.lines) for text in folded(f"- {said}", width, "  "))]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _line(line: Line, found: Capacitors, width: int) -> Iterator[str]:
    names = in_ranges(line.parts)
    mark = MARKS[line.verdict] if line.verdict != "ok" else "ok"
    told = f"{spec_words(line.found)}"
    room = width - 2 - _NAMES - _PLACE - _SEES - _VERDICT - 4
    if len(names) > _NAMES or len(told) > room:
        yield from folded(f"  {names}", width, "    ")
        names = ""
    row = f"  {names:<{_NAMES}} {told:<{room}} {place_words(line):<{_PLACE}} {sees_words(line):<{_SEES}} {mark}"
    yield from [row] if len(row) <= width else folded(" ".join(row.split()), width, "    ")
    may = f"may be: {may_words(line.said['may_be'])}"
    yield from folded(f"{_INDENT}{may}", width, f"{_INDENT}  ")
    if now := now_words(line):
        yield from folded(f"{_INDENT}{mod_words(found)}: {now}", width, f"{_INDENT}  ")
    if watch := watch_words(line):
        yield from folded(f"{_INDENT}watch: {'; '.join(watch)}", width, f"{_INDENT}  ")
    if line.now is not None and (measured := measured_words(line)):
        yield from folded(f"{_INDENT}{measured}", width, f"{_INDENT}  ")
    if line.now is not None and (lasts := lasts_words(line)):
        yield from folded(f"{_INDENT}{lasts}", width, f"{_INDENT}  ")


def caps_csv(found: Capacitors) -> str:
    """A row a line of the table, plain numbers; then a row for each line of what to buy."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(COLUMNS)
    for line in found.lines:
        may, said = line.said["may_be"], line.said
        table.writerow([as_text(cell) for cell in (
            in_ranges(line.parts), line.role, place_words(line), spec_words(line.found), _number(said["stress_V"]),
            _number(said["life_years"]), _number(may["least_F"]), _number(may["most_F"]), " ".join(may["families"]),
            _number(may["volts_least"]), now_words(line), line.verdict, "; ".join(watch_words(line)))])
    table.writerow([])
    table.writerow(("buy", "quantity", "capacitance_F", "type", "rated_V", "size"))
    for one in found.buy:
        table.writerow([as_text(in_ranges(one.parts)), one.quantity, _number(one.capacitance_F), one.type,
                        _number(one.rated_V), as_text(one.size or "")])
    return out.getvalue()


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.6g}"


def caps_markdown(found: Capacitors) -> str:
    """The same as tables for a page."""
    lines = [f"# Capacitors: {_cell(found.title)}", "", _cell(head(found)), ""]
    for name, group in found.groups():
        lines += [f"## {_cell(role_title(name))}", "",
                  "| parts | as found | where | sees | may be | mod | verdict | watch |",
                  "|---|---|---|---|---|---|---|---|"]
        for line in group:
            cells = (in_ranges(line.parts), spec_words(line.found), place_words(line), sees_words(line),
                     may_words(line.said["may_be"]), now_words(line), line.verdict, "; ".join(watch_words(line)))
            lines.append("| " + " | ".join(map(_cell, cells)) + " |")
        lines.append("")
    if found.first:
        lines += [_cell(first_words(found)), ""]
    if found.buy:
        lines += [f"## {_cell(buy_title(found))}", "", "| quantity | part | for |", "|---|---|---|"]
        lines += [f"| {one.quantity} | {_cell(buy_words(one))} | {_cell(in_ranges(one.parts))} |" for one in found.buy]
        lines.append("")
    if left := left_words(found):
        lines += [_cell(left), ""]
    lines += ["## Take care", "", *(f"- {_cell(sentence(said))}" for said in cautions_of(found.lines))]
    return "\n".join(lines) + "\n"


def _cell(text: str) -> str:
    """Text that neither ends a cell nor is taken for markup."""
    return "".join(f"\\{sign}" if sign in "\\|*_`<>[]" else sign for sign in " ".join(text.split()))

