"""The probe sheet for a spreadsheet: fill in the last column and feed the file back with `--readings`."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable

from netcheck.bench import meter
from netcheck.bench.meter import What
from netcheck.bench.readings import taken
from netcheck.bench.sheet import Probe, ProbeSheet
from netcheck.fragment.model import Reading
from netcheck.reading.readings_file import COLUMNS


def sheet_csv(sheet: ProbeSheet, readings: Iterable[Reading] = (), ground: str = "GND") -> str:
    """One row a probe, plain numbers in V, A and ohm; readings that were taken already fill their rows.

    ground: the net that a reading without a second net is against.
    """
    said = {_key(one, ground): taken(one)[1] for one in readings if one.mod == sheet.variant}
    out = io.StringIO()
    table = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    table.writeheader()
    for section in sheet.sections:
        for probe in section.probes:
            table.writerow(_row(sheet, section.title, probe, said.get(_probe_key(probe, ground))))
    return out.getvalue()


def _row(sheet: ProbeSheet, section: str, probe: Probe, reading: float | None) -> dict[str, str]:
    measurement = probe.measurement
    note = probe.note if probe.problem is None else f"not known: {probe.problem}"
    row = {
        "step": str(probe.step), "section": section, "mod": sheet.variant, "state": measurement.state.name,
        "test": str(measurement.what), "at": measurement.at or "", "against": measurement.against or "",
        "through": measurement.through or "", "without": " ".join(measurement.without),
        "meter": f"{measurement.meter_ohm:g}" if measurement.what is What.VOLTS else "",
        "expected": _number(probe, probe.expected), "low": _number(probe, probe.low),
        "high": _number(probe, probe.high), "unit": probe.unit,
        "limit": "" if probe.limit is None else f"{probe.limit:.4g}", "note": note,
        "reading": _number(probe, reading),
    }
    return {column: cell if column in _NUMBERS else as_text(cell) for column, cell in row.items()}


_NUMBERS = ("step", "meter", "expected", "low", "high", "limit", "reading")


def as_text(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula: what begins like one (a net +5V, too) gets the text mark '."""
    return f"'{cell}" if cell[:1] in ("=", "+", "-", "@", "\t", "\r") else cell


def _number(probe: Probe, value: float | None) -> str:
    if value is None:
        return ""
    return "OL" if math.isinf(value) else f"{meter.shown(probe.measurement.what, value) + 0.0:.9g}"


_Key = tuple[What, str | None, str | None, str | None, str | None, frozenset[str]]


def _key(reading: Reading, ground: str) -> _Key:
    what, _ = taken(reading)
    return (what, None if what.unpowered else reading.state, reading.at, _against(reading.at, reading.against, ground),
            reading.through, frozenset(() if what.unpowered else reading.without))


def _probe_key(probe: Probe, ground: str) -> _Key:
    one = probe.measurement
    return (one.what, None if one.what.unpowered else one.state.name, one.at, _against(one.at, one.against, ground),
            one.through, frozenset(() if one.what.unpowered else one.without))


def _against(at: str | None, against: str | None, ground: str) -> str | None:
    return None if at is None else against or ground
