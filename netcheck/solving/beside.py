"""Work shared with a copy of this process, which knows all that has been worked out here until then.

What may be asked for is expected, in an order: whoever is free, this process or its copy, does the next of it, and
what is done already when it is asked for is there at once. A copy (a fork) is made only where that is safe and worth
it: on Linux, by a process of one thread that is nobody's worker itself, with a second processor, whose work so far was
long enough for a second simulator. Without one everything is done here, with the same results. A copy that is lost
costs time alone: what it was at is done here.
"""

from __future__ import annotations

import gc
import mmap
import os
import pickle
import signal
import sys
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any, Generic, NoReturn, TypeVar

from netcheck.clock import heard, in_time
from netcheck.simulation.lifetime import end_with, interruptions_held
from netcheck.simulation.process import cores, simulator

if TYPE_CHECKING:
    from multiprocessing.connection import Connection

    from netcheck.simulation.child import Worker

K = TypeVar("K", bound=Hashable)
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
        sharing.forget()


class Shared(Generic[K, T]):
    """Some work, and the copy of this process that does a part of it."""

    def __init__(self, work: Callable[[K], T], subject: Callable[[K], Hashable]) -> None:
        self._work = work
        self._subject = subject
        self._claims = _Claims()
        self._copy: _Copy | None = None
        self._left: dict[int, K] = {}  # what is expected and not done yet, each at a place of its own
        self._untold: dict[int, K] = {}  # of these, what the copy has not been told of
        self._failed: set[int] = set()  # what the copy could not do
        self._theirs: set[Hashable] = set()  # what the copy has had to do with
        self._found: dict[K, T] = {}
        self._places = 0

    def expect(self, things: Sequence[K]) -> None:
        """These may be asked for, in this order, after what is expected already."""
        if not self._left and self._theirs.isdisjoint(map(self._subject, things)):
            self._end()  # a new copy knows more
        known = {*self._left.values(), *self._found}
        for thing in dict.fromkeys(things):
            if thing not in known and self._places < _Claims.MOST:
                self._left[self._places] = self._untold[self._places] = thing
                self._places += 1
        if self._copy is None and len(self._left) > 1 and _may_copy():
            self._copy = _copied(self._work, self._subject, self._claims)
        self._tell()

    def drop(self, things: Iterable[K]) -> None:
        """These will not be asked for any more; one that the copy is at goes on."""
        dropped = set(things)
        for place in [place for place, thing in self._left.items() if thing in dropped]:
            if self._claims.took(place, _HERE):
                self._done(place)

    def results(self, things: Sequence[K], what: str = "", sure: int | None = None) -> Iterator[tuple[K, T]]:
        """The things in their order, each with its result, until the time allowed is used up; the first always.

        They are expected from now on. what: said of them, with their count. sure: how many of them will be asked for;
        all where it is not given.
        """
        self.expect(things)
        for place in in_time(range(len(things)), what):
            yield things[place], self.result(things[place], things[:sure])

    def result(self, thing: K, among: Sequence[K] = ()) -> T:
        """What a thing comes to. While the copy is at it, others of those that it is among are done here."""
        wanted = dict.fromkeys((thing, *among))
        while thing not in self._found:
            place = self._mine(wanted)
            if place is not None and self._claims.took(place, _HERE):
                self._found[self._left[place]] = self._work(self._left[place])
                self._done(place)
                self._take(wait=False)
            elif thing not in self._left.values():  # nobody expected it
                self._found[thing] = self._work(thing)
            else:
                self._take(wait=place is None)
        return self._found[thing]

    def forget(self) -> None:
        """Nothing is expected any more: the copy ends, whatever it is at."""
        self._end()
        self._left.clear()
        self._untold.clear()

    def _mine(self, wanted: Iterable[K]) -> int | None:
        """The place of what is to be done here next: what the copy knows nothing of, then what is wanted first."""
        places = {thing: place for place, thing in self._left.items()
                  if place in self._failed or self._claims.by(place) == _NOBODY}
        free = [thing for thing in wanted if thing in places]
        theirs = self._theirs | {self._subject(thing) for place, thing in self._left.items()
                                 if self._claims.by(place) == _THERE}
        first = next((thing for thing in free if self._subject(thing) not in theirs), next(iter(free), None))
        return None if first is None else places[first]

    def _tell(self) -> None:
        """Tell the copy what is expected, not too much at a time."""
        while self._copy is not None and self._untold and len(self._left) - len(self._untold) < _AHEAD:
            place, thing = next(iter(self._untold.items()))
            if not self._copy.told(place, thing):
                self._end()
                return
            self._untold.pop(place)

    def _take(self, wait: bool) -> None:
        """Take what the copy has found; where it has gone, what it was at is to be done here."""
        while self._copy is not None and (wait or self._copy.has_answered()):
            wait = False
            try:
                place, found = self._copy.taken()
            except EOFError:
                self._end()
                return
            thing = self._left.get(place)
            if thing is None:
                continue  # it was done here meanwhile
            self._theirs.add(self._subject(thing))
            if found is None:
                self._failed.add(place)
                self._claims.give(place, _HERE)
                continue
            self._found[thing] = pickle.loads(found)
            self._done(place)
        self._tell()

    def _done(self, place: int) -> None:
        del self._left[place]
        self._untold.pop(place, None)
        self._failed.discard(place)

    def _end(self) -> None:
        """End the copy; what is not done is free again, and told to another one if there is to be one."""
        if self._copy is not None:
            at = [place for place in self._left if not self._claims.took(place, _HERE) and place not in self._failed]
            self._copy.end(at_work=bool(at))
            self._copy = None
            self._theirs.clear()
            self._untold = dict(self._left)
            for place in self._left:
                self._claims.give(place, _NOBODY)


_AHEAD = 8
"""Things that a copy is told of at a time: they fit into the way to it, whatever it is at."""

_NOBODY, _HERE, _THERE = range(3)


class _Claims:
    """Who does what, known to both sides: a byte for each place. Where both begin at once, both do it."""

    MOST = 4096

    def __init__(self) -> None:
        self._whose = mmap.mmap(-1, self.MOST)

    def by(self, place: int) -> int:
        return self._whose[place]

    def took(self, place: int, who: int) -> bool:
        """Take a place; False where somebody else has it."""
        if self._whose[place] not in (_NOBODY, who):
            return False
        self._whose[place] = who
        return True

    def give(self, place: int, who: int) -> None:
        """Let somebody have a place, whoever had it."""
        self._whose[place] = who


class _Copy:
    """A copy of this process, with one of its simulators."""

    def __init__(self, pid: int, way: Connection, simulator: Worker) -> None:
        self._pid, self._way, self._worker = pid, way, simulator
        self._sound = True  # whether the simulator is fit to be taken back

    def told(self, place: int, thing: Any) -> bool:
        """Tell it of a thing to do; False where it has gone."""
        with suppress(OSError):
            self._way.send((place, thing))
            return True
        return False

    def has_answered(self) -> bool:
        """Whether it has an answer, or has gone."""
        return self._way.poll()

    def taken(self) -> tuple[int, bytes | None]:
        """The place of what it did and what it found, pickled, waited for; None where it could not do it.

        Raises EOFError where it has gone.
        """
        try:
            place, found, self._sound = self._way.recv()
        except OSError as error:
            raise EOFError from error
        return place, found

    def end(self, at_work: bool) -> None:
        """End it and take its simulator back where that is at nothing. at_work: it may be at something."""
        if at_work:
            self._sound = False
            with suppress(OSError):
                os.kill(self._pid, signal.SIGKILL)
        self._way.close()
        with suppress(ChildProcessError):
            os.waitpid(self._pid, 0)
        gc.unfreeze()
        simulator().take_back(self._worker, self._sound)


def _copied(work: Callable[[Any], Any], subject: Callable[[Any], Hashable], claims: _Claims) -> _Copy | None:
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
            _serve(there, worker, work, _Chores(there, subject, claims), parent)
    return _Copy(pid, here, worker)


def _serve(
    way: Connection, worker: Worker, work: Callable[[Any], Any], chores: _Chores, parent: int
) -> NoReturn:
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
                place, thing = chores.next()
                way.send((place, _found(work, thing), simulator().has_only(worker)))
    except BaseException:
        pass
    finally:
        os._exit(0)


def _found(work: Callable[[Any], Any], thing: Any) -> bytes | None:
    """What was found, pickled; None where it could not be done, and is done again where that can be told."""
    try:
        return pickle.dumps(work(thing))
    except Exception:
        return None


class _Chores:
    """In a copy: what it has been told of, and what of it comes next."""

    def __init__(self, way: Connection, subject: Callable[[Any], Hashable], claims: _Claims) -> None:
        self._way, self._subject, self._claims = way, subject, claims
        self._things: dict[int, Any] = {}
        self._mine: set[Hashable] = set()

    def next(self) -> tuple[int, Any]:
        """The next thing with its place, waited for. Raises EOFError and OSError once nobody asks any more."""
        while True:
            free = {place: self._subject(thing) for place, thing in self._things.items()
                    if self._claims.by(place) == _NOBODY}
            if not free or self._way.poll():
                place, thing = self._way.recv()
                self._things[place] = thing
                continue
            theirs = {self._subject(thing) for place, thing in self._things.items() if self._claims.by(place) == _HERE}
            place = min(free, key=lambda one: (free[one] not in self._mine, free[one] in theirs, one))
            if self._claims.took(place, _THERE):
                self._mine.add(free[place])
                return place, self._things[place]


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
