"""Replacing what is in a home by what was made ready beside it, so that a power cut leaves the old or the new whole."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

STAGED = ".restoring"
# Once this file is there, everything beside it is complete; it names the folder that takes what is replaced.
READY = "ready"
DATABASE = "leafwalk.db"
# A part of a home, and what must leave with it: a write-ahead log that met another database would damage it.
PARTS: dict[str, tuple[str, ...]] = {DATABASE: (f"{DATABASE}-wal", f"{DATABASE}-shm"), "certificates": ()}


@contextmanager
def stage(home: Path) -> Iterator[Path]:
    """An empty folder in the home in which to make things ready; it goes again unless they became so."""
    staged = home / STAGED
    shutil.rmtree(staged, ignore_errors=True)
    staged.mkdir(mode=0o700)
    try:
        yield staged
    finally:
        if not is_pending(home):
            shutil.rmtree(staged, ignore_errors=True)


def mark_ready(home: Path, replaced: str) -> None:
    """Say that everything is on disk: from now on the swap is carried out, at the next opening if need be."""
    staged = home / STAGED
    for folder, _, files in os.walk(staged):
        for name in files:
            sync(Path(folder) / name)
        sync(Path(folder))
    with (staged / f"{READY}.part").open("w", encoding="utf-8") as file:
        file.write(replaced)
        file.flush()
        os.fsync(file.fileno())
    (staged / f"{READY}.part").replace(staged / READY)
    sync(staged)


def is_without_database(home: Path) -> bool:
    """Whether the file of its database is missing, or holds nothing."""
    file = home / DATABASE
    return not file.is_file() or file.stat().st_size == 0


def is_pending(home: Path) -> bool:
    """Whether a swap was begun and not finished."""
    return (home / STAGED / READY).exists()


def finish(home: Path) -> Path | None:
    """Carry the swap out, or on from where it broke off; returns the folder that holds what was replaced, if anything.

    Only while the home is held alone.
    """
    staged = home / STAGED
    replaced = home / (staged / READY).read_text(encoding="utf-8")
    for part, companions in PARTS.items():
        if not (staged / part).exists():
            continue
        for name in (*companions, part):
            if (home / name).exists():
                replaced.mkdir(mode=0o700, exist_ok=True)
                (home / name).replace(replaced / name)
                sync(replaced)
        (staged / part).replace(home / part)
        sync(home)
    shutil.rmtree(staged)
    return replaced if replaced.exists() else None


def sync(path: Path) -> None:
    """Have a file, or a folder's list of names, on disk; folders only where the system lets them be opened."""
    if path.is_dir() and os.name != "posix":
        return
    handle = os.open(path, os.O_RDONLY if os.name == "posix" else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
