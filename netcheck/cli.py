"""The command line: a group whose commands live in `netcheck.commands`, each loaded only when called."""

from __future__ import annotations

import gc
import os
import sys
from importlib import import_module
from typing import Any, NoReturn

import click

COMMANDS = {
    "check": "Judge a fragment: the circuit as found and its mod.",
    "start": "Write a commented fragment to start from.",
    "explain": "Say what each part of the section does.",
    "bench": "Print the probe sheet, and judge the readings taken from it.",
    "diodes": "Compare diodes for a place: volts left against leakage.",
    "settings": "Show every setting of a regulator: volts, heat, slips.",
    "choose": "Choose resistors and links for the outputs you want.",
    "caps": "Capacitors: what each is for, what may take its place, what to buy.",
    "impedance": "Impedance of a net against frequency, before and after a mod.",
    "draw": "Draw the circuit in a state, charge routes marked, as SVG or PNG.",
    "document": "Write the whole job up as one page, or as Markdown.",
    "changes": "Say what changed between two variants or two files.",
    "parts": "List what the library knows, or explain one entry.",
    "deck": "Print the simulator deck that a state's figures come from.",
    "schema": "Print a schema of the fragment format for your editor.",
}
"""Every command with the line that `--help` shows for it, in the order a person meets them."""


class _Commands(click.Group):
    """Commands by name, imported when called, so that `--help` stays fast."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = import_module(f"netcheck.commands.{cmd_name}").command
        return command

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; an entry of the library that cannot be used ends any of them with its file and line."""
        from netcheck.commands.shared import DANGER, out_of_time, saying

        try:
            with saying():
                result = super().invoke(ctx)
            if out_of_time():
                ctx.exit(DANGER)
            return result
        except SystemExit as ended:
            if ended.code in (None, 0, DANGER) and out_of_time():
                ended.code = DANGER
            raise
        except Exception as error:
            if type(error).__name__ != "LibraryError":  # by name, as its module is slow to load
                raise
            from netcheck.commands.shared import Unusable

            raise Unusable(str(error)) from error

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError:
            from difflib import get_close_matches

            near = get_close_matches(args[0], COMMANDS, 1, 0.5)
            likely = f" Did you mean {near[0]!r}?" if near else ""
            ctx.fail(f"There is no command {args[0]!r}.{likely} There are: {', '.join(COMMANDS)}.")


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80})
@click.version_option(package_name="netcheck-fragments", prog_name="netcheck")
def main() -> None:
    """Check a traced circuit fragment: where current can go, what the volts will
    be, what is dangerous and what cures it.

    \b
    Example:
      netcheck check examples/rack-sampler.yaml
    """


_COLLECTED_AFTER = (100_000, 20, 100)
"""Objects made before Python looks for circles among them: a command makes many that stay, and hardly a circle."""


def run() -> NoReturn:
    """The program: the command line, with an exit status for each way of ending (`commands.ending`)."""
    from netcheck.commands.ending import guarded

    gc.set_threshold(*_COLLECTED_AFTER)
    status = guarded(_command)
    gc.freeze()  # else Python looks through all of it once more on its way out
    sys.exit(status)


def _command() -> None:
    if "_NETCHECK_COMPLETE" in os.environ:  # a shell asks how a line may go on: click answers
        main(prog_name="netcheck")
    with main.make_context("netcheck", sys.argv[1:]) as context:  # main() would give a broken pipe the status 1
        main.invoke(context)
