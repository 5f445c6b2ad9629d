"""Work shared with a copy of this process, which knows all that has been worked out here until then.

A copy (a fork) is made only where that is safe and worth it: on Linux, by a process of one thread that is nobody's
worker itself, with a second processor, whose work so far was long enough for a second simulator. Without one
everything is done here, with the same results. A copy that is lost costs time alone: what it was at is done here.
"""

from __future__ import annotations

import gc
import os
import pickle
import signal
import sys
from collections import deque
from collections.abc import Callable, Hashable, Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any, Generic, NoReturn, TypeVar

from netcheck.clock import heard, in_time
from netcheck.simulation.lifetime import end_with, interruptions_held
from netcheck.simulation.process import cores, simulator

if TYPE_CHECKING:
    from multiprocessing.connection import Connection

    from netcheck.simulation.child import Worker

K = TypeVar("K")
T = TypeVar("T")


@contextmanager
def shared(work: Callable[[K], T], subject: Callable[[K], Hashable]) -> Iterator[Shared[K, T]]:
    """What does some work here and, where it is worth it, in a copy of this process too, which ends with this block.

    work: a function of a thing alone; things and results pickle. subject: what a thing is about; whoever has done one
    about it before does the next one, since it knows most of it already.
    """
    sharing = Shared(work, subject)
    try:
        yield sharing
    finally:
        sharing.end()


class Shared(Generic[K, T]):
    """Some work, and the copy of this process that does a part of it."""

    def __init__(self, work: Callable[[K], T], subject: Callable[[K], Hashable]) -> None:
        self._work = work
        self._subject = subject
        self._copy: _Copy | None = None
        self._theirs: set[Hashable] = set()  # what the copy has had to do with
        self._left: dict[int, K] = {}
        self._found: dict[int, T] = {}

    def results(self, things: Sequence[K], what: str = "") -> Iterator[tuple[K, T]]:
        """The things in their order, each with its result, until the time allowed is used up; the first always.

        None is begun any more once nobody asks for the next. what: said of them, with their count.
        """
        if self._copy is not None and (self._copy.at or len(things) == 1):
            self.end()  # it is at something that nobody asks for any more, or its simulator is of more use here
        self._left, self._found = dict(enumerate(things)), {}
        for place in in_time(range(len(things)), what):
            while place not in self._found:
                mine = self._mine(place)
                self._give(mine)
                if mine is not None:
                    self._found[mine] = self._work(self._left.pop(mine))
                self._take(wait=mine is None)
            yield things[place], self._found.pop(place)

    def end(self) -> None:
        """End the copy."""
        if self._copy is not None:
            self._copy.end()
            self._copy = None
            self._theirs.clear()

    def _mine(self, wanted: int) -> int | None:
        """What is to be done here next: what the copy knows nothing of, then what is wanted first."""
        ways = (place for place in self._left if self._subject(self._left[place]) not in self._theirs)
        return next(ways, wanted if wanted in self._left else next(iter(self._left), None))

    def _give(self, mine: int | None) -> None:
        """Give the copy what to do: one thing, and one more unless that is the last, which is for whoever is free."""
        others = sorted((place for place in self._left if place != mine),
                        key=lambda place: self._subject(self._left[place]) not in self._theirs)
        if others and self._copy is None and _may_copy():
            self._copy = _copied(self._work)
        if self._copy is None:
            return
        for place in others[:max(0, _AHEAD - len(self._copy.at))]:
            if (self._copy.at and place == others[-1]) or not self._copy.given(place, self._left[place]):
                return
            self._theirs.add(self._subject(self._left.pop(place)))

    def _take(self, wait: bool) -> None:
        """Take what the copy has found; where it has gone, what it was at is to be done here."""
        while self._copy is not None and self._copy.at and (wait or self._copy.has_answered()):
            wait = False
            place, key = self._copy.at[0]
            try:
                self._found[place] = self._copy.taken()
            except _Failed:
                self._left[place] = key
            except EOFError:
                self._left |= dict(self._copy.at)
                self.end()


_AHEAD = 2
"""Things that a copy is given at a time, so that it need not wait for the next."""


class _Failed(Exception):
    """The copy could not do what it was at."""


class _Copy:
    """A copy of this process, with one of its simulators."""

    def __init__(self, pid: int, way: Connection, simulator: Worker) -> None:
        self._pid, self._way, self._worker = pid, way, simulator
        self._sound = False  # whether the simulator is fit to be taken back
        self.at: deque[tuple[int, Any]] = deque()
        """What it is at and what comes then, each with its place."""

    def given(self, place: int, thing: Any) -> bool:
        """Give it a thing to do; False where it has gone."""
        with suppress(OSError):
            self._way.send(thing)
            self.at.append((place, thing))
            return True
        return False

    def has_answered(self) -> bool:
        """Whether it has an answer, or has gone."""
        return self._way.poll()

    def taken(self) -> Any:
        """What it found of the first, waited for. Raises _Failed, and EOFError where it has gone."""
        try:
            found, done, self._sound = self._way.recv()
        except OSError as error:
            raise EOFError from error
        self.at.popleft()
        if not done:
            raise _Failed
        return pickle.loads(found)

    def end(self) -> None:
        """End it, whatever it is at, and take its simulator back where that is at nothing."""
        if self.at:
            self._sound = False
            with suppress(OSError):
                os.kill(self._pid, signal.SIGKILL)
        self._way.close()
        with suppress(ChildProcessError):
            os.waitpid(self._pid, 0)
        gc.unfreeze()
        simulator().take_back(self._worker, self._sound)


def _copied(work: Callable[[Any], Any]) -> _Copy | None:
    """A copy of this process that does some work; None where there is no simulator for it, or no memory."""
    if (worker := simulator().lend()) is None:
        return None
    from multiprocessing import Pipe

    here, there = Pipe()
    parent = os.getpid()
    gc.freeze()  # a collection would write to every page that the two still have in common
    with there, interruptions_held():
        try:
            pid = os.fork()
        except OSError:
            here.close()
            gc.unfreeze()
            simulator().take_back(worker, False)
            return None
        if pid == 0:
            here.close()
            _serve(there, worker, work, parent)
    return _Copy(pid, here, worker)


def _serve(way: Connection, worker: Worker, work: Callable[[Any], Any], parent: int) -> NoReturn:
    """The life of a copy: one thing after the other, until nobody asks any more. Leaves nothing to clean up."""
    global _is_copy
    try:
        _is_copy = True
        for one in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(one, signal.SIG_IGN if one is signal.SIGINT else signal.SIG_DFL)
        end_with(parent)
        simulator().adopt(worker)
        with heard(lambda what, done, of: None):
            while True:
                way.send_bytes(_answer(work, way.recv(), worker))
    except BaseException:
        pass
    finally:
        os._exit(0)


def _answer(work: Callable[[Any], Any], key: Any, worker: Worker) -> bytes:
    """What was found, whether it was done at all, and whether the simulator is fit to be given back; pickled."""
    try:
        found, done = pickle.dumps(work(key)), True
    except Exception:  # it is done again where it can be told
        found, done = b"", False
    return pickle.dumps((found, done, simulator().has_only(worker)))


_is_copy = False


def _may_copy() -> bool:
    """Whether a copy of this process would have all that it needs, and a processor."""
    if _is_copy or sys.platform != "linux" or cores() < 2 or _threads() != 1:
        return False
    pool = sys.modules.get("multiprocessing")
    return pool is None or pool.parent_process() is None


def _threads() -> int | None:
    """Threads of this process, those of libraries too; None where the system does not tell."""
    try:
        return len(os.listdir("/proc/self/task"))
    except OSError:
        return None
