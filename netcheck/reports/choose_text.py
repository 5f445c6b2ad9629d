"""Chosen resistors as text: the values, every setting they give, and the mod to paste."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from netcheck.quantities.values import engineering
from netcheck.reports import vocabulary
from netcheck.reports.screen import WIDTH, folded
from netcheck.reports.settings_text import volts
from netcheck.supply.choose import Choice, Choices, made_of


def choices_text(found: Choices, width: int = WIDTH) -> str:
    """The choices as a table, best first, then the best one's settings and its mod."""
    wanted = ", ".join(engineering(one, "V") for one in found.wanted)
    lines = [*folded(f"Resistors for {found.of}, outputs wanted: {wanted}", width), ""]
    if not found.choices:
        lines += folded(f"Nothing was found: {found.stands_in_the_way}", width)
        if found.nearest is not None:
            lines += ["", *folded("The nearest, which is not safe:", width), *_table([found.nearest]), "",
                      *_settings(found.nearest, found.wanted), *_why(found.nearest, width)]
        return "\n".join(lines).rstrip() + "\n"
    if found.stands_in_the_way:
        lines += [*folded(f"Not all that is wanted fits: {found.stands_in_the_way}", width), ""]
    lines += [*_table(found.choices), ""]
    lines += folded("Off: the farthest that a wanted output is missed; worst case: with the worst parts, reference, "
                    "input, temperature and load. Each was simulated on the whole fragment, with every link out and "
                    "in every other combination.", width)
    if not found.complete:
        lines += folded("Not every combination was tried, they are too many: values that alone move the output by less "
                        "than 0.2 % or out of reach were left out. --keep leaves fewer.", width)
    best = found.choices[0]
    lines += ["", "The best one, setting by setting", *_settings(best, found.wanted), *_why(best, width), "",
              *folded(f"{_warned(best)} below mods:", width),
              *(f"  {line}" for line in best.entry.splitlines())]
    return "\n".join(lines).rstrip() + "\n"


def _table(choices: Sequence[Choice]) -> Iterator[str]:
    names = list(choices[0].ohms)
    rows = [["", *names, "off", "worst case", "values", "verdict"]]
    for rank, one in enumerate(choices, 1):
        rows.append([str(rank), *(_value(one, name) for name in names), f"{one.error * 100:.2f} %",
                     f"{one.worst_case * 100:.1f} %", str(one.different), vocabulary.MARKS[one.verdict]])
    yield from _grid(rows)
    pairs = {made_of(value): engineering(value.ohm, "ohm") for one in choices for value in one.ohms.values()
             if value.how != "one"}
    for made, ohm in pairs.items():
        yield f"+ {ohm}: {made}"


def _value(one: Choice, name: str) -> str:
    value = one.ohms[name]
    return engineering(value.ohm, "ohm") + ("" if value.how == "one" else "+")


def _settings(one: Choice, wanted: Sequence[float]) -> Iterator[str]:
    links = list(one.settings[0].positions)
    told: Mapping[float | None, float] = {
        min((setting.output_V for setting in one.settings if setting.output_V is not None),
            key=lambda volt: abs(abs(volt) - want)): want for want in wanted}
    rows = [[*links, "output", "worst case", "wanted", "verdict"]]
    for setting in one.settings:
        low, high = setting.output_min_V, setting.output_max_V
        rows.append([*(_drawn(setting.positions[link]) for link in links), volts(setting.output_V),
                     "-" if low is None or high is None else f"{low:.2f} to {high:.2f}",
                     engineering(told[setting.output_V], "V") if setting.output_V in told else "",
                     vocabulary.MARKS[setting.verdict]])
    yield from _grid(rows)


def _why(one: Choice, width: int) -> Iterator[str]:
    """What speaks against each setting that is not ok."""
    told = [(setting, setting.why) for setting in one.settings if setting.verdict != "ok" and setting.why]
    if told:
        yield from ("", "Why")
    for setting, why in told:
        yield from folded(f"- {volts(setting.output_V)}, {vocabulary.MARKS[setting.verdict]}: {why}", width, "  ")


def _warned(best: Choice) -> str:
    """How a choice is offered; of one that is not ok its verdict comes before it."""
    if best.verdict in ("ok", "note"):
        return "To paste"
    return f"{vocabulary.MARKS[best.verdict]}, for what is said above. To paste all the same"


def _drawn(position: str) -> str:
    return {"open": "o o", "closed": "o=o"}.get(position, position)


def _grid(rows: Sequence[Sequence[str]]) -> Iterator[str]:
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    for row in rows:
        yield "  ".join(cell.ljust(size) for cell, size in zip(row, widths, strict=True)).rstrip()
