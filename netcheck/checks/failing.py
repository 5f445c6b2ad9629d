"""What a single failure does to the loads: more volts than they survive is one failure away from danger."""

from __future__ import annotations

from collections.abc import Sequence

from netcheck.checks.voltage import across, stands
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Part
from netcheck.solving.solved_states import Failure, Survey


def failing_findings(survey: Survey, failed: Sequence[Failure]) -> list[Finding]:
    """A caution for each load that one failed part puts above what it survives, the failure that does it most."""
    return [finding for load in survey.loads() if (finding := _beyond(survey, load, failed)) is not None]


def _beyond(survey: Survey, load: Part, failed: Sequence[Failure]) -> Finding | None:
    most_V = stands(load)
    if most_V is None:
        return None
    beyond: list[tuple[float, Failure]] = []
    for failure in failed:
        if failure.fault.part == load.name or not failure.point.known:
            continue
        volts, sound = across(failure.point, load), survey.at(failure.state, failure.corner)
        before = across(sound, load) if sound.known else None
        if volts is None or volts <= most_V or (before is not None and before > most_V):
            continue
        beyond.append((volts, failure))
    if not beyond:
        return None
    beyond.sort(key=lambda pair: -pair[0])
    volts, failure = beyond[0]
    fault = failure.fault
    parts = tuple(dict.fromkeys(one.fault.part for _, one in beyond))
    return Finding(
        "fault-voltage", Severity.CAUTION, load.name, case="beyond", state=failure.state.name,
        parts=(*parts, load.name), nets=(load.pins["plus"],), line=load.mark.line,
        words={"failing": fault.part, "how": fault.how, "others": parts[1:]},
        figures={"fault_V": volts, "limit_V": most_V})
