"""What has been worked out before, kept for the life of the process within bounds."""

from __future__ import annotations

from collections.abc import Hashable
from typing import Any, Generic, TypeVar
from weakref import WeakSet

_every: WeakSet[Memory[Any, Any]] = WeakSet()

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")


class Memory(Generic[K, V]):
    """A mapping of bounded size: when it is full, the older half is forgotten.

    >>> memory: Memory[str, int] = Memory(most=3)
    >>> for key in "abcd":
    ...     memory.put(key, ord(key), size=1)
    >>> memory.get("a"), memory.get("d")
    (None, 100)
    """

    def __init__(self, most: int) -> None:
        """most: the sum of the sizes that is kept."""
        self._most = most
        _every.add(self)
        self._young: dict[K, V] = {}
        self._old: dict[K, V] = {}
        self._size = 0

    def get(self, key: K) -> V | None:
        found = self._young.get(key)
        return self._old.get(key) if found is None else found

    def put(self, key: K, value: V, size: int) -> None:
        if self._size + size > self._most / 2:
            self._old, self._young, self._size = self._young, {}, 0
        self._young[key] = value
        self._size += size

    def clear(self) -> None:
        self._old, self._young, self._size = {}, {}, 0


def forget_all() -> None:
    """Forget what every memory of this process holds."""
    for memory in tuple(_every):
        memory.clear()
