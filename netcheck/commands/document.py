"""netcheck document"""

from __future__ import annotations

from pathlib import Path

import click

from netcheck.commands import shared


@click.command()
@shared.file_argument
@click.option("-o", "--output", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help="Write here (default: standard output).")
@click.option("--mod", metavar="NAME", help="The mod to write up (default: the last one; 'as found' for none).")
@click.option("--format", "form", type=click.Choice(["html", "markdown"]), default="html", show_default=True)
@click.option("--diodes/--no-diodes", default=True, show_default=True, help="Compare diodes, with plots.")
@click.option("--temperature", metavar="RANGE", help='Inside the case, for example "0 to 60 °C".')
@shared.force_option
@shared.library_option
def command(
    file: Path, output: Path | None, mod: str | None, form: str, diodes: bool, temperature: str | None,
    library: tuple[Path, ...],
) -> None:
    """Write the whole job up: drawings, findings, steps, parts, probe sheet.

    HTML is one page that needs no network. Markdown written with -o has its
    drawings beside it, as FILE-1.svg and so on.

    \b
    Examples:
      netcheck document examples/rack-sampler.yaml -o sampler.html
      netcheck document examples/rack-sampler.yaml --format markdown -o sampler.md
    """
    from netcheck.api import at_temperature
    from netcheck.commands.output import way, write
    from netcheck.reports.document import document
    from netcheck.writeup import gather

    shared.warm_up()
    fragment = at_temperature(shared.load_fragment(file, library), shared.temperature_range(temperature))
    shared.variant_of(fragment, mod)
    folders = [*library, *shared.beside(file)]
    done = document(gather(fragment, mod, folders, compare_diodes=diodes and form == "html"))
    for photo in done.photos:
        if photo.problem:
            click.echo(f"{photo.file} could not be shown: {photo.problem}", err=True)
    if form == "html":
        from netcheck.reports.page import page

        text = page(done)
    else:
        from netcheck.reports.markdown import markdown

        names = [] if output is None else [f"{output.stem}-{n}.svg" for n in range(1, len(done.drawings) + 1)]
        text = markdown(done, names, "" if output is None else way(output.parent, file.parent))
        for name, drawing in zip(names, done.drawings, strict=False):
            assert output is not None
            write(output.with_name(name), drawing.svg.encode())
    if output is None:
        shared.print_text(text)
    else:
        write(output, text.encode())
