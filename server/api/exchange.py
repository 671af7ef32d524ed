"""Tables over the wire: what a thermometer's logger wrote, in; the trees' passports, out."""

from __future__ import annotations

import uuid
from typing import Any

from flask import Blueprint, Response

from server.api.doors import JSON_TYPE, gives, owners_only, paired, read_body, sends, takes_query
from server.api.shapes import LoggerOut, LoggerQuery, PassportsQuery
from server.tables.logger import import_logger
from server.tables.logger_columns import Ask
from server.tables.logger_table import BYTES_MAX
from server.tables.passports import Holder, passports_csv

CSV_TYPE = "text/csv"

exchange = Blueprint("exchange", __name__)


@exchange.post("/places/<uuid:place>/logger")
@owners_only
@takes_query(LoggerQuery)
@gives(LoggerOut)
@sends(JSON_TYPE, takes_type=CSV_TYPE, bytes_max=BYTES_MAX)
def post_logger(place: uuid.UUID, query: dict[str, Any]) -> dict[str, Any]:
    """Take a logger's CSV in as each day's lowest and highest of a place; the same file again adds nothing."""
    return import_logger(read_body(BYTES_MAX), str(place), Ask(**query)).document()


@exchange.get("/passports.csv")
@paired
@takes_query(PassportsQuery)
@sends(CSV_TYPE)
def get_passports(query: dict[str, Any]) -> Response:
    """The trees that are kept as Multi-Crop Passport Descriptors V.2.1 (FAO/Bioversity International 2015)."""
    answer = Response(passports_csv(Holder(**query)), content_type=f"{CSV_TYPE}; charset=utf-8; header=present")
    answer.headers["Content-Disposition"] = 'attachment; filename="passports.csv"'
    return answer
