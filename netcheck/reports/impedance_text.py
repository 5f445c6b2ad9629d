"""The impedance of a net as a table and as a picture."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from netcheck.capacitors.impedance import Curve
from netcheck.quantities.values import engineering
from netcheck.quantities.words import in_ranges, natural
from netcheck.reports.plot import Axis, Line, Note, line_plot
from netcheck.reports.screen import folded
from netcheck.reports.vocabulary import variant_title
from netcheck.wording.lists import listed

_KINDS: Mapping[str, str] = {"series": "series resonance (least)", "parallel": "parallel resonance (most)"}
_LEAST_SHARE = 0.05
_MOST_SHARES = 3


def impedance_text(net: str, curves: Sequence[Curve], target_ohm: float | None, width: int = 80) -> str:
    """The table: |Z| at each decade, the resonances with their parts, who carries most, where a target is missed."""
    title = f"Impedance of {net} to ground"
    lines = [title, "=" * len(title), ""]
    names = [variant_title(one.variant) for one in curves]
    room = max(12, *(len(name) for name in names)) + 2
    lines.append("  " + f"{'at':>10}" + "".join(f"{name:>{room}}" for name in names) + "   carried by")
    for hertz in _decades(curves[0]):
        shown = "".join(f"{engineering(one.at(hertz), 'ohm'):>{room}}" for one in curves)
        lines += folded(f"  {engineering(hertz, 'Hz'):>10}{shown}   {shares_words(curves[-1], hertz)}", width,
                        " " * (15 + room * len(curves)))
    for one, name in zip(curves, names, strict=True):
        lines += ["", f"{name}: resonances"]
        for found in one.resonances:
            lines += folded(f"  {engineering(found.hertz, 'Hz'):>10}  {engineering(found.ohms, 'ohm'):>9}  "
                            f"{_KINDS[found.kind]}: {parts_words(found.parts, found.kind)}", width, " " * 25)
        if not one.resonances:
            lines.append("  none in this range")
        if one.assumed:
            lines += folded(f"  Without the series resistance and inductance of {listed(list(one.assumed))}: type not "
                            "known.", width, "  ")
        if target_ohm is not None:
            lines += folded(f"  {target_words(one, target_ohm)}", width, "  ")
    lines += ["", *folded("What feeds the net is left out: at low frequencies its regulation holds the net. Ceramics "
                          "count with what is left of them at their volts.", width)]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _decades(curve: Curve) -> Iterator[float]:
    low, high = curve.hertz[0], curve.hertz[-1]
    for power in range(math.ceil(math.log10(low) - 1e-9), math.floor(math.log10(high) + 1e-9) + 1):
        yield min(max(10.0**power, low), high)


def shares_words(curve: Curve, hertz: float) -> str:
    """The parts that carry most of a current into the net at a frequency: "C3, C4 35 % each, C10 12 %"."""
    shares = sorted(curve.shares(hertz).items(), key=lambda pair: -pair[1])
    groups: list[tuple[float, list[str]]] = []
    for name, share in shares:
        if groups and math.isclose(groups[-1][0], share, rel_tol=1e-6):
            groups[-1][1].append(name)
        elif share >= _LEAST_SHARE:
            groups.append((share, [name]))
    said = [f"{in_ranges(natural(names))} {share:.0%}{' each' if len(names) > 1 else ''}"
            for share, names in groups[:_MOST_SHARES]]
    return ", ".join(said)


def parts_words(parts: Sequence[str], kind: str) -> str:
    said = in_ranges(natural(parts))
    return said if kind == "series" or len(parts) < 2 else f"{said} against each other"


def target_words(curve: Curve, target_ohm: float) -> str:
    """Where a curve is above a target."""
    above = curve.above(target_ohm)
    if not above:
        return f"Nowhere above {engineering(target_ohm, 'ohm')}."
    ranges = [f"from {engineering(low, 'Hz')} to {engineering(high, 'Hz')}" for low, high in above]
    return f"Above {engineering(target_ohm, 'ohm')} {listed(ranges)}."


def impedance_svg(net: str, curves: Sequence[Curve], target_ohm: float | None) -> str:
    """|Z| against frequency, both logarithmic, a curve a variant, its resonances marked and named."""
    lines = [Line(variant_title(one.variant), list(zip(one.hertz, one.ohms, strict=True))) for one in curves]
    notes = [Note(found.hertz, found.ohms, in_ranges(natural(found.parts)), number, below=found.kind == "series")
             for number, one in enumerate(curves) for found in one.resonances]
    level = None if target_ohm is None else (target_ohm, f"target {engineering(target_ohm, 'ohm')}")
    return line_plot(f"Impedance of {net} to ground", Axis("frequency", lambda hertz: engineering(hertz, "Hz"), True),
                     Axis("impedance", lambda ohm: engineering(ohm, "ohm"), True), lines, level, notes)
