"""netcheck explain"""

from __future__ import annotations

from pathlib import Path

import click

from netcheck.commands import shared


@click.command()
@shared.file_argument
@click.argument("parts", nargs=-1, metavar="[PART]...")
@shared.mod_option
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@shared.deadline_option
@shared.library_option
def command(file: Path, parts: tuple[str, ...], mod: str | None, form: str, library: tuple[Path, ...]) -> None:
    """Say what each part of the section does: what it feeds, charges, blocks, sets.

    Worked out from what flows through the part in each state, and from what
    changes when it is open or short; in the order of the current's way. With
    PART, those alone, and what happens when each fails.

    \b
    Examples:
      netcheck explain examples/rack-sampler.yaml --mod plain-swap
      netcheck explain examples/rack-sampler.yaml D1 R1
    """
    shared.warm_up()
    from netcheck.api import explain

    fragment = shared.variant_of(shared.load_fragment(file, library), mod)
    for part in parts:
        if part not in fragment.parts:
            raise shared.Unusable(shared.unknown_word("part", part, list(fragment.parts)))
    try:
        duties = explain(fragment)
    except RuntimeError as error:
        raise shared.Unusable(f"What the parts do could not be worked out: {error}") from error
    if form == "json":
        shared.print_json({"file": str(file), "variant": fragment.variant, "duties": {
            name: found.to_list() for name, found in duties.items() if not parts or name in parts}})
        return
    from netcheck.commands.terminal import print_report, width
    from netcheck.reports import vocabulary
    from netcheck.reports.duties_section import explain_text

    head = f"What each part does, {vocabulary.variant(fragment.variant)}. {fragment.title}."
    print_report(f"{head}\n\n{explain_text(fragment, duties, parts, width())}")
