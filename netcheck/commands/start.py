"""netcheck start"""

from __future__ import annotations

from pathlib import Path

import click

from netcheck.commands import shared
from netcheck.commands.output import create
from netcheck.reading.starters import JOBS, starter


@click.command()
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--job", type=click.Choice(list(JOBS)), default="backup", show_default=True,
              help="; ".join(f"{job}: {about}" for job, about in JOBS.items()) + ".")
def command(file: Path | None, job: str) -> None:
    """Write a commented fragment to start from; without FILE, print it.

    A file that exists is left as it is.

    \b
    Example:
      netcheck start my-board.yaml --job regulator
    """
    text = starter(job)
    if file is None:
        shared.print_text(text)
        return
    if file.exists():
        raise shared.Unusable(f"{file} exists already and is left as it is; give another name.")
    create(file, text.encode())
    shared.print_text(f"Wrote {file}. Put your own parts in it, then: netcheck check {file}")
