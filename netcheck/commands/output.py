"""Files that commands write: whole or not at all, and never over what a person made."""

from __future__ import annotations

import os
import re
import stat
import sys
import tempfile
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

import click

from netcheck.commands.ending import UNWRITTEN
from netcheck.commands.shared import FORCE, INPUTS, Unusable, harmless

_OWN = re.compile(
    rb'data-made-by="netcheck"|name="generator" content="netcheck"|<!-- netcheck wrote this -->'
    rb'|Software\0netcheck|"format": "netcheck-|\Astep,section,mod,state')
_LOOKED_AT = 4096


def write(path: Path, data: bytes) -> None:
    """Write a file whole or not at all, and say so on the error stream.

    A file that netcheck wrote is replaced; another's only with --force, or where the person at the terminal says
    so; what this command reads, never. Raises Unusable where it is not written for its name, OSError where there is no
    room for it.
    """
    create(path, data)
    click.echo(f"Written: {shown(path)}", err=True)


def create(path: Path, data: bytes) -> None:
    """As `write`, without a word."""
    try:
        _refuse_inputs(path)
        if _special(path):
            path.write_bytes(data)
            return
        if path.exists() and not (FORCE in _meta() or _ours(path) or _agreed(path)):
            raise Unusable(f"{shown(path)} exists, and netcheck did not write it: it is left as it is. "
                           "Give another name, or --force to replace it.")
        _replace(path, data)
    except BrokenPipeError:
        raise
    except OSError as error:
        if error.errno in UNWRITTEN:
            raise OSError(error.errno, error.strerror, shown(path)) from error
        raise Unusable(f"{shown(path)}: {error.strerror or error}") from error


def shown(path: Path) -> str:
    """A path on one line, as it may stand on a terminal."""
    return harmless(str(path)).replace("\x1b", "?").replace("\n", "?")


def way(start: Path, folder: Path) -> str:
    """The way from one folder to another, as a link has it; empty where they are the same."""
    found = Path(os.path.relpath(folder, start)).as_posix()
    return "" if found == "." else found


def _meta() -> dict[str, object]:
    context = click.get_current_context(silent=True)
    return {} if context is None else context.find_root().meta


def _refuse_inputs(path: Path) -> None:
    inputs = _meta().get(INPUTS, ())
    assert isinstance(inputs, Iterable)
    for read in inputs:
        with suppress(FileNotFoundError):
            if os.path.samefile(path, read):
                raise Unusable(f"{shown(path)} is a file that this command reads: it is never written over. "
                               "Give another name.")


def _special(path: Path) -> bool:
    """A device, a pipe: /dev/stdout is written to, not replaced."""
    try:
        return not stat.S_ISREG(path.stat().st_mode)
    except FileNotFoundError:
        return False


def _ours(path: Path) -> bool:
    with open(path, "rb") as file:
        seen = file.read(_LOOKED_AT)
        file.seek(-min(_LOOKED_AT, path.stat().st_size), os.SEEK_END)
        seen += file.read()
    return not seen or bool(_OWN.search(seen))


def _agreed(path: Path) -> bool:
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        return False
    return click.confirm(f"{shown(path)} exists, and netcheck did not write it. Replace it?", err=True)


def _replace(path: Path, data: bytes) -> None:
    """Written beside, then renamed: whoever looks sees the old file or the new one. A link keeps pointing there."""
    there = Path(os.path.realpath(path))
    mode = stat.S_IMODE(there.stat().st_mode) if there.exists() else 0o666 & ~_umask()
    handle, beside = tempfile.mkstemp(prefix=f".{there.name[:40]}-", dir=there.parent)
    try:
        with open(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(beside, mode)
        os.replace(beside, there)
    except BaseException:
        with suppress(OSError):
            os.unlink(beside)
        raise


def _umask() -> int:
    mask = os.umask(0o022)
    os.umask(mask)
    return mask
