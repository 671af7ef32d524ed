"""The nightly backup: a thread of the server writes one a night into the home, and keeps the newest few.

They leave the photos out: a photo's file never changes and is never deleted, and a copy of all on the same disk every
night would fill it and protect nothing. Against the loss of the disk helps `leafwalk backup` onto another.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path

from server import ids
from server.config import Config
from server.errors import LeafwalkError
from server.keeping.backup import back_up
from server.keeping.backup_file import told_by
from server.records.database import close_database
from server.records.queries import time_zone

log = logging.getLogger("leafwalk")

FOLDER = "backups"
# In the collection's own time zone; a computer that was off then makes up for it when it is on.
NIGHT_BEGINS = timedelta(hours=3)
LOOK_S = 60
AFTER_FAILURE = timedelta(hours=1)

Clock = Callable[[], datetime]


class Nightly:
    """Makes the backups of one home; `look` does what is due at the clock's moment."""

    def __init__(self, config: Config, kept: int, clock: Clock = ids.now) -> None:
        self._config, self._kept, self._clock = config, kept, clock
        self._folder = config.home / FOLDER
        self._rests_until: datetime | None = None

    def look(self) -> Path | None:
        """Make tonight's backup where it is missing, and remove those that are too many; returns what was made.

        A failure is logged, and tried again an hour later.
        """
        now = self._clock()
        night = (now.astimezone(time_zone()) - NIGHT_BEGINS).date()
        path = self._folder / f"night-{night.isoformat()}.zip"
        if path.exists() or (self._rests_until is not None and now < self._rests_until):
            return None
        try:
            self._folder.mkdir(mode=0o700, exist_ok=True)
            for broken_off in self._folder.glob(".night-*"):
                broken_off.unlink()
            back_up(self._config, path, with_photos=False, replace=True)
        except (LeafwalkError, OSError) as error:
            self._rests_until = now + AFTER_FAILURE
            log.warning("the nightly backup failed, and is tried again in an hour: %s", error)
            return None
        for too_many in self._too_many(path):
            too_many.unlink()
        return path

    def _too_many(self, tonight: Path) -> list[Path]:
        """Backups beyond those kept, but tonight's: those with the fewest changes first, then those dated ahead.

        One from before a restore stays, and so does one with more changes than there are now: what is here may be less
        than what was.
        """
        now, own = told_by(tonight), []
        for path in self._folder.glob("night-*.zip"):
            told = told_by(path)
            if path != tonight and told.get("epoch") == now["epoch"] and told["seq"] <= now["seq"]:
                own.append((told["seq"], path.name < tonight.name, path))
        return [path for *_, path in sorted(own)[: max(0, len(own) + 1 - self._kept)]]


@contextmanager
def nightly_backups(config: Config, kept: int, look_s: float = LOOK_S) -> Iterator[None]:
    """Within it, a thread makes tonight's backup once it is due; `kept` 0 makes none."""
    if kept == 0:
        yield
        return
    ended = threading.Event()
    # Not waited for at the end: what it is writing has no name yet, and stopping the server should be quick.
    threading.Thread(target=_run, args=(Nightly(config, kept), ended, look_s), name="nightly", daemon=True).start()
    try:
        yield
    finally:
        ended.set()


def _run(nightly: Nightly, ended: threading.Event, look_s: float) -> None:
    while not ended.wait(look_s):
        try:
            nightly.look()
        except Exception:  # the thread must outlive whatever the database does to it
            log.warning("the nightly backup failed", exc_info=True)
        finally:
            close_database()
