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
import signal
import socket
import subprocess
import sys
import threading
import time
import weakref
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from typing import Any

from netcheck.simulation.frames import Frames, Garbled, frame

_AHEAD_BYTES = 16_000  # decks that lie before a worker, so that it never waits for the next
_TOGETHER_BYTES = 2_000  # decks that are sent together
_ALONE_S = 0.25  # a batch that takes longer is given to further workers
_START_S = 60.0
_STARTS = 3  # how often a worker may die while it starts before that counts as its answer
_PIECE = 65_536
_FOLDER = Path(__file__).parent / "start"
_KEPT = ("PATH", "LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH", "DYLD_FALLBACK_LIBRARY_PATH", "SYSTEMROOT", "SYSTEMDRIVE",
         "WINDIR", "TEMP", "TMP", "TMPDIR", "PYTHONHOME", "__PYVENV_LAUNCHER__")
_LIBRARY = "NGSPICE_LIBRARY_PATH"


@dataclass(frozen=True, slots=True)
class Job:
    """One deck, the commands to give once it is loaded, and the vectors to read (spaces between them)."""

    deck: str
    vectors: str
    commands: tuple[str, ...] = ("op",)


@dataclass(frozen=True, slots=True)
class Answer:
    """The values read (all vectors after each command, in order), or the problem why there are none.

    lasting: whether the same job would be answered so again, whatever became of the worker.
    """

    values: list[Any]
    problem: str | None = None
    lasting: bool = field(default=True, compare=False)


def cores() -> int:
    """Processors that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class Simulator:
    """Worker processes that are started when first needed and again whenever one had to go."""

    def __init__(self, most: int | None = None) -> None:
        """most: workers that a long batch may use; as many as processors unless given."""
        self._most = most or cores()
        self._workers: list[_Worker] = []
        self._numbers = count(1)
        self._missing: str | None = None
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
            return _Batch(self, iter(()), _START_S).missing()

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
            return _Batch(self, iter(jobs), deadline_s, told, taken).answers()

    @contextmanager
    def _dropping(self) -> Iterator[None]:
        """Whatever is raised meanwhile, an interruption included: nobody takes what the workers still say."""
        with self._lock:
            try:
                yield
            except BaseException:
                self._drop()
                raise

    def _start(self) -> _Worker:
        worker = _Worker()
        self._workers.append(worker)
        return worker

    def _remove(self, worker: _Worker) -> None:
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
        self._again: deque[_Sent] = deque()  # jobs whose worker has gone
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

    def _some(self) -> list[_Sent]:
        """The next few jobs: sent at once, so that a worker begins while the rest are being made."""
        some: list[_Sent] = []
        size = 0
        while size < _TOGETHER_BYTES and (job := self._next()) is not None:
            some.append(job)
            size += len(job.job.deck)
        return some

    def _next(self) -> _Sent | None:
        if self._again:
            return self._again.popleft()
        job = next(self._jobs, None)
        if job is None:
            return None
        self._taken += 1
        return _Sent(self._taken - 1, next(self._pool._numbers), job)

    def _staffed(self) -> str | None:
        """See to it that there are workers; why there are none."""
        pool = self._pool
        if pool._missing is not None:
            return pool._missing
        long = time.monotonic() - self._began > _ALONE_S and len(pool._workers) < pool._most
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
        with selectors.DefaultSelector() as selector:
            for worker in workers:
                selector.register(worker.socket, worker.interest, worker)
            ready = selector.select(max(0.0, due - now))
        for key, events in ready:
            self._attend(key.data, events)
        now = time.monotonic()
        for worker in workers:
            if worker in self._pool._workers and worker.due is not None and now > worker.due:
                self._lost(worker, overdue=True)

    def _attend(self, worker: _Worker, events: int) -> None:
        try:
            if events & selectors.EVENT_WRITE:
                worker.write()
            if events & selectors.EVENT_READ and not self._take(worker):
                self._lost(worker)
        except (OSError, Garbled):
            self._lost(worker)

    def _take(self, worker: _Worker) -> bool:
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
                worker.begin(self._deadline_s)
                continue
            number, values, problem = content
            if not worker.waiting or worker.waiting[0].number != number:
                return False
            self._answer(worker.done(self._deadline_s), Answer(values, problem))
        return bool(piece)

    def _answer(self, sent: _Sent, answer: Answer) -> None:
        self._answers[sent.place] = answer
        if self._each is not None:
            self._each(sent.place, answer)
        if self._told is not None:
            self._told(len(self._answers))

    def _lost(self, worker: _Worker, overdue: bool = False) -> None:
        """Do without a worker: what it was at is answered or tried once more, the rest goes to another."""
        self._pool._remove(worker)
        waiting = list(worker.waiting)
        if not worker.ready:
            self._died_starting += 1
            if overdue:
                self._pool._missing = f"the simulator did not start within {_START_S:g} s"
            elif self._died_starting >= _STARTS:
                self._pool._missing = f"the simulator ended while starting (exit status {worker.status})"
        elif waiting and overdue:
            self._answer(waiting.pop(0), Answer([], f"did not finish within {self._deadline_s:g} s", False))
        elif waiting and waiting[0].crashed:
            self._answer(waiting.pop(0), Answer([], "the simulator crashed", False))
        elif waiting:
            waiting[0].crashed = True
        self._again.extendleft(reversed(waiting))


@dataclass(slots=True)
class _Sent:
    """A job with its place in the batch and its number; crashed: whether it has brought down a worker already."""

    place: int
    number: int
    job: Job
    crashed: bool = False


class _Worker:
    """One child process and the way to it."""

    def __init__(self) -> None:
        self.ready = False
        self.waiting: deque[_Sent] = deque()
        self.ahead = 0
        self.due: float | None = time.monotonic() + _START_S
        self.frames = Frames()
        self._unwritten = bytearray()
        self.socket, theirs = socket.socketpair()
        self.socket.setblocking(False)
        try:
            with theirs, _sheltered():
                self._process = _started(theirs)
        except BaseException:
            self.socket.close()
            raise

    @property
    def pid(self) -> int:
        return self._process.pid

    @property
    def status(self) -> int | None:
        """Its exit status once it has been closed."""
        return self._process.returncode

    @property
    def interest(self) -> int:
        return selectors.EVENT_READ | (selectors.EVENT_WRITE if self._unwritten else 0)

    def begin(self, deadline_s: float) -> None:
        self.ready = True
        self.due = time.monotonic() + deadline_s if self.waiting else None

    def send(self, jobs: list[_Sent], deadline_s: float) -> None:
        if self.ready and not self.waiting:
            self.due = time.monotonic() + deadline_s
        self.waiting += jobs
        self.ahead += sum(len(sent.job.deck) for sent in jobs)
        self._unwritten += frame([(sent.number, sent.job.deck, sent.job.commands, sent.job.vectors) for sent in jobs])
        with suppress(OSError):  # one that has gone is noticed where it is read
            self.write()

    def write(self) -> None:
        with suppress(BlockingIOError):
            while self._unwritten:
                del self._unwritten[:self.socket.send(self._unwritten)]

    def read(self) -> bytes | None:
        """What has come: nothing (b"") when it has ended, None when there was nothing to read after all."""
        try:
            return self.socket.recv(_PIECE)
        except BlockingIOError:
            return None

    def done(self, deadline_s: float) -> _Sent:
        """Take the first of the waiting jobs, which has been answered, off the list."""
        sent = self.waiting.popleft()
        self.ahead -= len(sent.job.deck)
        self.due = time.monotonic() + deadline_s if self.waiting else None
        return sent

    def kill(self) -> None:
        self._process.kill()

    def close(self) -> None:
        """End the process, whatever it is at: it keeps nothing."""
        self._process.kill()
        self.socket.close()
        self._process.wait()

    def let_go(self) -> None:
        """Close this side's way to it and leave it alone."""
        self.socket.close()


def _started(theirs: socket.socket) -> subprocess.Popen[bytes]:
    """A worker whose standard input is that end of the way, in surroundings made by us.

    It starts in a folder of the package that holds empty start-up files, so that
    those of the user and of the system are not read and nothing is left behind.
    """
    command = [sys.executable, "-W", "ignore", "-m", "netcheck.simulation.worker"]
    if sys.platform == "win32":
        process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL,
                                   stderr=subprocess.DEVNULL, cwd=_FOLDER, env=_surroundings())
        assert process.stdin is not None
        with process.stdin:
            process.stdin.write(theirs.share(process.pid))
        return process
    return subprocess.Popen(command, stdin=theirs.fileno(), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                            cwd=_FOLDER, env=_surroundings())


def _surroundings() -> dict[str, str]:
    """The worker's environment: what it takes to load its modules and its library, and nothing else."""
    kept = {name: value for name in _KEPT if (value := os.environ.get(name)) is not None}
    if library := os.environ.get(_LIBRARY):
        kept[_LIBRARY] = os.path.abspath(library) if os.path.exists(library) else library
    return {
        **kept,
        "PYTHONPATH": os.pathsep.join(map(os.path.abspath, sys.path)),
        "PYTHONDONTWRITEBYTECODE": "1" if sys.dont_write_bytecode else "",
        "SPICE_SCRIPTS": str(_FOLDER),
        "LC_ALL": "C",
        "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1",  # a worker is one of many
    }


@contextmanager
def _sheltered() -> Iterator[None]:
    """Interruptions held back, and never passed to a process started meanwhile."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


_living: weakref.WeakSet[Simulator] = weakref.WeakSet()
_inherited: list[list[_Worker]] = []
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
