"""The exchange with a phone: its changes in, an outcome for each and what is new out."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Response

from server.api.doors import json_answer, paired, takes, this_device
from server.api.shapes import SyncIn
from server.sync.exchange import exchange
from server.sync.push import Sender

SYNC_BYTES_MAX = 8 * 1024 * 1024

sync = Blueprint("sync", __name__)


@sync.post("/sync")
@paired
@takes(SyncIn, SYNC_BYTES_MAX, any_text=True)
def post_sync(body: dict[str, Any]) -> Response:
    """Take changes in and hand records out."""
    device = this_device()
    return json_answer(exchange(Sender(device.id, device.role), **body))
