"""The real server, within this process: its routes on a real SQLite file, killed, cut off and restored at will."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from random import Random
from typing import Any
from uuid import UUID

from flask.testing import FlaskClient

from server import ids
from server.app import create_app
from server.collection import open_collection
from server.config import Config
from server.keeping.backup import back_up
from server.keeping.checking import Fault, check
from server.keeping.restore import restore
from server.records import devices
from server.records.database import close_database, database, execute
from server.sync.pull import pull
from tests.sync.bad_days.model import Clock

SYNC = "/api/v1/sync"
_clients: list[FlaskClient] = []


@contextmanager
def seeded(rng: Random, clock: Clock) -> Iterator[None]:
    """Let the server's one clock and its ids come from the run, so that a seed plays the same day again."""
    kept = ids.now, ids.now_ms, ids.new_id
    ids.now, ids.now_ms = (lambda: clock.now), (lambda: clock.now_ms)
    ids.new_id = lambda: str(UUID(int=rng.getrandbits(128), version=4))
    try:
        yield
    finally:
        ids.now, ids.now_ms, ids.new_id = kept


class Home:
    """One collection; `send` answers as a phone would hear it, or None where the answer is lost."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.config = Config(folder / "home")
        self._backups = 0
        if _clients:
            open_collection(self.config)
        else:
            _clients.append(create_app(self.config).test_client())

    def pair(self, name: str, role: str) -> tuple[str, str]:
        """A new device's id and token."""
        code, _ = devices.new_pairing(role)
        device, token = devices.pair(code, name)
        return device.id, token

    def send(self, token: str, body: bytes) -> tuple[int, Any]:
        """One request: status and JSON."""
        headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}
        answer = _clients[0].post(SYNC, data=body, headers=headers)
        return answer.status_code, answer.json

    def send_and_die(self, token: str, body: bytes, after_steps: int) -> None:
        """The server is killed so many of SQLite's steps into a request; its files stay as they were that moment."""
        image = self._folder / "image"

        def die() -> int:
            if not image.exists():
                self._copy_to(image)
            return 1

        connection = database.connection()
        connection.set_progress_handler(die, after_steps)
        self.send(token, body)
        with suppress(sqlite3.ProgrammingError):  # closed by the server, which saw it fail
            connection.set_progress_handler(None, 0)
        self.die(image)

    def die(self, image: Path | None = None) -> None:
        """The server is killed: nothing is closed or tidied up, and what its files hold is all there is."""
        if image is None or not image.exists():
            image = self._folder / "image"
            self._copy_to(image)
        close_database()
        for name in ("leafwalk.db", "leafwalk.db-wal", "leafwalk.db-shm"):
            (self.config.home / name).unlink(missing_ok=True)
        for file in image.iterdir():
            file.rename(self.config.home / file.name)
        image.rmdir()
        open_collection(self.config)

    def back_up(self) -> Path:
        """A backup while the server runs."""
        self._backups += 1
        path = self._folder / f"backup{self._backups}.zip"
        back_up(self.config, path, with_photos=False)
        return path

    def restore(self, path: Path) -> None:
        """The server is stopped, a backup put back, and the server started again."""
        restored = restore(self.config, path)
        if restored.replaced is not None:
            shutil.rmtree(restored.replaced)
        open_collection(self.config)

    def taken(self) -> dict[str, tuple[str, int]]:
        """Device and number of every change in the log, by id."""
        return {row[0]: (row[1], row[2]) for row in execute("SELECT id, device, n FROM change_log").fetchall()}

    def known(self) -> set[tuple[str, str]]:
        """The id of every change that home has an outcome for, each with what it is."""
        sql = "SELECT id, 'stored' FROM change_log UNION SELECT id, 'refused' FROM parked_change"
        return set(execute(sql).fetchall())

    def view(self) -> dict[str, tuple[str, dict[str, Any]]]:
        """Every record's kind and fields, as a new phone would pull them."""
        return shown(pull(None, 5000).records)

    def faults(self) -> list[Fault]:
        """What `leafwalk check` finds."""
        return check(self.config).faults

    def _copy_to(self, image: Path) -> None:
        image.mkdir()
        for name in ("leafwalk.db", "leafwalk.db-wal"):
            if (self.config.home / name).exists():
                shutil.copyfile(self.config.home / name, image / name)


def shown(records: list[dict[str, Any]]) -> dict[str, tuple[str, dict[str, Any]]]:
    """Pulled records by id; former tags, which the server adds, are left out."""
    return {
        each["id"]: (each["kind"], {name: value for name, value in each["fields"].items() if name != "former_tags"})
        for each in records
    }


def encoded(request: dict[str, Any]) -> bytes:
    """A request as it goes over the wire."""
    return json.dumps(request).encode()
