"""What every check returns: findings with a severity, and the verdict over them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import Enum
from typing import Any

from msgspec import Struct, field

from netcheck.wording import sentences
from netcheck.wording.sentence import Word


class Severity(str, Enum):
    """How much a finding matters, the worst first.

    danger: somebody or something is harmed. unknown: something needed was not worked out, or a part that takes
    part in the answer was not judged. fails: harmless, but it does not do its job. caution: one failure away from
    danger, or beyond a limit only with makers' maximum figures. note: worth knowing, no judgement.
    """

    DANGER = "danger"
    UNKNOWN = "unknown"
    FAILS = "fails"
    CAUTION = "caution"
    NOTE = "note"

    def __str__(self) -> str:
        return self.value


class Finding(Struct, frozen=True):
    """One thing that was found.

    check: a plain word (charge-route, leakage, hand-over …); case: which of its sentences says it. subject: the part
    or net it is about. line: of the fragment file. states: every state that it holds in, where it is more than the one
    named. sources: what this finding relies on, printed with it. figures: what it turns on, in SI units, the unit as
    the suffix of the name ({"charge_A": 2.55e-3}). words: names, or words that stand for one of a few phrases.
    Text is made of all that by `netcheck/wording/`: `message` what was found, `advice` what cures it.
    """

    check: str
    severity: Severity
    subject: str
    case: str
    state: str | None = None
    parts: tuple[str, ...] = ()
    nets: tuple[str, ...] = ()
    line: int | None = None
    sources: tuple[str, ...] = ()
    figures: Mapping[str, float] = field(default_factory=dict)
    states: tuple[str, ...] = ()
    words: Mapping[str, Word] = field(default_factory=dict)

    @property
    def message(self) -> str:
        """What was found, in words."""
        return sentences.message(self)

    @property
    def advice(self) -> str:
        """What cures it, in words; empty where nothing is known."""
        return sentences.advice(self)

    @property
    def short(self) -> str:
        """The same in the few words of a table; empty where there are none."""
        return sentences.short(self)

    def to_dict(self) -> dict[str, Any]:
        return {
            "check": self.check, "case": self.case, "severity": str(self.severity), "subject": self.subject,
            "state": self.state, "states": list(self.held_in), "parts": list(self.parts), "nets": list(self.nets),
            "message": self.message, "advice": self.advice, "line": self.line,
            "sources": list(self.sources), "figures": dict(self.figures),
        }

    @property
    def held_in(self) -> tuple[str, ...]:
        """Every state that this holds in; empty where it is about none in particular."""
        return self.states or ((self.state,) if self.state is not None else ())


_ORDER = (Severity.DANGER, Severity.UNKNOWN, Severity.FAILS, Severity.CAUTION)


def verdict(findings: Iterable[Finding]) -> str:
    """The worst of the findings: danger, unknown, fails, caution or ok.

    >>> verdict([])
    'ok'
    """
    present = {finding.severity for finding in findings}
    return next((str(s) for s in _ORDER if s in present), "ok")
