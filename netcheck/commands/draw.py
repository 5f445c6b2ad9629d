"""netcheck draw"""

from __future__ import annotations

import re
import sys
from pathlib import Path

import click

from netcheck.commands import shared


@click.command()
@shared.file_argument
@click.option("-o", "--output", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help="Write here: .svg or .png (default: a file named after the board; piped: SVG).")
@click.option("--state", metavar="STATE", help="The state to draw (default: the first).")
@click.option("--states", metavar="STATE,STATE", help="Draw these states side by side, every part in its place.")
@click.option("--duties", is_flag=True, help="Write beside each part what it does, in a word.")
@shared.mod_option
@click.option("--around", metavar="PART", help="In a big circuit, draw the part of it around this one.")
@shared.force_option
@shared.deadline_option
@shared.library_option
def command(
    file: Path, output: Path | None, state: str | None, states: str | None, duties: bool, mod: str | None,
    around: str | None, library: tuple[Path, ...],
) -> None:
    """Draw the circuit in a state: the higher a net stands, the higher its volts.

    Charge routes are marked with their current, and what a mod changes. Every
    state and variant of a file has its parts in the same places.

    \b
    Examples:
      netcheck draw examples/rack-sampler.yaml --mod "as found" -o as-found.svg
      netcheck draw examples/rack-sampler.yaml -o after.png
      netcheck draw examples/rack-sampler.yaml --states running,stored -o both.svg
    """
    from netcheck.api import check, explain
    from netcheck.commands.output import write
    from netcheck.reports import vocabulary
    from netcheck.reports.drawing import beside, draw, frame_of, picture_of, png, with_words
    from netcheck.reports.duties_section import word
    from netcheck.solving.scene import reference, scene

    if output is not None and output.suffix.lower() not in (".svg", ".png"):
        raise shared.Unusable(f"{output}: expected a name that ends in .svg or .png.")
    shared.warm_up()
    found = shared.load_fragment(file, library)
    fragment = shared.variant_of(found, mod)
    named = [shared.state_of(fragment, name.strip()) for name in states.split(",")] if states else [
        shared.state_of(fragment, state)]
    against = found if fragment.variant != found.variant else None
    places = reference(found)
    frame = None if around else frame_of(found, places.state, places.point, places.stood)
    try:
        scenes = [scene(fragment, one) for one in named]
        verdict = vocabulary.MARKS[check(found, fragment.variant).verdict]
        pictures = [picture_of(fragment, here.state, here.point, routes=here.routes, against=against, around=around,
                               frame=frame, verdict=verdict, corner=here.corner) for here in scenes]
        if duties:
            told = explain(fragment)
            pictures = [with_words(picture, {name: word(found) for name, found in told.items()})
                        for picture in pictures]
        drawn = beside([draw(picture) for picture in pictures])
    except (ValueError, RuntimeError) as error:
        raise shared.Unusable(str(error)) from error
    here = scenes[0]
    if output is None and not sys.stdout.isatty():
        shared.print_page(drawn)
        return
    click.echo(f"{vocabulary.variant_title(fragment.variant)}, state {here.state.name}.", err=True)
    output = output or Path(_named(file.stem, fragment.variant, here.state.name))
    if output.suffix.lower() == ".svg":
        write(output, drawn.encode())
    else:
        try:
            bitmap = png(drawn)
        except RuntimeError as error:
            raise shared.Unusable(str(error)) from error
        write(output, bitmap)


def _named(stem: str, variant: str, state: str) -> str:
    """A file name that says what is drawn.

    >>> _named("rack-sampler", "as found", "main on, JP1 internal")
    'rack-sampler-as-found-main-on-JP1-internal.svg'
    """
    return re.sub(r"[^\w.-]+", "-", f"{stem}-{variant}-{state}") + ".svg"
