"""The child process that holds ngspice: `python -m netcheck.simulation.worker`, started by child.py.

A run can neither be stopped nor always survived inside a process, so it has one
of its own. In come frames of jobs (number, deck, commands, vectors), out goes a
frame (number, values, problem) for each job as soon as it is done. A second
simulator is a copy of this process, which need not load everything again.
"""

from __future__ import annotations

import os
import signal
import socket
import sys
from collections import deque
from functools import lru_cache
from math import exp, isclose
from typing import Any, NoReturn

from netcheck.simulation.frames import Frames, frame
from netcheck.simulation.lifetime import end_with, end_with_way

_PIECE = 65_536


def main() -> NoReturn:
    """Serve jobs until the input ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides when this process ends
    parent = _parent()
    silence = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):  # what the C library prints must reach neither the answers nor the screen
        os.dup2(silence, stream)
    end_with(os.getppid())
    try:
        engine = _engine()
    except Exception as error:
        parent.sendall(frame(("missing", str(error))))
        os._exit(1)
    if hasattr(signal, "SIGCHLD"):
        signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # nobody asks how a twin ended
    _serve(parent, engine)


def _serve(parent: socket.socket, engine: Any) -> NoReturn:
    """Answer the jobs of a parent, and make a twin for an empty list of them, until the parent asks no more."""
    parent.sendall(frame(("ready", engine.version, os.getpid())))
    frames, ways = Frames(), _Ways(parent)
    while piece := ways.received():
        for jobs in frames.add(piece):
            if not jobs:
                _twin(parent, ways.given.popleft(), engine)
            for number, deck, commands, vectors in jobs:
                outcome = engine.run(deck, commands, _encoded(vectors))
                if outcome.dead:
                    os._exit(1)  # it may abort at any moment now, even on the way out
                parent.sendall(frame((number, outcome.values, outcome.problem)))
    os._exit(0)


def _twin(parent: socket.socket, way: int, engine: Any) -> None:
    """Go on here; a copy of this process, whose simulator is loaded already, serves another way to the parent."""
    other = socket.socket(fileno=way)
    try:
        twin = os.fork()
    except OSError:  # no process or no memory to be had: the parent sees its way end
        twin = -1
    if twin:
        other.close()
        return
    parent.close()
    try:
        end_with_way(other)
        _prove(engine)
        _serve(other, engine)
    finally:
        os._exit(1)


class _Ways:
    """What comes from a parent: bytes, and with them ways for twins (file descriptors)."""

    def __init__(self, parent: socket.socket) -> None:
        self._parent = parent
        self.given: deque[int] = deque()

    def received(self) -> bytes:
        if not hasattr(socket, "recv_fds"):
            return self._parent.recv(_PIECE)
        piece, ways, _, _ = socket.recv_fds(self._parent, _PIECE, 1)
        self.given += ways
        return piece


def _parent() -> socket.socket:
    """The way to the parent, which it gave as the standard input."""
    if sys.platform == "win32":
        return socket.fromshare(sys.stdin.buffer.read())
    return socket.socket(fileno=os.dup(0))


def _engine() -> Any:
    from netcheck.simulation.library import find_library

    library = find_library()
    from netcheck.simulation.engine import Engine

    engine = Engine(library)
    _prove(engine)
    return engine


_KNOWN = """* known
v1 n1 0 0.55
d1 n1 0 m
v2 n2 0 9.0
r1 n2 n3 2000.0
b1 n3 0 i=2.0e-3*tanh(v(n3)/0.5)
.model m d(is=1e-14 n=1.2)
.options temp=50.0 tnom=50.0 reltol=1e-6 abstol=1e-15 vntol=1e-9 gmin=1e-15
.end"""
_BOLTZMANN_V_K, _ZERO_C_K = 8.617333262e-5, 273.15


def _prove(engine: Any) -> None:
    """Solve a circuit whose answer is known. Raises RuntimeError where something changed the simulator."""
    outcome = engine.run(_KNOWN, ["op"], [b"v1#branch", b"n3"])
    thermal_V = 1.2 * _BOLTZMANN_V_K * (50.0 + _ZERO_C_K)
    right = [-1e-14 * (exp(0.55 / thermal_V) - 1), 5.0]
    if outcome.problem or not all(isclose(*pair, rel_tol=1e-2) for pair in zip(outcome.values, right, strict=True)):
        raise RuntimeError("the simulator does not give the known result of a simple circuit "
                           f"({outcome.problem or outcome.values}): some setting of it has been changed")


@lru_cache(maxsize=256)
def _encoded(vectors: str) -> tuple[bytes, ...]:
    """Vector names come as one text, so that circuits of one shape cost the splitting once."""
    return tuple(name.encode("ascii") for name in vectors.split())


if __name__ == "__main__":
    main()
