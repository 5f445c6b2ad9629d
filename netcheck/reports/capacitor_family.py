"""A family of capacitors in words and figures, for `netcheck parts`."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from netcheck.parts.capacitor import Family
from netcheck.parts.specs import Figure
from netcheck.quantities.values import engineering

_LABELS: dict[str, tuple[str, Callable[[Family], str]]] = {
    # what a figure is of (see the library's file): how it is called, and how it is shown
    "use": ("volts for lasting use", lambda one: f"{engineering(one.use, '%')} of the rating"),
    "use stiff": ("… on a stiff feed", lambda one: f"{engineering(one.use_stiff, '%')} of the rating"),
    "stiff below": ("… one with less in series than", lambda one: f"{one.stiff_below_ohm_per_V:g} Ω a volt"),
    "leakage": ("leakage, at most", lambda one: f"{one.leakage_per_s:g}/s · C · V"),
    "leakage least": ("… but no less than", lambda one: engineering(one.leakage_least_A, "A")),
    "leakage typical": ("… usually", lambda one: f"{engineering(one.leakage_typical, '%')} of that"),
    "leakage doubling": ("… doubles with each", lambda one: f"{one.leakage_doubling_K:g} K"),
    "life": ("life, where none is printed", lambda one: engineering(one.wear.hours, "h") if one.wear else "-"),
    "life at": ("… at", lambda one: f"{one.wear.at_C:g} °C" if one.wear else "-"),
    "life factor": ("… times this for each step down", lambda one: f"{one.wear.factor:g}" if one.wear else "-"),
    "life step": ("… of", lambda one: f"{one.wear.step_K:g} K" if one.wear else "-"),
    "life most": ("… but at most", lambda one: engineering(one.wear.most_years, "year") if one.wear else "-"),
    "ends capacitance": ("worn out: capacitance below", lambda one: engineering(one.ends_capacitance, "%")),
    "ends esr": ("worn out: series resistance above", lambda one: f"{one.ends_esr:g} times"),
    "esr cold": ("series resistance at -40 °C", lambda one: f"{one.esr_cold:g} times"),
    "temperature least": ("over its temperatures, down by", lambda one: engineering(one.temperature_least, "%")),
    "temperature most": ("over its temperatures, up by", lambda one: engineering(one.temperature_most, "%")),
}


def rows(family: Family, mark: Callable[[Figure], str]) -> Iterator[tuple[str, str, str]]:
    """Label, value and the mark of the source, a row each."""
    for figure in family.figures:
        if figure.of in _LABELS:
            label, shown = _LABELS[figure.of]
            yield label, shown(family), mark(figure)
    for limit in family.reverse:
        yield (f"backwards at {limit.temperature_C:g} °C, a short while",
               f"{engineering(limit.share, '%')} of the rating, at most {engineering(limit.most_V, 'V')}",
               mark(limit.figure))
    for point in family.esr:
        ripple = f", ripple {engineering(point.ripple_A, 'A')}" if point.ripple_A is not None else ""
        yield (f"series resistance, {engineering(point.farad, 'F')} {engineering(point.rated_V, 'V')}",
               f"{engineering(point.least_ohm, 'ohm')} to {engineering(point.most_ohm, 'ohm')}{ripple}",
               mark(point.figure))
    for body in family.esl:
        yield (f"series inductance, {body.body}",
               f"{engineering(body.least_H, 'H')} to {engineering(body.most_H, 'H')}", mark(body.figure))
    for kept in family.bias:
        yield (f"left of {engineering(kept.farad, 'F')} in {kept.size} at {engineering(kept.volts_V, 'V')}",
               engineering(kept.left, "%"), mark(kept.figure))
