"""The parent's side of the simulator: worker processes, their deadlines, and what to do when one dies.

Nothing here raises for a circuit's own fault: a run that hangs, crashes or has
no result comes back as an answer that says so. Every job has a number that its
answer must repeat; a worker that was interrupted, killed, overdue or that
answered out of turn is thrown away with all that it might still say. Imports
neither PySpice nor numpy.
"""

from __future__ import annotations

import atexit
import os
import selectors
import threading
import time
import weakref
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from itertools import count

from netcheck.clock import OutOfTime
from netcheck.simulation import child
from netcheck.simulation.child import Answer as Answer
from netcheck.simulation.child import Job as Job
from netcheck.simulation.child import Sent, Worker
from netcheck.simulation.frames import Garbled

_AHEAD_BYTES = 16_000  # decks that lie before a worker, so that it never waits for the next
_TOGETHER_BYTES = 4_000  # decks that are sent together
_ALONE_S = 0.05  # one worker is enough for so much; what takes longer is given to further ones
_STARTS = 3  # how often a worker may die while it starts before that counts as its answer


_Selector = getattr(selectors, "PollSelector", selectors.DefaultSelector)  # it takes no call of the system to make


def cores() -> int:
    """Processors that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class Simulator:
    """Worker processes that are started when first needed and again whenever one had to go."""

    def __init__(self, most: int | None = None) -> None:
        """most: workers that a long batch may use; as many as processors unless given."""
        self._most = most or cores()
        self._workers: list[Worker] = []
        self._numbers = count(1)
        self._missing: str | None = None
        self._at_work_s = 0.0
        self._twins = True
        self._lock = threading.Lock()
        _living.add(self)

    @property
    def pids(self) -> list[int]:
        """Process ids of the workers."""
        return [worker.pid for worker in self._workers]

    @property
    def pid(self) -> int | None:
        """Process id of the first worker, None while there is none."""
        return next(iter(self.pids), None)

    def warm_up(self) -> None:
        """Start a worker and do not wait for it: it loads ngspice while the caller does other work."""
        with self._lock, suppress(OSError):  # whoever needs a result is told
            if not self._workers:
                self._start()

    def available(self) -> str | None:
        """None when the simulator works, else the reason, with the line that installs what is missing."""
        with self._dropping():
            if any(worker.ready for worker in self._workers):
                return None
            return _Batch(self, iter(()), child.START_S).missing()

    def close(self) -> None:
        """End the workers; they start again when they are needed."""
        with self._lock:
            self._drop()
            self._missing = None

    def run(
        self, jobs: Iterable[Job], deadline_s: float = 10.0, told: Callable[[int], None] | None = None,
        taken: Callable[[int, Answer], None] | None = None,
    ) -> list[Answer]:
        """The answers in the order of the jobs, from as many workers as a long batch is worth.

        Jobs are taken ahead of their answers, so a generator of jobs works while
        the simulator does. deadline_s: seconds that one job may take, after which
        its worker is killed and the rest go on in a new one. told: called with how
        many are answered. taken: called with each answer and the place of its job as
        soon as it is there, while the simulator works on. Neither they nor the jobs
        may themselves run anything.
        """
        with self._dropping():
            began = time.monotonic()
            answers = _Batch(self, iter(jobs), deadline_s, told, taken).answers()
            self._at_work_s += time.monotonic() - began
            return answers

    def lend(self) -> Worker | None:
        """A worker for a copy of this process, not used here until it is taken back; None where none is to spare."""
        with self._lock:
            if len(self._workers) < 2:
                return None
            self._most -= 1  # the processors are shared with the copy
            return self._workers.pop()

    def has_only(self, worker: Worker) -> bool:
        """Whether it is the one worker that is used, and fit to be used by others."""
        return self._workers == [worker] and worker.ready and not worker.waiting

    def adopt(self, worker: Worker) -> None:
        """In a copy of the process that lent it: use this worker, and no more than one.

        Its jobs have numbers of their own, so that a late answer is none to what the other asks.
        """
        self._workers, self._most, self._numbers = [worker], 1, count(os.getpid() << 32)

    def take_back(self, worker: Worker, sound: bool) -> None:
        """Use a worker again that was lent. sound: whether it is ready and at nothing; else it is ended."""
        with self._lock:
            self._most += 1
            if not sound:
                worker.close()
                return
            worker.begin(child.START_S)
            self._workers.append(worker)

    @contextmanager
    def _dropping(self) -> Iterator[None]:
        """Whatever is raised meanwhile, an interruption included: nobody takes what the workers still say."""
        with self._lock:
            try:
                yield
            except BaseException:
                self._drop()
                raise

    def _start(self) -> Worker:
        first = next((worker for worker in self._workers if worker.may_have_twin), None) if self._twins else None
        worker = Worker(first)
        self._workers.append(worker)
        return worker

    def _remove(self, worker: Worker) -> None:
        self._workers.remove(worker)
        worker.close()

    def _drop(self) -> None:
        workers, self._workers = self._workers, []
        for worker in workers:
            worker.close()

    def _kill(self) -> None:
        """At the end of this process: whatever a worker is at, it is not waited for."""
        for worker in self._workers:
            worker.kill()

    def _leave_to_parent(self) -> None:
        """After a fork the workers are the parent's: keep hands off them and start own ones when needed."""
        for worker in self._workers:
            worker.let_go()
        _inherited.append(self._workers)
        self._workers, self._lock = [], threading.Lock()


class _Batch:
    """The jobs of one run on their way to the workers, and their answers."""

    def __init__(
        self, pool: Simulator, jobs: Iterator[Job], deadline_s: float, told: Callable[[int], None] | None = None,
        each: Callable[[int, Answer], None] | None = None,
    ) -> None:
        self._pool = pool
        self._jobs = jobs
        self._deadline_s = deadline_s
        self._told = told
        self._each = each
        self._taken = 0
        self._again: deque[Sent] = deque()  # jobs whose worker has gone
        self._answers: dict[int, Answer] = {}
        self._died_starting = 0
        self._began = time.monotonic()

    def missing(self) -> str | None:
        """Wait for a worker to be ready; else the reason why there is none."""
        while not any(worker.ready for worker in self._pool._workers):
            if reason := self._staffed():
                return reason
            self._listen()
        return None

    def answers(self) -> list[Answer]:
        while True:
            reason = self._feed()
            if reason is not None:
                return self._refused(reason)
            if len(self._answers) == self._taken:
                return [self._answers[place] for place in range(self._taken)]
            self._listen()

    def _refused(self, reason: str) -> list[Answer]:
        """No worker can be had: what is not answered yet is answered with the reason."""
        self._taken += sum(1 for _ in self._jobs)
        for place in range(self._taken):
            if place not in self._answers:
                self._answers[place] = answer = Answer([], reason, False)
                if self._each is not None:
                    self._each(place, answer)
        return [self._answers[place] for place in range(self._taken)]

    def _feed(self) -> str | None:
        """Give every worker enough to do; a reason where no worker can be had."""
        first = self._next()
        if first is None:
            return None
        if reason := self._staffed():
            return reason
        self._again.appendleft(first)
        for worker in sorted(self._pool._workers, key=lambda one: one.ahead):
            while worker.ahead < _AHEAD_BYTES and (some := self._some()):
                worker.send(some, self._deadline_s)
        return None

    def _some(self) -> list[Sent]:
        """The next few jobs: sent at once, so that a worker begins while the rest are being made."""
        some: list[Sent] = []
        size = 0
        while size < _TOGETHER_BYTES and (job := self._next()) is not None:
            some.append(job)
            size += len(job.job.deck)
        return some

    def _next(self) -> Sent | None:
        if self._again:
            return self._again.popleft()
        job = next(self._jobs, None)
        if job is None:
            return None
        self._taken += 1
        return Sent(self._taken - 1, next(self._pool._numbers), job)

    def _staffed(self) -> str | None:
        """See to it that there are workers; why there are none."""
        pool = self._pool
        if pool._missing is not None:
            return pool._missing
        long = pool._at_work_s + time.monotonic() - self._began > _ALONE_S and len(pool._workers) < pool._most
        if pool._workers and not (long and all(worker.ready for worker in pool._workers)):
            return None
        try:
            pool._start()
        except OSError as error:
            return None if pool._workers else f"the simulator could not be started: {error}"
        return None

    def _listen(self) -> None:
        """Wait until some worker has something to say, or is overdue; write what could not be written before."""
        workers = tuple(self._pool._workers)
        now = time.monotonic()
        due = min((worker.due for worker in workers if worker.due is not None), default=now)
        with _Selector() as selector:
            for worker in workers:
                selector.register(worker.socket, worker.interest, worker)
            ready = selector.select(max(0.0, due - now))
        for key, events in ready:
            self._attend(key.data, events)
        now = time.monotonic()
        for worker in workers:
            if worker in self._pool._workers and worker.due is not None and now > worker.due:
                self._lost(worker, overdue=True)

    def _attend(self, worker: Worker, events: int) -> None:
        try:
            if events & selectors.EVENT_WRITE:
                worker.write()
            if events & selectors.EVENT_READ and not self._take(worker):
                self._lost(worker)
        except (OSError, Garbled):
            self._lost(worker)

    def _take(self, worker: Worker) -> bool:
        """Take what a worker says; False where it has gone or answers what it was not asked."""
        piece = worker.read()
        if piece is None:
            return True
        for content in worker.frames.add(piece):
            if not worker.ready:
                if content[0] != "ready":
                    self._pool._missing = content[1]
                    self._pool._remove(worker)
                    return True
                worker.begin(self._deadline_s, content[2])
                continue
            number, values, problem = content
            if not worker.waiting or worker.waiting[0].number != number:
                return False
            self._answer(worker.done(self._deadline_s), Answer(values, problem))
        return bool(piece)

    def _answer(self, sent: Sent, answer: Answer) -> None:
        self._answers[sent.place] = answer
        if self._each is not None:
            self._each(sent.place, answer)
        if self._told is not None:
            self._told(len(self._answers))

    def _lost(self, worker: Worker, overdue: bool = False) -> None:
        """Do without a worker: what it was at is answered or tried once more, the rest goes to another."""
        self._pool._remove(worker)
        waiting = list(worker.waiting)
        if not worker.ready and worker.is_twin:
            self._pool._twins = False
        elif not worker.ready:
            self._died_starting += 1
            if overdue:
                self._pool._missing = f"the simulator did not start within {child.START_S:g} s"
            elif self._died_starting >= _STARTS:
                self._pool._missing = f"the simulator ended while starting (exit status {worker.status})"
        elif waiting and overdue:
            self._answer(waiting.pop(0), Answer([], OutOfTime(f"did not finish within {self._deadline_s:g} s"), False))
        elif waiting and waiting[0].crashed:
            self._answer(waiting.pop(0), Answer([], "the simulator crashed", False))
        elif waiting:
            waiting[0].crashed = True
        self._again.extendleft(reversed(waiting))


_living: weakref.WeakSet[Simulator] = weakref.WeakSet()
_inherited: list[list[Worker]] = []
_shared = Simulator()


def simulator() -> Simulator:
    """The simulator that everything in this process shares."""
    return _shared


def warm_up() -> None:
    """Start the shared simulator and do not wait for it: it loads while the caller does other work."""
    _shared.warm_up()


def available() -> str | None:
    """None when the shared simulator works, else why not, with the line that installs what is missing."""
    return _shared.available()


def _end_all() -> None:
    for living in tuple(_living):
        living._kill()


def _leave_all_to_parent() -> None:
    for living in tuple(_living):
        living._leave_to_parent()


atexit.register(_end_all)
if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_leave_all_to_parent)
