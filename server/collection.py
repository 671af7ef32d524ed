"""Opening a collection: its home folder and the database in it."""

from __future__ import annotations

import peewee

from server import home_lock
from server.config import Config
from server.errors import Refused
from server.keeping import swap
from server.records.database import POSTGRESQL_SCHEMES, open_database


def open_collection(config: Config) -> None:
    """Make the home folder where it is missing, and open the database; a restore that broke off is finished first.

    Raises Refused when the folder can't be made, the database can't be opened, or a restore is at work.
    """
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
    except peewee.PeeweeException as error:
        if config.database_address.startswith(POSTGRESQL_SCHEMES):
            why = " ".join(str(error).split())[:300]
            raise Refused(f"The tables can't be made in PostgreSQL ({why}); its user must own the schema.") from error
        detail = f"The database of {config.home} can't be opened ({error}); restore it from a backup."
        raise Refused(detail) from error
