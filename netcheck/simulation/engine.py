"""The binding to ngspice: the only file that imports PySpice. It is loaded in the worker process alone.

PySpice 1.5 takes every line that ngspice prints on its error stream for an
error, unless it starts with "Warning:". From ngspice 42 on that fails each run
(a note about the matrix solver is printed there), and on every version it
fails runs that needed a second attempt. So the lines are judged here instead,
and a result is believed for what it is, not for the absence of messages.
Verified with ngspice 39, 43, 44, 46 and 47.
"""

from __future__ import annotations

import logging
import math
import os
import re
from collections.abc import Sequence
from contextlib import suppress
from typing import Any

from msgspec import Struct
from PySpice.Spice.NgSpice import Shared

from netcheck.simulation.frames import NOT_SOLVED

FAILURE = re.compile(
    r"^(fatal )?error\b|^doAnalyses:|simulation\(s\) aborted|no such (device|command|vector)"
    r"|circuit not parsed|cannot recover|can't find model|Undefined parameter",
    re.IGNORECASE,
)
# Printed on the way to a number for a circuit that has no definite solution.
ILL_POSED = re.compile(r"singular matrix|Transient op|source stepping failed", re.IGNORECASE)

_KEPT_LINES = 4
_REMEMBERED = 10_000  # commands after which it is told to forget them


class Outcome(Struct, frozen=True):
    """What became of one run: its values in the order asked for, or why there are none.

    dead: the library is beyond use, and this process with it.
    """

    values: list[float] | list[complex]
    problem: str | None = None
    dead: bool = False


class _Library(Shared.NgSpiceShared):  # type: ignore[misc]  # PySpice carries no annotations
    """PySpice's binding with its own judgement of ngspice's lines taken out."""

    _instances: dict[int, Any] = {}  # noqa: RUF012  # the base keeps its register in a class attribute
    dead: int | None = None

    @staticmethod
    def _send_char(message: Any, ngspice_id: int, handle: Any) -> int:
        library = Shared.ffi.from_handle(handle)
        text = Shared.ffi.string(message).decode("utf-8", "replace")
        stream, _, line = text.rstrip().partition(" ")
        if stream == "stderr":
            library._stderr.append(line)
            if FAILURE.search(line):
                library._error_in_stderr = True
        else:
            library._stdout.append(line)
        return 0

    @staticmethod
    def _exit(status: int, immediate: bool, is_quit: bool, ngspice_id: int, handle: Any) -> int:
        Shared.ffi.from_handle(handle).dead = status
        return status


class Engine:
    """The one ngspice of this process (PySpice can hold no second)."""

    def __init__(self, library: str) -> None:
        """Load the library at `library`, a name or path that is known to load."""
        logger = logging.getLogger("PySpice")
        logger.addHandler(logging.NullHandler())
        logger.propagate = False
        if os.name == "nt":  # PySpice wants to build this one from a path that it only has for its own copy
            os.environ.setdefault("SPICE_LIB_DIR", os.path.dirname(library))
        _Library.LIBRARY_PATH = library.replace("{", "{{").replace("}", "}}")
        self._library = _Library()
        # Its last resort, a pseudo-transient, takes long and its answers are not believed: it is turned off.
        self._library.exec_command("optran 1 1 1 0 0 0")
        self._read = self._library._ngspice_shared.ngGet_Vec_Info
        self._plot = self._library._ngspice_shared.ngSpice_CurPlot
        self._command = self._library._ngspice_shared.ngSpice_Command
        self._given = 0

    @property
    def version(self) -> str:
        return str(self._library.ngspice_version)

    def run(self, deck: str, commands: Sequence[str], vectors: Sequence[bytes]) -> Outcome:
        """Load a deck, give each command and read all points of all vectors after each, then clear everything away.

        It is loaded each time: a circuit that has been run keeps something of that run (what, is not known), which
        shows in the last digits of what is held by nanoamps once other values are set in it.
        """
        values: list[Any] = []
        problem: str | None = None
        library = self._library
        try:
            self._load(deck)
            for command in commands:
                self._give(command.encode())
                values += self._values(command, vectors)
        except _NoResult as missing:
            problem = str(missing)
        if problem is None and any(ILL_POSED.search(line) for line in library._stderr):
            problem = "the circuit has no definite solution"
        problem = problem and _told(problem, library._stderr)
        if library.dead is None:
            self._clear()
        return Outcome([] if problem else values, problem, library.dead is not None)

    def _load(self, deck: str) -> None:
        try:
            self._library.load_circuit(deck)
        except NameError as error:  # the root of PySpice's own errors
            raise _NoResult("the circuit could not be read") from error
        if self._library._error_in_stderr:
            raise _NoResult("the circuit could not be read")

    def _give(self, command: bytes) -> None:
        """Give a command. Raises _NoResult where ngspice says that something went wrong."""
        self._given += 1
        if self._given % _REMEMBERED == 0:
            self._command(Shared.ffi.NULL)  # it keeps every command that it was given, until then
        if self._command(command) or self._library._error_in_stderr or self._library._error_in_stdout:
            raise _NoResult(NOT_SOLVED)

    def _values(self, command: str, vectors: Sequence[bytes]) -> list[Any]:
        analysis = command.partition(" ")[0]
        plot = Shared.ffi.string(self._plot()).decode("ascii", "replace")
        if not plot.startswith(analysis):
            raise _NoResult("the simulation gave no result")
        values = []
        for name in vectors:
            vector = self._read(name)
            if not vector or vector.v_length < 1:
                raise _NoResult(f"the simulation gave no value for {name.decode()}")
            points = range(vector.v_length)
            if vector.v_compdata:
                data = vector.v_compdata
                values += [complex(data[at].cx_real, data[at].cx_imag) for at in points]
            else:
                values += [vector.v_realdata[at] for at in points]
        if not all(map(_finite, values)):
            raise _NoResult("the simulation gave a value that is not finite")
        return values

    def _clear(self) -> None:
        """Free the plots and the circuit: what either leaves behind burdens every later run."""
        self._library.clear_output()
        for command in (b"destroy all", b"remcirc"):
            with suppress(_NoResult):  # nothing had been loaded: there is nothing to free
                self._give(command)


class _NoResult(Exception):
    pass


def _finite(value: float | complex) -> bool:
    return math.isfinite(value.real) and math.isfinite(value.imag)


def _told(what: str, lines: Sequence[str]) -> str:
    """`what`, with the last telling lines of ngspice in brackets."""
    telling = [line for line in lines if FAILURE.search(line) or ILL_POSED.search(line)] or list(lines)
    said = "; ".join(dict.fromkeys(line.strip() for line in telling[-_KEPT_LINES:] if line.strip()))
    return f"{what} (ngspice: {said})" if said else what
