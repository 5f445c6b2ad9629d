"""What the commands share: reading a file, picking a mod or state, and errors a person can act on."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from netcheck.fragment.model import Fragment, Part
    from netcheck.fragment.states import State

DANGER, UNUSABLE = 1, 2

INPUTS, FORCE = "netcheck.inputs", "netcheck.force"
"""What a command keeps for `output.write`: the files that it reads, and whether --force was given."""

file_argument = click.argument("file", type=click.Path(path_type=Path))
library_option = click.option(
    "--library", multiple=True, type=click.Path(path_type=Path, file_okay=False, exists=True), metavar="DIR",
    help="A folder of library entries that add to the shipped ones.")
def _mod_names(context: click.Context, _: click.Parameter, begun: str) -> list[str]:
    """The mods of the file on the command line, for a shell that completes."""
    from netcheck.api import load
    from netcheck.fragment.model import AS_FOUND
    from netcheck.reading.mistakes import FragmentError

    given = (context.params.get("file"), *(context.params.get("files") or ()), *context.args)
    file = next((one for one in given if one and Path(one).is_file()), None)  # args: while --mod waits for its name
    try:
        names = [] if file is None else [AS_FOUND, *load(file).mods]
    except (FragmentError, OSError):
        names = []
    return [name for name in names if name.startswith(begun)]


mod_option = click.option(
    "--mod", metavar="NAME", shell_complete=_mod_names,
    help="The mod to look at; 'as found' for none. (default: the last mod of the file, else as found)")


def _forced(context: click.Context, _: click.Parameter, given: bool) -> None:
    if given:
        context.find_root().meta[FORCE] = True


force_option = click.option(
    "--force", is_flag=True, expose_value=False, callback=_forced,
    help="Replace an output file that netcheck did not write.")


def reads(*files: Path) -> None:
    """Note files that this command reads, so that no output is written over them."""
    context = click.get_current_context(silent=True)
    if context is not None:
        context.find_root().meta.setdefault(INPUTS, []).extend(files)


class Unusable(click.ClickException):
    """Input that cannot be used: exit status 2."""

    exit_code = UNUSABLE

    def __init__(self, message: str) -> None:
        super().__init__(harmless(message))


def load_fragment(file: Path, library: Sequence[Path] = ()) -> Fragment:
    """Read a fragment; a mistake in it ends the command with every mistake told."""
    from netcheck.api import load
    from netcheck.parts.library import LibraryError
    from netcheck.reading.mistakes import FragmentError

    try:
        fragment = load(file, library)
        reads(file, *(file.parent / photo.file for photo in fragment.photos),
              *(book for folder in (*library, *beside(file)) for book in folder.glob("*.yaml")))
        return fragment
    except (FragmentError, LibraryError) as error:
        raise Unusable(str(error)) from error
    except OSError as error:
        raise Unusable(f"{file}: {error.strerror or error}") from error


def variant_of(fragment: Fragment, mod: str | None) -> Fragment:
    """The variant that a command looks at: the mod named, else the last mod of the file, else as found."""
    from netcheck.api import variants
    from netcheck.fragment.model import AS_FOUND

    try:
        return variants(fragment, mod)[-1]
    except KeyError:
        raise Unusable(unknown_word("mod", mod or "", [AS_FOUND, *fragment.mods])) from None


def state_of(fragment: Fragment, name: str | None) -> State:
    """A state by name; the first (a named one, where there is one) where none is given."""
    from netcheck.fragment.states import enumerate_states, meant

    states = {one.name: one for one in enumerate_states(fragment).states}
    if name is None:
        return next(iter(states.values()))
    if len(found := meant(fragment, states.values(), name)) == 1:
        return found[0]
    if name not in states:
        raise Unusable(unknown_word("state", name, list(states)))
    return states[name]


def unknown_word(kind: str, word: str, known: Sequence[str]) -> str:
    """An error for a word that is not known, with the nearest that is."""
    from difflib import get_close_matches

    near = get_close_matches(word, known, 1, 0.5)
    likely = f" Did you mean {near[0]!r}?" if near else ""
    return f"No {kind} is called {word!r}.{likely} There are: {', '.join(map(repr, known)) or 'none'}."


def regulators_of(file: Path, fragment: Fragment, names: Sequence[str]) -> list[Part]:
    """The regulators that are meant; every one of the variant where none is named."""
    from netcheck.fragment.model import Kind

    known = {part.name: part for part in fragment.of_kind(Kind.REGULATOR)}
    if not known:
        raise Unusable(f"{file}: there is no regulator in this variant.")
    for name in names:
        if name not in known:
            raise Unusable(unknown_word("regulator", name, list(known)))
    return [known[name] for name in names] or list(known.values())


def temperature_range(text: str | None) -> tuple[float, float] | None:
    """The value of --temperature in °C."""
    if text is None:
        return None
    from netcheck.quantities.values import ValueFault, span

    try:
        found = span(text, "°C")
    except ValueFault as fault:
        raise Unusable(f"--temperature: {fault}") from fault
    if not -273.15 < found.low <= found.high < 300:
        raise Unusable(f'--temperature: {text!r} is no temperature inside a case; expected one like "10 to 50 °C".')
    return found.low, found.high


def warm_up() -> None:
    """Start the simulator while the file is being read."""
    from netcheck.simulation.process import warm_up as start

    start()


def harmless(text: str) -> str:
    """Text that may go to a terminal: what would steer it, colours apart, is written as ?.

    >>> harmless("VRAM\\x1b[2J")
    'VRAM?[2J'
    """
    return _STEERS.sub("?", text)


_STEERS = re.compile(
    "\x1b(?!\\[[0-9;]*m)|[\x00-\x08\x0b-\x1a\x1c-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")


def print_text(text: str) -> None:
    """Print text that a program or an editor may read: never coloured, never through a pager."""
    click.echo(harmless(text.rstrip("\n")))


def print_json(data: Any) -> None:
    import json

    print_text(json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False))


def beside(file: Path) -> list[Path]:
    """The `library` folder beside a fragment, where there is one."""
    from netcheck.reading.reader import library_folders

    return list(library_folders(file))


def progress(what: str) -> Callable[[int, int], None]:
    """A counter on the error stream that appears once the work has taken a second."""
    import sys
    import time

    started = time.monotonic()

    def tell(done: int, total: int) -> None:
        if time.monotonic() - started > 1 and sys.stderr.isatty():
            end = "\n" if done >= total else ""
            click.echo(f"\r{what}: {done} of {total}", nl=False, err=True)
            if end:
                click.echo("", err=True)

    return tell


_TOLD = 60


def telling(what: str) -> Callable[[str], None]:
    """Says on the error stream what is being worked on, once the work has taken a second; "" takes it away again."""
    import sys
    import time

    started = time.monotonic()

    def tell(name: str) -> None:
        if time.monotonic() - started > 1 and sys.stderr.isatty():
            said = f"{what} {name} …" if name else ""
            click.echo(f"\r{said:<{_TOLD}.{_TOLD}}\r", nl=False, err=True)

    return tell
