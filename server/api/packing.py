"""Answers packed with gzip for phones on weak Wi-Fi."""

from __future__ import annotations

import gzip

from flask import Response, request

# Below this a packet holds the answer anyway; level 3 packs JSON to about a tenth at little cost.
GZIP_BYTES_MIN = 1400
GZIP_LEVEL = 3


def pack(answer: Response) -> Response:
    """Pack a JSON answer where the client takes gzip."""
    if answer.mimetype != "application/json" or answer.is_streamed or answer.status_code == 304:
        return answer
    answer.headers.add("Vary", "Accept-Encoding")
    data = answer.get_data()
    if len(data) >= GZIP_BYTES_MIN and request.accept_encodings["gzip"]:
        answer.set_data(gzip.compress(data, GZIP_LEVEL, mtime=0))
        answer.headers["Content-Encoding"] = "gzip"
        etag, weak = answer.get_etag()
        if etag is not None and not weak:
            # Packed and plain bytes differ, so the tag names what they say and no longer the bytes (RFC 9110, 8.8.1).
            answer.set_etag(etag, weak=True)
    return answer
