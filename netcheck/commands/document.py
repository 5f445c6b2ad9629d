"""netcheck document"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from netcheck.commands import shared

if TYPE_CHECKING:
    from netcheck.reports.document import Document


@click.command()
@shared.file_argument
@click.option("-o", "--output", type=click.Path(path_type=Path), metavar="FILE|DIR",
              help="Write here (default: standard output).")
@shared.mod_option
@click.option("--format", "form", type=click.Choice(["html", "markdown"]), default="html", show_default=True)
@click.option("--diodes/--no-diodes", default=True, show_default=True, help="Compare diodes, with plots.")
@click.option("--temperature", metavar="RANGE", help='Inside the case, for example "0 to 60 °C".')
@shared.force_option
@shared.deadline_option
@shared.library_option
def command(
    file: Path, output: Path | None, mod: str | None, form: str, diodes: bool, temperature: str | None,
    library: tuple[Path, ...],
) -> None:
    """Write the whole job up: drawings, findings, steps, parts, probe sheet.

    HTML is one page that needs no network. Markdown has its drawings beside it:
    as PNG in a folder (-o DIR/), as SVG beside a file (-o FILE.md).

    \b
    Examples:
      netcheck document examples/rack-sampler.yaml -o sampler.html
      netcheck document examples/rack-sampler.yaml --format markdown -o sampler/
    """
    shared.warm_up()
    from netcheck.api import at_temperature
    from netcheck.commands.output import write
    from netcheck.reports.document import document
    from netcheck.writeup import gather

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
        if output is None:
            shared.print_page(text)
        else:
            write(output / f"{file.stem}.html" if output.is_dir() else output, text.encode())
    else:
        _markdown(done, file, output)


def _markdown(done: Document, file: Path, output: Path | None) -> None:
    """Markdown with its drawings beside it: PNG in a folder, as wikis and forums take them; SVG beside a file."""
    from netcheck.commands.output import way, write
    from netcheck.reports.markdown import markdown

    if output is None:
        shared.print_text(markdown(done))
        return
    folder = output.suffix == "" or output.is_dir()
    target = output / f"{file.stem}.md" if folder else output
    try:
        target.parent.mkdir(parents=folder, exist_ok=True)
    except OSError as error:
        raise shared.Unusable(f"{target.parent}: {error.strerror or error}") from error
    pictures = [_bitmap(one.svg) if folder else one.svg.encode() for one in done.drawings]
    names = [f"{target.stem}-{number}.{'png' if folder else 'svg'}" for number in range(1, len(pictures) + 1)]
    for name, data in zip(names, pictures, strict=True):
        write(target.with_name(name), data)
    write(target, markdown(done, names, way(target.parent, file.parent)).encode())


def _bitmap(svg: str) -> bytes:
    from netcheck.reports.drawing import png

    try:
        return png(svg)
    except RuntimeError as error:
        raise shared.Unusable(str(error)) from error
