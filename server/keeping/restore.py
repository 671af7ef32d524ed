"""Putting a backup back: verified whole before anything is replaced, made ready beside, and swapped in at once.

The restored database gets a new epoch. Phones see it with their next sync, pull everything afresh, and offer again what
they sent of late, so that what the backup lacks comes home from them. Photos are only ever added: a file that arrived
after the backup stays. Who is paired, and who was shut out, stays as it is now, where that can still be read.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import peewee

from server import home_lock, ids
from server.config import Config
from server.errors import Refused, Unavailable
from server.keeping import swap
from server.keeping.backup import LEFT_OUT, back_up
from server.keeping.backup_file import Backup, opened_backup
from server.records.copying import (
    TABLES,
    clear_tables,
    columns_of,
    drop_tables,
    fill_table,
    merge_rows,
    read_rows,
    schema_number,
)
from server.records.database import (
    cause_of,
    close_database,
    migrate,
    newest_schema,
    open_database,
    set_setting,
    write,
)
from server.records.photo_files import PhotoStore
from server.records.photo_stores import photos_at

# What a home knows better than its backup: who may come in, and which photos it has.
KEPT = ("device", "photo_file")
Kept = dict[str, list[tuple[Any, ...]]]
# What is told of a database that failed meanwhile, by the cause.
AGAIN = {
    "disk": "The disk is full or failing; the collection is as it was. Make room there, then restore again.",
    "busy": "The database is busy; the collection is as it was. Restore again in a moment.",
}


@dataclass(slots=True)
class Restored:
    """What came back, from when, which photos have no file, and where that lies which was replaced."""

    made_at: str
    changes: int
    photos: int = 0
    photos_missing: int = 0
    devices_kept: bool = False
    replaced: Path | None = None

    def lines(self) -> list[str]:
        """The summary in words, a line each."""
        lines = [f"Restored as of {self.made_at}: {self.changes} changes, {self.photos} photos."]
        if self.photos_missing:
            lines.append(f"Photos without a file: {self.photos_missing}. A phone that still has one sends it again.")
        lines.append("Now let every phone sync: each sends again what it sent of late, and nothing later is missing.")
        if not self.devices_kept:
            lines.append("Phones paired after that day must be paired again; who was shut out after it is in again.")
        if self.replaced:
            lines.append(f"What was here before: {self.replaced}. Remove it once all phones have synced.")
        return lines


def restore(config: Config, path: Path) -> Restored:
    """Replace the collection of this home by that of a backup.

    Raises Refused when the file is no backup, is damaged or of a newer Leafwalk, or while the home is in use;
    Unavailable when the disk is full. The collection is as it was then.
    """
    config.home.mkdir(mode=0o700, parents=True, exist_ok=True)
    with opened_backup(path, newest_schema()) as backup, home_lock.alone(config.home):
        done = Restored(backup.manifest["made_at"], backup.manifest["seq"])
        try:
            for broken_off in config.home.glob(".replaced-*"):
                broken_off.unlink()
            (_into_server if config.database_url else _into_home)(config, backup, done)
        except OSError as error:
            if swap.is_pending(config.home):
                raise Unavailable(
                    f"The disk fails ({error.strerror}); the next command carries the restore on."
                ) from error
            raise Unavailable(f"The disk refuses ({error.strerror}); the collection is as it was.") from error
        except (peewee.PeeweeException, ValueError, Unavailable) as error:
            told = AGAIN.get(cause_of(error)) if isinstance(error, (peewee.OperationalError, Unavailable)) else None
            if told:
                raise Unavailable(told) from error
            if isinstance(error, Unavailable):
                raise
            raise Refused(f"{path} can't be taken in ({error}); the collection is as it was.") from error
        finally:
            close_database()
    return done


def _into_home(config: Config, backup: Backup, done: Restored) -> None:
    """A new database file is made beside the old one, which may be damaged, and takes its place by renaming."""
    close_database()
    kept = _kept_of_file(config.home / swap.DATABASE)
    with swap.stage(config.home) as staged:
        open_database(str(staged / swap.DATABASE), backup.manifest["schema"])
        with write():
            _fill(backup, photos_at(config.photos_url, config.home), kept, done)
        close_database()
        for name, member in backup.certificates.items():
            (staged / "certificates").mkdir(mode=0o700, exist_ok=True)
            (staged / "certificates" / name).write_bytes(backup.read(member))
            (staged / "certificates" / name).chmod(0o600)
        swap.mark_ready(config.home, _fresh(config.home, "").name)
    done.replaced = swap.finish(config.home)


def _into_server(config: Config, backup: Backup, done: Restored) -> None:
    """One transaction replaces every table: servers elsewhere see the old collection, and then the new one."""
    open_database(config.database_address)
    done.replaced = _fresh(config.home, ".zip")
    back_up(config, done.replaced, with_photos=False)
    with write():
        kept = {table: list(read_rows(table)) for table in KEPT}
        if backup.manifest["schema"] != schema_number():
            drop_tables()
            migrate(backup.manifest["schema"])
        _fill(backup, photos_at(config.photos_url, config.home), kept, done)


def _fresh(home: Path, suffix: str) -> Path:
    """A path in the home for what is replaced, which nothing has yet."""
    name, count = f"replaced-{ids.now():%Y%m%d-%H%M%S}", 1
    path = home / f"{name}{suffix}"
    while path.exists():
        count += 1
        path = home / f"{name}-{count}{suffix}"
    return path


def _fill(backup: Backup, photos: PhotoStore, kept: Kept | None, done: Restored) -> None:
    # The counter's row is never away: a writer on another server may be waiting for it.
    clear_tables({*backup.tables, *LEFT_OUT} - {"counter"})
    merge_rows("counter", backup.rows("counter"))
    for table in TABLES:
        if table in backup.tables and table != "counter":
            columns = backup.tables[table]["columns"]
            rows = _with_photos(backup, photos, done) if table == "photo_file" else backup.rows(table)
            fill_table(table, columns, rows)
    migrate()
    if kept is not None:
        merge_rows("device", kept["device"])
        place = columns_of("photo_file").index("stored_sha256")
        merge_rows("photo_file", (row for row in kept["photo_file"] if _is_whole(photos.find(row[0]), row[place])))
        done.devices_kept = True
    set_setting("epoch", ids.new_id())


def _with_photos(backup: Backup, photos: PhotoStore, done: Restored) -> Iterator[list[Any]]:
    """The rows of photos whose file is here or in the backup; of any other a phone must think that it never came."""
    columns, members = backup.tables["photo_file"]["columns"], backup.photos
    hashes = columns.index("sha256"), columns.index("stored_sha256")
    for row in backup.rows("photo_file"):
        sha256, stored = row[hashes[0]], row[hashes[1]]
        if not _is_whole(photos.find(sha256), stored):
            data = backup.read(members[sha256]) if sha256 in members else None
            if data is None or not _is_whole(data, stored):
                done.photos_missing += 1
                continue
            photos.put(sha256, data)
        done.photos += 1
        yield row


def _is_whole(data: bytes | None, stored_sha256: str) -> bool:
    return data is not None and hashlib.sha256(data).hexdigest() == stored_sha256


def _kept_of_file(path: Path) -> Kept | None:
    """What the present database knows better, read without changing it; None where it can't be read any more."""
    if not path.exists():
        return None
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as opened:
            return {
                table: opened.execute(f"SELECT {', '.join(columns_of(table))} FROM {table}").fetchall()  # noqa: S608
                for table in KEPT
            }
    except sqlite3.Error:
        return None
