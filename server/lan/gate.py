"""Who may hold a connection: a limit for all and one for each client; a newcomer takes the place of who only waits."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import IntEnum


class Stage(IntEnum):
    """What a connection is at; those named first are ended first, and one at work never is.

    A client may dawdle over each of the others for as long as it likes.
    """

    WAITING = 0  # for a request
    ARRIVING = 1  # the body of one
    LEAVING = 2  # an answer
    AT_WORK = 3  # the server is, on a request that is here in whole


@dataclass(eq=False)
class Visit:
    """One connection: whose it is, how to end it, and what it is at."""

    client: str
    end: Callable[[], object]
    stage: Stage = field(default=Stage.WAITING)


class Gate:
    """Counts connections; for one event loop. The one that has been at the same for longest stands first."""

    def __init__(self, total_max: int, per_client_max: int) -> None:
        self._total_max, self._per_client_max = total_max, per_client_max
        self._visits: dict[Visit, None] = {}

    def __len__(self) -> int:
        return len(self._visits)

    def enter(self, visit: Visit) -> bool:
        """Let a connection in, ending another where there is no room; False when all of them are at work.

        Room is made by the newcomer's own client first; without room for all, by the client that holds the most.
        """
        counts = Counter(each.client for each in self._visits)
        if counts[visit.client] >= self._per_client_max and not self._end_one_of({visit.client}):
            return False
        if len(self._visits) >= self._total_max:
            idle = Counter(each.client for each in self._visits if each.stage < Stage.AT_WORK)
            most = max(idle.values(), default=0)
            if not self._end_one_of({client for client, count in idle.items() if count == most}):
                return False
        self._visits[visit] = None
        return True

    def leave(self, visit: Visit) -> None:
        """Count a connection no longer."""
        self._visits.pop(visit, None)

    def now(self, visit: Visit, stage: Stage) -> None:
        """The connection goes on to something else."""
        visit.stage = stage
        if visit in self._visits:
            del self._visits[visit]
            self._visits[visit] = None

    def _end_one_of(self, clients: set[str]) -> bool:
        theirs = (each for each in self._visits if each.client in clients and each.stage < Stage.AT_WORK)
        visit = min(theirs, key=lambda each: each.stage, default=None)
        if visit is None:
            return False
        self.leave(visit)
        visit.end()
        return True
