"""What a file holds and no section of the judgement judges: a part of a kind without a check is unknown, never ok."""

from __future__ import annotations

from collections.abc import Collection

from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.parts.chip import settled
from netcheck.parts.specs import ChipSpec

BACKUP = frozenset({
    Kind.CELL, Kind.LOAD, Kind.DIODE, Kind.RESISTOR, Kind.TRIMMER, Kind.INDUCTOR, Kind.FUSE, Kind.JUMPER, Kind.SWITCH,
    Kind.RELAY, Kind.TRANSISTOR,
})
"""Kinds that the section on cells and loads judges itself. One that is neither here nor below is not judged at all."""

_LATER = frozenset({Kind.CAPACITOR, Kind.REGULATOR, Kind.CONNECTOR, Kind.CHIP})
"""Kinds that are only noted where no section judges them and nothing asks for them."""

_SHOWN = 8


def unjudged(fragment: Fragment, judged: frozenset[Kind], known: Collection[str]) -> list[Finding]:
    """What the file holds and no section judges, so that silence is not taken for safety."""
    findings = []
    for kind in Kind:
        parts = tuple(part.name for part in fragment.of_kind(kind)
                      if (kind not in judged or part.name not in known) and not _known_chip(part))
        if not parts or kind in BACKUP:
            continue
        asked = [name for name in parts if _is_asked_for(fragment, name)]
        severity = Severity.NOTE if kind in _LATER and not asked else Severity.UNKNOWN
        more = {"more_count": len(parts) - _SHOWN} if len(parts) > _SHOWN else {}
        findings.append(Finding(
            "not-judged", severity, parts[0], case="kind", parts=parts, line=fragment.parts[parts[0]].mark.line,
            figures=more,
            words={"shown": parts[:_SHOWN], **({"kind": str(kind)} if kind in _LATER else {"other": str(kind)})}))
    return findings


def _known_chip(part: Part) -> bool:
    return isinstance(part.spec, ChipSpec) and settled(part.spec, part.pins)


def _is_asked_for(fragment: Fragment, name: str) -> bool:
    """Whether the file says of a part what only the judgement of its kind can answer.

    Of a regulator its heat sink, the volts wanted of it, or what the loads on its output survive.
    """
    part = fragment.parts[name]
    if part.kind is not Kind.REGULATOR:
        return False
    fed = [load for load in fragment.of_kind(Kind.LOAD) if load.survives_V is not None]
    return (part.heatsink is not None or part.heatsink_K_per_W is not None
            or any(wanted.of == name for wanted in fragment.settings)
            or any(part.pins["output"] in load.nets for load in fed))
