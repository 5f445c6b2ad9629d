"""The whole mod: the cures of a variant put together, one after the other, until it is ok or as near as can be."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from netcheck.checks.cures import Judge, applied, better, remedy_words, standing, unkept
from netcheck.checks.results import Proposal, VariantResult
from netcheck.conduction.remedies import Remedy
from netcheck.fragment.model import Fragment, Kind, Step
from netcheck.fragment.mods import StepFault
from netcheck.fragment.written import mod_text

_MOST_ROUNDS = 3
_NAMES = {"ok": "safe"}
_OTHERWISE = "improved"
"""What the proposed mod is called: safe only where it is."""

Cures = Callable[[Fragment], Sequence[tuple[Remedy, VariantResult]]]
"""The remedies of a changed variant, each with what it leads to, the best first."""


@dataclass(frozen=True, slots=True)
class _Built:
    fragment: Fragment
    steps: tuple[Step, ...]
    words: tuple[str, ...]
    result: VariantResult


def proposal(
    fragment: Fragment, result: VariantResult, first: Sequence[tuple[Remedy, VariantResult]], cures: Cures,
    judge: Judge,
) -> Proposal | None:
    """One mod that ends ok or as near as can be; None where nothing makes it better. first: the variant's cures."""
    built = _Built(fragment, (), (), result)
    found = first
    for _ in range(_MOST_ROUNDS):
        if not found:
            break
        remedy, after = found[0]
        if not better(after, built.result, unkept(built.fragment)):
            break
        built = _Built(applied(built.fragment, remedy.steps), (*built.steps, *remedy.steps),
                       (*built.words, remedy_words(remedy)), after)
        if after.verdict == "ok":
            break
        found = cures(built.fragment)
    if not built.steps:
        return None
    steps = _in_order(fragment, built, judge)
    verdict = built.result.verdict
    return Proposal(mod_text(_NAMES.get(verdict, _OTHERWISE), steps, fragment), verdict, built.words, steps)


def _in_order(fragment: Fragment, built: _Built, judge: Judge) -> tuple[Step, ...]:
    """The steps as they can be soldered, parts out first and the cell last, where that comes to the same."""
    ordered = _moved_once(sorted(built.steps, key=lambda step: _place(fragment, step)))
    if ordered == built.steps:
        return built.steps
    try:
        again = judge(applied(fragment, ordered))
    except StepFault:
        return built.steps
    return ordered if standing(again) == standing(built.result) else built.steps


def _moved_once(steps: Sequence[Step]) -> tuple[Step, ...]:
    """The steps without a move of a pin that the next line moves on."""
    found: list[Step] = []
    for step in steps:
        if found and step.moves and found[-1].moves and [*found[-1].moves][-1] == next(iter(step.moves)):
            left = dict([*found[-1].moves.items()][:-1])
            found[-1:] = [replace(found[-1], moves=left)] if left else []
        found.append(step)
    return tuple(found)


def _place(fragment: Fragment, step: Step) -> int:
    if step.action == "remove":
        return 0
    moved = {name for name, _ in step.moves} | {part.name for part in step.parts}
    cells = {name for name in moved if name in fragment.parts and fragment.parts[name].kind is Kind.CELL}
    return 2 if cells else 1
