"""A probe sheet printed as text and filled in: the readings in its last column, by the numbers of its rows."""

from __future__ import annotations

import re
from collections.abc import Mapping

from netcheck.bench.meter import What
from netcheck.bench.sheet import Probe, ProbeSheet
from netcheck.fragment.model import Mark, Reading
from netcheck.quantities.values import ValueFault, number
from netcheck.reading.mistakes import Faults
from netcheck.reading.readings_file import as_read
from netcheck.reading.yaml_nodes import Scalar

FIRST_WORDS = "Probe sheet:"
NOT_JUDGED = "UNKNOWN, "
"""How the paragraph begins that stands before the sheet of a variant that could not be judged."""

READING_COLUMN = 70
"""Where the last column begins (`reports.bench_text`)."""

_ROW = re.compile(r"\s{0,3}(\d+)  \S")
_WRAPPED, _NOTES = " " * 5, ("(", "Limit", "Not known")
_VARIANT = re.compile(r"^Variant: (.*?)\s*$", re.MULTILINE)
_START = re.compile(rf"\ufeff?\n*(?:{NOT_JUDGED}(?:.+\n)+?\n*)?{FIRST_WORDS}")
_BLANK = re.compile(r"[_\s]*(?:V|A|Ω|ohm)?[_\s]*")
_UNIT = re.compile(r"\s+(?:V|A|Ω|ohms?)$")
"""The unit that the sheet prints behind each blank."""

_OWN_UNIT = re.compile(r"[^\W\d]$|[Ω∞.]$")
_KEYS: Mapping[What, str] = {What.VOLTS: "volts", What.AMPS: "amps", What.OHMS: "ohms", What.DIODE: "diode_V"}


def variant_of(text: str) -> str | None:
    """The variant that a text sheet is of; None where the text is no such sheet."""
    found = _VARIANT.search(text)
    return found[1] if _START.match(text) and found else None


def readings(text: str, file: str, sheet: ProbeSheet) -> tuple[Reading, ...]:
    """The readings written into a text sheet. Raises FragmentError with every mistake."""
    faults = Faults(file, text)
    probes = {probe.step: probe for probe in sheet.probes}
    probe: Probe | None = None
    found = []
    for line, content in enumerate(text.splitlines(), 1):
        if row := _ROW.match(content):
            probe = probes.get(int(row[1]))
        elif not content.startswith(_WRAPPED) or content.strip().startswith(_NOTES):
            probe = probe if content.strip() else None
            continue
        written = content[READING_COLUMN:]
        if probe is None or not written or _BLANK.fullmatch(written):
            continue
        mark = Mark(line, READING_COLUMN + 1 + len(written) - len(written.lstrip()))
        reading = _reading(probe, _said(written), mark, faults, sheet)
        if reading is not None:
            found.append(reading)
        probe = None
    if not found and not faults.found:
        faults.add(Mark(1, 1), "", "at least one reading in the last column", hint="no blank is filled in")
    faults.raise_if_any()
    return tuple(found)


def _said(written: str) -> str:
    """What was written into a blank, without the unit printed behind it where it has its own, or reads OL.

    >>> _said("3,02 V V"), _said("__OL__ Ω"), _said("4.7k Ω"), _said("12.1 V")
    ('3,02 V', 'OL', '4.7k', '12.1 V')
    """
    text = " ".join(written.replace("_", " ").split())
    without = _UNIT.sub("", text)
    return without if _OWN_UNIT.search(without) else text


def _reading(probe: Probe, written: str, mark: Mark, faults: Faults, sheet: ProbeSheet) -> Reading | None:
    one = probe.measurement
    value = as_read(str(one.what), Scalar(written.replace("Ω", "").strip() if one.what is What.OHMS else written, mark),
                    faults)
    try:
        amount = number(value.text, probe.unit)
    except ValueFault as fault:
        faults.add(mark, written, f"a reading in {probe.unit}, or OL", hint=str(fault))
        return None
    return Reading(
        mark, sheet.variant, None if one.what.unpowered else one.state.name, one.at, one.against, one.through,
        meter_ohm=one.meter_ohm, without=() if one.what.unpowered else one.without, **{_KEYS[one.what]: amount})
