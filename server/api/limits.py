"""How often something may be asked, by one client and by all: a sliding window, in this process."""

from __future__ import annotations

import threading
from collections import Counter, deque

from server import ids
from server.errors import TooManyTries
from server.wording.said import say


class SlidingWindow:
    """Lets `each_max` calls of one client and `all_max` of all through in any `window_s` seconds."""

    def __init__(self, each_max: int, all_max: int, window_s: int) -> None:
        self._each_max, self._all_max = each_max, all_max
        self._window_ms = window_s * 1000
        self._past: deque[tuple[int, str]] = deque()
        self._counts: Counter[str] = Counter()
        self._lock = threading.Lock()

    def enter(self, client: str) -> None:
        """Count one call. Raises TooManyTries when the window is full; that call is not counted."""
        now_ms = ids.now_ms()
        with self._lock:
            while self._past and self._past[0][0] <= now_ms - self._window_ms:
                _, gone = self._past.popleft()
                self._counts[gone] -= 1
                if not self._counts[gone]:
                    del self._counts[gone]
            if self._counts[client] >= self._each_max or len(self._past) >= self._all_max:
                raise TooManyTries(say("Too many tries within a minute; wait a minute, then try again."))
            self._past.append((now_ms, client))
            self._counts[client] += 1
