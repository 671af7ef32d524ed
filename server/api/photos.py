"""Photos by the SHA-256 of what a phone sent: whether one is here, taking one in, handing one out, measuring it."""

from __future__ import annotations

import hashlib
from typing import Any

from flask import Blueprint, Response, current_app, request

from labels.card import CARDS
from labels.codes import rows_of
from server.api.doors import JSON_TYPE, json_answer, paired, read_body, sends, takes_query
from server.api.remembered import Remembered
from server.api.shapes import PhotoQuery
from server.errors import NotFound, Refused
from server.photos.decode import BYTES_MAX
from server.photos.intake import MEDIA_TYPE, smaller, take_in, width_step
from server.photos.scene import Scene
from server.records.photo_files import PhotoStore
from server.records.queries import code_widths_mm
from server.reports.measure import measured_with_scene
from server.sync.fields import SHA256
from server.wording.said import say

NOT_HERE = say("This photo has not arrived yet; it comes with the next sync of the phone that took it.")
# A hash names its bytes for good; only the device itself may keep them.
KEEP_FOR_GOOD = "private, max-age=31536000, immutable"
# Measurements that are remembered, some 200 kB each; and how many may wait while one is made.
LOOKED_AT_MAX, WAITING_MAX = 32, 2

photos = Blueprint("photos", __name__)
_looked_at: Remembered[tuple[str, int], tuple[dict[str, Any], Scene]] = Remembered(LOOKED_AT_MAX, WAITING_MAX)


def store() -> PhotoStore:
    """Where this application keeps its photos."""
    found: PhotoStore = current_app.extensions["leafwalk_photos"]
    return found


@photos.get("/photos/<sha256>")
@paired
@takes_query(PhotoQuery)
@sends(MEDIA_TYPE)
def get_photo(sha256: str, query: dict[str, Any]) -> Response:
    """The photo, or with `width` a smaller copy; HEAD tells only whether it is here."""
    if not SHA256.fullmatch(sha256) or not store().has(sha256):
        raise NotFound(NOT_HERE)
    width_px = None if query["width"] is None else width_step(query["width"])
    etag = sha256 if width_px is None else f"{sha256}-{width_px}"
    answer = Response(content_type=MEDIA_TYPE)
    answer.headers["Cache-Control"] = KEEP_FOR_GOOD
    answer.set_etag(etag)
    if request.method == "GET" and etag not in request.if_none_match:
        data = store().read(sha256) if width_px is None else store().cached(sha256, width_px, smaller)
        answer.set_data(data)
    answer.make_conditional(request)
    return answer


@photos.get("/photos/<sha256>/measure")
@paired
@sends(JSON_TYPE)
def measure_photo(sha256: str) -> Response:
    """The leaves in a photo that shows a tag or the measuring card: area, damage, green; nothing is kept."""
    return json_answer(_look(sha256)[0])


@photos.get("/photos/<sha256>/measure/picture")
@paired
@sends(MEDIA_TYPE)
def measured_picture(sha256: str) -> Response:
    """The measured leaves from above."""
    return Response(_look(sha256)[1].picture, content_type=MEDIA_TYPE)


@photos.get("/photos/<sha256>/measure/mask")
@paired
@sends("image/png")
def measured_mask(sha256: str) -> Response:
    """Which pixels of the picture were counted: 0 none, n on leaf n, 100 + n where that leaf is damaged or gone."""
    return Response(_look(sha256)[1].mask, content_type="image/png")


def _look(sha256: str) -> tuple[dict[str, Any], Scene]:
    """What a photo measures, remembered. Raises NotFound, Unmeasurable, or Unavailable where others are waiting."""
    if not SHA256.fullmatch(sha256) or not store().has(sha256):
        raise NotFound(NOT_HERE)
    widths_mm = code_widths_mm()
    return _looked_at.get(
        (sha256, hash(frozenset(widths_mm.items()))),
        lambda: measured_with_scene(store().read(sha256), list(CARDS.values()), rows_of, widths_mm),
    )


@photos.put("/photos/<sha256>")
@paired
@sends(None, 201, takes_type="image/*", bytes_max=BYTES_MAX)
def put_photo(sha256: str) -> Response:
    """Take a photo in: 201 when it is new, 200 when it is here already."""
    if not SHA256.fullmatch(sha256):
        raise _wrong_hash(say("A photo's address ends in its SHA-256: 64 characters 0-9 a-f."))
    return Response(status=201 if arrive(store(), sha256, read_body(BYTES_MAX)) else 200)


def arrive(kept: PhotoStore, sha256: str, data: bytes) -> bool:
    """Take a photo in under the hash that it was sent with: True when it is new, False when it is here already.

    Raises Refused where it is none or not that one, Unavailable where it can't be kept.
    """
    if hashlib.sha256(data).hexdigest() != sha256:
        raise _wrong_hash(say("The photo changed on its way here; send it again."))
    if kept.has(sha256):
        return False
    photo = take_in(data)
    kept.keep(sha256, photo.data, photo.width_px, photo.height_px)
    return True


def _wrong_hash(message: str) -> Refused:
    return Refused.of("sha256", message)
