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
import time
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from itertools import islice
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
def shared(
    work: Callable[[K], T], subject: Callable[[K], Hashable], sort: Callable[[K], Hashable] = lambda thing: None
) -> Iterator[Shared[K, T]]:
    """What does some work here and, where it is worth it, in a copy of this process too, which ends with this block.

    work: a function of a thing alone; things and results pickle. subject: what a thing is about; whoever has done one
    about it before does the next one, since it knows most of it already. sort: things of one sort take about as long.
    """
    sharing = Shared(work, subject, sort)
    try:
        yield sharing
    finally:
        sharing.forget()


class Shared(Generic[K, T]):
    """Some work, and the copy of this process that does a part of it."""

    def __init__(
        self, work: Callable[[K], T], subject: Callable[[K], Hashable], sort: Callable[[K], Hashable]
    ) -> None:
        self._work = work
        self._subject = subject
        self._sort = sort
        self._lasted_s: dict[Hashable, float] = {}  # by sort, the last of them
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
        self._note(things)
        self._tell()

    def _note(self, things: Sequence[K]) -> None:
        """As `expect`, of which the copy is not told yet."""
        if not self._left and self._theirs.isdisjoint(map(self._subject, things)):
            self._end()  # a new copy knows more
        known = {*self._left.values(), *self._found}
        for thing in dict.fromkeys(things):
            if thing not in known and self._places < _Claims.MOST:
                self._left[self._places] = self._untold[self._places] = thing
                self._places += 1
        if self._copy is None and len(self._left) > 1 and _may_copy():
            self._copy = _copied(self._work, self._subject, self._claims)

    def drop(self, things: Iterable[K]) -> None:
        """These will not be asked for any more; one that the copy is at goes on."""
        dropped = set(things)
        for place in [place for place, thing in self._left.items() if thing in dropped]:
            if self._claims.took(place, _HERE):
                self._done(place)

    def results(
        self, things: Sequence[K], what: str = "", sure: int | None = None, then: Sequence[K] = ()
    ) -> Iterator[tuple[K, T]]:
        """The things in their order, each with its result, until the time allowed is used up; the first always.

        what: said of them, with their count. sure: how many of them will be asked for, and are expected from now on;
        all where it is not given. then: what will be asked for after the first, if that is what it seems.
        """
        self._note((*things[:1], *then, *things[1:sure]))
        for place in in_time(range(len(things)), what):
            among = (*things[:sure], *(then if place == 0 else ()))
            yield things[place], self.result(things[place], among)

    def ahead(self, thing: K, then: Sequence[K] = ()) -> None:
        """Do one here that may be asked for, where there is a copy that does the rest of what is expected meanwhile.

        then: what will be asked for after it, if it is asked for.
        """
        self._note((thing, *then))
        place = next((place for place, left in self._left.items() if left == thing), None)
        if self._copy is not None and place is not None and self._claims.took(place, _HERE):
            self._do(place)
            self._take(0.0)

    def result(self, thing: K, among: Sequence[K] = ()) -> T:
        """What a thing comes to. While the copy is at it, others are done here, those that it is among first.

        Nothing long is begun when the copy will soon have it.
        """
        wanted = dict.fromkeys((thing, *among))
        while thing not in self._found:
            place = self._mine(wanted)
            if place is None and thing in self._left.values():
                place = self._mine(self._left.values())
            soon_s = self._there_sooner_s(thing, place) if place is not None else 0.0
            if place is not None and not soon_s and self._claims.took(place, _HERE):
                self._do(place)
                self._take(0.0)
            elif thing not in self._left.values():  # nobody expected it
                self._found[thing] = self._work(thing)
            else:
                self._tell()
                self._take(None if place is None else soon_s)
        return self._found[thing]

    def _do(self, place: int) -> None:
        """Do what is expected at a place that has been taken; the copy, told of the rest now, does something else."""
        self._tell()
        began = time.monotonic()
        self._found[self._left[place]] = self._work(self._left[place])
        self._lasted_s[self._sort(self._left[place])] = time.monotonic() - began
        self._done(place)

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

    def _there_sooner_s(self, thing: K, place: int) -> float:
        """Seconds in which the copy, which is at a thing, will have it well before another could be done here; or 0."""
        theirs = next((one for one, left in self._left.items() if left == thing), None)
        lasts_s, other_s = (self._lasted_s.get(self._sort(one)) for one in (thing, self._left[place]))
        if theirs is None or self._claims.by(theirs) != _THERE or lasts_s is None or other_s is None:
            return 0.0
        left_s, soon_s = lasts_s - self._claims.for_s(theirs), _SOON * other_s
        return max(0.0, left_s) + soon_s if -_LATE * lasts_s < left_s < soon_s else 0.0

    def _tell(self) -> None:
        """Tell the copy what is expected, not too much at a time."""
        if self._copy is None:
            return
        now = dict(islice(self._untold.items(), max(0, _AHEAD - self._copy.unheard)))
        if now and not self._copy.told(now):
            self._end()
            return
        for place in now:
            del self._untold[place]

    def _take(self, wait_s: float | None) -> None:
        """Take what the copy has found, waited for; where it has gone, what it was at is to be done here.

        wait_s: for how long; None: as long as it takes.
        """
        while self._copy is not None and self._copy.has_answered(wait_s):
            wait_s = 0.0
            try:
                place, found, took_s = self._copy.taken()
            except EOFError:
                self._end()
                return
            thing = self._left.get(place)
            if thing is None:
                continue  # it was done here meanwhile
            self._theirs.add(self._subject(thing))
            self._lasted_s[self._sort(thing)] = took_s
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
            self._untold = {place: thing for place, thing in self._left.items() if place not in self._failed}
            for place in self._left:
                self._claims.give(place, _NOBODY)


_SOON = 0.25
"""What the copy will have within this share of the time that something else takes is waited for."""

_LATE = 1.5
"""How many times longer than usual the copy may be at something until nobody knows when it will have it."""

_AHEAD = 8
"""Things that a copy is told of and has not heard yet, at most: they fit into the way to it, whatever it is at."""

_NOBODY, _HERE, _THERE = range(3)


class _Claims:
    """Who does what since when, known to both sides. Where both begin at once, both do it."""

    MOST = 4096

    def __init__(self) -> None:
        self._whose = mmap.mmap(-1, self.MOST)  # a byte for each place
        self._since_s = memoryview(mmap.mmap(-1, 8 * self.MOST)).cast("d")
        self._heard = memoryview(mmap.mmap(-1, 8)).cast("q")

    def by(self, place: int) -> int:
        return self._whose[place]

    def for_s(self, place: int) -> float:
        """Seconds since a place was taken."""
        return time.monotonic() - self._since_s[place]

    @property
    def heard(self) -> int:
        """Things that the copy has heard of."""
        return self._heard[0]

    @heard.setter
    def heard(self, things: int) -> None:
        self._heard[0] = things

    def took(self, place: int, who: int) -> bool:
        """Take a place; False where somebody else has it."""
        if self._whose[place] not in (_NOBODY, who):
            return False
        self._since_s[place] = time.monotonic()
        self._whose[place] = who
        return True

    def give(self, place: int, who: int) -> None:
        """Let somebody have a place, whoever had it."""
        self._whose[place] = who


class _Copy:
    """A copy of this process, with one of its simulators."""

    def __init__(self, pid: int, way: Connection, simulator: Worker, claims: _Claims) -> None:
        self._pid, self._way, self._worker, self._claims = pid, way, simulator, claims
        self._sound = True  # whether the simulator is fit to be taken back
        self._told = 0

    @property
    def unheard(self) -> int:
        """Things that it was told of and has not heard yet: they lie on the way to it while it is at something."""
        return self._told - self._claims.heard

    def told(self, things: Mapping[int, Any]) -> bool:
        """Tell it of things to do, each at its place; False where it has gone."""
        with suppress(OSError):
            self._way.send(things)
            self._told += len(things)
            return True
        return False

    def has_answered(self, within_s: float | None = 0.0) -> bool:
        """Whether it has an answer, or has gone; waited for (None: for as long as it takes)."""
        return self._way.poll(within_s)

    def taken(self) -> tuple[int, bytes | None, float]:
        """The place of what it did, what it found, pickled, waited for (None where it could not do it), and seconds.

        Raises EOFError where it has gone.
        """
        try:
            place, found, took_s, self._sound = self._way.recv()
        except OSError as error:
            raise EOFError from error
        return place, found, took_s

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
    claims.heard = 0
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
    return _Copy(pid, here, worker, claims)


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
                began = time.monotonic()
                found = _found(work, thing)
                way.send((place, found, time.monotonic() - began, simulator().has_only(worker)))
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
        self._after: dict[int, int] = {}  # how much had been told before it: what was told together goes together
        self._mine: set[Hashable] = set()

    def next(self) -> tuple[int, Any]:
        """The next thing with its place, waited for. Raises EOFError and OSError once nobody asks any more."""
        while True:
            free = {place: self._subject(thing) for place, thing in self._things.items()
                    if self._claims.by(place) == _NOBODY}
            if not free or self._way.poll():
                told = self._way.recv()
                self._things.update(told)
                self._after.update(dict.fromkeys(told, self._claims.heard))
                self._claims.heard += len(told)
                continue
            theirs = {self._subject(thing) for place, thing in self._things.items() if self._claims.by(place) == _HERE}
            place = min(free, key=lambda one: (
                self._after[one], free[one] not in self._mine, free[one] in theirs, one))
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
