"""The forward curve of a diode: published points, the law fitted to them, and where it runs on alone."""

from __future__ import annotations

from math import log10

from netcheck.parts import diode
from netcheck.parts.specs import DiodeSpec
from netcheck.quantities.values import engineering
from netcheck.reports.plot import Axis, Line, line_plot

LOWEST_A = 1e-7
HIGHEST_A = 0.1
_STEPS_A_DECADE = 10
_FULL, _DASHED, _DOTTED = 0, 1, 2


def fit_plot_svg(spec: DiodeSpec) -> str:
    """Forward volts against the logarithm of current at the points' temperature, as SVG text.

    Full line: the typical law where points are published; dashed: where it runs
    on alone; dotted: the most and the least. Raises UnknownDrop.
    """
    report = diode.fit_report(spec)
    celsius = report.law.temperature_C
    points = [row.point for row in report.forward
              if abs(row.point.temperature_C - celsius) < diode.OTHER_TEMPERATURE_K]
    last = max([HIGHEST_A, *(point.current_A for point in points)])
    alone = min(max(report.extrapolated_below_A, LOWEST_A), last)
    lines = [
        Line("typical law", _curve(spec, "typical", alone, last, celsius), dash=_FULL),
        Line("the same, beyond its points", _curve(spec, "typical", LOWEST_A, alone, celsius), dash=_DASHED),
        Line("most", _curve(spec, "maximum", LOWEST_A, last, celsius), dash=_DOTTED),
        Line("least", _curve(spec, "minimum", LOWEST_A, last, celsius), dash=_DOTTED),
    ]
    for limit, words in (("typical", "typical points" if report.typical_published else "derived points"),
                         ("maximum", "published most"), ("minimum", "published least"),
                         ("elsewhere", "typical, another maker")):
        lines.append(Line(words, [(p.current_A, p.volts_V) for p in points if p.limit == limit], marks=True))
    return line_plot(
        f"{spec.name}: forward drop at {celsius:g} °C",
        Axis("forward current", lambda amps: engineering(amps, "A"), log=True),
        Axis("forward volts, V", lambda volts: f"{volts:.2f}"),
        [line for line in lines if line.points],
    )


def _curve(spec: DiodeSpec, limit: str, low: float, high: float, celsius: float) -> list[tuple[float, float]]:
    if high <= low:
        return []
    count = max(2, round((log10(high) - log10(low)) * _STEPS_A_DECADE))
    currents = [low * (high / low) ** (step / count) for step in range(count + 1)]
    return [(amps, diode.drop(spec, amps, celsius, limit)) for amps in currents]
