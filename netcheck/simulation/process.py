"""The parent's side of the simulator: a worker process, its deadline, and what to do when it dies.

Nothing here raises for a circuit's own fault: a run that hangs, crashes or has
no result comes back as an answer that says so. Imports neither PySpice nor numpy.
"""

from __future__ import annotations

import atexit
import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections import deque
from collections.abc import Generator, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import chain, islice
from pathlib import Path
from typing import Any

from netcheck.simulation.worker import INIT_FILE, frame, receive

# What may lie unread in the worker's pipe: writing must not wait for a run. On Windows a pipe holds 4 KiB.
_AHEAD_BYTES = 4_000 if os.name == "nt" else 16_000


@dataclass(frozen=True, slots=True)
class Job:
    """One deck, the commands to give once it is loaded, and the vectors to read (spaces between them)."""

    deck: str
    vectors: str
    commands: tuple[str, ...] = ("op",)


@dataclass(frozen=True, slots=True)
class Answer:
    """The values read (all vectors after each command, in order), or the problem why there are none."""

    values: list[Any]
    problem: str | None = None


class Simulator:
    """A worker process that is started when first needed and again whenever it had to go."""

    def __init__(self) -> None:
        self._worker: _Worker | None = None
        self._lock = threading.Lock()

    @property
    def pid(self) -> int | None:
        """Process id of the worker, None while there is none."""
        return self._worker.pid if self._worker else None

    def warm_up(self) -> None:
        """Start the worker and do not wait for it: it loads ngspice while the caller does other work."""
        with self._lock, suppress(OSError):  # whoever needs a result is told
            self._started()

    def available(self) -> str | None:
        """None when the simulator works, else the reason, with the line that installs what is missing."""
        with self._lock:
            ready = self._ready()
            return ready if isinstance(ready, str) else None

    def close(self) -> None:
        """End the worker; it starts again when it is needed."""
        with self._lock:
            self._drop()

    def run(self, jobs: Iterable[Job], deadline_s: float = 10.0) -> Generator[Answer, None, None]:
        """Answers in the order of the jobs, each as soon as it is there; close it when you stop half-way.

        Jobs are taken ahead of their answers, so a generator of jobs works while
        the simulator does. deadline_s: seconds that one job may take, after which
        its worker is killed and the rest go on in a new one.
        """
        with self._lock:
            ended = threading.Event()
            threading.Thread(target=self._watch, args=(ended, max(deadline_s / 20, 0.01)), daemon=True).start()
            try:
                yield from self._converse(iter(jobs), deadline_s)
            except BaseException:
                self._drop()  # answers that nobody will take may be on their way
                raise
            finally:
                ended.set()

    def _converse(self, jobs: Iterator[Job], deadline_s: float) -> Iterator[Answer]:
        waiting = _Waiting()
        crashed = False  # whether the first of them has brought down a worker already
        while True:
            waiting.take(jobs)
            if not waiting.jobs:
                return
            worker = self._ready()
            if isinstance(worker, str):
                yield from (Answer([], worker) for _ in chain(waiting.jobs, jobs))
                return
            answer = worker.answer(waiting.jobs, deadline_s)
            if answer is None:
                overdue = worker.overdue
                self._drop()
                if not (overdue or crashed):
                    crashed = True
                    continue
                answer = Answer([], f"did not finish within {deadline_s:g} s" if overdue
                                else "the simulator crashed")
            waiting.drop_first()
            crashed = False
            yield answer

    def _ready(self) -> _Worker | str:
        """The worker, or why there can be none."""
        try:
            worker = self._started()
        except OSError as error:
            return f"the simulator could not be started: {error}"
        return worker.missing() or worker

    def _started(self) -> _Worker:
        if self._worker is None:
            self._worker = _Worker()
        return self._worker

    def _drop(self) -> None:
        if self._worker:
            self._worker.close()
            self._worker = None

    def _watch(self, ended: threading.Event, period_s: float) -> None:
        """End the worker once what is being waited for is overdue. Runs in a thread of its own."""
        while not ended.wait(period_s):
            if self._worker:
                self._worker.end_if_overdue()


class _Worker:
    """One child process and the pipes to it."""

    def __init__(self) -> None:
        self.overdue = False
        self._due: float | None = None
        self._sent = 0  # how many of the waiting jobs it has been sent
        self._ready: bool = False
        self._missing: str | None = None
        self._folder = tempfile.mkdtemp(prefix="netcheck-")
        # ngspice reads this file from the working folder, and only if there is none that of the home folder.
        Path(self._folder, INIT_FILE).touch()
        same_modules = {"PYTHONPATH": os.pathsep.join(map(os.path.abspath, sys.path))}
        try:
            self._process = subprocess.Popen(
                [sys.executable, "-W", "ignore", "-m", "netcheck.simulation.worker", self._folder],
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                cwd=self._folder, env={**os.environ, **same_modules},
            )
        except OSError:
            shutil.rmtree(self._folder, ignore_errors=True)
            raise
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._to, self._from = self._process.stdin, self._process.stdout

    @property
    def pid(self) -> int:
        return self._process.pid

    def missing(self) -> str | None:
        """Why this worker cannot simulate, None if it can. Waits until it has loaded ngspice or failed to."""
        if not self._ready:
            self._ready = True
            first = receive(self._from)
            if first is None:
                self._missing = f"the simulator ended while starting (exit status {self._process.wait()})"
            elif first[0] == "missing":
                self._missing = first[1]
        return self._missing

    def answer(self, waiting: Sequence[Job], deadline_s: float) -> Answer | None:
        """Send the waiting jobs that it has not got and take the answer to the first; None if it is gone."""
        self.overdue = False
        self._due = time.monotonic() + deadline_s
        try:
            if self._sent < len(waiting):
                fresh = [(job.deck, job.commands, job.vectors) for job in islice(waiting, self._sent, None)]
                self._to.write(frame(fresh))
                self._to.flush()
                self._sent = len(waiting)
            answer = receive(self._from)
        except OSError:  # a broken pipe, which not every system calls so
            return None
        finally:
            self._due = None
        self._sent -= 1
        return None if answer is None else Answer(*answer)

    def end_if_overdue(self) -> None:
        if self._due is not None and time.monotonic() > self._due:
            self.overdue = True
            self._process.kill()

    def close(self) -> None:
        """End the process, whatever it is at (it keeps nothing), and clear up."""
        self._process.kill()
        self._process.wait()
        with suppress(OSError):  # what could not be written to it any more
            self._to.close()
        self._from.close()
        shutil.rmtree(self._folder, ignore_errors=True)


class _Waiting:
    """Jobs that have been taken ahead and are not answered yet."""

    def __init__(self) -> None:
        self.jobs: deque[Job] = deque()
        self._bytes = 0

    def take(self, jobs: Iterator[Job]) -> None:
        """Take more when half are gone: to send ten at once costs as much as to send one."""
        if self._bytes > _AHEAD_BYTES // 2:
            return
        for job in jobs:
            self.jobs.append(job)
            self._bytes += len(job.deck)
            if self._bytes > _AHEAD_BYTES:
                return

    def drop_first(self) -> None:
        self._bytes -= len(self.jobs.popleft().deck)


_shared = Simulator()
_inherited: list[Simulator] = []


def simulator() -> Simulator:
    """The simulator that everything in this process shares."""
    return _shared


def warm_up() -> None:
    """Start the shared simulator and do not wait for it: it loads while the caller does other work."""
    _shared.warm_up()


def available() -> str | None:
    """None when the shared simulator works, else why not, with the line that installs what is missing."""
    return _shared.available()


def _leave_to_parent() -> None:
    """After a fork the worker is the parent's: keep hands off it and start an own one when needed."""
    global _shared
    _inherited.append(_shared)
    _shared = Simulator()


def _close_shared() -> None:
    _shared.close()


atexit.register(_close_shared)
if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_leave_to_parent)
