"""One child process that holds ngspice, and the way to it: what is sent, what comes back, how it is started and ended.

Imports neither PySpice nor numpy.
"""

from __future__ import annotations

import os
import selectors
import socket
import subprocess
import sys
import time
from collections import deque
from contextlib import suppress
from pathlib import Path
from typing import Any

from msgspec import Struct

from netcheck.simulation.frames import Frames, frame
from netcheck.simulation.lifetime import interruptions_held

START_S = 60.0
_PIECE = 65_536
_FOLDER = Path(__file__).parent / "start"
_KEPT = ("PATH", "LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH", "DYLD_FALLBACK_LIBRARY_PATH", "SYSTEMROOT", "SYSTEMDRIVE",
         "WINDIR", "TEMP", "TMP", "TMPDIR", "PYTHONHOME", "__PYVENV_LAUNCHER__")
_LIBRARY = "NGSPICE_LIBRARY_PATH"


class Job(Struct, frozen=True):
    """One deck, the commands to give once it is loaded, and the vectors to read (spaces between them)."""

    deck: str
    vectors: str
    commands: tuple[str, ...] = ("op",)


class Answer(Struct, frozen=True):
    """The values read (all vectors after each command, in order), or the problem why there are none.

    lasting: whether the same job would be answered so again, whatever became of the worker.
    """

    values: list[Any]
    problem: str | None = None
    lasting: bool = True


class Sent(Struct):
    """A job with its place in the batch and its number; crashed: whether it has brought down a worker already."""

    place: int
    number: int
    job: Job
    crashed: bool = False


class Worker:
    """One child process and the way to it."""

    def __init__(self, of: Worker | None = None) -> None:
        """Start it, as a twin `of` one that is ready where there is one. Raises OSError."""
        self.ready = False
        self.waiting: deque[Sent] = deque()
        self.ahead = 0
        self.due: float | None = time.monotonic() + START_S
        self.frames = Frames()
        self.pid = 0  # as long as nobody knows
        self._process: subprocess.Popen[bytes] | None = None
        self._unwritten = bytearray()
        self.socket, theirs = socket.socketpair()
        self.socket.setblocking(False)
        try:
            with theirs, interruptions_held():
                if of is not None:
                    of._ask_for_twin(theirs)
                else:
                    self._process = _started(theirs)
                    self.pid = self._process.pid
        except BaseException:
            self.socket.close()
            raise

    def _ask_for_twin(self, way: socket.socket) -> None:
        """Have its process copied; the copy answers that way. Raises OSError."""
        if self._unwritten:
            raise BlockingIOError
        socket.send_fds(self.socket, [frame([])], [way.fileno()])

    @property
    def may_have_twin(self) -> bool:
        """Whether its process can be copied at this moment."""
        return sys.platform == "linux" and self.ready and not self._unwritten

    @property
    def is_twin(self) -> bool:
        return self._process is None

    @property
    def status(self) -> int | None:
        """Its exit status once it has been closed; nobody knows that of a twin."""
        return None if self._process is None else self._process.returncode

    @property
    def interest(self) -> int:
        return selectors.EVENT_READ | (selectors.EVENT_WRITE if self._unwritten else 0)

    def begin(self, deadline_s: float, pid: int | None = None) -> None:
        self.ready = True
        self.pid = pid or self.pid
        self.due = time.monotonic() + deadline_s if self.waiting else None

    def send(self, jobs: list[Sent], deadline_s: float) -> None:
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

    def done(self, deadline_s: float) -> Sent:
        """Take the first of the waiting jobs, which has been answered, off the list."""
        sent = self.waiting.popleft()
        self.ahead -= len(sent.job.deck)
        self.due = time.monotonic() + deadline_s if self.waiting else None
        return sent

    def kill(self) -> None:
        """End the process, whatever it is at: it keeps nothing."""
        if self._process is not None:
            self._process.kill()
            return
        with suppress(OSError):
            self.socket.shutdown(socket.SHUT_RDWR)  # a twin ends with its way

    def close(self) -> None:
        """End the process and forget it."""
        self.kill()
        self.socket.close()
        if self._process is not None:
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
