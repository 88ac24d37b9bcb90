"""A cache of computed values by key; it keeps the most recently used ones."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Generic, TypeVar

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")


class Latest(Generic[K, V]):
    """The values of the most recently used keys, at most `most` of them; safe to use from several threads."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._lock = Lock()
        self._values: OrderedDict[K, V] = OrderedDict()

    def get(self, key: K, make: Callable[[], V]) -> V:
        """The value of a key. If there is none, one thread makes it."""
        with self._lock:
            if key not in self._values:
                self._values[key] = make()
                while len(self._values) > self._most:
                    self._values.popitem(last=False)
            self._values.move_to_end(key)
            return self._values[key]

    def find(self, key: K) -> V | None:
        """The value of a key, None if none is kept."""
        with self._lock:
            if key in self._values:
                self._values.move_to_end(key)
            return self._values.get(key)

    def __len__(self) -> int:
        return len(self._values)

    def clear(self) -> None:
        """Forget everything."""
        with self._lock:
            self._values.clear()
