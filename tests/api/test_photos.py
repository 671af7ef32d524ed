"""Photos over HTTP: sent once under their hash, checked, kept without their place, handed out in sizes."""

import hashlib
import io
import struct
import zlib

import numpy as np
from PIL import Image

from server.photos.decode import BYTES_MAX
from server.photos.intake import WIDTHS_PX
from tests.support.server import Visitor

GPS_TAG = 0x8825  # EXIF 2.32: where the picture was taken


def jpeg(width_px: int = 1200, height_px: int = 900, with_place: bool = False) -> bytes:
    """A small noisy photo, with the place where it was taken on request."""
    pixels = np.random.default_rng(width_px).integers(0, 256, (height_px, width_px, 3), np.uint8)
    exif = Image.Exif()
    if with_place:
        exif.get_ifd(GPS_TAG).update({1: "N", 2: (60.0, 10.0, 0.0)})
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=40, exif=exif)
    return out.getvalue()


def path_of(data: bytes) -> str:
    """Where a photo belongs."""
    return f"/photos/{hashlib.sha256(data).hexdigest()}"


def test_a_photo_goes_in_once_and_comes_out_without_its_place(owner: Visitor, helper: Visitor) -> None:
    data = jpeg(with_place=True)
    path = path_of(data)
    assert Image.open(io.BytesIO(data)).getexif().get_ifd(GPS_TAG)
    assert owner.call("HEAD", path).status_code == 404
    assert owner.call("GET", path).status_code == 404
    assert helper.call("PUT", path, data=data).status_code == 201
    assert helper.call("PUT", path, data=data).status_code == 200
    assert owner.call("HEAD", path).status_code == 200
    got = owner.call("GET", path)
    assert (got.status_code, got.mimetype) == (200, "image/jpeg")
    picture = Image.open(io.BytesIO(got.data))
    assert picture.size == (1200, 900)
    assert not picture.getexif()


def test_a_smaller_copy_has_the_next_width_and_is_told_once(owner: Visitor) -> None:
    data = jpeg()
    path = path_of(data)
    owner.call("PUT", path, data=data)
    small = owner.call("GET", f"{path}?width=300")
    assert Image.open(io.BytesIO(small.data)).width == min(step for step in WIDTHS_PX if step >= 300)
    assert "immutable" in small.headers["Cache-Control"]
    again = owner.call("GET", f"{path}?width=300", headers={"If-None-Match": small.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")
    assert owner.call("GET", f"{path}?width=310").data == small.data
    for wrong in ("width=0", "width=-5", "width=wide", "width=1&width=2", "size=3"):
        assert owner.call("GET", f"{path}?{wrong}").status_code == 422, wrong


def test_a_photo_that_changed_on_its_way_is_refused(owner: Visitor) -> None:
    data = jpeg()
    answer = owner.call("PUT", path_of(data), data=data[:-1])
    assert answer.status_code == 422
    assert answer.json["errors"][0]["field"] == "sha256"
    assert owner.call("HEAD", path_of(data)).status_code == 404
    for name in ("abc", "AB" * 32, "..%2f..%2fleafwalk.db", "zz" * 32):
        assert owner.call("PUT", f"/photos/{name}", data=data).status_code in (404, 422), name
        assert owner.call("GET", f"/photos/{name}").status_code == 404, name


def huge_png() -> bytes:
    """A decompression bomb: 30,000 by 30,000 white pixels in about a hundred kilobytes of PNG."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    packer = zlib.compressobj(9)
    row = b"\x00" + b"\xff" * (30_000 // 8)
    packed = b"".join(packer.compress(row) for _ in range(30_000)) + packer.flush()
    header = struct.pack(">IIBBBBB", 30_000, 30_000, 1, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")


def test_what_is_no_photo_is_refused_with_what_to_do(owner: Visitor) -> None:
    cases = {
        "a text file called .jpg": (b"shopping list: stakes, twine\n" * 50, 422),
        "nothing": (b"", 422),
        "cut off": (jpeg()[:5000], 422),
        "a web page": (b"<html><script>alert(1)</script></html>", 422),
        "a decompression bomb": (huge_png(), 413),
        "more bytes than taken": (b"\xff\xd8\xff" + b"\x00" * BYTES_MAX, 413),
    }
    for name, (data, status) in cases.items():
        answer = owner.call("PUT", path_of(data), data=data, content_type="image/jpeg")
        assert (answer.status_code, answer.mimetype) == (status, "application/problem+json"), name
        assert answer.json["detail"], name
        assert owner.call("HEAD", path_of(data)).status_code == 404, name
