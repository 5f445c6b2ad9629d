"""What passes between the program and the simulator's process: marshalled lists behind their length."""

from __future__ import annotations

import marshal
import struct
from collections.abc import Iterator
from typing import Any

NOT_SOLVED = "the simulation failed"
"""How the problem of a run starts that did not converge, other than one that must not be run."""

_LENGTH = struct.Struct("<I")


class Garbled(ValueError):
    """What came is no frame: whoever sent it is not to be trusted any more."""


def frame(content: Any) -> bytes:
    """A frame that holds lists, tuples, text and numbers.

    >>> list(Frames().add(frame((7, [1.5], None))))
    [(7, [1.5], None)]
    """
    body = marshal.dumps(content)
    return _LENGTH.pack(len(body)) + body


class Frames:
    """Puts frames together again from the pieces in which they arrive."""

    def __init__(self) -> None:
        self._bytes = bytearray()

    def add(self, piece: bytes) -> Iterator[Any]:
        """The frames that are whole with this piece. Raises Garbled."""
        self._bytes += piece
        start = 0
        while len(self._bytes) - start >= _LENGTH.size:
            (length,) = _LENGTH.unpack_from(self._bytes, start)
            end = start + _LENGTH.size + length
            if len(self._bytes) < end:
                break
            try:
                content = marshal.loads(self._bytes[start + _LENGTH.size:end])
            except (ValueError, TypeError, EOFError) as error:
                raise Garbled(str(error)) from error
            start = end
            yield content
        del self._bytes[:start]
