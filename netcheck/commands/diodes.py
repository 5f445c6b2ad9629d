"""netcheck diodes"""

from __future__ import annotations

from pathlib import Path

import click

from netcheck.commands import shared


@click.command()
@shared.file_argument
@click.option("--at", "places", multiple=True, metavar="PLACE",
              help="A diode, or a lead where one could go: D1, BT1.plus. May be repeated.")
@click.option("--try", "names", multiple=True, metavar="NAME", help="Only these candidates. May be repeated.")
@click.option("--body", metavar="BODY",
              help='Only bodies such as "axial", "SOT-23", leaded, surface or any. '
                   "Default: leaded or surface, as the part in that place.")
@shared.mod_option
@click.option("--samples", type=click.IntRange(1), metavar="N", help="Add a study of the tolerances with N samples.")
@click.option("--seed", default=1, show_default=True, help="Seed of that study.")
@click.option("--every", is_flag=True, help="Show every option in the table.")
@click.option("--temperature", metavar="RANGE", help='Inside the case, for example "0 to 60 °C".')
@click.option("--plots", type=click.Path(path_type=Path, file_okay=False), metavar="DIR",
              help="Write the two plots (SVG) into this folder.")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@shared.force_option
@shared.deadline_option
@shared.library_option
def command(
    file: Path, places: tuple[str, ...], names: tuple[str, ...], body: str | None, mod: str | None,
    samples: int | None, seed: int, every: bool, temperature: str | None, plots: Path | None,
    form: str, library: tuple[Path, ...],
) -> None:
    """Compare diodes: volts left for the load against leakage, silicon against Schottky.

    The places are found by themselves (the diode that carries the load from
    the cell, and the one from the rail); --at names others.

    \b
    Examples:
      netcheck diodes examples/rack-sampler.yaml --mod coin-cell
      netcheck diodes examples/rack-sampler.yaml --mod coin-cell --at D1 --try BAT85 --try 1N4148
      netcheck diodes examples/rack-sampler.yaml --mod coin-cell --body SOT-23
    """
    shared.warm_up()
    from netcheck.api import assumed, at_temperature
    from netcheck.clock import used_up
    from netcheck.diodes.comparison import FAMILIES, NoPlace, compare, distinct, of_body, question
    from netcheck.parts.catalogue import Catalogue, UnknownEntry
    from netcheck.simulation.process import available

    fragment = at_temperature(shared.load_fragment(file, library), shared.temperature_range(temperature))
    fragment = shared.variant_of(fragment, mod)
    catalogue = Catalogue.standard([*library, *shared.beside(file)])
    try:
        candidates = [catalogue.diode(name) for name in names] or [
            spec for name in catalogue.names("diode") if (spec := catalogue.diode(name)).family in FAMILIES]
    except UnknownEntry as error:
        raise shared.Unusable(str(error)) from error
    if reason := available():
        raise shared.Unusable(f"The diodes cannot be compared: {reason}")
    try:
        asked = question(fragment, places)
        if not names or body:
            candidates = distinct(of_body(asked, candidates, body))
    except NoPlace as error:
        if used_up() is not None:  # whether there is a place for one was not seen
            return
        raise shared.Unusable(f"{file}: {error}") from error
    found = compare(asked, candidates, assumed(fragment), shared.progress("operating points"))
    chance = None
    if samples is not None:
        from netcheck.diodes.tolerance_study import study

        chance = study(asked, samples, seed, shared.progress("samples' operating points"))
    if form == "json":
        shared.print_json({**found.to_dict(), **({"study": chance.to_dict()} if chance else {})})
    else:
        from netcheck.commands.terminal import print_report, width
        from netcheck.diodes.protection import protection
        from netcheck.reports.diodes_text import comparison_text, protection_text, study_text

        columns = width()
        safe = protection(asked)
        pieces = [comparison_text(found, fragment.variant, columns, every=every, safe=safe)]
        if safe is not None:
            pieces.append(protection_text(safe, fragment, columns))
        if chance is not None:
            pieces.append(study_text(chance, columns))
        print_report("\n".join(pieces))
    if plots is not None:
        from netcheck.commands.output import write
        from netcheck.reports.diodes_text import plots as drawn

        specs = {spec.name: spec for spec in (*candidates, *asked.specs())}
        try:
            plots.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise shared.Unusable(f"{plots}: {error.strerror or error}") from error
        for name, svg in drawn(asked, found, specs).items():
            path = plots / f"{file.stem}-{name}.svg"
            write(path, svg.encode())


