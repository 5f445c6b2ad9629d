"""netcheck settings"""

from __future__ import annotations

from pathlib import Path

import click

from netcheck.commands import shared


@click.command()
@shared.file_argument
@click.option("--of", "names", multiple=True, metavar="U5", help="Only this regulator. May be repeated.")
@shared.mod_option
@click.option("--temperature", metavar="RANGE", help='Inside the case, for example "0 to 60 °C".')
@click.option("-o", "--output", "picture", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE.svg",
              help="Draw the settings as dots with whiskers, the loads' windows as bands.")
@click.option("--format", "form", type=click.Choice(["text", "json", "csv"]), default="text", show_default=True)
@shared.deadline_option
@shared.library_option
def command(
    file: Path, names: tuple[str, ...], mod: str | None, temperature: str | None, picture: Path | None, form: str,
    library: tuple[Path, ...],
) -> None:
    """Show every setting of a regulator: each way its links can be put.

    For each the output with its worst case, what it is good for, the heat, and
    what a forgotten link or a failed part would do. Exit status: 0 ok or
    caution, 1 danger, unknown or fails in some setting, 2 the file could not
    be used.

    \b
    Example:
      netcheck settings examples/coprocessor-card.yaml -o settings.svg
    """
    shared.warm_up()
    import sys

    from netcheck.api import at_temperature, settings_of

    if picture is not None and picture.suffix.lower() != ".svg":
        raise shared.Unusable(f"{picture}: a picture of settings is written as SVG; give it a name that ends in .svg.")
    fragment = at_temperature(shared.load_fragment(file, library), shared.temperature_range(temperature))
    fragment = shared.variant_of(fragment, mod)
    regulators = shared.regulators_of(file, fragment, names)
    found = settings_of(fragment, [part.name for part in regulators], shared.progress("operating points"))
    data = {name: one.to_dict() for name, one in found.items()}
    if form == "json":
        shared.print_json({"format": "netcheck-settings/1", "file": fragment.file, "variant": fragment.variant,
                           "regulators": data})
    elif form == "csv":
        from netcheck.reports.settings_text import settings_csv

        shared.print_text(settings_csv(data))
    else:
        from netcheck.commands.terminal import width
        from netcheck.reports.settings_text import settings_text

        shared.print_text("\n".join(settings_text(name, one, fragment, width()) for name, one in data.items()))
    if picture is not None:
        from netcheck.commands.output import write
        from netcheck.reports.settings_plot import settings_plot

        for place, (name, one) in enumerate(data.items()):
            path = picture if place == 0 else picture.with_name(f"{picture.stem}-{name}.svg")
            try:
                write(path, settings_plot(name, one, fragment).encode())
            except ValueError as error:
                raise shared.Unusable(f"{name}: {error}") from error
    sys.exit(0 if all(one.verdict in ("ok", "caution") for one in found.values()) else shared.DANGER)
