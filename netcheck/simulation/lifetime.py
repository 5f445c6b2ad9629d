"""Processes that end with the one that made them, and are not interrupted in its place."""

from __future__ import annotations

import os
import select
import signal
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager


def end_with(parent: int) -> None:
    """End this process soon after its parent, whatever it is at: a run that hangs must not outlive one that was killed.

    parent: its process id.
    """
    threading.Thread(target=_watch, args=(parent,), daemon=True).start()


def _watch(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(0.5)
    os._exit(1)


def end_with_way(way: socket.socket) -> None:
    """End this process as soon as nobody holds the other end of a way any more, or it was shut, whatever it is at."""
    threading.Thread(target=_listen, args=(way,), daemon=True).start()


def _listen(way: socket.socket) -> None:
    hung_up = select.poll()
    hung_up.register(way, 0)  # that it has been hung up is always told
    hung_up.poll()
    os._exit(0)


@contextmanager
def interruptions_held() -> Iterator[None]:
    """Interruptions held back meanwhile, and never passed to a process that is started then."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
