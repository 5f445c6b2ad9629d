"""The whole mod: the cures of a variant put together, one after the other, until it is ok or as near as can be."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable, Sequence
from contextlib import closing
from itertools import islice

from msgspec import Struct
from msgspec.structs import replace

from netcheck.checks.cures import Then, gravest, remedy_words
from netcheck.checks.results import Proposal, VariantResult
from netcheck.checks.standing import better, nearest, standing, unkept
from netcheck.checks.trials import Steps, Trial, Trials, applied
from netcheck.clock import in_time
from netcheck.conduction.remedies import Remedy
from netcheck.fragment.model import Fragment, Kind, Part, Step
from netcheck.fragment.written import mod_text
from netcheck.parts.specs import DiodeSpec
from netcheck.wording.phrases import phrase

_MOST_ROUNDS = 8
"""Cures that are put together at most; as a rule it ends sooner, where it is ok or nothing makes it better."""

_MOST_STARTS = 2
"""Cures that a mod is begun with, one after the other, where the best leads to no good end: each costs many trials."""

_NAMES = {"ok": "safe"}
_OTHERWISE = "improved"
"""What the proposed mod is called: safe only where it is."""

Proved = Generator[tuple[Remedy, VariantResult], None, None]
"""Remedies, each with what it leads to, the best first."""

Cures = Callable[[Steps, VariantResult, Then], Proved]
"""The remedies of what some steps led to, which is given, too; those that are wanted next are judged beside them."""


class _Built(Struct, frozen=True):
    """What has been put together so far; made: the steps as they came, which lead to its result."""

    made: Steps
    cures: tuple[Remedy, ...]
    result: VariantResult

    @property
    def steps(self) -> Steps:
        return _steps(self.cures)


def _steps(cures: Iterable[Remedy]) -> Steps:
    return tuple(step for cure in cures for step in cure.steps)


def proposal(
    fragment: Fragment, result: VariantResult, first: Iterable[tuple[Remedy, VariantResult]], cures: Cures,
    trials: Trials,
) -> Proposal | None:
    """One mod that ends ok or as near as can be; None where nothing makes it better. first: the variant's cures."""
    ends: list[_Built] = []
    for start in in_time(islice(first, _MOST_STARTS), "Putting changes together"):
        ends.append(_built(fragment, result, start, cures, trials))
        ends.sort(key=lambda end: nearest(end.result))
        left = ends[0].result.verdict
        if left not in ("danger", "fails") or left == result.verdict:
            break  # another start leads further only where what seems best at first led somewhere, and not to the end
    built = _needed(fragment, result, ends[0], trials) if ends else None
    if built is None or not built.steps:
        return None
    steps = _in_order(fragment, built, trials)
    verdict = built.result.verdict
    return Proposal(mod_text(_NAMES.get(verdict, _OTHERWISE), steps, fragment), verdict,
                    tuple(map(remedy_words, built.cures)), steps, gravest(built.result))


def undoes(remedy: Remedy, made: Steps) -> bool:
    """Whether a change takes out again what steps before it have fitted."""
    fitted = {part.name for step in made if step.action == "fit" for part in step.parts}
    return any(step.action == "remove" and fitted.intersection(step.names) for step in remedy.steps)


def _needed(fragment: Fragment, result: VariantResult, built: _Built, trials: Trials) -> _Built:
    """Without the cures that those after them made needless, each proved by leaving it out."""
    for cure in in_time(built.cures, "Leaving out what is not needed"):
        left = _without(built.cures, cure)
        if not left:
            continue
        if _leads_out(built.result, result):
            without = trials.after(_steps(left), failing=False)
            if without is None or standing(without) > standing(built.result):
                continue
        after = trials.after(_steps(left))
        if (after is not None and standing(after) <= standing(built.result)
                and better(after, result, unkept(fragment))):
            built = _Built(_steps(left), left, after)
    return built


def _without(cures: tuple[Remedy, ...], cure: Remedy) -> tuple[Remedy, ...]:
    """The cures that are left without one; none where it cannot be left out.

    Where the part that another cure fits stands where this one moves it, the words of that would not say so.
    """
    left = tuple(one for one in cures if one is not cure)
    return () if _moved(cure) & _exchanged(left) else left


def _leads_out(after: VariantResult, before: VariantResult) -> bool:
    """Whether the verdict is a better one: that may be seen without single failures, which cost most."""
    return standing(after)[0] < standing(before)[0]


def _moved(cure: Remedy) -> frozenset[str]:
    return frozenset(name for step in cure.steps for name, _ in step.moves)


def _exchanged(cures: Sequence[Remedy]) -> frozenset[str]:
    return frozenset(part.name for cure in cures for step in cure.steps if step.action == "replace"
                     for part in step.parts)


def _built(
    fragment: Fragment, result: VariantResult, start: tuple[Remedy, VariantResult], cures: Cures, trials: Trials
) -> _Built:
    """A cure, then the best of what it leads to, and so on, until it is ok or nothing makes it better."""
    built = _Built((), (), result)
    best: tuple[Remedy, VariantResult] | None = start
    foreseen: list[Trial] = []

    def then(remedy: Remedy, after: VariantResult) -> Sequence[Trial]:
        """Each of the cures left out, which is tried when nothing more is to be added."""
        cures = (*built.cures, *(remedy.of or (remedy,)))
        now = [trials.trial(_steps(left), failing=not _leads_out(after, result))
               for cure in cures if (left := _without(cures, cure))]
        trials.forgo([one for one in foreseen if one not in now])
        foreseen[:] = now
        return foreseen

    for _ in in_time(range(_MOST_ROUNDS), "Putting changes together"):
        if best is None or not better(best[1], built.result, unkept(applied(fragment, built.made))):
            trials.forgo(foreseen)
            break
        remedy, after = best
        built = _Built((*built.made, *remedy.steps), _at_once(built, remedy, after, trials), after)
        if after.verdict == "ok":
            break
        trials.forgo(foreseen)
        with closing(cures(built.made, after, then)) as found:
            best = next(found, None)
    return built


def _at_once(built: _Built, remedy: Remedy, after: VariantResult, trials: Trials) -> tuple[Remedy, ...]:
    """The cures with one more; a part that it exchanges and an earlier one fits is fitted so at once, proved again."""
    cures = built.cures
    for one in remedy.of or (remedy,):
        cures = _with(cures, one)
    if len(cures) == len(built.cures) + len(remedy.of or (remedy,)):
        return cures
    again = trials.after(_steps(cures))
    return cures if again is not None and standing(again) == standing(after) else (*built.cures, remedy)


def _with(cures: tuple[Remedy, ...], remedy: Remedy) -> tuple[Remedy, ...]:
    """The cures with one more, united with an earlier one where both are about the same part."""
    for place, earlier in enumerate(cures):
        if (one := _united(earlier, remedy)) is not None:
            return (*cures[:place], one, *cures[place + 1:])
    return (*cures, remedy)


def _united(earlier: Remedy, later: Remedy) -> Remedy | None:
    """Both as one, where the later does nothing but exchange a part that the earlier fits; else None."""
    exchanged = {part.name: part for step in later.steps for part in step.parts if step.action == "replace"}
    fitted = {part.name: part for step in earlier.steps for part in step.parts}
    if any(step.action != "replace" for step in later.steps) or not exchanged or any(
            name not in fitted or fitted[name].pins != part.pins for name, part in exchanged.items()):
        return None
    steps = tuple(replace(step, parts=tuple(exchanged.get(part.name, part) for part in step.parts))
                  for step in earlier.steps)
    (part, *others) = exchanged.values()
    return None if others else replace(earlier, steps=steps, words=_with_another(earlier, later, part))


def _with_another(earlier: Remedy, later: Remedy, part: Part) -> str:
    """What a cure does with another part than it fitted at first, in words."""
    place, _, pin = (earlier.insert_diode or "").partition(".")
    if place and isinstance(part.spec, DiodeSpec):
        return phrase("lead-diode", diode=part.spec.name, cell=place, pin=pin) if pin else phrase(
            "diode-in-place", diode=part.spec.name, part=place)
    if earlier.extra.keys() == later.extra.keys() == {"replace"}:
        return later.words
    was = next(one for step in earlier.steps for one in step.parts if one.name == part.name)
    if earlier.extra.keys() == {"fit"} and isinstance(was.spec, DiodeSpec) and isinstance(part.spec, DiodeSpec):
        return earlier.words.replace(was.spec.name, part.spec.name)  # the same is fitted, of another type
    return phrase("both", first=remedy_words(earlier), second=remedy_words(later))


def _in_order(fragment: Fragment, built: _Built, trials: Trials) -> Steps:
    """The steps as they can be soldered, parts out first and the cell last, where that comes to the same."""
    ordered = _moved_once(sorted(built.steps, key=lambda step: _place(fragment, step)))
    if ordered == built.steps:
        return built.steps
    again = trials.after(ordered)
    return ordered if again is not None and standing(again) == standing(built.result) else built.steps


def _moved_once(steps: Sequence[Step]) -> Steps:
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
