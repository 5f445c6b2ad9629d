"""What speaks against a setting: its volts at the loads, dropout, current limit, heat, input volts."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from netcheck.findings import Severity
from netcheck.fragment.model import Part
from netcheck.parts.specs import LoadSpec
from netcheck.quantities.values import engineering
from netcheck.supply.network import Network
from netcheck.supply.results import Reason

LEAST_SINK_K_PER_W = 0.5
"""Below this a heat sink is larger than a board bears, without a fan (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Volts:
    """Volts of a load in one setting: nominal, the lowest and highest over all tolerances, and those without it."""

    nominal_V: float | None
    low_V: float | None
    high_V: float | None
    open_V: float | None


@dataclass(frozen=True, slots=True)
class Window:
    """What a load works in and what it survives; None where not stated. Without the last the upper end counts."""

    low_V: float | None
    high_V: float | None
    survives_V: float | None

    @classmethod
    def of(cls, load: Part) -> Window:
        assert isinstance(load.spec, LoadSpec)
        span = load.works or load.spec.works
        low, high = (None, None) if span is None else (span.low, span.high)
        return cls(low, high, high if load.survives_V is None else load.survives_V)

    def harmed(self, volts: float | None) -> bool:
        """Whether these volts are beyond what the load survives."""
        return volts is not None and self.survives_V is not None and volts > self.survives_V


@dataclass(frozen=True, kw_only=True)
class Figures:
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
        yield Reason(Severity.UNKNOWN, "Its volts could not all be worked out "
                     f"({figures.problem or 'the output floats'}).")
    for name, volts in figures.loads.items():
        yield from _window(name, _counted(volts, figures), windows[name])
    yield from _dropout(found, figures)
    yield from _limit(found, figures)
    yield from _heat(found, figures)
    yield from _light(found, figures)


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
    if window.survives_V is not None and nominal > window.survives_V:
        yield Reason(Severity.DANGER, f"{name} gets {_volts(nominal)} and survives {_volts(window.survives_V)}.")
    elif high is not None and window.survives_V is not None and high > window.survives_V:
        yield Reason(Severity.CAUTION, f"With the worst parts {name} gets up to {_volts(high)} and survives "
                     f"{_volts(window.survives_V)}.")
    elif window.high_V is not None and nominal > window.high_V:
        yield Reason(Severity.CAUTION, f"{name} gets {_volts(nominal)}, above the {_volts(window.high_V)} it is made "
                     "for.")
    elif window.high_V is not None and high is not None and high > window.high_V:
        yield Reason(Severity.CAUTION, f"With the worst parts {name} gets up to {_volts(high)}, above the "
                     f"{_volts(window.high_V)} it is made for.")
    if window.low_V is not None and nominal < window.low_V:
        yield Reason(Severity.FAILS, f"{name} gets {_volts(nominal)} and needs {_volts(window.low_V)}.")
    elif window.low_V is not None and low is not None and low < window.low_V:
        yield Reason(Severity.CAUTION, f"With the worst parts {name} is left with {_volts(low)} and needs "
                     f"{_volts(window.low_V)}.")


def _dropout(found: Network, figures: Figures) -> Iterator[Reason]:
    if figures.unset:
        yield Reason(Severity.FAILS, f"Nothing sets the output: it goes as far as the input lets it, up to "
                     f"{_volts(figures.output_max_V or 0.0)}.")
    elif figures.headroom_V is not None and figures.headroom_V < 0 and figures.asked_V is not None:
        short = f"it lacks {_volts(-figures.headroom_V)} of headroom at the lowest input and highest load"
        nominal = figures.output_V is not None and abs(figures.output_V - figures.asked_V) > 0.01 * abs(figures.asked_V)
        if nominal:
            yield Reason(Severity.FAILS, f"In dropout: {_volts(figures.asked_V)} are asked for and "
                         f"{_volts(figures.output_V or 0.0)} come out; {short}.")
        else:
            yield Reason(Severity.CAUTION, f"It may drop out: {short}.")


def _limit(found: Network, figures: Figures) -> Iterator[Reason]:
    limit = found.spec.limit_A
    if limit is None or figures.passed_A is None or figures.passed_A <= limit:
        return
    beside = max(0.0, figures.passed_A - (figures.load_A or 0.0))
    always = figures.usual_A >= limit * 0.999
    yield Reason(Severity.FAILS if always else Severity.CAUTION,
                 f"Past its limit: {_amps(figures.passed_A)} are drawn at most, {_amps(figures.passed_A - limit)} more "
                 f"than the {_amps(limit)} that every specimen gives; it holds to a load of "
                 f"{_amps(max(0.0, limit - beside))}.")


def _heat(found: Network, figures: Figures) -> Iterator[Reason]:
    spec = found.spec
    if figures.across_V is not None and spec.input_max_V is not None and figures.across_V > spec.input_max_V:
        yield Reason(Severity.DANGER, f"{_volts(figures.across_V)} stand across {found.regulator.name}, which stands "
                     f"{_volts(spec.input_max_V)}.")
    if figures.dissipation_W is not None and spec.power_max_W is not None \
            and figures.dissipation_W > spec.power_max_W:
        yield Reason(Severity.FAILS, f"{engineering(figures.dissipation_W, 'W')} of heat, and "
                     f"{found.regulator.name} may turn {engineering(spec.power_max_W, 'W')} into heat at most.")
    if figures.junction_C is None or spec.junction_max_C is None:
        if figures.dissipation_W is not None:
            what = "its highest junction temperature" if spec.junction_max_C is None else "a thermal resistance"
            yield Reason(Severity.UNKNOWN, f"How hot {found.regulator.name} gets with "
                         f"{engineering(figures.dissipation_W, 'W')} is not known: {what} is missing.")
    elif figures.junction_C > spec.junction_max_C:
        usual = figures.usual_junction_C is not None and figures.usual_junction_C > spec.junction_max_C
        limit = "" if figures.junction_limit_A is None else \
            f"; it bears a load of {_amps(figures.junction_limit_A)}"
        yield Reason(Severity.FAILS if usual else Severity.CAUTION,
                     f"Too hot by {figures.junction_C - spec.junction_max_C:.0f} K: {figures.junction_C:.0f} °C at the "
                     f"junction with {engineering(figures.dissipation_W or 0.0, 'W')}, where "
                     f"{spec.junction_max_C:.0f} °C are its limit{limit}.", _cooled(found, figures))


def _cooled(found: Network, figures: Figures) -> str:
    """What cools a regulator that is too hot: a heat sink by its thermal resistance, rounded down to what it bears."""
    name, needs = found.regulator.name, figures.sink_K_per_W
    if needs is None:
        return (f"Lower its load or the volts across it, or give {name} a heat sink; its entry lacks "
                "theta_junction_case, so which one is not known.")
    if needs < LEAST_SINK_K_PER_W:
        return f"No heat sink of a usual size is enough: lower the load of {name} or the volts across it."
    ohm = math.floor(needs * 10) / 10 if needs < 10 else math.floor(needs)
    return f"Give {name} a heat sink of {ohm:g} K/W or less, mounting included (heatsink: {ohm:g} K/W)."


def _light(found: Network, figures: Figures) -> Iterator[Reason]:
    """A load below the minimum lets the output rise: said as a note where the windows bear it."""
    least, output = found.spec.minimum_load_A, figures.output_max_V
    if least is None or figures.output_V is None or output is None or figures.least_A >= 0.999 * least:
        return
    if found.spec.between == "shunt" or figures.unset:
        return
    fed = " and ".join(load.name for load in found.loads)
    out = f"with {fed} out of its socket" if len(found.loads) == 1 else f"with {fed} out" if fed else "then"
    yield Reason(Severity.NOTE, f"With no load its resistors draw {_amps(figures.least_A)}, less than the "
                 f"{_amps(least)} that every specimen needs: the output may rise to {_volts(output)} {out}.")


def _volts(volts: float) -> str:
    return engineering(volts, "V")


def _amps(amps: float) -> str:
    return engineering(amps, "A", 2)
