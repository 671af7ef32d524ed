"""The flat ground seen from straight above in millimetres, and the white of its light at every place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from server.photos.plane import apply, stretches
from server.photos.rulers import Box, CardPlan, Ruler, burnt_out, too_dark

Floats = NDArray[np.floating[Any]]
Bools = NDArray[np.bool_]

CELL_MM = 4.0
# Cells of paper may differ so much, in logarithms, from the white that is fitted to them: shadows and leaves are out.
NEAR_WHITE = (0.25, 0.1, 0.06)
# A channel at this share of full scale has lost what was above it.
CLIPPED = 0.985
# The middle grey of a card tells how far white would be above full scale; beyond this, leaves are burnt out as well.
WHITE_MAX = 1.45
# Paper darker than this share of full scale leaves leaves in the sensor's noise.
WHITE_MIN = 0.16
# Smoothing of the rectified picture, in px: takes the grain, leaves spots.
SMOOTH_PX = 0.8
PATCH_PX = 6


@dataclass(frozen=True, slots=True)
class White:
    """Logarithms of white by channel, quadratic in place: `terms` (3, 6) about `middle_mm`, in units of `unit_mm`."""

    terms: Floats
    middle_mm: tuple[float, float]
    unit_mm: float

    def at(self, window: Window) -> Floats:
        """White (h, w, 3) over a window, as shares of full scale."""
        rows, columns = window.shape
        # Light changes slowly: it is worked out once for every patch of pixels.
        step = PATCH_PX / window.px_per_mm
        y, x = np.indices((-(-rows // PATCH_PX), -(-columns // PATCH_PX)), np.float32)
        across = (window.left_mm + (x + 0.5) * step - self.middle_mm[0]) / self.unit_mm
        down = (window.top_mm + (y + 0.5) * step - self.middle_mm[1]) / self.unit_mm
        white = np.exp(np.stack([self._shade(row, across, down) for row in self.terms.astype(np.float32)], axis=-1))
        return white.repeat(PATCH_PX, axis=0).repeat(PATCH_PX, axis=1)[:rows, :columns]

    @staticmethod
    def _shade(row: Floats, across: Floats, down: Floats) -> Floats:
        return np.asarray(
            row[0] + across * (row[1] + row[3] * across + row[4] * down) + down * (row[2] + row[5] * down)
        )


@dataclass(frozen=True, slots=True)
class Window:
    """A part of the ground, in mm, and its scale."""

    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float
    px_per_mm: float

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return max(1, round(self.height_mm * self.px_per_mm)), max(1, round(self.width_mm * self.px_per_mm))

    def px(self, box: Box, more_mm: float = 0.0) -> tuple[slice, slice]:
        """Rows and columns of a box in mm, widened."""
        x, y, width, height = box
        ends = (y - more_mm - self.top_mm, y + height + more_mm - self.top_mm,
                x - more_mm - self.left_mm, x + width + more_mm - self.left_mm)  # fmt: skip
        top, low, left, right = (max(0, round(mm * self.px_per_mm)) for mm in ends)
        return slice(top, low), slice(left, right)

    def to_mm(self) -> Floats:
        """The 3 x 3 map from this window's px to mm."""
        scale = 1 / self.px_per_mm
        return np.array([[scale, 0, self.left_mm], [0, scale, self.top_mm], [0, 0, 1.0]])


def rectify(picture: Image.Image, ruler: Ruler, window: Window) -> tuple[NDArray[np.uint8], Bools]:
    """The window (h, w, 3) from above, lightly smoothed, and where the picture shows it."""
    shrink = max(1, int(stretches(ruler.to_px, ruler.middle_mm)[0] / window.px_per_mm))
    source = picture.reduce(shrink) if shrink > 1 else picture
    matrix = np.diag([1 / shrink, 1 / shrink, 1.0]) @ ruler.to_px @ window.to_mm()
    matrix = matrix / matrix[2, 2]
    rows, columns = window.shape
    seen = source.transform(
        (columns, rows), Image.Transform.PERSPECTIVE, matrix.ravel()[:8].tolist(), Image.Resampling.BILINEAR
    )
    rgb = np.asarray(seen)
    return rgb, _within(matrix, window.shape, source.size)


def _within(matrix: Floats, shape: tuple[int, int], size: tuple[int, int]) -> Bools:
    """Where a window's pixels lie inside the picture, and before the camera."""
    y = (np.arange(shape[0], dtype=np.float32) + 0.5)[:, None]
    x = (np.arange(shape[1], dtype=np.float32) + 0.5)[None]
    m = matrix.astype(np.float32)
    depth = m[2, 0] * x + m[2, 1] * y + m[2, 2]
    across = m[0, 0] * x + m[0, 1] * y + m[0, 2]
    down = m[1, 0] * x + m[1, 1] * y + m[1, 2]
    in_front = depth > 1e-6
    return np.asarray(
        in_front & (across > depth) & (down > depth) & (across < depth * (size[0] - 1)) & (down < depth * (size[1] - 1))
    )


def card_white(page: NDArray[np.uint8], window: Window, card: CardPlan) -> White:
    """The light over a card, fitted to its paper wherever that is bare.

    Raises Unmeasurable when the photo is burnt out or far too dark.
    """
    step = round(CELL_MM * window.px_per_mm)
    rows, columns = page.shape[0] // step, page.shape[1] // step
    cells = page[: rows * step, : columns * step].reshape(rows, step, columns, step, 3).swapaxes(1, 2)
    # Print makes a cell darker, never lighter.
    levels = np.percentile(cells[:, :, ::2, ::2].reshape(rows, columns, -1, 3), 75, axis=2) / 255
    y, x = np.indices((rows, columns))
    centre = (card.page_mm[0] / 2, card.page_mm[1] / 2)
    unit = max(centre)
    across, down = ((x + 0.5) * CELL_MM - centre[0]) / unit, ((y + 0.5) * CELL_MM - centre[1]) / unit
    shades = np.stack([np.ones_like(across), across, down, across**2, across * down, down**2], axis=-1)
    logs = np.log(np.maximum(levels, 1 / 255))
    left, top, width, height = card.blank
    inner = (x * CELL_MM > left) & (x * CELL_MM < left + width) & (y * CELL_MM > top) & (y * CELL_MM < top + height)
    edge = (x == 0) | (y == 0) | (x == columns - 1) | (y == rows - 1)
    chosen = ~inner & ~edge
    bright = np.percentile(logs[chosen].sum(axis=-1), 90)
    chosen &= logs.sum(axis=-1) > bright - 1.8
    terms = np.zeros((3, 6))
    for near in NEAR_WHITE:
        weight = chosen[..., None] * shades
        gram = np.einsum("yxi,yxj->ij", weight, shades) + 1e-6 * np.eye(6)
        terms = np.linalg.solve(gram, np.einsum("yxi,yxc->ic", weight, logs)).T
        rest = np.abs(logs - np.einsum("yxi,ci->yxc", shades, terms)).max(axis=-1)
        chosen = (rest < near) & ~edge
        if chosen.sum() < 40:
            break
    _check_exposure(page, window, card, float(np.exp(terms[:, 0]).mean()), levels[chosen])
    return White(terms, centre, unit)


def _check_exposure(page: NDArray[np.uint8], window: Window, card: CardPlan, white: float, paper: Floats) -> None:
    if white < WHITE_MIN:
        raise too_dark()
    if not len(paper) or (paper >= CLIPPED).all(axis=-1).mean() < 0.2:
        return
    # White itself is beyond the scale: the greys tell by how much.
    middle = [np.median(page[window.px(box, -2.0)]) / 255 / share for box, share in card.greys if 0.3 < share < 0.7]
    if float(np.median(middle)) > WHITE_MAX:
        raise burnt_out()


def tag_white(picture: Image.Image, ruler: Ruler) -> White:
    """The light at a tag, from the white squares of its code; taken as even all over."""
    box = ruler.boxes[0]
    window = Window(box[0] - 1, box[1] - 1, box[2] + 2, box[3] + 2, 4.0)
    rgb, _ = rectify(picture, ruler, window)
    grey = rgb.mean(axis=-1)
    # The middles of white squares and of the border: what blur has left of them is still nearest to paper.
    white = rgb[grey >= np.quantile(grey, 0.85)] / 255
    level = np.maximum(np.median(white, axis=0), 1 / 255)
    if level.mean() < WHITE_MIN:
        raise too_dark()
    terms = np.zeros((3, 6))
    terms[:, 0] = np.log(level)
    return White(terms, (0.0, 0.0), 100.0)


def whitened(rgb: NDArray[np.uint8], white: Floats) -> Floats:
    """Colours as shares of white paper at the same place, (h, w, 3), smoothed by SMOOTH_PX."""
    shares = rgb.astype(np.float32) * (1 / 255) / white
    return np.asarray(ndimage.gaussian_filter(shares, (SMOOTH_PX, SMOOTH_PX, 0), truncate=2.5))


def px_box(ruler: Ruler, window: Window, rows: slice, columns: slice) -> tuple[float, float, float, float]:
    """The upright box (x, y, width, height) in the picture's px around a part of a window."""
    corners = np.array([(x, y) for x in (columns.start, columns.stop) for y in (rows.start, rows.stop)], float)
    seen = apply(ruler.to_px @ window.to_mm(), corners)
    low, high = seen.min(axis=0), seen.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0] - low[0]), float(high[1] - low[1])
