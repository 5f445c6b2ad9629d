"""Reports on a terminal: its width, its colour, and a pager for what is longer than the screen."""

from __future__ import annotations

import os
import shutil
import sys

import click

from netcheck.clock import doing
from netcheck.commands.shared import harmless
from netcheck.reports.screen import NARROWEST, WIDEST, WIDTH, coloured


def width() -> int:
    """Columns of the terminal (or of COLUMNS), within what can be read; 80 where there is none."""
    return min(max(shutil.get_terminal_size((WIDTH, 24)).columns, NARROWEST), WIDEST)


def wants_colour() -> bool:
    """Whether the output goes to a terminal that has colour, and nobody asked for none (https://no-color.org)."""
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def print_report(text: str) -> None:
    """Print a report: in colour where the terminal has it, through a pager where it is longer than the screen."""
    doing("")
    text = harmless(text.rstrip("\n"))
    if wants_colour():
        text = coloured(text)
    if sys.stdout.isatty() and text.count("\n") + 2 > shutil.get_terminal_size().lines:
        os.environ.setdefault("LESS", "FRX")
        click.echo_via_pager(text + "\n", color=wants_colour())
    else:
        click.echo(text, sys.stdout, color=wants_colour())  # click's own choice is UTF-8 where it is ASCII
