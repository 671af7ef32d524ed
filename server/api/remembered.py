"""Dear answers kept in this process, the last so many; and a bound on how many callers wait while one is made."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

from server.errors import Refused, Unavailable
from server.wording.said import say

Key = TypeVar("Key", bound=Hashable)
Value = TypeVar("Value")


class Remembered(Generic[Key, Value]):
    """Keeps the last `count_max` answers, refusals too; of those that are made anew, `waiting_max` + 1 at a time."""

    def __init__(self, count_max: int, waiting_max: int) -> None:
        self._count_max = count_max
        self._rooms = threading.BoundedSemaphore(waiting_max + 1)
        self._making, self._guard = threading.Lock(), threading.Lock()
        self._kept: OrderedDict[Key, Value | Refused] = OrderedDict()

    def get(self, key: Key, make: Callable[[], Value]) -> Value:
        """The answer to a key. Raises what `make` refuses with, or Unavailable when too many wait already."""
        found = self._find(key)
        if found is None:
            if not self._rooms.acquire(blocking=False):
                raise Unavailable(say("Home is busy with other photos; ask again in a moment."))
            try:
                with self._making:
                    found = self._find(key) or self._made(key, make)
            finally:
                self._rooms.release()
        if isinstance(found, Refused):
            raise found
        return found

    def _find(self, key: Key) -> Value | Refused | None:
        with self._guard:
            if key in self._kept:
                self._kept.move_to_end(key)
            return self._kept.get(key)

    def _made(self, key: Key, make: Callable[[], Value]) -> Value | Refused:
        made: Value | Refused
        try:
            made = make()
        except Refused as refused:
            made = refused.with_traceback(None)
        with self._guard:
            self._kept[key] = made
            while len(self._kept) > self._count_max:
                self._kept.popitem(last=False)
        return made
