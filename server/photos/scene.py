"""What was counted, to be looked at: leaves from above, and which of their pixels are leaf and which damage. Pure."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from server.photos.ground import Window, rectify
from server.photos.rulers import Ruler

Bools = NDArray[np.bool_]

EDGE_PX_MAX = 1000
MARGIN_MM = 4.0
# A mask's values: the number of the leaf, and so much more where it is damaged.
DAMAGED = 100
JPEG_QUALITY = 82


@dataclass(frozen=True, slots=True)
class Counted:
    """One leaf's masks in a window of its own: its whole outline, and what of that is damage."""

    window: Window
    whole: Bools
    lost: Bools


@dataclass(frozen=True, slots=True)
class Scene:
    """The leaves from above: `picture` a JPEG, `mask` an 8-bit grey PNG of the same size, and their scale.

    The mask holds 0 beside the leaves, n on leaf n (from 1, in the order of the measurement) and DAMAGED + n where that
    leaf is damaged or gone.
    """

    picture: bytes
    mask: bytes
    width_px: int
    height_px: int
    mm_per_px: float


def scene_of(picture: Image.Image, ruler: Ruler, leaves: Sequence[Counted]) -> Scene:
    """The part of the ground that all leaves lie in, with a margin; at most EDGE_PX_MAX wide or high."""
    left = min(leaf.window.left_mm for leaf in leaves) - MARGIN_MM
    top = min(leaf.window.top_mm for leaf in leaves) - MARGIN_MM
    right = max(leaf.window.left_mm + leaf.window.width_mm for leaf in leaves) + MARGIN_MM
    low = max(leaf.window.top_mm + leaf.window.height_mm for leaf in leaves) + MARGIN_MM
    finest = max(leaf.window.px_per_mm for leaf in leaves)
    window = Window(left, top, right - left, low - top, min(finest, EDGE_PX_MAX / max(right - left, low - top)))
    rgb, _ = rectify(picture, ruler, window)
    mask = np.zeros(window.shape, np.uint8)
    for number, leaf in enumerate(leaves, 1):
        _draw(mask, window, leaf, number)
    rows, columns = window.shape
    return Scene(_packed(rgb, "JPEG", quality=JPEG_QUALITY), _packed(mask, "PNG"), columns, rows, 1 / window.px_per_mm)


def _draw(mask: NDArray[np.uint8], window: Window, leaf: Counted, number: int) -> None:
    """Lay one leaf's masks into the scene's, pixel by nearest pixel."""
    rows = _nearest(mask.shape[0], window.top_mm, window.px_per_mm, leaf.window.top_mm, leaf.window.px_per_mm)
    columns = _nearest(mask.shape[1], window.left_mm, window.px_per_mm, leaf.window.left_mm, leaf.window.px_per_mm)
    inside = ((rows >= 0) & (rows < leaf.whole.shape[0]))[:, None] & ((columns >= 0) & (columns < leaf.whole.shape[1]))
    at = np.ix_(rows.clip(0, leaf.whole.shape[0] - 1), columns.clip(0, leaf.whole.shape[1] - 1))
    whole = inside & leaf.whole[at]
    mask[whole] = number
    mask[whole & leaf.lost[at]] = DAMAGED + number


def _nearest(count: int, start_mm: float, px_per_mm: float, from_mm: float, own_px_per_mm: float) -> NDArray[np.int64]:
    """For each row (or column) of the scene, the one of the leaf's window that lies there."""
    mm = start_mm + (np.arange(count) + 0.5) / px_per_mm
    return np.asarray(np.floor((mm - from_mm) * own_px_per_mm), dtype=np.int64)


def _packed(pixels: NDArray[np.uint8], form: str, **options: Any) -> bytes:
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, form, **options)
    return out.getvalue()
