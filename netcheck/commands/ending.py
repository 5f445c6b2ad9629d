"""How the program ends: each way of ending has an exit status of its own, and none shows a traceback.

0 done; 1 a judged danger, fails or unknown (for `bench`, readings that disagree); 2 the input could not be used;
70 a fault of the program itself (sysexits.h, EX_SOFTWARE); 74 the output could not be written (EX_IOERR); 130 Ctrl-C,
141 nobody reads the output any more, 143 asked to end (128 and the number of the signal, as shells have it).
"""

from __future__ import annotations

import codecs
import errno
import io
import os
import signal
import sys
import traceback
from collections.abc import Callable
from contextlib import suppress
from types import FrameType

import click

FAULT, NO_OUTPUT, INTERRUPTED, NO_READER = 70, 74, 130, 141

UNWRITTEN = frozenset((errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO, errno.EBADF))
"""Why an output could not be written, however good its name: no room, a fault of the device, a closed stream."""

_PLAIN = {
    "µ": "u", "\u03bc": "u", "\u03a9": "ohm", "\u2126": "ohm", "°": "deg ", "±": "+/-", "–": "-", "—": "-", "−": "-",
    "×": "x", "…": "...", "≤": "<=", "≥": ">=", "→": "->", "’": "'", "“": '"', "”": '"', "½": "1/2", "·": "*", "²": "2",
    "\u00a0": " ", "\u2009": " ", "\u202f": " ",
}
"""What stands for a sign of the trade where the terminal's character set has none."""


def guarded(command: Callable[[], object]) -> int:
    """Run a command and give the exit status of its end, having told what went wrong."""
    if sys.stdout is None:
        sys.stdout = _Closed()
    if sys.stderr is None:
        sys.stderr = io.StringIO()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="netcheck-plain")
    with suppress(ValueError, OSError):  # not the main thread
        signal.signal(signal.SIGTERM, _interrupted)
        signal.signal(signal.SIGINT, _interrupted)
        if hasattr(signal, "SIGHUP"):
            signal.signal(signal.SIGHUP, _interrupted)
    try:
        status = _status(command)
        sys.stdout.flush()
        return status
    except BrokenPipeError:
        return _without_output(NO_READER)
    except OSError as error:
        if error.errno not in UNWRITTEN:
            return _fault(error)
        _tell(f"Error: {error.filename or 'the output'} could not be written: {error.strerror}.")
        return _without_output(NO_OUTPUT)
    except (KeyboardInterrupt, click.Abort):
        _heard()
        _tell("Interrupted: nothing was finished.")
        return _without_output(INTERRUPTED)
    except MemoryError:
        _tell("Error: there is not enough memory for this fragment. Check it in pieces.")
        return _without_output(FAULT)
    except Exception as error:
        return _fault(error)


class _Closed(io.TextIOBase):
    """Stands for a standard output that was closed before the program began: what is written is not lost in silence."""

    def write(self, _: str) -> int:
        raise OSError(errno.EBADF, "standard output is closed")


def _status(command: Callable[[], object]) -> int:
    try:
        command()
        return 0
    except click.exceptions.Exit as ended:
        return ended.exit_code
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except SystemExit as ended:
        _heard()
        return ended.code if isinstance(ended.code, int) else 0 if ended.code is None else FAULT
    except Exception as error:
        from netcheck.commands.shared import Unusable
        from netcheck.parts.library import LibraryError

        if not isinstance(error, LibraryError):
            raise
        unusable = Unusable(str(error))  # an entry of a person's own library: the line at fault, in every command
        unusable.show()
        return unusable.exit_code


def _fault(error: Exception) -> int:
    where = traceback.extract_tb(error.__traceback__)[-1:]
    place = f" ({os.path.basename(where[0].filename)}:{where[0].lineno})" if where else ""
    _tell(f"Error: netcheck itself failed, and nothing it printed before is a verdict: "
          f"{type(error).__name__}: {error}{place}. Please report it with the file that did it.")
    if os.environ.get("NETCHECK_TRACEBACK"):
        with suppress(OSError):
            traceback.print_exc()
    return _without_output(FAULT)


def _tell(text: str) -> None:
    with suppress(OSError, ValueError):
        click.echo(text, err=True)


def _without_output(status: int) -> int:
    """Nothing more is to be written: the interpreter's own last flush must not fail again."""
    with suppress(OSError, ValueError, AttributeError):
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, sys.stdout.fileno())
    return status


_AGAIN_S = 0.5


def _interrupted(number: int, _: FrameType | None) -> None:
    """Ctrl-C, SIGTERM or SIGHUP, and again until it is heard: Python drops one that falls into a destructor."""
    if hasattr(signal, "setitimer"):
        signal.signal(signal.SIGALRM, lambda *_: _interrupted(number, None))
        signal.setitimer(signal.ITIMER_REAL, _AGAIN_S)
    raise KeyboardInterrupt if number == signal.SIGINT else SystemExit(128 + number)


def _heard() -> None:
    """The end has begun: no more reminders."""
    if hasattr(signal, "setitimer"):
        with suppress(ValueError, OSError):
            signal.setitimer(signal.ITIMER_REAL, 0.0)


def _plain(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(_PLAIN.get(one, "?") for one in error.object[error.start:error.end]), error.end


codecs.register_error("netcheck-plain", _plain)
