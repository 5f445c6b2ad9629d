"""The Python interface: load a fragment, check it, read the results as objects or as plain dicts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec.structs import replace

from netcheck.fragment import mods
from netcheck.fragment.model import AS_FOUND, Fragment
from netcheck.quantities.values import Span
from netcheck.quantities.words import nearest
from netcheck.reading import reader

if TYPE_CHECKING:
    from netcheck.checks.changes import Changes
    from netcheck.checks.results import Report
    from netcheck.explain.duties import PartDuties
    from netcheck.supply.results import Settings


class UnknownMod(KeyError):
    """A mod that the file does not have: `name`, and `known`, the ones that it has."""

    def __init__(self, name: str, known: Sequence[str]) -> None:
        self.name, self.known = name, tuple(known)
        near = nearest(name, known)
        likely = f' Did you mean "{near}"?' if near else ""
        super().__init__(f'no mod "{name}".{likely} There are: {", ".join(known)}.')

    def __str__(self) -> str:
        return str(self.args[0])


def load(path: str | Path, library: Sequence[str | Path] = ()) -> Fragment:
    """Read a fragment file.

    library: folders whose entries add to or override the shipped ones.
    Raises FragmentError, which lists every mistake of the file, and OSError.
    """
    return reader.load(path, [Path(folder) for folder in library])


def loads(text: str, library: Sequence[str | Path] = ()) -> Fragment:
    """Read a fragment from text."""
    return reader.loads(text, library=[Path(folder) for folder in library])


def check(
    fragment: Fragment,
    mod: str | None = None,
    every: bool = False,
    temperature: tuple[float, float] | None = None,
    progress: Callable[[str], None] | None = None,
    duties: bool = False,
    deadline_s: float | None = None,
) -> Report:
    """Check the circuit as found and one mod (the file's last where none is named), or every mod.

    temperature: the range inside the case in °C, in place of the file's.
    progress: called with the name of each variant before it is checked. duties: work out what each part does, too.
    deadline_s: seconds that all of it may take; what is left then is unknown, never ok.
    Raises KeyError where the mod is not in the file.
    """
    from netcheck.checks.results import Report
    from netcheck.clock import about, limited
    from netcheck.judging import judge

    fragment = at_temperature(fragment, temperature)
    results = []
    recalled: dict[str, list[str]] = {}
    with limited(deadline_s):
        for variant in variants(fragment, mod, every):
            recalled |= from_memory(variant)
            if progress is not None:
                progress(variant.variant)
            with about(variant.variant):
                results.append(judge(variant, duties))
    rests_on = {**assumed(fragment), "from_memory": recalled}
    return Report(fragment.file, fragment.title, rests_on, tuple(results))


def explain(fragment: Fragment) -> dict[str, PartDuties]:
    """What each fitted part of one variant does, in the order of the current's way.

    Raises RuntimeError with the reason where nothing can be simulated, or the section is too large for it.
    """
    from netcheck.explain.duties import duties
    from netcheck.solving.asking import answered
    from netcheck.solving.solved_states import survey

    found = survey(fragment)
    told = answered(duties(found), found.missing)
    if not told and any(True for _ in fragment.fitted):
        raise RuntimeError(found.missing or "the section is too large to be tried part by part")
    return told


def compare(old: Fragment, new: Fragment) -> Changes:
    """Check two variants, of one file or of two, and say what changed from the old to the new."""
    from netcheck.checks.changes import changes
    from netcheck.judging import judge

    before, after = judge(old), judge(new)
    if old.file == new.file:
        return changes(old, new, before, after)
    return changes(old, new, before, after, (f"{old.file}, {old.variant}", f"{new.file}, {new.variant}"))


def settings_of(
    fragment: Fragment, of: Sequence[str] = (), progress: Callable[[int, int], None] | None = None
) -> dict[str, Settings]:
    """Every setting of each regulator of a variant, or of those named, lowest volts first.

    progress: told how many operating points are done, and how many there are.
    """
    from netcheck.simulation.process import available
    from netcheck.solving.asking import answered
    from netcheck.supply.readings import explained
    from netcheck.supply.settings import all_settings

    missing = available()
    found = answered(all_settings(fragment, of), missing, progress)
    return found if missing else answered(explained(fragment, found), None, progress)


def at_temperature(fragment: Fragment, temperature: tuple[float, float] | None) -> Fragment:
    """The fragment with another range of temperature [°C] inside its case; None leaves it as it is."""
    if temperature is None:
        return fragment
    low, high = temperature
    span = Span(low, high, "°C", f"{low:g} to {high:g} °C")
    stated = fragment.conditions.stated | {"temperature"}
    return replace(fragment, conditions=replace(fragment.conditions, temperature=span, stated=stated))


def variants(fragment: Fragment, mod: str | None = None, every: bool = False) -> list[Fragment]:
    """The circuit as found, and the mod or mods asked for in the file's order, the one named last."""
    if mod is not None and mod not in fragment.mods and mod != AS_FOUND:
        raise UnknownMod(mod, [AS_FOUND, *fragment.mods])
    if every:
        names = [name for name in fragment.mods if name != mod]
        names += [mod] if mod is not None and mod in fragment.mods else []
    elif mod is None:
        names = list(fragment.mods)[-1:]
    else:
        names = [] if mod == AS_FOUND else [mod]
    return [fragment, *(mods.apply(fragment, name) for name in names)]


def assumed(fragment: Fragment) -> dict[str, Any]:
    """What the results rest on, as stated in the file or assumed."""
    from netcheck.checks.leakage import live_hours_a_day

    conditions = fragment.conditions
    powered = conditions.powered_hours_a_day
    return {
        "temperature_C": [conditions.temperature.low, conditions.temperature.high],
        "powered_hours_a_day": {"leakage": live_hours_a_day(fragment),
                                "life": 0.0 if powered is None else powered},
        "years": conditions.years,
        "stated": sorted(conditions.stated),
        "dead_rails": {rail.net: rail.when_off for rail in fragment.rails.values()},
    }


def from_memory(fragment: Fragment) -> dict[str, list[str]]:
    """Library entry to those of its figures that rest on memory alone, for the parts of a variant."""
    found: dict[str, list[str]] = {}
    for part in fragment.fitted:
        figures = [
            *((figure.of, figure) for figure in getattr(part.spec, "figures", ())),
            *(("forward drop", point.figure) for point in getattr(part.spec, "forward", ())),
            *(("leakage", point.figure) for point in getattr(part.spec, "leakage", ())),
            *(("supply current", point.figure) for point in getattr(part.spec, "draws", ())),
        ]
        recalled = dict.fromkeys(of.split(" at ")[0] for of, figure in figures if figure.sure == "memory" and of)
        if recalled:
            found[getattr(part.spec, "name", part.name)] = list(recalled)
    return found
