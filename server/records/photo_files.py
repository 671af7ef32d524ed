"""Photo files on disk, found by the SHA-256 of what a phone sent; written so that a power cut leaves no half file."""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from server import ids
from server.errors import NotFound, Unavailable
from server.records.database import execute, write


class PhotoFolder:
    """The folder of photos: `ab/abcd….jpg` for each, and smaller copies, which can be made again, under `small/`."""

    def __init__(self, root: Path) -> None:
        self.root = root

    def has(self, sha256: str) -> bool:
        """Whether the photo sent under this hash is kept."""
        return execute("SELECT 1 FROM photo_file WHERE sha256 = ?", (sha256,)).fetchone() is not None

    def keep(self, sha256: str, data: bytes, width_px: int, height_px: int) -> None:
        """Keep a photo's bytes (as re-encoded) under the hash it was sent with; a known one stays as it is.

        The file is on disk before the database knows it. Raises Unavailable when the disk refuses.
        """
        if self.has(sha256):
            return
        self.put(sha256, data)
        with write():
            execute(
                "INSERT INTO photo_file (sha256, stored_sha256, size_bytes, width_px, height_px, received_ms)"
                " VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT (sha256) DO NOTHING",
                (sha256, hashlib.sha256(data).hexdigest(), len(data), width_px, height_px, ids.now_ms()),
            )

    def put(self, sha256: str, data: bytes) -> None:
        """Write a photo's file alone, without word of it in the database. Raises Unavailable when the disk refuses."""
        try:
            _write_durably(self._path(sha256), data)
        except OSError as error:
            raise Unavailable(
                f"The server can't keep the photo ({error.strerror}). Make room on its disk, then send it again."
            ) from error

    def read(self, sha256: str) -> bytes:
        """The kept bytes. Raises NotFound when the photo has not arrived."""
        if not self.has(sha256):
            raise NotFound("This photo has not arrived yet; it comes with the next sync of the phone that took it.")
        try:
            return self._path(sha256).read_bytes()
        except FileNotFoundError as error:
            raise NotFound("This photo's file is missing; restore it from a backup.") from error

    def cached(self, sha256: str, width_px: int, make: Callable[[bytes, int], bytes]) -> bytes:
        """A smaller copy, made by `make(data, width_px)` at the first call and kept for the next."""
        path = self.root / "small" / f"{sha256}-{width_px}.jpg"
        if path.exists() and self.has(sha256):
            return path.read_bytes()
        data = make(self.read(sha256), width_px)
        try:
            _write_durably(path, data)
        except OSError:
            return data  # a full disk is no reason to show nothing
        return data

    def find(self, sha256: str) -> bytes | None:
        """The bytes that lie under this hash, whatever the database says; None where there are none."""
        try:
            return self._path(sha256).read_bytes()
        except OSError:
            return None

    def names(self) -> Iterator[str]:
        """The hashes under which files lie, whatever the database says."""
        for path in self.root.glob("[0-9a-f][0-9a-f]/*.jpg"):
            yield path.stem

    def _path(self, sha256: str) -> Path:
        return self.root / sha256[:2] / f"{sha256}.jpg"


def _write_durably(path: Path, data: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".arriving-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(temporary).replace(path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
