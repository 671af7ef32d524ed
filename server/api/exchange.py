"""What is traded over the wire: a logger's table in, the trees' passports in and out, the list to share out."""

from __future__ import annotations

import tempfile
import uuid
from dataclasses import asdict
from pathlib import Path
from typing import Any

from flask import Blueprint, Response

from server.api.doors import JSON_TYPE, gives, manner, owners_only, paired, read_body, sends, takes_query
from server.api.offers import offers_pdf
from server.api.shapes import LoggerOut, LoggerQuery, PaperQuery, PassportsIn, PassportsQuery, TakenBackOut
from server.tables.logger import import_logger
from server.tables.logger_columns import Ask
from server.tables.logger_table import BYTES_MAX
from server.tables.passports import Holder, passports_csv
from server.tables.passports_in import import_passports
from server.tables.taking_back import take_back
from server.wording.said import say

CSV_TYPE = "text/csv"
PASSPORTS_BYTES_MAX = 8 * 1024 * 1024

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


@exchange.post("/passports")
@owners_only
@gives(PassportsIn)
@sends(JSON_TYPE, takes_type=CSV_TYPE, bytes_max=PASSPORTS_BYTES_MAX)
def post_passports() -> dict[str, Any]:
    """Take passports in as varieties and trees, all or nothing; the same rows again add nothing."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "passports.csv"
        file.write_bytes(read_body(PASSPORTS_BYTES_MAX))
        done = import_passports(file, say("The file"))
        told = manner()
        return {"lines": [told.say(line) for line in done.lines()], "span": done.span}


@exchange.delete("/imports/<int:first>-<int:last>")
@owners_only
@gives(TakenBackOut)
def delete_import(first: int, last: int) -> dict[str, Any]:
    """Take back what a file brought in, by the span of its changes; what others build on is left."""
    return asdict(take_back(first, last))


@exchange.get("/offers.pdf")
@owners_only
@takes_query(PaperQuery)
@sends("application/pdf")
def get_offers(query: dict[str, Any]) -> Response:
    """What can be given to others, to print or to send."""
    return Response(offers_pdf(query["paper"]), content_type="application/pdf")
