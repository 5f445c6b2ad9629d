"""What the commands share: reading a file, picking a mod or state, and errors a person can act on."""

from __future__ import annotations

import re
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
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
    """Start the simulator, which loads while what a command needs is loaded, too, and while the file is read."""
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
    from netcheck.clock import doing

    doing("")
    click.echo(harmless(text.rstrip("\n")), sys.stdout)  # click's own choice is UTF-8 where it is ASCII


def print_page(text: str) -> None:
    """As `print_text`, of what says itself that it is UTF-8 (HTML, SVG, JSON): so it is, whatever the terminal has."""
    if sys.stdout.isatty():
        print_text(text)
    else:
        click.echo((harmless(text.rstrip("\n")) + "\n").encode(), sys.stdout, nl=False)


def print_json(data: Any) -> None:
    import json

    print_page(json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False))


def beside(file: Path) -> list[Path]:
    """The `library` folder beside a fragment, where there is one."""
    from netcheck.reading.reader import library_folders

    return list(library_folders(file))


def progress(what: str) -> Callable[[int, int], None]:
    """Says how much of something is done."""
    from netcheck.clock import doing

    return lambda done, total: doing(what, done, total)


class _Told:
    """Writes what is being done on a line of the error stream, once the work has taken a second; "" takes it away."""

    def __init__(self) -> None:
        self._quiet_until = time.monotonic() + _SILENT_S
        self._shown = False

    def __call__(self, what: str, done: int, of: int) -> None:
        early = bool(what) and time.monotonic() < self._quiet_until
        if early or not (what or self._shown) or not sys.stderr.isatty():
            return
        self._quiet_until = time.monotonic() + _STEADY_S if what else self._quiet_until
        self._shown = bool(what)
        text = harmless(what + (f" {done} of {of}" if of else "")) if what else ""
        click.echo(f"\r{text:<{_TOLD}.{_TOLD}}\r", nl=False, err=True)


_SILENT_S, _STEADY_S, _TOLD = 1.0, 0.1, 78


def _kept_to(context: click.Context, _: click.Parameter, seconds: float) -> None:
    from netcheck.clock import limited

    context.find_root().with_resource(limited(seconds))


def deadline_of(keep: bool) -> Callable[[Any], Any]:
    """The option --deadline; keep: it is that of the whole command, which then need not know of it."""
    return click.option(
        "--deadline", type=click.FloatRange(0, min_open=True), default=300.0, show_default=True, metavar="SECONDS",
        expose_value=not keep, callback=_kept_to if keep else None,
        help="What is not worked out by then is unknown.")


deadline_option = deadline_of(keep=True)


@contextmanager
def saying() -> Iterator[None]:
    """What is being done meanwhile is told on the error stream, where that is a terminal."""
    from netcheck.clock import doing, heard

    with heard(_Told()):
        try:
            yield
        finally:
            doing("")


def out_of_time() -> bool:
    """Whether the time allowed was used up, which is then told."""
    from netcheck.clock import used_up

    if (reason := used_up()) is None:
        return False
    click.echo(f"Not everything was worked out: {reason.partition(': ')[2]}. What is told is what was found until "
               "then; the rest is unknown. --deadline gives it more time.", err=True)
    return True
