"""netcheck impedance"""

from __future__ import annotations

from pathlib import Path

import click

from netcheck.commands import shared


@click.command()
@shared.file_argument
@click.option("--at", "net", required=True, metavar="NET", help="The net whose impedance to ground is wanted.")
@click.option("--mod", "mods", multiple=True, metavar="NAME",
              help="A mod to compare with the circuit as found; may be repeated. (default: the last mod of the file)")
@click.option("--from", "low", default="1 kHz", show_default=True, metavar="HZ", help="Lowest frequency.")
@click.option("--to", "high", default="100 MHz", show_default=True, metavar="HZ", help="Highest frequency.")
@click.option("--target", metavar="OHM", help="The most that it should be, such as 50 mΩ.")
@click.option("-o", "--output", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help="Write the picture here: .svg or .png.")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@shared.force_option
@shared.deadline_option
@shared.library_option
def command(
    file: Path, net: str, mods: tuple[str, ...], low: str, high: str, target: str | None, output: Path | None,
    form: str, library: tuple[Path, ...],
) -> None:
    """Impedance of a net against frequency, before and after a mod.

    Every capacitor on the net counts with its series resistance, its
    inductance and, for ceramics, what is left of it at its volts. Resonances
    are named with the parts that make them.

    \b
    Examples:
      netcheck impedance examples/sound-card.yaml --at +5V --mod with-care
      netcheck impedance examples/sound-card.yaml --at +5V --target "50 mΩ" -o rail.svg
    """
    from netcheck.capacitors.impedance import FORMAT, NoNet, curves
    from netcheck.reports.impedance_text import impedance_svg, impedance_text
    from netcheck.simulation.impedance import NoImpedance
    from netcheck.simulation.process import available

    if output is not None and output.suffix.lower() not in (".svg", ".png"):
        raise shared.Unusable(f"{output}: expected a name that ends in .svg or .png.")
    shared.warm_up()
    low_Hz, high_Hz = _amount("--from", low, "Hz"), _amount("--to", high, "Hz")
    if not 0 < low_Hz < high_Hz:
        raise shared.Unusable(f"--from {low} --to {high}: expected a range that runs upwards from above 0 Hz.")
    target_ohm = None if target is None else _amount("--target", target, "ohm")
    if target_ohm is not None and target_ohm <= 0:
        raise shared.Unusable(f"--target {target}: expected an impedance above 0 Ω.")
    fragment = shared.load_fragment(file, library)
    later = [shared.variant_of(fragment, mod) for mod in mods or (None,)]
    variants = [fragment, *(one for one in later if one.variant != fragment.variant)]
    if reason := available():
        raise shared.Unusable(f"The impedance cannot be worked out: {reason}")
    try:
        found = curves(variants, net, low_Hz, high_Hz)
    except (NoNet, NoImpedance) as error:
        raise shared.Unusable(f"{file}: {error}") from error
    if form == "json":
        shared.print_json({"format": FORMAT, "file": str(file), "at": net, "target_ohm": target_ohm,
                           "curves": [one.to_dict() for one in found]})
    else:
        from netcheck.commands.terminal import print_report, width

        print_report(impedance_text(net, found, target_ohm, width()))
    if output is not None:
        _picture(output, impedance_svg(net, found, target_ohm))


def _amount(option: str, text: str, unit: str) -> float:
    from netcheck.quantities.values import ValueFault, number

    try:
        return number(text, unit)
    except ValueFault as fault:
        raise shared.Unusable(f"{option}: {fault}") from fault


def _picture(output: Path, svg: str) -> None:
    from netcheck.commands.output import write
    from netcheck.reports.drawing import png

    if output.suffix.lower() == ".svg":
        write(output, svg.encode())
        return
    try:
        write(output, png(svg))
    except RuntimeError as error:
        raise shared.Unusable(str(error)) from error
