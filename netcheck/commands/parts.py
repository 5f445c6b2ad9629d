"""netcheck parts"""

from __future__ import annotations

from pathlib import Path

import click

from netcheck.commands import shared


@click.command()
@click.argument("words", nargs=-1, metavar="[WORD]...")
@click.option("--sources", is_flag=True,
              help="Count the figures: seen in their source, from memory, no source, derived.")
@click.option("--plot", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE.svg",
              help="Write a diode's points and the curve fitted to them as a picture.")
@shared.force_option
@shared.library_option
def command(words: tuple[str, ...], sources: bool, plot: Path | None, library: tuple[Path, ...]) -> None:
    """List what the library knows, or explain one entry with its sources.

    Everyday words do: glass diode, lithium, battery, barrel pack.

    \b
    Examples:
      netcheck parts
      netcheck parts glass diode
      netcheck parts BAT85 --plot bat85.svg
      netcheck parts --sources
    """
    from netcheck.commands.terminal import print_report, width
    from netcheck.parts.catalogue import Catalogue
    from netcheck.reports.parts_page import explain, listing, sources_text

    catalogue, word = Catalogue.standard(library), " ".join(words)
    if sources:
        print_report(sources_text(library, width()))
        return
    try:
        text = explain(catalogue, word, width()) if word else listing(catalogue, None, width())
    except KeyError:
        text = listing(catalogue, word, width())
    if not text.strip():
        raise shared.Unusable(f"No library entry is called {word!r} or is meant by it; "
                              "`netcheck parts` lists all of them.")
    print_report(text)
    if plot is not None:
        from netcheck.commands.output import write
        from netcheck.reports.diode_plot import fit_plot_svg

        try:
            svg = fit_plot_svg(catalogue.diode(word))
        except KeyError as error:
            raise shared.Unusable(f"--plot shows a diode's curve, and {word!r} is no diode of the library.") from error
        shared.reads(*(book for folder in library for book in folder.glob("*.yaml")))
        write(plot, svg.encode())
