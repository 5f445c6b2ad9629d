"""netcheck parts"""

from __future__ import annotations

from pathlib import Path

import click

from netcheck.commands import shared


@click.command()
@click.argument("word", required=False)
@shared.library_option
def command(word: str | None, library: tuple[Path, ...]) -> None:
    """List what the library knows, or explain one entry with its sources.

    \b
    Examples:
      netcheck parts
      netcheck parts BAT85
    """
    from netcheck.parts.catalogue import Catalogue
    from netcheck.reports.parts_page import explain, listing

    catalogue = Catalogue.standard(library)
    try:
        text = listing(catalogue, word) if word is None else explain(catalogue, word)
    except KeyError:
        text = listing(catalogue, word)
    if not text.strip():
        raise shared.Unusable(f"No library entry is called {word!r} or contains it; "
                              "`netcheck parts` lists all of them.")
    shared.print_text(text)
