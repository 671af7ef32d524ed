"""The one document that the phone keeps for offline: findings, trends, paces and crops, with a version for its ETag."""

from __future__ import annotations

import json
import threading
from dataclasses import dataclass
from datetime import date
from functools import cache, lru_cache
from hashlib import sha256
from typing import Any

from server.records.database import get_setting, read_counter, snapshot
from server.records.settings import read_settings
from server.reports.kept import State, follow, learn, write_out
from server.reports.kinds import SETTING
from server.reports.load import day_asked, today
from server.wording.manner import PLAIN, Manner

# Raised when what the reports say changes, so that phones fetch the overview anew.
FORMAT = 5
MANNERS_MAX = 8
"""In so many manners the present overview is kept; there are as many as a home's phones are set to."""


@dataclass(frozen=True)
class Overview:
    """The document as JSON, and its version; the same version means the same document."""

    version: str
    text: str

    @property
    def document(self) -> dict[str, Any]:
        """The document as plain values."""
        found: dict[str, Any] = json.loads(self.text)
        return found


def overview(on: date | None = None, manner: Manner = PLAIN) -> Overview:
    """Findings, notices, trends, paces and crops up to the end of `on` (None: today); kept until something changes."""
    if on is None or on == today():
        return _keeper().overview(manner)
    return _made(version(on, manner), on, manner)


def version(on: date | None = None, manner: Manner = PLAIN) -> str:
    """Name the state that an overview rests on, and its manner: newest change, the grower's settings, and the day."""
    return sha256(repr((FORMAT, read_counter(), manner, *_besides(on or today()))).encode()).hexdigest()[:32]


class Keeper:
    """Holds the state of one collection's present day, for all threads: one computes, the others wait for it."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._besides: tuple[Any, ...] | None = None
        self._state: State | None = None
        self._answers: dict[Manner, Overview] = {}

    def overview(self, manner: Manner = PLAIN) -> Overview:
        """Today's overview, of one moment."""
        with self._lock, snapshot():
            on = today()
            name = version(on, manner)
            known = self._answers.get(manner)
            if known is None or known.version != name:
                known = Overview(name, write_out(self._up_to_date(on), _head(on), manner))
                if len(self._answers) >= MANNERS_MAX:
                    self._answers.clear()
                self._answers[manner] = known
            return known

    def _up_to_date(self, on: date) -> State:
        besides, state = _besides(on), self._state
        # Whatever fails on the way leaves no half-changed state behind, and a full pass no second one beside it.
        self._state = None
        if besides != self._besides or state is None or not follow(state):
            state = None
            state = learn(on)
        self._besides, self._state = besides, state
        return state


@cache
def _keeper() -> Keeper:
    return Keeper()


@lru_cache(maxsize=2)
def _made(version: str, on: date, manner: Manner) -> Overview:
    """The overview of a day gone by; the version is part of the key, so that a change makes a new one."""
    return Overview(version, write_out(learn(day_asked(on)), _head(on), manner))


def _besides(on: date) -> tuple[Any, ...]:
    """What an overview rests on besides the changes."""
    shown = read_settings()
    return get_setting("epoch"), shown.collection, shown.time_zone, sorted(get_setting(SETTING, {}).items()), on


def _head(on: date) -> dict[str, Any]:
    shown = read_settings()
    return {"on": on.isoformat(), "collection": shown.collection, "time_zone": shown.time_zone}
