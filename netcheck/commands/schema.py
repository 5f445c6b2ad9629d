"""netcheck schema"""

from __future__ import annotations

from pathlib import Path

import click

from netcheck.commands import shared


@click.command()
@shared.library_option
def command(library: tuple[Path, ...]) -> None:
    """Print a JSON Schema of the fragment format, for completion in an editor.

    \b
    Save it beside the fragment file, and begin that file with the line
      # yaml-language-server: $schema=fragment.schema.json

    \b
    Example:
      netcheck schema > fragment.schema.json
    """
    from netcheck.parts.catalogue import Catalogue
    from netcheck.parts.library import LibraryError
    from netcheck.reading.schema.document import schema

    try:
        shared.print_json(schema(Catalogue.standard(library)))
    except LibraryError as error:
        raise shared.Unusable(str(error)) from error
