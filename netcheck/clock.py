"""The time that a command may take, and what it says it is at: the one clock that long loops ask.

`limited` sets the time; a loop that may take long runs over `in_time(things)`, which ends when the time is used up,
or asks `used_up()`. Time that has been used up stays so, hence whoever gives the answer asks once at the end and calls
what is left unknown. No signal, no thread: what asks nobody is not ended.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator, Sized
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TypeVar

T = TypeVar("T")

Listener = Callable[[str, int, int], None]
"""Told what is being done, how much of it is done and how much there is (0: nobody knows)."""

_until: ContextVar[tuple[float, float] | None] = ContextVar("until", default=None)
_listener: ContextVar[Listener | None] = ContextVar("listener", default=None)
_subject: ContextVar[str] = ContextVar("subject", default="")


class OutOfTime(str):
    """Why something is not known: the time for it was used up, and nothing is wrong with the board."""


@contextmanager
def limited(seconds: float | None) -> Iterator[None]:
    """Whatever is done meanwhile has so many seconds in all; None: as many as it likes.

    A limit that is already set stays where it is sooner.
    """
    outer = _until.get()
    if seconds is None:
        yield
        return
    mine = (time.monotonic() + seconds, seconds)
    token = _until.set(mine if outer is None else min(mine, outer))
    try:
        yield
    finally:
        _until.reset(token)


@contextmanager
def share(of: float) -> Iterator[None]:
    """Whatever is done meanwhile has this share of the time that is left, so that something is left for what follows.

    What it does not reach is told as that of the whole: the seconds named are those of the limit around it.
    """
    outer = _until.get()
    if outer is None:
        yield
        return
    now = time.monotonic()
    token = _until.set((now + of * max(0.0, outer[0] - now), outer[1]))
    try:
        yield
    finally:
        _until.reset(token)


def used_up() -> OutOfTime | None:
    """Why nothing more may be worked out, where the time for it has been used up."""
    limit = _until.get()
    if limit is None or time.monotonic() <= limit[0]:
        return None
    return OutOfTime(f"it was not tried: the {limit[1]:g} s allowed for all were used up")


def at_most(seconds: float) -> float:
    """The seconds that one thing may take: no more than given, nor than are left; a little always, to be told."""
    limit = _until.get()
    return seconds if limit is None else min(seconds, max(0.05, limit[0] - time.monotonic()))


def in_time(things: Iterable[T], what: str = "") -> Iterator[T]:
    """The things in turn until the time is used up, the first always; what: said of the loop, with its count."""
    total = len(things) if isinstance(things, Sized) else 0
    for done, thing in enumerate(things):
        if done and used_up() is not None:
            return
        if what:
            doing(what, done, total)
        yield thing


def doing(what: str, done: int = 0, of: int = 0) -> None:
    """Say what is being done, to whoever listens."""
    listener = _listener.get()
    if listener is not None:
        subject = _subject.get()
        listener(f"{subject}: {what}" if subject and what else what, done, of)


@contextmanager
def about(subject: str) -> Iterator[None]:
    """Whatever is done meanwhile is said to be about this, such as a variant by its name."""
    token = _subject.set(subject)
    try:
        yield
    finally:
        _subject.reset(token)


@contextmanager
def heard(listener: Listener) -> Iterator[None]:
    """Somebody listens to what is being done meanwhile."""
    token = _listener.set(listener)
    try:
        yield
    finally:
        _listener.reset(token)
