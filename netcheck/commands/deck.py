"""netcheck deck"""

from __future__ import annotations

from pathlib import Path

import click

from netcheck.commands import shared


@click.command()
@shared.file_argument
@click.option("--state", metavar="STATE", help="The state to write (default: the first).")
@shared.mod_option
@shared.deadline_option
@shared.library_option
def command(file: Path, state: str | None, mod: str | None, library: tuple[Path, ...]) -> None:
    """Print the very simulator deck that the nominal figures of a state come from.

    \b
    Example:
      netcheck deck examples/rack-sampler.yaml --state stored > stored.cir
      ngspice -b stored.cir
    """
    from netcheck.reports import vocabulary
    from netcheck.simulation.assemble import circuit_of
    from netcheck.simulation.deck import deck
    from netcheck.solving.solved_states import Corners

    fragment = shared.variant_of(shared.load_fragment(file, library), mod)
    here = shared.state_of(fragment, state)
    circuit = circuit_of(fragment, here, Corners.of(fragment).room)
    title, _, rest = deck(circuit, annotate=True).text.partition("\n")
    shared.print_text(f"{title}: {vocabulary.variant(fragment.variant)}, state {here.name}\n{rest}")
