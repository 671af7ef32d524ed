"""Who uses a home folder: many processes at once, or alone the one that replaces what is in it.

The lock is the system's own and ends with the process, however that ends; the file that carries it may stay.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from server.errors import Refused

LOCK_FILE = ".lock"
# On Windows, whose locks are never shared, each user holds one byte of so many; who is alone holds them all.
SEATS = 1000

_held: list[IO[bytes]] = []


def enter(home: Path) -> None:
    """Use this home beside others, until this process ends or opens another home.

    Raises Refused while a restore or a transplanting has it alone.
    """
    leave()
    file = (home / LOCK_FILE).open("ab")
    if not _take(file, alone=False):
        file.close()
        raise Refused(f"{home} is being restored or transplanted; try again when that is done.")
    _held.append(file)


def leave() -> None:
    """Give up this process's own use of a home."""
    while _held:
        _held.pop().close()


@contextmanager
def alone(home: Path) -> Iterator[None]:
    """Have a home alone. Raises Refused while another process uses it."""
    leave()
    with (home / LOCK_FILE).open("ab") as file:
        if not _take(file, alone=True):
            raise Refused(f"{home} is in use by a server or another command; stop it first.")
        yield


if sys.platform == "win32":
    import msvcrt

    def _take(file: IO[bytes], alone: bool) -> bool:
        seats = [(0, SEATS)] if alone else [((os.getpid() + place) % SEATS, 1) for place in range(SEATS)]
        for start, count in seats:
            file.seek(start)
            try:
                msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, count)
            except OSError:
                continue
            return True
        return False

else:
    import fcntl

    def _take(file: IO[bytes], alone: bool) -> bool:
        try:
            fcntl.flock(file, (fcntl.LOCK_EX if alone else fcntl.LOCK_SH) | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True
