"""What speaks against a setting: its volts at the loads, dropout, current limit, heat, input volts."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from msgspec import Struct, field

from netcheck.findings import Severity
from netcheck.fragment.model import Part
from netcheck.parts.specs import LoadSpec
from netcheck.supply.network import Network
from netcheck.supply.results import Reason

LEAST_SINK_K_PER_W = 0.5
"""Below this a heat sink is larger than a board bears, without a fan (common practice, no source)."""


class Volts(Struct, frozen=True):
    """Volts of a load in one setting: nominal, the lowest and highest over all tolerances, and those without it."""

    nominal_V: float | None
    low_V: float | None
    high_V: float | None
    open_V: float | None


class Window(Struct, frozen=True):
    """What a load works in and what it survives; None where not stated. Without the last the upper end counts."""

    low_V: float | None
    high_V: float | None
    survives_V: float | None

    @classmethod
    def of(cls, load: Part) -> Window:
        assert isinstance(load.spec, LoadSpec)
        span = load.works or load.spec.works
        low, high = (None, None) if span is None else (span.low, span.high)
        if load.runs is not None:  # under power it is to run, and not only to keep what it holds
            low = load.runs.low if low is None else max(low, load.runs.low)
        return cls(low, high, high if load.survives_V is None else load.survives_V)

    def harmed(self, volts: float | None) -> bool:
        """Whether these volts are beyond what the load survives."""
        return volts is not None and self.survives_V is not None and volts > self.survives_V


class Figures(Struct, frozen=True, kw_only=True):
    """What was worked out for one setting; currents and watts at the highest rail and load, in the hottest case.

    unset: nothing sets the output. passed_A: through the regulator, usual_A at the loads' usual current, least_A
    with no load. sink_K_per_W: the largest thermal resistance of a heat sink that keeps the junction at its limit,
    zero or less where none can. loaded_V: the lowest and highest output with the loads in place, None where nothing
    is fed.
    across_V: input less output. problem: why something could not be worked out.
    """

    output_V: float | None
    empty_V: float | None
    output_min_V: float | None
    output_max_V: float | None
    asked_V: float | None
    loaded_V: tuple[float, float] | None
    unset: bool
    headroom_V: float | None
    load_A: float | None
    passed_A: float | None
    usual_A: float
    across_V: float | None
    dissipation_W: float | None
    junction_C: float | None
    usual_junction_C: float | None
    junction_limit_A: float | None
    sink_K_per_W: float | None
    least_A: float
    loads: Mapping[str, Volts] = field(default_factory=dict)
    problem: str | None = None


def reasons(found: Network, figures: Figures, windows: Mapping[str, Window]) -> Iterator[Reason]:
    """Everything that speaks against a setting."""
    if figures.problem is not None or figures.output_V is None:
        yield Reason(Severity.UNKNOWN, "not-solved", {"why": figures.problem or "the output floats"})
    for name, volts in figures.loads.items():
        yield from _window(name, _counted(volts, figures), windows[name])
    yield from _dropout(found, figures)
    yield from _limit(found, figures)
    yield from _heat(found, figures)
    yield from _light(found, figures)


_DESTROYS = ("beyond", "worst-beyond", "input", "power", "too-hot")
"""Cases of what may destroy a load or the regulator, the gravest first; all others only keep something from working."""


def gravity(reason: Reason) -> int:
    """Where a reason stands among those of a setting that are as severe: what may destroy something comes first."""
    return _DESTROYS.index(reason.case) if reason.case in _DESTROYS else len(_DESTROYS)


def _counted(volts: Volts, figures: Figures) -> Volts:
    """The volts of a load that count: where nothing sets the output, it stands anywhere up to the highest."""
    if not figures.unset or volts.open_V is None:
        return volts
    return Volts(volts.open_V, volts.low_V, volts.open_V, volts.open_V)


def harmed(figures: Figures, windows: Mapping[str, Window]) -> tuple[str, ...]:
    """The loads that a setting takes beyond what they survive."""
    return tuple(name for name, volts in figures.loads.items()
                 if windows[name].harmed(_counted(volts, figures).nominal_V))


def _window(name: str, volts: Volts, window: Window) -> Iterator[Reason]:
    nominal, low, high = volts.nominal_V, volts.low_V, volts.high_V
    if nominal is None:
        return

    def against(severity: Severity, case: str, volts_V: float, limit_V: float) -> Reason:
        return Reason(severity, case, {"load": name}, {"volts_V": volts_V, "limit_V": limit_V})

    if window.survives_V is not None and nominal > window.survives_V:
        yield against(Severity.DANGER, "beyond", nominal, window.survives_V)
    elif high is not None and window.survives_V is not None and high > window.survives_V:
        yield against(Severity.CAUTION, "worst-beyond", high, window.survives_V)
    elif window.high_V is not None and nominal > window.high_V:
        yield against(Severity.CAUTION, "above", nominal, window.high_V)
    elif window.high_V is not None and high is not None and high > window.high_V:
        yield against(Severity.CAUTION, "worst-above", high, window.high_V)
    if window.low_V is not None and nominal < window.low_V:
        yield against(Severity.FAILS, "below", nominal, window.low_V)
    elif window.low_V is not None and low is not None and low < window.low_V:
        yield against(Severity.CAUTION, "worst-below", low, window.low_V)


def _dropout(found: Network, figures: Figures) -> Iterator[Reason]:
    if figures.unset:
        yield Reason(Severity.FAILS, "unset", figures={"output_V": figures.output_max_V or 0.0})
    elif figures.headroom_V is not None and figures.headroom_V < 0 and figures.asked_V is not None:
        lacks = {"lacks_V": -figures.headroom_V}
        nominal = figures.output_V is not None and abs(figures.output_V - figures.asked_V) > 0.01 * abs(figures.asked_V)
        if nominal:
            yield Reason(Severity.FAILS, "dropout", figures={
                **lacks, "asked_V": figures.asked_V, "output_V": figures.output_V or 0.0})
        else:
            yield Reason(Severity.CAUTION, "may-drop-out", figures=lacks)


def _limit(found: Network, figures: Figures) -> Iterator[Reason]:
    limit = found.spec.limit_A
    if limit is None or figures.passed_A is None or figures.passed_A <= limit:
        return
    beside = max(0.0, figures.passed_A - (figures.load_A or 0.0))
    always = figures.usual_A >= limit * 0.999
    yield Reason(Severity.FAILS if always else Severity.CAUTION, "past-limit", figures={
        "passed_A": figures.passed_A, "more_A": figures.passed_A - limit, "limit_A": limit,
        "holds_A": max(0.0, limit - beside)})


def _heat(found: Network, figures: Figures) -> Iterator[Reason]:
    spec = found.spec
    if figures.across_V is not None and spec.input_max_V is not None and figures.across_V > spec.input_max_V:
        yield Reason(Severity.DANGER, "input", {"regulator": found.regulator.name},
                     {"across_V": figures.across_V, "limit_V": spec.input_max_V})
    if figures.dissipation_W is not None and spec.power_max_W is not None \
            and figures.dissipation_W > spec.power_max_W:
        yield Reason(Severity.FAILS, "power", {"regulator": found.regulator.name},
                     {"dissipation_W": figures.dissipation_W, "limit_W": spec.power_max_W})
    if figures.junction_C is None or spec.junction_max_C is None:
        if figures.dissipation_W is not None:
            yield Reason(Severity.UNKNOWN, "heat-not-known", {
                "regulator": found.regulator.name,
                "missing": "its highest junction temperature" if spec.junction_max_C is None
                else "a thermal resistance"}, {"dissipation_W": figures.dissipation_W})
    elif figures.junction_C > spec.junction_max_C:
        usual = figures.usual_junction_C is not None and figures.usual_junction_C > spec.junction_max_C
        bears = {} if figures.junction_limit_A is None else {"bears_A": figures.junction_limit_A}
        cure, sink = _cooled(figures)
        yield Reason(Severity.FAILS if usual else Severity.CAUTION, "too-hot",
                     {"regulator": found.regulator.name, "cure": cure},
                     {**sink, **bears, "beyond_K": figures.junction_C - spec.junction_max_C,
                      "junction_C": figures.junction_C, "dissipation_W": figures.dissipation_W or 0.0,
                      "limit_C": spec.junction_max_C})


def _cooled(figures: Figures) -> tuple[str, dict[str, float]]:
    """What cools a regulator that is too hot: a heat sink by its thermal resistance, rounded down to what it bears."""
    needs = figures.sink_K_per_W
    if needs is None:
        return "sink-not-known", {}
    if needs < LEAST_SINK_K_PER_W:
        return "no-sink", {}
    return "sink", {"sink_K_per_W": math.floor(needs * 10) / 10 if needs < 10 else float(math.floor(needs))}


def _light(found: Network, figures: Figures) -> Iterator[Reason]:
    """A load below the minimum lets the output rise: said as a note where the windows bear it."""
    least, output = found.spec.minimum_load_A, figures.output_max_V
    if least is None or figures.output_V is None or output is None or figures.least_A >= 0.999 * least:
        return
    if found.spec.between == "shunt" or figures.unset:
        return
    loads = tuple(load.name for load in found.loads)
    yield Reason(Severity.NOTE, "light", {
        "loads": loads, "without": "one" if len(loads) == 1 else "many" if loads else "none"},
        {"least_A": figures.least_A, "needs_A": least, "output_V": output})
