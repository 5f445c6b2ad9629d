"""The probe sheet as readings to fill in: YAML that the fragment file takes as it stands, or `--readings`."""

from __future__ import annotations

import json
import re

from netcheck.bench.meter import What
from netcheck.bench.sheet import Probe, ProbeSheet
from netcheck.reports import probe_words

_PLAIN = re.compile(r"[A-Za-z+-][A-Za-z0-9_+. -]*")


def sheet_yaml(sheet: ProbeSheet) -> str:
    """An entry a row with an empty value, what to expect beside it; an entry left empty counts for nothing."""
    lines = [f"# Probe sheet: {sheet.title}", f"# Variant: {sheet.variant}. Write each reading behind its last colon; "
             "OL where the meter is over its range.", "readings:"]
    for section in sheet.sections:
        lines += ["", f"  # {section.title}", *(f"  # {words}" for words in section.how)]
        for probe in section.probes:
            lines.append(_row(sheet, probe))
    for words in filter(None, (sheet.stopped, *sheet.left_out)):
        lines += ["", f"  # {words}"]
    return "\n".join(lines) + "\n"


def _row(sheet: ProbeSheet, probe: Probe) -> str:
    one = probe.measurement
    said = [("mod", sheet.variant), ("state", None if one.what.unpowered else one.state.name), ("at", one.at),
            ("against", one.against), ("through", one.through)]
    words = [f"{key}: {_name(value)}" for key, value in said if value is not None]
    if one.without and not one.what.unpowered:
        words.append(f"without: [{', '.join(map(_name, one.without))}]")
    if one.what is What.VOLTS:
        words.append(f"meter: {one.meter_ohm:g}")
    expect = "not known"
    if probe.expected is not None and probe.low is not None and probe.high is not None:
        expect = f"{probe_words.reading(one.what, probe.expected)}, {probe_words.band(one.what, probe.low, probe.high)}"
    limit = f" {probe_words.limit(probe)}" if probe.limit is not None else ""
    return f"  - {{{', '.join(words)}, {one.what}: }}   # {probe.step}: {probe.what_for}: {expect}.{limit}"


def _name(text: str) -> str:
    return text if _PLAIN.fullmatch(text) and not text.endswith(" ") else json.dumps(text, ensure_ascii=False)
