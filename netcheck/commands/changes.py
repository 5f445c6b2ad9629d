"""netcheck changes"""

from __future__ import annotations

from pathlib import Path

import click

from netcheck.commands import shared


@click.command()
@shared.file_argument
@click.option("--mod", metavar="NAME", help="The variant after the change (default: the last mod).")
@click.option("--against", metavar="NAME|FILE", help="The variant before it: a mod, or another file as found "
              "(default: as found).")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@shared.deadline_option
@shared.library_option
def command(file: Path, mod: str | None, against: str | None, form: str, library: tuple[Path, ...]) -> None:
    """Say what changed between two variants, or two files: parts, verdict, volts.

    With another FILE to compare against, both are taken as found unless --mod
    says otherwise.

    \b
    Examples:
      netcheck changes examples/rack-sampler.yaml
      netcheck changes examples/rack-sampler.yaml --against plain-swap
    """
    shared.warm_up()
    from netcheck.api import compare
    from netcheck.fragment.model import AS_FOUND

    fragment = shared.load_fragment(file, library)
    known = (AS_FOUND, *fragment.mods)
    start = against or AS_FOUND
    if against is not None and against not in known:
        if not Path(against).is_file():
            raise shared.Unusable(shared.unknown_word("mod or file", against, known))
        old = shared.variant_of(shared.load_fragment(Path(against), library), AS_FOUND)
        new = shared.variant_of(fragment, AS_FOUND if mod is None else mod)
    else:
        old, new = shared.variant_of(fragment, start), shared.variant_of(fragment, mod)
    found = compare(old, new)
    if form == "json":
        shared.print_json(found.to_dict())
    else:
        from netcheck.commands.terminal import print_report, width
        from netcheck.reports.changes_text import changes_text

        print_report(changes_text(found, width()))
