"""Opening a collection: its home folder and the database in it."""

from __future__ import annotations

import peewee

from server import home_lock
from server.config import Config
from server.errors import LeafwalkError, NotFound, Refused, Unavailable
from server.keeping import swap
from server.records.database import DAMAGE, POSTGRESQL_SCHEMES, cause_of, open_database


def open_collection(config: Config, make: bool = True) -> None:
    """Make the home folder where it is missing, and open the database; a restore that broke off is finished first.

    Without `make` only a database that is there already is opened. Raises Refused when the folder can't be made, the
    database can't be opened, the home has lost it, or a restore is at work; Unavailable when the disk is full or fails.
    """
    if config.database_url is None and not swap.is_pending(config.home):
        _refuse_lost(config, make)
    try:
        config.home.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        detail = f"The folder {config.home} can't be made ({error.strerror}); choose another with --home."
        raise Refused(detail) from error
    home_lock.enter(config.home)
    if swap.is_pending(config.home):
        with home_lock.alone(config.home):
            swap.finish(config.home)
        home_lock.enter(config.home)
    try:
        open_database(config.database_address)
    except (peewee.PeeweeException, *DAMAGE) as error:
        raise _not_opened(config, error) from error


def _refuse_lost(config: Config, make: bool) -> None:
    """A home that shows that it had a database, but has none, gets no new one: nightly backups of that would come."""
    if not swap.is_without_database(config.home):
        return
    parts = (config.home / "backups", config.home / "photos", *sorted(config.home.glob("replaced-*")))
    left = [path.name for path in parts if path.is_file() or (path.is_dir() and any(path.iterdir()))]
    if left:
        raise Refused(
            f"The database {config.home / swap.DATABASE} is missing or empty, but there is {', '.join(left)}. Restore"
            " the newest backup: leafwalk restore FILE (nightly ones lie in “backups”); or give --database if the"
            " collection is in PostgreSQL; or, to start anew, move these away."
        )
    if not make:
        raise NotFound(
            f"{config.home} holds no collection, as {swap.DATABASE} is missing or empty. Name its folder with --home,"
            " or restore a backup: leafwalk restore FILE."
        )


def _not_opened(config: Config, error: Exception) -> LeafwalkError:
    why = " ".join(str(error).split())[:300]
    if config.database_address.startswith(POSTGRESQL_SCHEMES):
        return Refused(f"The tables can't be made in PostgreSQL ({why}); its user must own the schema.")
    told = f"The database of {config.home} can't be opened ({why})"
    match cause_of(error):
        case "disk":
            return Unavailable(f"{told}: the disk is full or failing. Make room there, then try again.")
        case "busy":
            return Unavailable(f"{told}; try again in a moment.")
        case "access":
            return Refused(f"{told}; check who owns the folder and the files in it, and that they may be written to.")
    return Refused(f"{told}; restore it from a backup.")
