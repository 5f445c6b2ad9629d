"""Readings held against the limits of the sheet: what may be read at most before a cell is fitted."""

from __future__ import annotations

from collections.abc import Sequence

from netcheck.bench.measure import Measurement
from netcheck.bench.readings import JudgedReading, JudgedReadings
from netcheck.bench.sheet import Probe, ProbeSheet


def beyond(result: JudgedReadings, sheet: ProbeSheet | None) -> Sequence[tuple[JudgedReading, Probe, float]]:
    """The readings above a limit of the sheet of the same variant, each with its row and the limit [V or A].

    One may lie within what tolerances allow the board as drawn to give, and forbid the cell all the same.
    """
    if sheet is None or sheet.variant != result.variant:
        return ()
    rows = {_place(probe.measurement): probe for probe in (*sheet.probes, *sheet.unprinted)}
    found = [(one, rows.get(_place(one.measurement))) for one in result.judged if one.measurement is not None]
    return tuple((one, row, row.limit) for one, row in found
                 if row is not None and row.limit is not None and one.value > row.limit)


def _place(one: Measurement) -> tuple[object, ...]:
    return one.what, one.at, one.against, one.state.name, frozenset(one.without)
