"""Photo files, found by the SHA-256 of what a phone sent: what every store of them can do, and that in a folder."""

from __future__ import annotations

import hashlib
import os
import tempfile
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from pathlib import Path

from server import ids
from server.errors import NotFound, Unavailable
from server.records.database import execute, write
from server.wording.said import say

# Smaller copies can be made again: about ten thousand of them are worth keeping.
SMALL_BYTES_MAX = 1_000_000_000
# Once there are too many, so much of the room is left to those written last.
SMALL_KEPT_SHARE = 0.8


class PhotoStore(ABC):
    """Where photos are kept, whoever stores the bytes: the database knows a photo only once its bytes are safe.

    `where` says in words where that is, None for the home's own folder.
    """

    where: str | None = None

    def __init__(self, small: SmallCopies) -> None:
        self._small = small

    def has(self, sha256: str) -> bool:
        """Whether the photo sent under this hash is kept."""
        return execute("SELECT 1 FROM photo_file WHERE sha256 = ?", (sha256,)).fetchone() is not None

    def keep(self, sha256: str, data: bytes, width_px: int, height_px: int) -> None:
        """Keep a photo's bytes (as re-encoded) under the hash it was sent with; a known one stays as it is.

        The bytes are safe before the database knows them. Raises Unavailable when the store refuses.
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

    def read(self, sha256: str) -> bytes:
        """The kept bytes. Raises NotFound when the photo has not arrived, Unavailable when the store doesn't answer."""
        if not self.has(sha256):
            raise NotFound(
                say("This photo has not arrived yet; it comes with the next sync of the phone that took it.")
            )
        data = self.find(sha256)
        if data is None:
            raise NotFound(say("This photo's file is missing; restore it from a backup."))
        return data

    def cached(self, sha256: str, width_px: int, make: Callable[[bytes, int], bytes]) -> bytes:
        """A smaller copy, made by `make(data, width_px)` at the first call and kept for the next."""
        name = f"{sha256}-{width_px}.jpg"
        found = self._small.find(name)
        if found is not None and self.has(sha256):
            return found
        data = make(self.read(sha256), width_px)
        self._small.put(name, data)
        return data

    @abstractmethod
    def put(self, sha256: str, data: bytes) -> None:
        """Store a photo's bytes alone, without word of it in the database. Raises Unavailable when that fails."""

    @abstractmethod
    def find(self, sha256: str) -> bytes | None:
        """The bytes that lie under this hash, whatever the database says; None where there are none."""

    @abstractmethod
    def names(self) -> Iterator[str]:
        """The hashes under which bytes lie, whatever the database says."""


class SmallCopies:
    """Smaller copies in a folder of this computer, of `bytes_max` together; those written first make room."""

    def __init__(self, root: Path, bytes_max: int = SMALL_BYTES_MAX) -> None:
        self._root, self._bytes_max = root, bytes_max
        self._bytes: int | None = None

    def find(self, name: str) -> bytes | None:
        """A copy's bytes, None where it is not here."""
        try:
            return (self._root / name).read_bytes()
        except OSError:
            return None

    def put(self, name: str, data: bytes) -> None:
        """Keep a copy, if the disk lets us: a full one is no reason to show nothing."""
        try:
            write_durably(self._root / name, data)
            self._bytes = sum(size for _, size, _ in self._files()) if self._bytes is None else self._bytes + len(data)
            if self._bytes > self._bytes_max:
                self._make_room()
        except OSError:
            return

    def _make_room(self) -> None:
        """Counted anew, since other processes write here too, and one of them may be making room as well."""
        files = sorted(self._files())
        left = sum(size for _, size, _ in files)
        for _, size, path in files:
            if left <= self._bytes_max * SMALL_KEPT_SHARE:
                break
            path.unlink(missing_ok=True)
            left -= size
        self._bytes = left

    def _files(self) -> Iterator[tuple[int, int, Path]]:
        for path in self._root.glob("*.jpg"):
            try:
                about = path.stat()
            except FileNotFoundError:
                continue  # another process made room
            yield about.st_mtime_ns, about.st_size, path


class PhotoFolder(PhotoStore):
    """Photos in a folder, of this computer or shared by several: `ab/abcd….jpg` for each, small copies in `small/`.

    A file takes its name in one step, once it is whole and on disk: a power cut leaves no half file, and another
    server that looks for it at that moment finds all of it or none.
    """

    def __init__(self, root: Path, where: str | None = None) -> None:
        super().__init__(SmallCopies(root / "small"))
        self.root, self.where = root, where

    def put(self, sha256: str, data: bytes) -> None:
        """Write a photo's file. Raises Unavailable when the disk refuses."""
        try:
            write_durably(self._path(sha256), data)
        except OSError as error:
            told = say("The server can't keep the photo ({why}). Make room on its disk, then send it again.")
            raise Unavailable(told.filled(why=error.strerror)) from error

    def find(self, sha256: str) -> bytes | None:
        """The bytes of a photo's file, None where it is missing or can't be read."""
        try:
            return self._path(sha256).read_bytes()
        except OSError:
            return None

    def names(self) -> Iterator[str]:
        """The hashes under which files lie."""
        for path in self.root.glob("[0-9a-f][0-9a-f]/*.jpg"):
            yield path.stem

    def _path(self, sha256: str) -> Path:
        return self.root / photo_name(sha256)


def photo_name(sha256: str) -> str:
    """Where a photo lies within its store."""
    return f"{sha256[:2]}/{sha256}.jpg"


def write_durably(path: Path, data: bytes) -> None:
    """Write a file that has its name only once it is whole and on disk. Raises OSError; nothing is left then."""
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
