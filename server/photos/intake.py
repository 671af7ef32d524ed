"""Takes photos in: whatever a phone sends becomes one upright, bounded sRGB JPEG that tells nothing but the picture."""

from __future__ import annotations

import io
from dataclasses import dataclass

from PIL import Image

from server.errors import Refused
from server.photos.decode import decode, one_at_a_time
from server.wording.said import say

EDGE_PX_MAX = 4096
# A picture whose half still has this edge is decoded at half size: a third of the time and a quarter of the memory.
HALVED_EDGE_PX_MIN = 3072
KEPT_QUALITY = 88
SMALLER_QUALITY = 80
# Widths of smaller copies; a wish is rounded up to one of these, so that few copies of a photo are ever kept.
WIDTHS_PX = (160, 320, 480, 640, 960, 1280, 1600)
MEDIA_TYPE = "image/jpeg"


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo as it is kept: JPEG bytes without metadata, upright, sRGB, no edge above EDGE_PX_MAX."""

    data: bytes
    width_px: int
    height_px: int
    media_type: str = MEDIA_TYPE


def take_in(data: bytes) -> Photo:
    """Turn an uploaded JPEG, PNG or WebP file into the picture that is kept; location and all else is dropped.

    Raises what `decode` raises.
    """
    with one_at_a_time:
        picture, _ = decode(data, HALVED_EDGE_PX_MIN, EDGE_PX_MAX)
        return Photo(_encode(picture, KEPT_QUALITY), *picture.size)


def smaller(data: bytes, width_px: int) -> bytes:
    """A copy of a kept photo, `width_step(width_px)` wide; the photo itself where it is no wider than that."""
    step = width_step(width_px)
    with one_at_a_time, Image.open(io.BytesIO(data), formats=["JPEG"]) as opened:
        if opened.width <= step:
            return data
        size = (step, max(1, round(opened.height * step / opened.width)))
        opened.draft(None, size)
        return _encode(opened.resize(size, Image.Resampling.LANCZOS), SMALLER_QUALITY)


def width_step(width_px: int) -> int:
    """The smallest of WIDTHS_PX that is at least `width_px`, or the largest; Refused when it is not positive."""
    if width_px < 1:
        message = say("A width of {width} px is no width; ask for {least} to {most}.")
        raise Refused.of("width", message.filled(width=width_px, least=WIDTHS_PX[0], most=WIDTHS_PX[-1]))
    return next((step for step in WIDTHS_PX if step >= width_px), WIDTHS_PX[-1])


def _encode(picture: Image.Image, quality: int) -> bytes:
    """JPEG bytes with nothing but pixels."""
    # Pillow would copy a comment from here into the file.
    picture.info.clear()
    target = io.BytesIO()
    picture.save(target, "JPEG", quality=quality)
    return target.getvalue()
