"""netcheck check"""

from __future__ import annotations

import sys
from pathlib import Path

import click

from netcheck.commands import shared


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE...")
@click.option("--mod", metavar="NAME", help="The mod to judge beside the circuit as found; 'as found' for none. "
              "(default: the last mod of the file)")
@click.option("--all", "every", is_flag=True, help="Judge every mod of the file.")
@click.option("--full", is_flag=True, help="Every figure, source and assumption.")
@click.option("--temperature", metavar="RANGE", help='Inside the case, for example "0 to 60 °C".')
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@shared.library_option
def command(
    files: tuple[Path, ...], mod: str | None, every: bool, full: bool, temperature: str | None, form: str,
    library: tuple[Path, ...],
) -> None:
    """Judge a fragment: the circuit as found and its mod, in every state.

    The first line is the answer: on the mod asked for, else the last mod of
    the file, else the circuit as found. Several files get a line each, the
    worst last.

    Exit status: 0 ok or caution, 1 danger, unknown or fails, 2 the file could
    not be used.

    \b
    Examples:
      netcheck check examples/rack-sampler.yaml
      netcheck check examples/rack-sampler.yaml --mod plain-swap --full
      netcheck check examples/*.yaml
    """
    from netcheck.api import check, variants

    shared.warm_up()
    span = shared.temperature_range(temperature)
    done = []
    worst = 0
    for file in files:
        try:
            fragment = shared.load_fragment(file, library)
            shared.variant_of(fragment, mod)
        except shared.Unusable as error:  # the other files are judged all the same
            error.show()
            worst = shared.UNUSABLE
            continue
        report = check(fragment, mod, every, span, shared.telling("Checking"))
        worst = max(worst, 0 if report.safe else shared.DANGER)
        done.append((report, variants(fragment, mod, every)))
    if form == "json" and done:
        told = [report.to_dict() for report, _ in done]
        shared.print_json(told[0] if len(files) == 1 else told)
    elif done:
        from netcheck.commands.terminal import print_report, width
        from netcheck.reports.text import report_text, reports_text

        print_report(report_text(*done[0], width(), full=full) if len(files) == 1
                     else reports_text(done, len(files) - len(done), width(), full=full))
    sys.exit(worst)
