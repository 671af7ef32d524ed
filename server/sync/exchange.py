"""One sync request, answered: changes in, outcomes and records out."""

from __future__ import annotations

from typing import Any

import orjson

from server.errors import Refused
from server.records.database import get_setting
from server.sync.pull import pull_since, read_cursor
from server.sync.push import Sender, push
from server.wording.said import say

PROTOCOL = 1


def exchange(
    sender: Sender, protocol: int, epoch: str | None, cursor: str | None, limit: int, changes: list[Any]
) -> dict[str, Any]:
    """Take a device's changes in, then hand out what changed since its cursor; the wire's answer as a dict for orjson.

    A device that knows another epoch spoke to a database that is gone: its cursor means nothing here, so it gets
    everything from the beginning and, seeing the new epoch, offers its recent changes again.
    """
    if protocol != PROTOCOL:
        told = say("This server speaks protocol {number}; update the app by reloading it.")
        raise Refused.of("protocol", told.filled(number=PROTOCOL))
    own_epoch = get_setting("epoch")
    since = read_cursor(cursor) if epoch == own_epoch else 0
    outcomes = push(sender, changes)
    page = pull_since(since, limit)
    return {
        "epoch": own_epoch,
        "results": [outcome.as_json() for outcome in outcomes],
        "records": [orjson.Fragment(text) for text in page.texts],
        "cursor": page.cursor,
        "more": page.more,
    }
