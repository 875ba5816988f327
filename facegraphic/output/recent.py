"""The latest of what took a while to make, as much of it as may stay in memory."""

import threading
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

T = TypeVar("T")


class Recent(Generic[T]):
    """Values by key, those used last, of `most` bytes together or the very last alone."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: dict[Hashable, tuple[int, T]] = {}
        self._lock = threading.Lock()

    def clear(self) -> None:
        """Keep nothing any longer."""
        with self._lock:
            self._kept.clear()

    def get(self, key: Hashable, size: int, make: Callable[[], T]) -> T:
        """The value of a key, made if need be; `size` is what both take, in bytes."""
        with self._lock:
            kept = self._kept.pop(key, None)
        value = kept[1] if kept else make()
        with self._lock:
            self._kept[key] = (size, value)
            whole = sum(size for size, _ in self._kept.values())
            while whole > self._most and len(self._kept) > 1:
                whole -= self._kept.pop(next(iter(self._kept)))[0]
        return value
