"""The probe sheet as rows of words, for a page or Markdown."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from netcheck.bench.sheet import Probe, ProbeSheet
from netcheck.reports import probe_words


def ends(sheet: ProbeSheet) -> str:
    """The heading under which a sheet says why it ends: what may not be done from here on."""
    never = ["the power stays off"] if not sheet.powered else []
    never += ["no cell goes in"] if sheet.celled else []
    return f"Here the sheet ends: {' and '.join(never) or 'nothing more is powered or fitted'}"


class SheetRow(Struct, frozen=True):
    """One test: its number, what to measure, where, what to expect, the band, and what else to know.

    forbidden: why no cell may be fitted, where the board as drawn already gives more than it may have.
    """

    step: int
    subject: str
    where: str
    expected: str
    band: str
    note: str
    forbidden: str = ""


class SheetSection(Struct, frozen=True):
    title: str
    how: tuple[str, ...]
    rows: tuple[SheetRow, ...]


def sheet_sections(sheet: ProbeSheet) -> tuple[SheetSection, ...]:
    """The sheet in its safe order; sections without rows say why it ends, and what is not probed."""
    closing: list[tuple[str, tuple[str, ...]]] = [(ends(sheet), (sheet.stopped,))] if sheet.stopped else []
    closing += [("Not probed", sheet.left_out)] if sheet.left_out else []
    return (*(SheetSection(section.title, section.how, tuple(_rows(section.probes))) for section in sheet.sections),
            *(SheetSection(title, said, ()) for title, said in closing))


def _rows(probes: Sequence[Probe]) -> Iterator[SheetRow]:
    """The rows of a section; where it goes through several states, each row says in which."""
    several = len({probe.state for probe in probes}) > 1
    for probe in probes:
        row = _row(probe)
        yield replace(row, where=f"{row.where}; state {probe.state}") if several else row


def _row(probe: Probe) -> SheetRow:
    what, where = probe.measurement.what, probe_words.where(probe)
    if probe.problem is not None or probe.expected is None or probe.low is None or probe.high is None:
        return SheetRow(probe.step, probe.what_for, where, "not known", "", probe.problem or "could not be worked out")
    limit = probe_words.limit(probe)
    return SheetRow(
        probe.step, probe.what_for, where, probe_words.reading(what, probe.expected),
        probe_words.band(what, probe.low, probe.high),
        "; ".join(filter(None, ("" if probe.forbidden else limit, probe.note))), limit if probe.forbidden else "")
