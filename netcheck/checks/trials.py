"""Changes of a variant on trial: each is judged as it is asked for, here or in a copy of this process beside."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from operator import attrgetter

from msgspec import Struct
from msgspec.structs import replace

from netcheck.checks.results import VariantResult
from netcheck.fragment.model import Fragment, Step
from netcheck.fragment.mods import StepFault, apply_steps
from netcheck.solving.beside import Shared, shared

Steps = tuple[Step, ...]

Judge = Callable[[Fragment, bool], VariantResult]
"""Judges a changed variant, without cures of its own; whether with single failures, too."""


def applied(fragment: Fragment, steps: Iterable[Step]) -> Fragment:
    """The fragment after these steps, as a mod: without the readings, which were taken before."""
    return replace(apply_steps(fragment, tuple(steps)), readings=(), variant="cure", found=fragment.found or fragment)


class Trial(Struct, frozen=True, eq=False):
    """Steps to be done, told apart by the number of what they make; failing: to be judged with single failures, too."""

    number: int | None
    failing: bool
    steps: Steps

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Trial) and (self.number, self.failing) == (other.number, other.failing)

    def __hash__(self) -> int:
        return hash((self.number, self.failing))


@contextmanager
def trials(fragment: Fragment, judge: Judge) -> Iterator[Trials]:
    """Trials of changes of this variant, as long as the block lasts."""

    def judged(trial: Trial) -> VariantResult | None:
        if trial.number is None:
            return None
        after = judge(applied(fragment, trial.steps), trial.failing)
        return None if after.cut_short else after

    with shared(judged, subject=attrgetter("number"), sort=attrgetter("failing")) as sharing:
        yield Trials(fragment, sharing, [])


class Trials:
    """What changes of a variant lead to; None where the steps cannot be done, or there was no time to judge them.

    known: what was made so far. made: steps done before any of those given.
    """

    def __init__(
        self, fragment: Fragment, sharing: Shared[Trial, VariantResult | None], known: list[Fragment],
        made: Steps = (),
    ) -> None:
        self._fragment, self._sharing, self._known, self._made = fragment, sharing, known, made

    def on(self, made: Iterable[Step]) -> Trials:
        """Trials of changes of what these steps lead to."""
        return Trials(self._fragment, self._sharing, self._known, (*self._made, *made))

    def after(self, steps: Iterable[Step], failing: bool = True) -> VariantResult | None:
        """What some steps lead to."""
        return self._sharing.result(self.trial(steps, failing))

    def in_turn(
        self, changes: Sequence[Iterable[Step]], failing: bool, what: str, sure: int | None = None,
        then: Sequence[Trial] = (),
    ) -> Iterator[tuple[int, VariantResult | None]]:
        """The place of each change and what it leads to, until the time is used up; what: said of them.

        sure: how many of them will be asked for; all where it is not given. then: the trials that will be asked for
        once the first has led to what it promised.
        """
        found = self._sharing.results([self.trial(steps, failing) for steps in changes], what, sure, then)
        yield from ((place, after) for place, (_, after) in enumerate(found))

    def ahead(self, steps: Iterable[Step], then: Sequence[Trial]) -> None:
        """Judge a change that may be asked for, where the others are tried beside it. then: as of `in_turn`."""
        self._sharing.ahead(self.trial(steps), then)

    def drop(self, changes: Iterable[Iterable[Step]], failing: bool = True) -> None:
        """These will not be asked for any more."""
        self.forgo([self.trial(steps, failing) for steps in changes])

    def forgo(self, unwanted: Iterable[Trial]) -> None:
        """As `drop`, of trials."""
        self._sharing.drop(unwanted)

    def trial(self, steps: Iterable[Step], failing: bool = True) -> Trial:
        """Some steps to be tried; nothing is judged yet."""
        whole = (*self._made, *steps)
        try:
            changed = applied(self._fragment, whole)
        except StepFault:
            return Trial(None, failing, whole)
        if changed not in self._known:
            self._known.append(changed)
        return Trial(self._known.index(changed), failing, whole)
