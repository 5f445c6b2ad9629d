"""What is known of a regulator's settings, as data."""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite
from typing import Any

from msgspec import Struct, field

from netcheck.findings import Severity
from netcheck.wording import supplies
from netcheck.wording.sentence import Word

_ORDER = (Severity.DANGER, Severity.UNKNOWN, Severity.FAILS, Severity.CAUTION)


class Reason(Struct, frozen=True):
    """One thing that speaks against a setting: its case, names and figures."""

    severity: Severity
    case: str
    names: Mapping[str, Word] = field(default_factory=dict)
    figures: Mapping[str, float] = field(default_factory=dict)

    @property
    def words(self) -> str:
        return supplies.reason(self.case, self.names, self.figures)


class Fitted(Struct, frozen=True):
    """What the readings at an output say: names and figures of what was read, and of the parts that explain it."""

    names: Mapping[str, Word]
    figures: Mapping[str, float]

    @property
    def words(self) -> str:
        return supplies.fitted(self.names, self.figures)


class Failure(Struct, frozen=True):
    """A part that has failed in a setting: the output then, and the loads that it takes beyond what they survive."""

    part: str
    how: str
    output_V: float | None
    hurts: tuple[str, ...]

    @property
    def reaches_V(self) -> float:
        """How far the output is from ground."""
        return abs(self.output_V or 0.0)

    def to_dict(self) -> dict[str, Any]:
        return {"part": self.part, "as": self.how, "output_V": self.output_V, "hurts": list(self.hurts)}


class Setting(Struct, frozen=True, kw_only=True):
    """One way the links can be put.

    output_V: nominal, at the loads' usual current; empty_V: with no load at all. loaded_V: the lowest and highest
    output with the loads in place, None where nothing is fed. asked_V: what the resistors ask for, dropout and limit
    apart; None where nothing sets the output. headroom_V: volts left above the
    dropout, at the lowest rail and highest load; None where nothing sets the output. load_A: what the loads take
    at most. junction_limit_A: load current at which the junction meets its limit. loads: name to its volts,
    spans: to the lowest and highest with it in place; harmed: those that it takes beyond what they survive.
    """

    positions: Mapping[str, str]
    as_set: bool
    output_V: float | None
    output_min_V: float | None = None
    output_max_V: float | None = None
    loaded_V: tuple[float, float] | None = None
    asked_V: float | None = None
    empty_V: float | None = None
    headroom_V: float | None = None
    in_dropout: bool | None = None
    load_A: float | None = None
    dissipation_W: float | None = None
    junction_C: float | None = None
    junction_limit_A: float | None = None
    loads: Mapping[str, float | None] = field(default_factory=dict)
    spans: Mapping[str, tuple[float | None, float | None]] = field(default_factory=dict)
    harmed: tuple[str, ...] = ()
    reasons: tuple[Reason, ...] = ()
    faults: tuple[Failure, ...] = ()

    @property
    def verdict(self) -> str:
        present = {reason.severity for reason in self.reasons}
        return next((str(severity) for severity in _ORDER if severity in present), "ok")

    @property
    def why(self) -> str:
        """What speaks against it, the worst first."""
        ordered = sorted(self.reasons, key=lambda reason: list(Severity).index(reason.severity))
        return " ".join(reason.words for reason in ordered)

    def to_dict(self) -> dict[str, Any]:
        return {
            "positions": dict(self.positions), "as_set": self.as_set,
            "output_V": self.output_V, "output_min_V": self.output_min_V, "output_max_V": self.output_max_V,
            "loaded_V": None if self.loaded_V is None else list(self.loaded_V), "asked_V": self.asked_V,
            "empty_V": self.empty_V, "headroom_V": self.headroom_V, "in_dropout": self.in_dropout,
            "load_A": self.load_A, "dissipation_W": self.dissipation_W, "junction_C": self.junction_C,
            "junction_limit_A": self.junction_limit_A, "loads_V": dict(self.loads),
            "loads_span_V": {name: list(span) for name, span in self.spans.items()}, "verdict": self.verdict,
            "dangers": [reason.case for reason in self.reasons if reason.severity is Severity.DANGER],
            "why": self.why, "faults": [fault.to_dict() for fault in self.faults if fault.hurts],
        }


class Mistake(Struct, frozen=True):
    """A slip at the bench that leads from one setting to another: the link, what was done to it, and the output."""

    link: str
    what: str
    wanted: Mapping[str, str]
    positions: Mapping[str, str]
    output_V: float | None
    hurts: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        return {"link": self.link, "what": self.what, "from": dict(self.wanted), "positions": dict(self.positions),
                "output_V": self.output_V, "hurts": list(self.hurts)}


class Settings(Struct, frozen=True, kw_only=True):
    """Every setting of one regulator, lowest volts first; untried: combinations left out.

    mistakes: the slips that take a load beyond what it survives. windows: load to what it works in and survives.
    cooling: what its heat goes into, in words. within: how
    near a setting must come to a wanted output (a share). fitted: what the readings say of single parts.
    """

    of: str
    kind: str
    output: str
    settings: tuple[Setting, ...]
    links: tuple[str, ...]
    setting_parts: tuple[str, ...]
    mistakes: tuple[Mistake, ...] = ()
    windows: Mapping[str, tuple[float | None, float | None, float | None]] = field(default_factory=dict)
    wanted: tuple[float, ...] = ()
    within: float = 0.0
    cooling: str = ""
    theta_K_per_W: float | None = None
    limit_A: float | None = None
    untried: int = 0
    fitted: tuple[Fitted, ...] = ()

    @property
    def standing(self) -> Setting | None:
        """The setting as the links are set."""
        return next((setting for setting in self.settings if setting.as_set), None)

    @property
    def failures(self) -> tuple[Failure, ...]:
        """Each failure that harms a load, once, where it leads to the most volts.

        Of the settings that somebody would use: as the links are set, and those that harm nothing by themselves.
        """
        worst: dict[tuple[str, str], Failure] = {}
        for setting in self.settings:
            if setting.as_set or not any(reason.severity is Severity.DANGER for reason in setting.reasons):
                for fault in setting.faults:
                    key = fault.part, fault.how
                    if fault.hurts and (key not in worst or fault.reaches_V > worst[key].reaches_V):
                        worst[key] = fault
        return tuple(worst.values())

    @property
    def verdict(self) -> str:
        words = [setting.verdict for setting in self.settings]
        return next((str(severity) for severity in _ORDER if str(severity) in words), "ok")

    def to_dict(self) -> dict[str, Any]:
        return {
            "kind": self.kind, "output": self.output, "links": list(self.links), "verdict": self.verdict,
            "settings": [setting.to_dict() for setting in self.settings],
            "mistakes": [mistake.to_dict() for mistake in self.mistakes],
            "failures": [fault.to_dict() for fault in self.failures],
            "windows_V": {name: {"works_from": None if low is None else max(0.0, low),
                                 "works_to": _finite(high), "survives": _finite(survives)}
                          for name, (low, high, survives) in self.windows.items()},
            "wanted_V": list(self.wanted), "cooling": self.cooling, "theta_K_per_W": self.theta_K_per_W,
            "limit_A": self.limit_A, "untried": self.untried, "readings": [one.words for one in self.fitted],
        }


def _finite(volts: float | None) -> float | None:
    """An end of a range; None where it is open."""
    return volts if volts is not None and isfinite(volts) else None
