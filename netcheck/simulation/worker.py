"""The child process that holds ngspice: `python -m netcheck.simulation.worker FOLDER`, started by process.py.

A run can neither be stopped nor always survived inside a process, so it has one
of its own. Frames are marshalled lists behind a length: in come jobs of (deck,
commands, vectors), out goes one frame for each job as soon as it is done.
"""

from __future__ import annotations

import marshal
import os
import signal
import struct
import sys
import threading
import time
from contextlib import suppress
from functools import lru_cache
from typing import IO, Any

INIT_FILE = ".spiceinit"
LENGTH = struct.Struct("<I")


def main(folder: str) -> None:
    """Serve jobs until the input ends. folder: the private working folder, removed when the parent is gone."""
    answers = os.fdopen(os.dup(1), "wb", buffering=0)
    silence = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silence, 1)  # what the C library prints must reach neither the answers nor the screen
    os.dup2(silence, 2)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides when this process ends
    threading.Thread(target=_end_with, args=(os.getppid(), folder), daemon=True).start()
    try:
        engine = _engine()
    except Exception as error:
        _send(answers, ("missing", str(error)))
        return
    _send(answers, ("ready", engine.version))
    while (jobs := receive(sys.stdin.buffer)) is not None:
        for deck, commands, vectors in jobs:
            outcome = engine.run(deck, commands, _encoded(vectors))
            if outcome.dead:
                os._exit(1)  # it may abort at any moment now, even on the way out
            _send(answers, (outcome.values, outcome.problem))
    _clear(folder)


def receive(stream: IO[bytes]) -> Any:
    """The next frame, or None when the stream has ended."""
    head = stream.read(LENGTH.size)
    if len(head) < LENGTH.size:
        return None
    (length,) = LENGTH.unpack(head)
    body = stream.read(length)
    return marshal.loads(body) if len(body) == length else None


def frame(content: Any) -> bytes:
    body = marshal.dumps(content)
    return LENGTH.pack(len(body)) + body


def _send(stream: Any, content: Any) -> None:
    rest = memoryview(frame(content))
    while rest:
        rest = rest[stream.write(rest):]


def _engine() -> Any:
    from netcheck.simulation.library import find_library

    library = find_library()
    from netcheck.simulation.engine import Engine

    return Engine(library)


@lru_cache(maxsize=256)
def _encoded(vectors: str) -> tuple[bytes, ...]:
    """Vector names come as one text, so that circuits of one shape cost the splitting once."""
    return tuple(name.encode("ascii") for name in vectors.split())


def _end_with(parent: int, folder: str) -> None:
    """A run that hangs must not outlive a parent that was killed."""
    while os.getppid() == parent:
        time.sleep(1)
    _clear(folder)
    os._exit(1)


def _clear(folder: str) -> None:
    with suppress(OSError):  # the parent was faster, or nobody is left to be told
        os.unlink(os.path.join(folder, INIT_FILE))
        os.rmdir(folder)


if __name__ == "__main__":
    main(sys.argv[1])
