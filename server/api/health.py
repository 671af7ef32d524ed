"""Whether the server is up and its database answers."""

from __future__ import annotations

from flask import Blueprint, Response

from server.api.doors import json_answer
from server.records.database import read_counter
from server.sync.exchange import PROTOCOL

health = Blueprint("health", __name__)


@health.get("/health")
def get_health() -> Response:
    """Needs no token and tells nothing of the collection."""
    read_counter()
    return json_answer({"status": "ok", "protocol": PROTOCOL})
