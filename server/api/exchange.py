"""Tables over the wire: what a thermometer's logger wrote, in."""

from __future__ import annotations

import uuid
from typing import Any

from flask import Blueprint

from server.api.doors import JSON_TYPE, gives, owners_only, read_body, sends, takes_query
from server.api.shapes import LoggerOut, LoggerQuery
from server.tables.logger import import_logger
from server.tables.logger_columns import Ask
from server.tables.logger_table import BYTES_MAX

exchange = Blueprint("exchange", __name__)


@exchange.post("/places/<uuid:place>/logger")
@owners_only
@takes_query(LoggerQuery)
@gives(LoggerOut)
@sends(JSON_TYPE, takes_type="text/csv", bytes_max=BYTES_MAX)
def post_logger(place: uuid.UUID, query: dict[str, Any]) -> dict[str, Any]:
    """Take a logger's CSV in as each day's lowest and highest of a place; the same file again adds nothing."""
    return import_logger(read_body(BYTES_MAX), str(place), Ask(**query)).document()
