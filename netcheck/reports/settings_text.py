"""A regulator's settings as a table: its links as they look from above, volts, heat, what each setting is good for."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from typing import Any

from netcheck.fragment.model import Fragment
from netcheck.quantities.values import engineering
from netcheck.reports import vocabulary
from netcheck.reports.blocks import Block, Bullets, Heading, Table, Words
from netcheck.reports.links import from_above
from netcheck.reports.screen import WIDTH, block_lines, folded
from netcheck.wording.lists import listed

Regulator = Mapping[str, Any]
"""A regulator's settings as the JSON holds them."""

HEADS = ("output", "worst case", "good for", "watts", "junction", "verdict")


_SHORT = 0.01
"""The share of what is asked for by which an output in dropout falls short of it."""


def settings_text(name: str, regulator: Regulator, fragment: Fragment, width: int = WIDTH) -> str:
    """One regulator: its settings lowest first, why each is judged so, what a slip or a failed part would do."""
    rows = list(grid(regulator, fragment))
    if max(map(len, rows)) > width:  # the columns that have no room follow below
        rows = list(block_lines([table(regulator, fragment)], width))
    lines = [*folded(heading(name, regulator), width), "", *rows, ""]
    for block in below(regulator, fragment):
        lines += [*block_lines([block], width)]
    return "\n".join(lines).rstrip() + "\n"


def heading(name: str, regulator: Regulator) -> str:
    count = len(regulator["settings"])
    links = f" by {listed(regulator['links'])}" if regulator["links"] else ""
    return (f"{name} ({regulator['kind']}) makes {regulator['output']}, {vocabulary.counted(count, 'setting')}{links}; "
            f"cooled by {regulator['cooling']}")


def grid(regulator: Regulator, fragment: Fragment) -> Iterator[str]:
    """The table, its columns as narrow as they go."""
    links = list(regulator["links"])
    rows = [[*links, *HEADS], *(row(setting, regulator, fragment) for setting in regulator["settings"])]
    widths = [max(len(line[column]) for line in rows) for column in range(len(rows[0]))]
    right = {len(links), len(links) + 3, len(links) + 4}
    for line in rows:
        cells = (cell.rjust(size) if column in right else cell.ljust(size)
                 for column, (cell, size) in enumerate(zip(line, widths, strict=True)))
        yield "  ".join(cells).rstrip()


def row(setting: Mapping[str, Any], regulator: Regulator, fragment: Fragment) -> list[str]:
    """One setting: its links, then the columns of HEADS; * where the links stand so now."""
    drawn = [from_above(fragment.parts[name], setting["positions"][name]) for name in regulator["links"]]
    star = "*" if setting["as_set"] and regulator["links"] else ""
    return [*drawn, volts(setting["output_V"]) + star, spread(setting), good_for(setting, regulator),
            _or_dash(setting["dissipation_W"], "W", 2), _celsius(setting["junction_C"]),
            vocabulary.MARKS[setting["verdict"]] + (", in dropout" if drops_out(setting) else "")]


def volts(value: float | None) -> str:
    """Volts to 10 mV, as a meter shows a supply.

    >>> volts(3.3), volts(-12.0), volts(None)
    ('3.30 V', '-12.00 V', '-')
    """
    return "-" if value is None else f"{value:.2f} V"


def spread(setting: Mapping[str, Any]) -> str:
    low, high = worst_case(setting)
    return "-" if low is None or high is None else f"{low:.2f} to {high:.2f}"


def worst_case(setting: Mapping[str, Any]) -> tuple[float | None, float | None]:
    """The lowest and highest output [V] with the loads in place; without any, or where nothing sets it, of all."""
    if setting["loaded_V"] is None or setting["asked_V"] is None:
        return setting["output_min_V"], setting["output_max_V"]
    low, high = setting["loaded_V"]
    return low, high


def drops_out(setting: Mapping[str, Any]) -> bool:
    """Whether, with everything as usual, the output falls short of what the resistors ask for."""
    asked_V, output_V = setting["asked_V"], setting["output_V"]
    return bool(setting["in_dropout"]) and asked_V is not None and output_V is not None \
        and abs(output_V - asked_V) > _SHORT * abs(asked_V)


def good_for(setting: Mapping[str, Any], regulator: Regulator) -> str:
    """The loads that work in a setting, worst case included; else those that work with usual parts, in brackets."""
    found = []
    for name, window in regulator["windows_V"].items():
        least, most, nominal = window["works_from"], window["works_to"], setting["loads_V"].get(name)
        most = float("inf") if most is None else most  # a load that works above so many volts
        if least is None or nominal is None or not least <= nominal <= most:
            continue
        low, high = setting["loads_span_V"].get(name, (None, None))
        always = low is not None and high is not None and least <= low and high <= most
        found.append(name if always else f"({name})")
    return " ".join(found) or "-"


def below(regulator: Regulator, fragment: Fragment) -> Iterator[Block]:
    """What belongs to the table: reasons, slips, failures, and how to read it."""
    told = [f"{put(setting, regulator)}: {setting['why']}" for setting in regulator["settings"] if setting["why"]]
    if told:
        yield Heading("Why")
        yield Bullets(tuple(told))
    slips = [slip(mistake) for mistake in regulator["mistakes"]]
    if slips:
        yield Heading("Slips that harm")
        yield Bullets(tuple(dict.fromkeys(slips)))
        if any(mistake["what"] in ("forgotten", "turned round") for mistake in regulator["mistakes"]):
            yield Words("Never move a link with the power on: on its way it passes through such a setting.")
    failures = list(failed(regulator))
    if failures:
        yield Heading("One failure away from harm")
        yield Bullets(tuple(failures))
    for said in regulator["readings"]:
        yield Heading("Readings")
        yield Words(said)
    yield Words(_legend(regulator, fragment))


def put(setting: Mapping[str, Any], regulator: Regulator) -> str:
    words = ", ".join(f"{name} {position}" for name, position in setting["positions"].items())
    return f"{volts(setting['output_V'])}, {words}" if words else volts(setting["output_V"])


def slip(mistake: Mapping[str, Any]) -> str:
    start = ", ".join(f"{name} {position}" for name, position in mistake["from"].items())
    what = {"forgotten": f"{mistake['link']} forgotten", "put as well": f"{mistake['link']} put as well",
            "turned round": f"{mistake['link']} turned round"}.get(mistake["what"],
                                                                 f"{mistake['link']} {mistake['what']}")
    return f"{what} (from {start}): {volts(mistake['output_V'])}, beyond what {listed(mistake['hurts'])} can stand."


def failed(regulator: Regulator) -> Iterator[str]:
    """Each failure that harms a load in a setting that is used, with the highest volts it leads to."""
    for fault in regulator["failures"]:
        yield (f"{fault['part']} {fault['as']}: up to {volts(fault['output_V'])}, beyond what "
               f"{listed(fault['hurts'])} can stand.")


def _legend(regulator: Regulator, fragment: Fragment) -> str:
    load = "load from least to most, in its place" if regulator["windows_V"] else "load from none to most"
    words = [f"Worst case: over reference, resistors, adjust current, input, temperature and {load}. "
             "Watts and junction: highest input, highest load, hottest case."]
    if regulator["links"]:
        words.append("Links as seen from above: o a pin, = the cap; * as they stand now.")
    if any(drops_out(setting) for setting in regulator["settings"]):
        words.append("In dropout: the input is too low for what the links ask for; with a higher one the output rises "
                     "to it.")
    if any("(" in good_for(setting, regulator) for setting in regulator["settings"]):
        words.append("A load in brackets works with usual parts, not with the worst.")
    if regulator["untried"]:
        words.append(f"{regulator['untried']} more combinations were not tried.")
    return " ".join(words)


def _or_dash(value: float | None, unit: str, digits: int = 3) -> str:
    return "-" if value is None else engineering(value, unit, digits)


def _celsius(value: float | None) -> str:
    return "-" if value is None else f"{value:.0f} °C"


def table(regulator: Regulator, fragment: Fragment) -> Table:
    """The settings as a block of a report."""
    rows = tuple(("  ".join([*cells[:len(regulator["links"])]]) or "as it is", *cells[len(regulator["links"]):])
                 for cells in (row(setting, regulator, fragment) for setting in regulator["settings"]))
    return Table(("  ".join(regulator["links"]), *HEADS), rows)


_COLUMNS = ("output_V", "output_min_V", "output_max_V", "asked_V", "empty_V", "headroom_V", "in_dropout", "load_A",
            "dissipation_W", "junction_C", "junction_limit_A", "verdict", "why")


def settings_csv(regulators: Mapping[str, Regulator]) -> str:
    """One line a setting, for a spreadsheet; a column a link."""
    links = list(dict.fromkeys(name for one in regulators.values() for name in one["links"]))
    written = io.StringIO()
    out = csv.writer(written, lineterminator="\n")
    out.writerow(["of", *links, *_COLUMNS])
    for name, one in regulators.items():
        for setting in one["settings"]:
            out.writerow([name, *(setting["positions"].get(link, "") for link in links),
                          *("" if setting[key] is None else setting[key] for key in _COLUMNS)])
    return written.getvalue()

