"""netcheck start"""

from __future__ import annotations

from pathlib import Path

import click

from netcheck.commands import shared
from netcheck.commands.output import create
from netcheck.reading.mistakes import FragmentError
from netcheck.reading.starters import JOBS, starter


@click.command()
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--job", type=click.Choice(list(JOBS)), default="backup", show_default=True,
              help="; ".join(f"{job}: {about}" for job, about in JOBS.items()) + ".")
@click.option("--from", "deck", type=click.Path(path_type=Path), metavar="DECK",
              help="Take over a SPICE deck (what drawing programs export) in place of a starter.")
@shared.library_option
def command(file: Path | None, job: str, deck: Path | None, library: tuple[Path, ...]) -> None:
    """Write a commented fragment to start from; without FILE, print it.

    A file that exists is left as it is.

    \b
    Examples:
      netcheck start my-board.yaml --job regulator
      netcheck start my-board.yaml --from section.cir
    """
    text = starter(job) if deck is None else _taken_over(deck, library)
    if file is None:
        shared.print_text(text)
        return
    if file.exists():
        raise shared.Unusable(f"{file} exists already and is left as it is; give another name.")
    create(file, text.encode())
    shared.print_text(f"Wrote {file}. Put your own parts in it, then: netcheck check {file}")


def _taken_over(deck: Path, library: tuple[Path, ...]) -> str:
    from netcheck.parts.catalogue import Catalogue
    from netcheck.parts.library import LibraryError
    from netcheck.reading.deck_reader import NoDeck, read_deck
    from netcheck.reading.yaml_nodes import decode, read_regular

    shared.reads(deck)
    try:
        read = read_deck(decode(read_regular(deck), str(deck)), deck.name, Catalogue.standard(library))
    except (LibraryError, FragmentError) as error:
        raise shared.Unusable(str(error)) from error
    except NoDeck as error:
        raise shared.Unusable(f"{deck}: {error}") from error
    except OSError as error:
        raise shared.Unusable(f"{deck}: {error.strerror or error}") from error
    for one in read.left_out:
        click.echo(shared.harmless(f"{deck}:{one.line}: not taken over: {one.text} ({one.why})"), err=True)
    return read.text
