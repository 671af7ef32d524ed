"""How often something may be asked: a sliding window over the last seconds, in this process."""

from __future__ import annotations

import threading
from collections import deque

from server import ids
from server.errors import TooManyTries


class SlidingWindow:
    """Lets `count_max` calls through in any `window_s` seconds."""

    def __init__(self, count_max: int, window_s: int) -> None:
        self._count_max = count_max
        self._window_ms = window_s * 1000
        self._past_ms: deque[int] = deque()
        self._lock = threading.Lock()

    def enter(self) -> None:
        """Count one call. Raises TooManyTries when the window is full; that call is not counted."""
        now_ms = ids.now_ms()
        with self._lock:
            while self._past_ms and self._past_ms[0] <= now_ms - self._window_ms:
                self._past_ms.popleft()
            if len(self._past_ms) >= self._count_max:
                raise TooManyTries("Too many tries within a minute; wait a minute, then try again.")
            self._past_ms.append(now_ms)
