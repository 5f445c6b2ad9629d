"""Every number that a finding's text says, on every board of the table, is one of its figures or stands in a name."""

from __future__ import annotations

import math
import re

from verdict_boards import judged, table

from netcheck.findings import Finding, Severity

_TIMES = (1.0, 12.0, 365.0, 8760.0, 8760.0 * 60.0)
"""A time in years may be told in months, days, hours or minutes."""

_NUMBER = re.compile(r"-?[0-9]+(?:\.[0-9]+)?")
_SAME = 0.051
"""Two digits of a number are at most this far from it (a share): 1.05 told as 1.0."""


def names(finding: Finding) -> list[str]:
    held = [finding.subject, finding.state or "", *finding.parts, *finding.nets, *finding.states]
    for word in finding.words.values():
        held += [word] if isinstance(word, str) else word
    return sorted(filter(None, held), key=len, reverse=True)


def is_figure(number: float, finding: Finding) -> bool:
    """Whether a number is a figure of the finding, whatever its prefix, unit of time or percent."""
    if number == 0:
        return any(abs(value) < 1e-2 for value in finding.figures.values())
    told = math.log10(abs(number)) % 1
    for value in finding.figures.values():
        for times in _TIMES if value else ():
            apart = abs(math.log10(abs(value) * times) % 1 - told)
            if min(apart, 1 - apart) <= math.log10(1 + _SAME):
                return True
    return False


def strange(finding: Finding) -> list[str]:
    """The numbers of a finding's text that are neither a figure nor in a name."""
    said = finding.message
    for name in names(finding):
        said = said.replace(name, "…")
    return [number for number in _NUMBER.findall(said) if not is_figure(float(number), finding)]


def test_a_number_from_nowhere_would_be_seen():
    sound = Finding("over-voltage", Severity.DANGER, "U1", "beyond", "on", figures={"volts_V": 12.0, "limit_V": 5.5})
    assert strange(sound) == []
    assert not is_figure(7.3, sound)
    assert is_figure(12.0e-3, sound)


def test_each_number_in_a_text_is_a_figure_of_the_finding():
    found = {}
    for board in table():
        results = judged(board.name)
        for variant in () if isinstance(results, str) else results.values():
            for one in variant.findings:
                assert one.message
                assert not re.search(r"\{\w+\}", one.message + one.advice + one.short)
                if (loose := strange(one)) and (one.check, one.case) != ("back-feed", "made-rail"):
                    found[one.check, one.case] = (loose, one.message)
    assert found == {}
