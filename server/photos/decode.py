"""Decodes photos: checks what a file is before its pixels are touched, and brings the picture upright and to sRGB."""

from __future__ import annotations

import io
import threading
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
from PIL import Image, ImageCms

from server.errors import Refused, TooLarge
from server.wording.said import say

BYTES_MAX = 25_000_000
# JPEG decodes straight to a half, a quarter or an eighth; the others must be decoded whole, four bytes a pixel.
PIXELS_MAX = {"JPEG": 64_000_000, "PNG": 25_000_000, "WEBP": 25_000_000}
# Each scan of a progressive JPEG is one more pass over all pixels; encoders write about ten (common practice).
SCANS_MAX = 64

# Brands of ISO base media files that hold HEIC or AVIF pictures (ISO/IEC 23008-12 and the AVIF specification).
STILL_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"avif", b"avis")
# EXIF 2.32, tag 274: what brings a picture of each orientation upright; 1 is upright already.
ORIENTATION_TAG = 274
TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}

# Those that exchange width and height.
SIDEWAYS = (5, 6, 7, 8)

# A decoded photo takes up to some hundred megabytes and a home server has one gigabyte: decode one at a time.
one_at_a_time = threading.Lock()


def decode(data: bytes, edge_px_min: int, edge_px_max: int | None = None) -> tuple[Image.Image, tuple[int, int]]:
    """A JPEG, PNG or WebP file as an upright sRGB picture of mode RGB or L, and the (width, height) of the whole.

    A JPEG comes at a half, a quarter or an eighth while its longer edge keeps `edge_px_min`: a third of the time and a
    quarter of the memory. No edge is above `edge_px_max`. Call it within `one_at_a_time`.
    Raises TooLarge above BYTES_MAX or PIXELS_MAX, Refused for anything that is
    no whole, still picture of these formats. What the file is called doesn't matter.
    """
    if len(data) > BYTES_MAX:
        told = say(
            "The photo has {size:.1f} MB; at most {most} MB are taken. "
            "Set the camera to a smaller size, or send a smaller copy."
        )
        raise _too_large(told.filled(size=len(data) / 1e6, most=BYTES_MAX // 1_000_000))
    kind = _sniff(data)
    if kind == "JPEG" and data.count(b"\xff\xda") > SCANS_MAX:
        raise _refused(
            say("The JPEG file is built from too many layers. Open it, save it again as JPEG, and send that.")
        )
    with _damage_refused(kind), Image.open(io.BytesIO(data), formats=[kind]) as opened:
        _check_header(opened, kind)
        orientation = opened.getexif().get(ORIENTATION_TAG, 1)
        profile = opened.info.get("icc_profile")
        width_px, height_px = opened.size
        share = edge_px_min / max(opened.size)
        opened.draft(None, (round(opened.width * share), round(opened.height * share)))
        picture = _plain_mode(opened)
        if edge_px_max is not None:
            picture.thumbnail((edge_px_max, edge_px_max), Image.Resampling.LANCZOS, reducing_gap=2.0)
        picture = _on_white(picture, profile)
        if orientation in TURNS:
            picture = picture.transpose(TURNS[orientation])
        upright = (height_px, width_px) if orientation in SIDEWAYS else (width_px, height_px)
        return picture, upright


def _sniff(data: bytes) -> str:
    """Pillow's name of the format that the first bytes tell."""
    if data.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return "PNG"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "WEBP"
    if data[4:8] == b"ftyp" and data[8:12] in STILL_BRANDS:
        raise _refused(
            say(
                "The photo is in HEIC or AVIF format, which can't be read here. On an iPhone choose Settings, Camera, "
                "Formats, Most Compatible; or share the photo as JPEG and send that."
            )
        )
    if not data:
        raise _refused(say("The file is empty. Take or choose the photo again."))
    raise _refused(
        say("The file holds no JPEG, PNG or WebP picture, whatever its name says. Choose a photo and send that.")
    )


def _check_header(opened: Image.Image, kind: str) -> None:
    """Refuse by what the header declares, before any pixel is decoded."""
    if opened.width * opened.height > PIXELS_MAX[kind]:
        raise _too_many_pixels(say("{width} by {height} pixels", width=opened.width, height=opened.height), kind)
    # A JPEG with several pictures is how phones keep a depth map or preview beside the photo: the first is the photo.
    if kind != "JPEG" and getattr(opened, "is_animated", False):
        raise _refused(say("The picture moves. Save one still picture of it as JPEG and send that."))


def _plain_mode(opened: Image.Image) -> Image.Image:
    """The decoded picture as L, RGB, CMYK or RGBA: no palette, no 16-bit values, no transparent colour."""
    if opened.mode.startswith("I"):
        return Image.fromarray((np.asarray(opened) >> 8).clip(0, 255).astype(np.uint8))
    if opened.mode in ("L", "RGB", "RGBA", "CMYK") and "transparency" not in opened.info:
        opened.load()
        return opened
    if opened.has_transparency_data:
        return opened.convert("RGBA")
    return opened.convert("L" if opened.mode == "1" else "RGB")


def _on_white(picture: Image.Image, profile: bytes | None) -> Image.Image:
    """The picture as sRGB; what is transparent becomes white."""
    if picture.mode != "RGBA":
        return _to_srgb(picture, profile)
    solid = Image.new("RGB", picture.size, "white")
    solid.paste(_to_srgb(picture.convert("RGB"), profile), mask=picture.getchannel("A"))
    return solid


def _to_srgb(picture: Image.Image, profile: bytes | None) -> Image.Image:
    """Colours by the file's own ICC profile; one that is damaged or of another colour model is passed over."""
    if profile:
        try:
            converted = ImageCms.profileToProfile(
                picture, io.BytesIO(profile), ImageCms.createProfile("sRGB"), outputMode="RGB"
            )
        except (ImageCms.PyCMSError, OSError, ValueError):
            return picture.convert("RGB")
        if converted is not None:
            return converted
    return picture.convert("RGB")


@contextmanager
def _damage_refused(kind: str) -> Iterator[None]:
    """Say what any failure of the decoder means for the person who sent the file."""
    try:
        yield
    except (Refused, MemoryError):
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise _too_many_pixels(say("far more pixels than a camera takes"), kind) from error
    except Exception as error:
        # Pillow answers damage with nearly any exception, from SyntaxError to struct.error.
        raise _refused(say("The photo is damaged or cut off. Send it again, or take it anew.")) from error


def _refused(message: str) -> Refused:
    return Refused.of("photo", message)


def _too_large(message: str) -> TooLarge:
    return TooLarge.of("photo", message)


def _too_many_pixels(seen: str, kind: str) -> TooLarge:
    limit = PIXELS_MAX[kind] // 1_000_000
    told = say("The picture has {seen}; at most {limit} million are taken. Send a smaller copy of it.")
    return _too_large(told.filled(seen=seen, limit=limit))
