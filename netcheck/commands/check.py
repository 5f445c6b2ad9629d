"""netcheck check"""

from __future__ import annotations

import sys
from pathlib import Path

import click

from netcheck.commands import shared


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE...")
@click.option("--mod", metavar="NAME", help="The mod to judge beside the circuit as found (default: the last one).")
@click.option("--all", "every", is_flag=True, help="Judge every mod of the file.")
@click.option("--temperature", metavar="RANGE", help='Inside the case, for example "0 to 60 °C".')
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@shared.library_option
def command(
    files: tuple[Path, ...], mod: str | None, every: bool, temperature: str | None, form: str,
    library: tuple[Path, ...],
) -> None:
    """Judge a fragment: the circuit as found and its mod, in every state.

    Exit status: 0 no danger and nothing unknown in the last variant, 1 danger
    or unknown there, 2 the file could not be used.

    \b
    Example:
      netcheck check examples/rack-sampler.yaml --mod coin-cell
    """
    from netcheck.api import check, variants

    shared.warm_up()
    span = shared.temperature_range(temperature)
    reports = []
    worst = 0
    for file in files:
        try:
            fragment = shared.load_fragment(file, library)
            if mod is not None:
                shared.variant_of(fragment, mod)
        except shared.Unusable as error:  # the other files are judged all the same
            error.show()
            worst = shared.UNUSABLE
            continue
        report = check(fragment, mod, every, span, shared.telling("Checking"))
        worst = max(worst, 0 if report.safe else shared.DANGER)
        if form == "json":
            reports.append(report.to_dict())
        else:
            from netcheck.reports.text import report_text

            shared.print_text(("\n" if file is not files[0] else "")
                              + report_text(report, variants(fragment, mod, every)))
    if form == "json" and reports:
        shared.print_json(reports[0] if len(files) == 1 else reports)
    sys.exit(worst)
