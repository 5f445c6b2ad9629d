"""The probe sheet as rows of words, for a page or Markdown."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from netcheck.bench.measure import Measurement
from netcheck.bench.meter import What, count
from netcheck.bench.probe_sheet import Probe, ProbeSheet
from netcheck.quantities.values import engineering


@dataclass(frozen=True, slots=True)
class SheetRow:
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


@dataclass(frozen=True, slots=True)
class SheetSection:
    title: str
    how: tuple[str, ...]
    rows: tuple[SheetRow, ...]


def sheet_sections(sheet: ProbeSheet) -> tuple[SheetSection, ...]:
    """The sheet in its safe order."""
    return tuple(SheetSection(section.title, section.how, tuple(_rows(section.probes)))
                 for section in sheet.sections)


def _rows(probes: Sequence[Probe]) -> Iterator[SheetRow]:
    """The rows of a section; where it goes through several states, each row says in which."""
    several = len({probe.state for probe in probes}) > 1
    for probe in probes:
        row = _row(probe)
        yield replace(row, where=f"{row.where}; state {probe.state}") if several else row


def _row(probe: Probe) -> SheetRow:
    what = probe.measurement.what
    if probe.problem is not None or probe.expected is None or probe.low is None or probe.high is None:
        return SheetRow(probe.step, probe.what_for, _where(probe.measurement), "not known", "",
                        probe.problem or "could not be worked out")
    limit = "" if probe.limit is None else engineering(probe.limit, probe.unit)
    notes = [f"more than {limit}: fit no cell" if limit and not probe.forbidden else "", probe.note]
    return SheetRow(
        probe.step, probe.what_for, _where(probe.measurement), _shown(what, probe.expected),
        _band(what, probe.low, probe.high), "; ".join(filter(None, notes)),
        f"That is more than {limit}: fit no cell." if probe.forbidden else "")


def _where(measurement: Measurement) -> str:
    at, against = measurement.at, measurement.against
    if measurement.what is What.AMPS:
        return f"in series with {measurement.through}" if measurement.through else f"{at} to {against}, ammeter"
    if measurement.what is What.OHMS:
        return f"ohms, {at} to {against}"
    if measurement.what is What.DIODE:
        return f"diode test, red {at}, black {against}"
    return f"volts, {at} against {against}"


def _band(what: What, low: float, high: float) -> str:
    first, last = _shown(what, low), _shown(what, high)
    return first if first == last else f"{first} to {last}"


def _shown(what: What, value: float) -> str:
    """A reading as it is written; below one count of the meter it is 0."""
    if math.isinf(value):
        return "OL"
    if abs(value) < count(what, value):
        return f"0 {'Ω' if what is What.OHMS else what.unit}"
    return engineering(value, what.unit)
