"""What every check returns: findings with a severity, and the verdict over them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum
from typing import Any


class Severity(str, Enum):
    """How much a finding matters. `unknown` is for what could not be computed."""

    DANGER = "danger"
    UNKNOWN = "unknown"
    CAUTION = "caution"
    NOTE = "note"

    def __str__(self) -> str:
        return self.value


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was found.

    check: a plain word (charge-route, leakage, hand-over …). subject: the part
    or net it is about. advice: what cures it. line: of the fragment file.
    sources: what this finding relies on, printed with it.
    """

    check: str
    severity: Severity
    subject: str
    message: str
    advice: str = ""
    state: str | None = None
    parts: tuple[str, ...] = ()
    nets: tuple[str, ...] = ()
    line: int | None = None
    sources: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        return {
            "check": self.check, "severity": str(self.severity), "subject": self.subject,
            "state": self.state, "parts": list(self.parts), "nets": list(self.nets),
            "message": self.message, "advice": self.advice, "line": self.line,
            "sources": list(self.sources),
        }


_ORDER = (Severity.DANGER, Severity.UNKNOWN, Severity.CAUTION)


def verdict(findings: Iterable[Finding]) -> str:
    """The worst of the findings: danger, unknown, caution or ok.

    >>> verdict([])
    'ok'
    """
    present = {finding.severity for finding in findings}
    return next((str(s) for s in _ORDER if s in present), "ok")
