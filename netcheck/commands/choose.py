"""netcheck choose"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from netcheck.commands import shared

if TYPE_CHECKING:
    from netcheck.supply.drawer import Value


@click.command()
@shared.file_argument
@click.option("--of", "name", metavar="U5", help="The regulator (default: the only one there is).")
@click.option("--outputs", metavar="VOLTS", help='The outputs wanted: "3.3 V, 3.45 V, 3.6 V".')
@click.option("--from", "lowest", metavar="VOLTS", help="The lowest output wanted, with --to.")
@click.option("--to", "highest", metavar="VOLTS", help="The highest; one output a setting, in equal steps.")
@click.option("--links", type=click.IntRange(0, 6), default=0, show_default=True, metavar="N",
              help="Links to add, each with a resistor.")
@click.option("--series", default="E24", show_default=True, metavar="E24|E96|FILE",
              help="The values there are; FILE is a drawer: a value a line, and how many there are of it.")
@click.option("--keep", metavar="R1,…", help="Resistors that stay as they are.")
@click.option("--change", metavar="R3,…", help="Only these (and the added ones) are chosen.")
@click.option("--pairs", is_flag=True, help="Two alike, in parallel or in series, count as a value.")
@click.option("--lowest-with", type=click.Choice(["all", "none"]), default="none", show_default=True,
              help="Whether the lowest output has all added links closed, or none.")
@shared.mod_option
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@shared.deadline_option
@shared.library_option
def command(
    file: Path, name: str | None, outputs: str | None, lowest: str | None, highest: str | None, links: int,
    series: str, keep: str | None, change: str | None, pairs: bool, lowest_with: str, mod: str | None, form: str,
    library: tuple[Path, ...],
) -> None:
    """Choose resistors that give the outputs you want, by trying every value.

    N links give 2^N settings. Safe with every link out and in every other
    combination, proved by simulating the whole fragment; printed as a mod to
    paste. Exit status: 0 found, 1 nothing safe found, 2 the input could not be
    used.

    \b
    Example:
      netcheck choose examples/coprocessor-card.yaml --mod "as found" \\
        --outputs "3.3 V, 3.45 V, 3.6 V" --keep R12,R13
    """
    shared.warm_up()
    from netcheck.supply.choose import NoChoice, choose, question

    fragment = shared.variant_of(shared.load_fragment(file, library), mod)
    known = shared.regulators_of(file, fragment, [name] if name else [])
    if len(known) > 1:
        raise shared.Unusable(f"{file}: which regulator? --of {' or --of '.join(part.name for part in known)}")
    values = _values(series, pairs)
    try:
        asked = question(fragment, known[0], _wanted(outputs, lowest, highest, links), links, _names(keep),
                         _names(change), lowest_with == "all")
    except NoChoice as fault:
        raise shared.Unusable(f"{file}: {fault}.") from fault
    from netcheck.simulation.process import available

    if reason := available():
        raise shared.Unusable(f"Choices cannot be proved: {reason}")
    found = choose(asked, values, shared.progress("combinations of the base"))
    if form == "json":
        shared.print_json(found.to_dict())
    else:
        from netcheck.commands.terminal import width
        from netcheck.reports.choose_text import choices_text

        shared.print_text(choices_text(found, width()))
    sys.exit(0 if found.choices else shared.DANGER)


def _names(text: str | None) -> list[str]:
    return [] if text is None else [word.strip() for word in text.split(",") if word.strip()]


def _wanted(outputs: str | None, lowest: str | None, highest: str | None, links: int) -> list[float]:
    """The wanted outputs in volts, lowest first."""
    if (outputs is None) == (lowest is None and highest is None) or (lowest is None) != (highest is None):
        raise shared.Unusable('Say which outputs are wanted: --outputs "3.3 V, 3.6 V", or --from 3.4 V --to 4.2 V.')
    if outputs is not None:
        return sorted(_volts("--outputs", word) for word in outputs.split(","))
    low, high = _volts("--from", lowest or ""), _volts("--to", highest or "")
    if low >= high:
        raise shared.Unusable("--from must be below --to.")
    count = max(2, 2 ** links)
    return [low + (high - low) * step / (count - 1) for step in range(count)]


def _volts(option: str, text: str) -> float:
    from netcheck.quantities.values import ValueFault, quantity

    try:
        return quantity(text.strip(), "V").value
    except ValueFault as fault:
        raise shared.Unusable(f"{option}: {fault}") from fault


def _values(series: str, pairs: bool) -> list[Value]:
    """The values there are to choose from."""
    from netcheck.supply.drawer import DrawerFault, of_lines, of_series, with_pairs

    try:
        if series.upper().startswith("E") and series[1:].isdigit():
            found = of_series(int(series[1:]))
        else:
            try:
                text = Path(series).read_text(encoding="utf-8")
            except (OSError, UnicodeDecodeError) as error:
                raise shared.Unusable(f"--series: {series} is neither a series such as E24 nor a file that can be read "
                                      f"({error}).") from error
            found = of_lines(text, series)
    except DrawerFault as fault:
        raise shared.Unusable(f"--series: {fault}") from fault
    return with_pairs(found) if pairs else found
