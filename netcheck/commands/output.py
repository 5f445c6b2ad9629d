"""Files that commands write."""

from __future__ import annotations

import os
from pathlib import Path

import click

from netcheck.commands.shared import Unusable


def write(path: Path, data: bytes) -> None:
    """Write a file and say so on the error stream. Raises Unusable where it cannot be written."""
    try:
        path.write_bytes(data)
    except OSError as error:
        raise Unusable(f"{path}: {error.strerror or error}") from error
    click.echo(f"Written: {path}", err=True)


def way(start: Path, folder: Path) -> str:
    """The way from one folder to another, as a link has it; empty where they are the same."""
    found = Path(os.path.relpath(folder, start)).as_posix()
    return "" if found == "." else found
