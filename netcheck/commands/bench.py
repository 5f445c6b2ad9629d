"""netcheck bench"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click
from msgspec.structs import replace

from netcheck.commands import shared

if TYPE_CHECKING:
    from netcheck.checks.results import VariantResult
    from netcheck.fragment.model import Fragment, Reading


@click.command()
@shared.file_argument
@shared.mod_option
@click.option("--readings", "taken", type=click.Path(path_type=Path), metavar="FILE",
              help="Readings in a file of their own: this sheet filled in, as text, CSV or YAML.")
@click.option("--meter", metavar="OHMS", help="Input resistance of the voltmeter (default: 10M).")
@click.option("--format", "form", type=click.Choice(["text", "csv", "yaml"]), default="text", show_default=True)
@shared.deadline_option
@shared.library_option
def command(
    file: Path, mod: str | None, taken: Path | None, meter: str | None, form: str, library: tuple[Path, ...],
) -> None:
    """Print the probe sheet: what a meter should show, in a safe order, with
    blanks to fill in. Where there are readings, judge each, and rank the single
    faults that would explain those that disagree.

    Exit status: 0 done, 1 some reading disagrees, 2 the input could not be used.

    \b
    Examples:
      netcheck bench examples/rack-sampler.yaml --mod coin-cell
      netcheck bench examples/rack-sampler.yaml --format csv > sheet.csv
      netcheck bench examples/rack-sampler.yaml --readings sheet.csv
    """
    shared.warm_up()
    from netcheck.bench.limits import beyond
    from netcheck.bench.next_probe import next_probe
    from netcheck.bench.probe_sheet import probe_sheet
    from netcheck.bench.readings import explain, judge_readings
    from netcheck.judging import judge

    meter_ohm = _meter_ohm(meter)
    fragment = shared.load_fragment(file, library)
    if taken is not None:
        fragment = replace(fragment, readings=_load(taken, fragment, meter_ohm))
    variant = shared.variant_of(fragment, mod)
    measured = _with_readings(fragment, mod)
    judged = [judge_readings(one) for one in measured]
    found = judge(variant, cured=False)
    sheet = probe_sheet(variant, meter_ohm, shared.progress("Working out the sheet"), found.dangers, found.regulators)
    _tell_unjudged(found, variant, form)
    if form == "yaml":
        from netcheck.reports.bench_yaml import sheet_yaml

        shared.print_text(sheet_yaml(sheet))
    elif form == "csv":
        from netcheck.reports.bench_csv import sheet_csv

        shared.print_text(sheet_csv(sheet, variant.readings, fragment.ground))
    else:
        from netcheck.commands.terminal import width
        from netcheck.reports.bench_text import readings_text, sheet_text

        if judged:
            told = [(result, explain(one, result, shared.progress("Trying faults")))
                    for one, result in zip(measured, judged, strict=True)]
            further = [next_probe(diagnosis.suspects, sheet.probes, [one.measurement for one in result.known
                                                                    if one.measurement is not None])
                       for result, diagnosis in told if diagnosis is not None and result.variant == sheet.variant]
            shared.print_text(readings_text(told, sheet, further[0] if further else None, width()))
        shared.print_text(("\n" if judged else "") + sheet_text(sheet, width()))
    sys.exit(shared.DANGER if any(one.disagreeing or beyond(one, sheet) for one in judged) else 0)


def _tell_unjudged(found: VariantResult, variant: Fragment, form: str) -> None:
    """Say first that a variant was not judged, and why; beside a sheet that a program reads, and not in it."""
    from netcheck.commands.terminal import width
    from netcheck.reports.bench_text import unjudged_text

    if told := unjudged_text(found, variant, width()):
        if form == "text":
            shared.print_text(told)
            shared.print_text("")
        else:
            click.echo(told, err=True)


_LEAST_METER_OHM = 1e3
"""Less than the low-resistance range of any multimeter (about 3 kΩ)."""


def _meter_ohm(text: str | None) -> float:
    from netcheck.bench.meter import INPUT_OHM
    from netcheck.quantities.values import ValueFault, number

    if text is None:
        return INPUT_OHM
    try:
        found = number(text, "ohm")
    except ValueFault as fault:
        raise shared.Unusable(f"--meter: {fault}") from fault
    if found < _LEAST_METER_OHM:
        raise shared.Unusable(f'--meter: "{text}": expected the input resistance of a voltmeter, such as 10M')
    return found


def _load(file: Path, fragment: Fragment, meter_ohm: float) -> tuple[Reading, ...]:
    """Readings from a file; a sheet printed as text is read by the numbers of its rows."""
    from netcheck.bench import text_sheet
    from netcheck.bench.probe_sheet import probe_sheet
    from netcheck.judging import judge
    from netcheck.reading.mistakes import FragmentError
    from netcheck.reading.readings_file import loads_readings
    from netcheck.reading.yaml_nodes import decode, read_regular

    try:
        shared.reads(file)
        text = decode(read_regular(file), str(file))
        if (name := text_sheet.variant_of(text)) is None:
            return loads_readings(text, str(file), fragment)
        variant = shared.variant_of(fragment, name)
        found = judge(variant, cured=False)
        return text_sheet.readings(text, str(file), probe_sheet(
            variant, meter_ohm, dangers=found.dangers, regulators=found.regulators))
    except FragmentError as error:
        raise shared.Unusable(str(error)) from error
    except OSError as error:
        raise shared.Unusable(f"{file}: {error.strerror or error}") from error


def _with_readings(fragment: Fragment, mod: str | None) -> list[Fragment]:
    """The variant asked for, or all, as far as readings were taken on them."""
    names = dict.fromkeys(one.mod for one in fragment.readings if mod is None or one.mod == mod)
    return [shared.variant_of(fragment, name) for name in names]
