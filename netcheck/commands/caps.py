"""netcheck caps"""

from __future__ import annotations

import sys
from pathlib import Path

import click

from netcheck.commands import shared


@click.command()
@shared.file_argument
@shared.mod_option
@click.option("--format", "form", type=click.Choice(["text", "json", "csv", "md"]), default="text", show_default=True)
@shared.deadline_option
@shared.library_option
def command(file: Path, mod: str | None, form: str, library: tuple[Path, ...]) -> None:
    """Capacitors: what each is for, what may take its place, what a mod does.

    Grouped by what they are for, equal ones on one line: as found, the volts
    that they see, what may stand there, what the mod puts there and what to
    watch; then the parts to buy. Works on a whole board's list, too
    (scope: list at the top of the file).

    Exit status: 0 ok or caution, 1 danger, unknown or fails among the
    capacitors, 2 the file could not be used.

    \b
    Examples:
      netcheck caps examples/sound-card.yaml
      netcheck caps examples/sound-card.yaml --mod polymer-everywhere --format csv
    """
    shared.warm_up()
    from netcheck.api import check
    from netcheck.capacitors.table import table
    from netcheck.reports.caps_text import caps_csv, caps_markdown, caps_text

    fragment = shared.load_fragment(file, library)
    variant = shared.variant_of(fragment, mod)
    report = check(fragment, variant.variant)
    first, last = report.variants[0], report.variants[-1]
    if not (first.capacitors or last.capacitors):
        raise shared.Unusable(f"{file}: there is no capacitor in it; write one under parts: as "
                              "C1: {capacitor: 100u, type: wet, rated: 16 V, plus: +5V, minus: GND}.")
    found = table(fragment, variant, first.capacitors, last.capacitors, last.verdict)
    match form:
        case "json":
            shared.print_json({**found.to_dict(), "capacitors": dict(last.capacitors)})
        case "csv":
            shared.print_text(caps_csv(found))
        case "md":
            shared.print_text(caps_markdown(found))
        case _:
            from netcheck.commands.terminal import print_report, width

            print_report(caps_text(found, width()))
    sys.exit(shared.DANGER if any(line.verdict in ("danger", "unknown", "fails") for line in found.lines) else 0)
