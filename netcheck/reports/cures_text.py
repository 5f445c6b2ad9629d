"""Cures as YAML that can be pasted as it stands under `mods:`, with a name, the mod it follows, free designators."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from itertools import count

from netcheck.checks.cures import remedy_words
from netcheck.conduction.remedies import Remedy
from netcheck.fragment.model import AS_FOUND, Fragment, Part, Step
from netcheck.fragment.written import step_lines
from netcheck.reports.blocks import Pasted
from netcheck.reports.vocabulary import sentence

_NUMBERED = re.compile(r"([A-Za-z]+)[0-9]+")


def pasted(remedy: Remedy, fragment: Fragment) -> Pasted:
    """A cure of a variant as a mod of its own, which comes after that variant."""
    words = remedy_words(remedy)
    return Pasted(sentence(words), mod_text(_slug(words), remedy.steps, fragment))


def mod_text(name: str, steps: Sequence[Step], fragment: Fragment) -> str:
    """Steps as an entry of `mods:`; the name and the designators of what is fitted are free in the whole file."""
    lines = [f"{_free(name, fragment.mods)}:"]
    if fragment.variant != AS_FOUND:
        lines.append(f"  after: {fragment.variant}")
    lines.append("  steps:")
    return "\n".join([*lines, *(f"    - {line}" for step in _renamed(steps, fragment) for line in step_lines(step))])


def _renamed(steps: Sequence[Step], fragment: Fragment) -> Iterator[Step]:
    """The steps with designators that neither the board nor one of its mods has had."""
    taken = set(designators(fragment))
    for step in steps:
        if step.action != "fit":
            yield step
            continue
        parts = []
        for part in step.parts:
            name = _designator(part, taken)
            taken.add(name)
            parts.append(replace(part, name=name))
        yield replace(step, parts=tuple(parts))


def designators(fragment: Fragment) -> Iterator[str]:
    """Every designator of the board, what its mods take out and fit included."""
    yield from fragment.parts
    for mod in fragment.mods.values():
        for step in mod.steps:
            yield from (part.name for part in step.parts)
            yield from (step.names if step.action == "remove" else ())


def _designator(part: Part, taken: Collection[str]) -> str:
    letters = _NUMBERED.fullmatch(part.name)
    if part.name not in taken or letters is None:
        return part.name
    return next(name for number in count(1) if (name := f"{letters[1]}{number}") not in taken)


def _slug(words: str) -> str:
    """
    >>> _slug("put a blocking diode in BT1's plus lead")
    'blocking-diode-in-BT1-plus'
    """
    kept = [word.removesuffix("'s").strip(",.;:") for word in words.split() if word not in _SMALL]
    return "-".join(kept)[:40]


_SMALL = ("a", "an", "the", "of", "and", "put", "lead")


def _free(name: str, taken: Collection[str]) -> str:
    return next(free for number in count(1) if (free := name if number == 1 else f"{name}-{number}") not in taken)
