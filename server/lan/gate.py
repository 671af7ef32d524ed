"""Who may hold a connection: a limit for all and one for each client; a newcomer takes the place of who only waits."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field


@dataclass(eq=False)
class Visit:
    """One connection: whose it is, how to end it, and whether a request is at work on it."""

    client: str
    end: Callable[[], object]
    is_busy: bool = field(default=False)


class Gate:
    """Counts connections; for one event loop. The longest waiting one stands first."""

    def __init__(self, total_max: int, per_client_max: int) -> None:
        self._total_max, self._per_client_max = total_max, per_client_max
        self._visits: dict[Visit, None] = {}

    def __len__(self) -> int:
        return len(self._visits)

    def enter(self, visit: Visit) -> bool:
        """Let a connection in, ending a waiting one where there is no room; False when all of them are at work.

        Room is made by the newcomer's own client first; without room for all, by the client that holds the most.
        """
        counts = Counter(each.client for each in self._visits)
        if counts[visit.client] >= self._per_client_max and not self._end_one_of({visit.client}):
            return False
        if len(self._visits) >= self._total_max:
            waiting = Counter(each.client for each in self._visits if not each.is_busy)
            most = max(waiting.values(), default=0)
            if not self._end_one_of({client for client, count in waiting.items() if count == most}):
                return False
        self._visits[visit] = None
        return True

    def leave(self, visit: Visit) -> None:
        """Count a connection no longer."""
        self._visits.pop(visit, None)

    def work(self, visit: Visit) -> None:
        """A request has arrived on the connection: it is not ended for a newcomer."""
        visit.is_busy = True

    def rest(self, visit: Visit) -> None:
        """The request is answered; from now the connection waits."""
        visit.is_busy = False
        if visit in self._visits:
            del self._visits[visit]
            self._visits[visit] = None

    def _end_one_of(self, clients: set[str]) -> bool:
        for visit in self._visits:
            if visit.client in clients and not visit.is_busy:
                self.leave(visit)
                visit.end()
                return True
        return False
