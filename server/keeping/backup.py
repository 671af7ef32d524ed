"""Making a backup while phones sync: all tables as of one moment, the photos by their hashes, and the certificates."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from server import ids
from server.config import Config
from server.errors import Refused
from server.keeping.backup_file import BackupWriter, written_whole
from server.records.copying import TABLES, columns_of, read_rows, schema_number
from server.records.database import DAMAGE, get_setting, read_counter, snapshot
from server.records.photo_files import PhotoStore
from server.records.photo_stores import photos_at

# Pairing codes live for 15 minutes and work once: one that came back could work twice.
LEFT_OUT = ("pairing",)


@dataclass(slots=True)
class BackedUp:
    """What went into a backup, and the photos that should have but are missing or damaged."""

    path: Path
    changes: int = 0
    rows: int = 0
    photos: int = 0
    photos_bad: int = 0
    photos_from: str | None = None
    size_bytes: int = 0

    def lines(self) -> list[str]:
        """The summary in words, a line each."""
        lines = [
            f"{self.path}: {self.changes} changes, {self.rows} rows in all, {self.photos} photos,"
            f" {self.size_bytes / 1e6:.1f} MB",
            "It holds the keys of this home, so only you can read it; keep it like a key.",
        ]
        if self.photos_from:
            lines.insert(1, f"Its photos were read from {self.photos_from}.")
        if self.photos_bad:
            lines.append(f"Photos left out since their file is missing or damaged: {self.photos_bad} (leafwalk check)")
        return lines


def back_up(config: Config, path: Path, with_photos: bool = True, replace: bool = False) -> BackedUp:
    """Write the open collection into one file; writers go on meanwhile, and what they write is not in it.

    The file's mode is 0600: it holds the certificate authority's key and the hashes of the phones' tokens.
    Raises Refused where the file exists and `replace` is not set, Unavailable when the disk fails or is full.
    """
    done = BackedUp(path)
    try:
        with written_whole(path, replace) as file, closing(BackupWriter(file)) as writer:
            _write(config, writer, with_photos, done)
            done.size_bytes = file.tell()
    except DAMAGE as error:
        raise Refused(f"The database can't be read through ({error}); nothing was kept. See: leafwalk check") from error
    return done


def _write(config: Config, writer: BackupWriter, with_photos: bool, done: BackedUp) -> None:
    with snapshot():
        for table in TABLES:
            if table not in LEFT_OUT:
                done.rows += writer.add_table(table, columns_of(table), read_rows(table))
        if with_photos:
            photos = photos_at(config.photos_url, config.home)
            done.photos_from = photos.where
            _add_photos(writer, photos, done)
        done.changes = read_counter()
        facts = {"collection": get_setting("collection"), "epoch": get_setting("epoch"), "schema": schema_number()}
    for certificate in _certificates(config.home):
        writer.add(f"certificates/{certificate.name}", [certificate.read_bytes()])
    made_at = ids.now().isoformat(timespec="seconds")
    writer.finish(made_at=made_at, seq=done.changes, with_photos=with_photos, **facts)


def _add_photos(writer: BackupWriter, photos: PhotoStore, done: BackedUp) -> None:
    place = columns_of("photo_file").index("stored_sha256")
    for sha256, *rest in read_rows("photo_file"):
        data = photos.find(sha256)
        if data is None or hashlib.sha256(data).hexdigest() != rest[place - 1]:
            done.photos_bad += 1
            continue
        writer.add(f"photos/{sha256[:2]}/{sha256}.jpg", [data], packed=True)
        done.photos += 1


def _certificates(home: Path) -> Iterator[Path]:
    folder = home / "certificates"
    for name in ("authority.crt", "authority.pem", "server.pem"):
        if (folder / name).is_file():
            yield folder / name
