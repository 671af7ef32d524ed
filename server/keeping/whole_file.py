"""A file that takes its name only once it is whole and on disk."""

from __future__ import annotations

import glob
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from server.keeping.swap import sync


@contextmanager
def whole_file(path: Path, mode: int = 0o666) -> Iterator[IO[bytes]]:
    """A file to write beside `path`, which replaces what stands there at the end.

    `mode` is as for open(2); where a file was there, it is no wider than that one's. A device or a pipe is written to
    as it is. Raises OSError; nothing is left then, and what had the name stays.
    """
    if path.exists() and not path.is_file():
        with path.open("wb") as file:
            yield file
        return
    path = path.resolve()  # a link goes on leading to its file
    _clear_away(path)
    if path.exists():
        mode &= path.stat().st_mode
    part = path.with_name(f".{path.name}-{os.getpid():08d}")
    how = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    with os.fdopen(os.open(part, how, mode), "wb") as file:
        try:
            yield file
            file.flush()
            os.fsync(file.fileno())
        except BaseException:
            with suppress(OSError):  # what it still holds finds no room either
                file.close()
            part.unlink()
            raise
    try:
        part.replace(path)
    except OSError:
        part.unlink(missing_ok=True)
        raise
    sync(path.parent)


def _clear_away(path: Path) -> None:
    """What a process that was killed left of an earlier try."""
    for broken_off in path.parent.glob(f".{glob.escape(path.name)}-????????"):
        with suppress(OSError):
            broken_off.unlink()
