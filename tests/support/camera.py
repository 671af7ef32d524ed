"""Films for Chromium's fake camera: still pictures, each held for a while, as uncompressed YUV4MPEG2."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from PIL import Image

FRAMES_PER_S = 5
BYTES_MAX = 200_000_000


def fake_camera(pictures: Sequence[Image.Image], path: Path, seconds_each: float = 1.0) -> Path:
    """Write `pictures` to `path` as a film that Chromium's fake camera plays in a loop; all sized like the first.

    Width and height are even. The camera runs at FRAMES_PER_S frames a second.
    """
    width, height = pictures[0].size
    assert width % 2 == 0 and height % 2 == 0, "a frame needs an even width and height"
    frames_each = max(1, round(seconds_each * FRAMES_PER_S))
    assert len(pictures) * frames_each * width * height * 1.5 < BYTES_MAX, "a film this long would fill the disk"
    with path.open("wb") as film:
        film.write(f"YUV4MPEG2 W{width} H{height} F{FRAMES_PER_S}:1 Ip A1:1 C420jpeg\n".encode())
        for picture in pictures:
            assert picture.size == (width, height), "every picture must have the first one's size"
            frame = b"FRAME\n" + _i420(picture)
            film.writelines(frame for _ in range(frames_each))
    return path


def camera_flags(film: Path) -> list[str]:
    """Command line flags that make Chromium play `film` as its camera and grant it without asking."""
    return [
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        f"--use-file-for-fake-video-capture={film.resolve()}",
    ]


def _i420(picture: Image.Image) -> bytes:
    """Planes Y, U, V of a picture, colours halved both ways, in the studio range of ITU-R BT.601 that cameras send."""
    full = np.asarray(picture.convert("RGB").convert("YCbCr"), dtype=np.float64)
    luma = 16 + full[..., 0] * 219 / 255
    colours = 128 + (full[..., 1:] - 128) * 224 / 255
    height, width = luma.shape
    halved = colours.reshape(height // 2, 2, width // 2, 2, 2).mean(axis=(1, 3))
    planes = (luma, halved[..., 0], halved[..., 1])
    return b"".join(np.rint(plane).clip(0, 255).astype(np.uint8).tobytes() for plane in planes)
