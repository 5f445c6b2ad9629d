"""The comparison of diodes as text, and its two plots."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import log10

from netcheck.diodes.comparison import Question, over_years
from netcheck.diodes.protection import Protection
from netcheck.diodes.results import Comparison, Option
from netcheck.diodes.tolerance_study import CAPACITY_SPREAD, VOLTAGE_SPREAD, Study
from netcheck.fragment.model import Fragment
from netcheck.fragment.written import mod_text
from netcheck.parts.specs import DiodeSpec
from netcheck.quantities import digits
from netcheck.quantities.values import engineering
from netcheck.reports import vocabulary
from netcheck.reports.blocks import Block, Bullets, Heading, Pasted, Table, Words
from netcheck.reports.choice_plot import choice_plot
from netcheck.reports.plot import Axis, Line, line_plot
from netcheck.reports.screen import WIDTH, block_lines
from netcheck.wording.lists import listed

_SHOWN = 10
_LEAST_A = 1e-12
Alike = tuple[Option, tuple[str, ...]]
"""An option, and the types that do as it does in the first place."""


def comparison_text(
    found: Comparison, variant: str, width: int = WIDTH, *, every: bool = False, safe: Protection | None = None
) -> str:
    """The options as a table, best first, with the reasons below it; types that do alike on one line.

    safe: what one failed diode does to the cell, where a single one decides it: no type cures that, so the answer
    is no better than a caution where the cell may not take it.
    """
    return "\n".join(block_lines(_comparison(found, variant, every, safe), width)) + "\n"


def _comparison(found: Comparison, variant: str, every: bool, safe: Protection | None) -> Iterator[Block]:
    best = found.options[0]
    harmed = safe is not None and safe.fault_A > safe.allowed_A
    verdict = "caution" if harmed and best.verdict == "ok" else best.verdict
    told = f"{_places(best)}: {best.why}" if best.verdict in _USABLE else f"none of these types will do: {best.why}"
    fails = (f" Whichever it is, one that fails short lets {digits.amps(safe.fault_A)} into {found.cell}, which may "
             f"take {digits.amps(safe.allowed_A)}: see below.") if harmed and safe is not None else ""
    yield Words(f"{vocabulary.MARKS[verdict]}, {vocabulary.variant(variant)}, diodes for {found.load}, backed up "
                f"by {found.cell}: {told}.{fails}")
    yield Words("")
    rows = [(option, (_types(option),)) for option in found.options] if every else _shown(alike(found.options))
    yield Table(("", "fresh", "old", "lowest", "leaks in", "out", "lasts", ""),
                tuple(_row(option, types, every) for option, types in rows))
    yield Words("")
    yield Words(
        "Volts at the load, on the cell: fresh and old (90 % used) at room temperature; lowest: old, cold and at the "
        "worst of the tolerances. Leaks in: into the cell while the rail is live; out: from the cell into the dead "
        "rail; both hot and typical. *: fitted now. Lasts: with typical figures"
        f"{_least(found)}. The verdict is of volts and leakage alone: what else speaks against the board, "
        "netcheck check says.")
    yield Words("")
    yield Bullets(tuple(f"{listed(types) if not every else _types(option)}: {option.why}" for option, types in rows))
    left = len(alike(found.options)) - len(rows)
    if left > 0 and not every:
        yield Words(f"{vocabulary.counted(left, 'more type')}, and other pairs: --every.")


def _least(found: Comparison) -> str:
    """How long the cell lasts at the makers' maximum figures: with what is fitted now, else with the best."""
    told = next((one for one in (*(one for one in found.options if one.present), found.options[0])
                 if one.life_least_years is not None), None)
    if told is None or told.life_years is None:
        return ""
    return (f"; with the makers' maximum ones as the least, {_places(told)} gives "
            f"{digits.durations(told.life_least_years, told.life_years)}")


_USABLE = ("ok", "caution")


def alike(options: Sequence[Option]) -> list[Alike]:
    """The best option of each type in the first place, those that print the same as one, in rank order."""
    best: dict[str, Option] = {}
    for option in options:
        best.setdefault(_first(option), option)
    now = next((option for option in options if option.present), None)
    if now is not None:
        best[_first(now)] = now
    same: dict[tuple[object, ...], list[Option]] = {}
    for option in sorted(best.values(), key=lambda one: one.rank):
        key = (option.verdict, option.suits, option.present, *_rough(option))
        same.setdefault(key, []).append(option)
    return [(group[0], tuple(_first(option) for option in group)) for group in same.values()]


def _rough(option: Option) -> tuple[object, ...]:
    """What makes two options the same to a person: volts to 50 mV, leakage to a third of a decade."""
    leak, old = option.leakage_in_A["typical"], option.backup_V["old"]
    return (None if old is None else round(20 * old),
            None if leak is None else round(3 * log10(max(leak, _LEAST_A))))


def _shown(rows: Sequence[Alike]) -> list[Alike]:
    """The best, what is fitted now, and the best of each verdict and family."""
    kept = set(range(min(len(rows), _SHOWN // 2)))
    seen: set[tuple[str, str]] = set()
    for number, (option, _) in enumerate(rows):
        if option.present or ((option.verdict, option.family) not in seen and len(kept) < _SHOWN):
            kept.add(number)
        seen.add((option.verdict, option.family))
    return [rows[number] for number in sorted(kept)]


def _first(option: Option) -> str:
    """The type in the first place: the diode in the cell's way."""
    return next(iter(option.at.values()))


def _types(option: Option) -> str:
    return ", ".join(f"{name} at {place}" for place, name in option.at.items())


def _places(option: Option) -> str:
    return listed([f"{name} at {place}" for place, name in option.at.items()])


def _row(option: Option, types: Sequence[str], every: bool) -> tuple[str, ...]:
    backup = option.backup_V
    lasts = "-" if option.life_years is None else digits.duration(option.life_years)
    name = ", ".join(types) if not every else _types(option)
    return (("* " if option.present else "") + name, *(_volts(backup[age]) for age in ("fresh", "old", "lowest")),
            _amps(option.leakage_in_A["typical"]), _amps(option.leakage_out_A["typical"]), lasts,
            vocabulary.MARKS[option.verdict])


def _volts(volts: float | None) -> str:
    return "-" if volts is None else f"{volts:.2f} V"


def _amps(amps: float | None) -> str:
    return "-" if amps is None else digits.amps(amps, 2)


def study_text(found: Study, width: int = WIDTH) -> str:
    """The tolerance study in words."""
    rows = [(f"volts at the load, {age}", *map(digits.volts, volts)) for age, volts in found.volts.items()]
    rows.append(("lasts", *map(digits.duration, found.life_years)))
    failed = [Words(f"{found.failed} more could not be solved and are left out.")] if found.failed else []
    return "\n".join(block_lines([
        Heading(f"Tolerances at play: {found.samples} samples (seed {found.seed})"), *failed,
        Table(("", "5 %", "half", "95 %"), tuple(rows)),
        Words("Resistors over their tolerance, diodes between typical and maximum, loads likewise, temperature over "
              f"its range, cell ±{digits.share(CAPACITY_SPREAD)} of capacity and ±{digits.share(VOLTAGE_SPREAD)} of "
              "volts (common practice, no source)."),
    ], width)) + "\n"


def protection_text(found: Protection, fragment: Fragment, width: int = WIDTH) -> str:
    """The ways to make a single diode safe, each as a mod to paste."""
    mods = [Pasted(vocabulary.sentence(title), mod_text(title.replace(" ", "-").replace("-a-", "-"), steps, fragment))
            for title, steps in found.mods]
    return "\n".join(block_lines(
        [Heading("Should the one blocking diode fail short"), Words(found.words), *mods], width)) + "\n"


def plots(asked: Question, found: Comparison, specs: Mapping[str, DiodeSpec]) -> dict[str, str]:
    """SVG pictures by name, as far as there is something to draw: every type as a dot; the best over the years."""
    made = {"choice": choice_plot(asked, alike(found.options)), "backup": years_plot(asked, found, specs)}
    return {name: svg for name, svg in made.items() if svg}


def _told(found: Comparison) -> list[tuple[str, Option]]:
    """The best, where there is one that will do, and what is fitted now."""
    best, now = found.options[0], next((option for option in found.options if option.present), None)
    named = {id(best): ("best", best)} if best.verdict in _USABLE else {}
    if now is not None:
        word = "best, and fitted now" if id(now) in named else "now"
        named[id(now)] = (word, now)
    return list(named.values()) or [("first", best)]


def years_plot(asked: Question, found: Comparison, specs: Mapping[str, DiodeSpec]) -> str:
    """Backup volts at the load over the cell's years; each curve ends where the cell does. Empty without a curve."""
    from netcheck.checks.voltage import needs

    lines = [Line(f"{word}: {_types(option)}", points) for word, option in _told(found)
             if (points := over_years(asked, option, specs))]
    if not lines:
        return ""
    span = needs(asked.load)
    level = None if span is None else (span.low, f"{asked.load.name} needs {engineering(span.low, 'V')}")
    return line_plot(f"{asked.load.name} on the cell, year by year", Axis("years without power"),
                     Axis("volts at the load, V", lambda v: f"{v:.2f}"), lines, level)
