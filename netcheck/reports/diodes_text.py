"""The comparison of diodes as text and as plots."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence

from netcheck.checks.life import in_years
from netcheck.diodes.comparison import Question, over_years
from netcheck.diodes.protection import Protection
from netcheck.diodes.results import Comparison, Option
from netcheck.diodes.tolerance_study import CAPACITY_SPREAD, VOLTAGE_SPREAD, Study
from netcheck.fragment.written import step_lines
from netcheck.parts import diode
from netcheck.parts.specs import DiodeSpec
from netcheck.quantities.values import engineering
from netcheck.reports.plot import Axis, Line, line_plot

WIDTH = 80
_SHOWN = 14
_PLOT_REVERSE_V = 3.0


def comparison_text(found: Comparison, every: bool = False) -> str:
    """The options as a table of 80 columns, best first, with the reasons below it."""
    lines = [f"Diodes for {found.load}, backed up by {found.cell}", ""]
    lines += textwrap.wrap(found.summary, WIDTH)
    lines += ["", *_table(_shown(found, every)), ""]
    lines += textwrap.wrap(
        "Volts at the load, on the cell: fresh and old (90 % used) at room temperature; lowest: old, cold and at "
        "the worst of the tolerances. Leak in: into the cell while the rail is live, hot, typical. Out: from the "
        "cell into the dead rail, hot, typical. * marks what is fitted now.", WIDTH)
    lines += ["", "Why"]
    for option in _shown(found, every):
        lines += textwrap.wrap(f"{option.rank:>3}  {_names(option)}: {option.verdict}; {option.why}.", WIDTH,
                               subsequent_indent="     ")
    rest = len(found.options) - len(_shown(found, every))
    if rest > 0:
        lines += ["", f"{rest} more options are left out here; --every shows them."]
    return "\n".join(lines) + "\n"


def _shown(found: Comparison, every: bool) -> list[Option]:
    """The best, what is fitted now, and the best of each verdict and family, in rank order."""
    if every:
        return list(found.options)
    kept = {option.rank: option for option in found.options[: _SHOWN // 2]}
    for option in found.options:
        if option.present:
            kept[option.rank] = option
    seen: set[tuple[str, str]] = set()
    for option in found.options:
        if (option.verdict, option.family) not in seen and len(kept) < _SHOWN:
            seen.add((option.verdict, option.family))
            kept[option.rank] = option
    return [kept[rank] for rank in sorted(kept)]


def _names(option: Option) -> str:
    return ", ".join(f"{place} {name}" for place, name in option.at.items())


def _table(options: Sequence[Option]) -> list[str]:
    head = f"{'':>3} {'diodes':<29} {'fresh':>6} {'old':>6} {'lowest':>6} {'leak in':>7} {'out':>7} {'life':>9}"
    rows = [head, "-" * len(head)]
    for option in options:
        backup = option.backup_V
        name = ("*" if option.present else " ") + _names(option)
        rows.append(
            f"{option.rank:>3} {name:<29.29} {_v(backup['fresh'])} {_v(backup['old'])} {_v(backup['lowest'])} "
            f"{_a(option.leakage_in_A['typical'])} {_a(option.leakage_out_A['typical'])} "
            f"{'-' if option.life_years is None else in_years(option.life_years):>9}")
    return rows


def _v(volts: float | None) -> str:
    return f"{'-' if volts is None else f'{volts:.2f} V':>6}"


def _a(amps: float | None) -> str:
    return f"{'-' if amps is None else engineering(amps, 'A', 2):>7}"


def study_text(found: Study) -> str:
    """The tolerance study in words."""
    lines = [f"Tolerances at play: {found.samples} samples (seed {found.seed})"]
    if found.failed:
        lines.append(f"  {found.failed} more could not be solved and are left out")
    lines.append(f"  {'':<24}{'5 %':>10}{'half':>10}{'95 %':>10}")
    for age, volts in found.volts.items():
        lines.append(f"  {f'volts at the load, {age}':<24}" + "".join(f"{engineering(v, 'V'):>10}" for v in volts))
    lines.append(f"  {'life':<24}" + "".join(f"{in_years(years):>10}" for years in found.life_years))
    lines += textwrap.wrap(
        f"Resistors over their tolerance, diodes between typical and maximum, loads likewise, temperature over "
        f"its range, cell ±{CAPACITY_SPREAD:.0%} of capacity and ±{VOLTAGE_SPREAD:.0%} of volts (common practice, "
        "no source).", WIDTH, initial_indent="  ", subsequent_indent="  ")
    return "\n".join(lines) + "\n"


def protection_text(found: Protection) -> str:
    """The two ways to make a single diode safe, each as a mod."""
    lines = ["Should the one blocking diode fail short"]
    lines += textwrap.wrap(found.words, WIDTH, initial_indent="  ", subsequent_indent="  ")
    for title, steps in found.mods:
        lines.append(f"  {title}")
        lines.append("    steps:")
        lines += [f"      - {line}" for step in steps for line in step_lines(step)]
    return "\n".join(lines) + "\n"


def plots(asked: Question, found: Comparison, specs: Mapping[str, DiodeSpec]) -> dict[str, str]:
    """SVG pictures by name: backup volts over the years for best, present and worst; leakage against temperature."""
    return {"backup": years_plot(asked, found, specs), "leakage": leakage_plot(found, specs, asked)}


def _three(found: Comparison) -> list[tuple[str, Option]]:
    best, worst = found.options[0], found.options[-1]
    now = next((option for option in found.options if option.present), None)
    named = [("best", best), ("now", now), ("worst", worst)]
    kept: dict[int, tuple[str, Option]] = {}
    for word, option in named:
        if option is not None:
            before = kept.get(option.rank)
            kept[option.rank] = (f"{before[0]} and {word}" if before else word, option)
    return list(kept.values())


def years_plot(asked: Question, found: Comparison, specs: Mapping[str, DiodeSpec]) -> str:
    """Backup volts at the load over the cell's years."""
    from netcheck.checks.voltage import needs

    lines = [Line(f"{word}: {_names(option)}", over_years(asked, option, specs)) for word, option in _three(found)]
    span = needs(asked.load)
    level = None if span is None else (span.low, f"{asked.load.name} needs {engineering(span.low, 'V')}")
    return line_plot(f"{asked.load.name} on the cell, year by year", Axis("years without power"),
                     Axis("volts at the load, V", lambda v: f"{v:.2f}"), lines, level)


def leakage_plot(found: Comparison, specs: Mapping[str, DiodeSpec], asked: Question) -> str:
    """Typical reverse leakage against temperature, at 3 V, of the diodes in the best, present and worst options."""
    names = dict.fromkeys(name for _, option in _three(found) for name in option.at.values())
    lines = []
    for name in names:
        points = []
        for celsius in range(0, 81, 5):
            leak = diode.leakage(specs[name], _PLOT_REVERSE_V, float(celsius))
            points.append((float(celsius), leak or 0.0))
        lines.append(Line(name, points))
    return line_plot(f"Reverse leakage at {_PLOT_REVERSE_V:g} V, typical", Axis("temperature, °C"),
                     Axis("leakage", lambda amps: engineering(amps, "A", 2), log=True), lines)
