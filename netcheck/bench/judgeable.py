"""Which rows of a sheet a meter can judge and a person would take: the rest is left out, and said once."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import count

from msgspec.structs import replace

from netcheck.bench import meter
from netcheck.bench.meter import What
from netcheck.bench.sheet import Probe, Section

MOST_ROWS = 25
"""What a person works through before a cell goes in; from here on tests that would read OL are left out."""

_SEEN_COUNTS = 3
"""A current of fewer counts is none that a meter can judge."""

_TRUSTED_COUNTS = 10
"""A limit of fewer counts is none that a meter tells from its own error (common practice, no source)."""

CURRENT_TOO = "Volts first. Only where they are within the limit, the current: ammeter on the 10 A range first, " \
               "then down."


def judgeable(sections: Sequence[Section]) -> tuple[tuple[Section, ...], tuple[str, ...]]:
    """The sections without what a meter cannot judge or has shown before; and what was left out, in words."""
    left_out: dict[str, None] = {}
    seen: set[tuple[object, ...]] = set()
    kept: list[tuple[Section, list[Probe]]] = []
    for section in sections:
        rows: list[Probe] = []
        for probe in section.probes:
            reason = unseen(probe)
            if reason:
                left_out.setdefault(reason)
            elif (key := _reads(probe)) is None or key not in seen:
                rows.append(probe)
            if (key := _reads(probe)) is not None:
                seen.add(key)
        kept.append((section, list(_at_once(rows))))
    if sum(len(rows) for _, rows in kept) > MOST_ROWS:
        kept = [(section, [one for one in rows if not _overload(one)]) for section, rows in kept]
        left_out.setdefault("Diode tests that would read OL: a reading there means a diode that is short or leaky.")
    steps = count(1)
    done = tuple(Section(section.title, _how(section, rows), tuple(replace(one, step=next(steps)) for one in rows))
                 for section, rows in kept if rows)
    return done, tuple(left_out)


def _how(section: Section, rows: Sequence[Probe]) -> tuple[str, ...]:
    """How the section is gone through; nothing of a current where none is left to measure."""
    current = any(one.measurement.what is What.AMPS for one in rows)
    return tuple(sentence for sentence in section.how if current or sentence != CURRENT_TOO)


def unseen(probe: Probe) -> str:
    """Why a meter cannot judge a row; empty where it can."""
    what = probe.measurement.what
    if probe.expected is None or probe.low is None or probe.high is None:
        return ""
    if math.isinf(probe.high) and probe.low < _SEEN_COUNTS * meter.count(what, probe.low):
        return ("Resistance and diode tests that any reading would pass, as the rest of the board may carry the "
                "meter's current: take the part out to test it.")
    if what is not What.AMPS:
        return ""
    cell = probe.what_for.partition(" ")[0]
    if probe.limit is not None and probe.limit < (
            _SEEN_COUNTS if probe.forbidden else _TRUSTED_COUNTS) * meter.count(what, probe.limit):
        return (f"The current into {cell}'s holder: the most that may flow is less than a meter shows for certain. "
                "The volts across the meter's own resistance tell it.")
    if probe.limit is None and abs(probe.expected) < _SEEN_COUNTS * meter.count(what, probe.expected):
        return f"The current of {cell} where it is less than a meter shows."
    return ""


def _overload(probe: Probe) -> bool:
    return probe.measurement.what is What.DIODE and probe.low is not None and math.isinf(probe.low)


def _reads(probe: Probe) -> tuple[object, ...] | None:
    """What the row shows: the same net at the same volts is not probed again in a later state; None: it always is."""
    one = probe.measurement
    if one.what is not What.VOLTS or one.without or probe.low is None or probe.high is None:
        return None
    return one.at, one.against, round(probe.low, 2), round(probe.high, 2)


def _at_once(rows: Sequence[Probe]) -> Iterator[Probe]:
    """Nets that read the same in a state as one row, named together."""
    groups: dict[tuple[object, ...], list[Probe]] = {}
    for place, probe in enumerate(rows):
        key = _reads(probe)
        together = (place,) if key is None or probe.limit is not None else (probe.state, *key[1:])
        groups.setdefault(together, []).append(probe)
    for group in groups.values():
        first = group[0]
        yield first if len(group) == 1 else replace(first, what_for=", ".join(one.what_for for one in group))
