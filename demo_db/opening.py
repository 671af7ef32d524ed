"""Finds or builds the demonstration that a person asked for on the command line."""

from __future__ import annotations

import tempfile
from datetime import date
from pathlib import Path

from demo_db.build import build, marker
from server import ids
from server.collection import open_collection
from server.config import Config
from server.errors import Refused
from server.records.queries import time_zone


def open_demo(home: Path | None, on: date | None) -> tuple[Config, bool]:
    """Open a demonstration in `home` (None: a new temporary folder), and say whether it was built just now.

    One that `home` holds already is opened as it stands, with whatever was entered into it since. `on` is the day
    on which the story stands (None: today by this machine's clock and zone).
    Raises Refused when `home` holds another collection or a demonstration of another day, or when `on` lies ahead.
    """
    today = ids.now().astimezone().date()
    if on is not None and on > today:
        raise Refused(f"{on} lies ahead, and the story ends the day before it. Give today ({today}) or a day before.")
    config = Config(home or Path(tempfile.mkdtemp(prefix="leafwalk-demo-")))
    open_collection(config)
    known = marker()
    if known is None:
        build(config.home, on or today, time_zone=time_zone().key)
        return config, True
    if on is not None and known["today"] != on.isoformat():
        raise Refused(
            f"{config.home} holds a demonstration of {known['today']}. Leave --on out to open it, or give an empty"
            " folder with --home."
        )
    return config, False
