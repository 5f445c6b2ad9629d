"""A check asks for the circuits it needs by name; what many ask for at a time is solved in one go."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable, Mapping
from typing import Any, TypeVar

from netcheck.simulation.elements import Circuit, OperatingPoint
from netcheck.simulation.operating_point import solve

T = TypeVar("T")

Points = Mapping[Any, OperatingPoint]
Asking = Generator[Mapping[Any, Circuit], Points, T]
"""Yields circuits, each under a key of its own, is sent their points, and returns T."""


def asked(circuits: Mapping[Any, Circuit]) -> Asking[Points]:
    """The points of some circuits, each under the key of its circuit."""
    return (yield circuits)


def done(result: T) -> Asking[T]:
    """An asking that needs nothing solved."""
    yield from ()
    return result


def abreast(askings: Iterable[Asking[Any]]) -> Asking[list[Any]]:
    """Several askings as one: what they ask for at a time is asked for together."""
    steps: dict[int, tuple[Asking[Any], Any]] = {place: (one, None) for place, one in enumerate(askings)}
    results: list[Any] = [None] * len(steps)
    while steps:
        wanted: dict[int, Mapping[Any, Circuit]] = {}
        for place, (one, points) in steps.items():
            try:
                wanted[place] = one.send(points)
            except StopIteration as done:
                results[place] = done.value
        found = (yield {(place, key): c for place, own in wanted.items() for key, c in own.items()}) if wanted else {}
        steps = {place: (steps[place][0], {key: found[place, key] for key in own}) for place, own in wanted.items()}
    return results


def answered(
    asking: Asking[T], missing: str | None = None, progress: Callable[[int, int], None] | None = None
) -> T:
    """The result of an asking, every batch of it solved; missing: why nothing can be."""
    points: Any = None
    while True:
        try:
            wanted = asking.send(points)
        except StopIteration as done:
            return done.value  # type: ignore[no-any-return]
        circuits = list(wanted.values())
        solved = [OperatingPoint(problem=missing)] * len(circuits) if missing else solve(circuits, progress=progress)
        points = dict(zip(wanted, solved, strict=True))
