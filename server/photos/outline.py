"""A mask's outline: without stalk and crumbs, with its holes filled, and traced."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from server.photos.masks import doubled, grown, large_parts, wide_parts, without_holes

Floats = NDArray[np.floating[Any]]
Bools = NDArray[np.bool_]

# A hole may break through the margin by so much, on a small leaf by less, as a share of the root of its area; and it is
# round: its area over that of the circle in it.
BREACH_MM, BREACH_PART, ROUND_AREA = 2.4, 0.08, 2.0
# A stalk is no wider than this and at least so long.
STALK_WIDTH_MM, STALK_MM_MIN = 3.6, 8.0
# A stalk takes no more than this part of the mask. It may be seen in two pieces.
STALK_PART, STALKS_MAX = 0.15, 2
# Parts that are smaller than this share of the largest are crumbs.
CRUMB_PART = 0.02


def without_stalk(mask: Bools, px_per_mm: float) -> Bools:
    """The mask without the stalk that hangs on it, long and thin all along, and without crumbs."""
    wide = wide_parts(mask, STALK_WIDTH_MM / 2 * px_per_mm)
    if not wide.any():
        return mask
    labels, _ = ndimage.label(mask & ~wide, ndimage.generate_binary_structure(2, 2))
    stalks = []
    for number, box in enumerate(ndimage.find_objects(labels), 1):
        long_px = float(np.hypot(*(s.stop - s.start for s in box)))
        if long_px < STALK_MM_MIN * px_per_mm:
            continue
        part = labels[box] == number
        if part.sum() < long_px * STALK_WIDTH_MM * px_per_mm * 1.1 and part.sum() < STALK_PART * mask.sum():
            stalks.append((box, part))
    blade = mask.copy()
    # A leaf has one stalk; several such parts are narrow lobes.
    for box, part in stalks if len(stalks) <= STALKS_MAX else ():
        blade[box] &= ~part
    return large_parts(blade, 1, CRUMB_PART)


def filled_holes(mask: Bools, px_per_mm: float) -> Bools:
    """The mask with its holes filled, and with round ones that only just break through the margin."""
    filled = without_holes(mask)
    # Bays that closing shuts are sought at half the size; only a round one is worth the full.
    small, half_mm = np.pad(filled[::2, ::2], 8), px_per_mm / 2
    breach_px = min(BREACH_MM * half_mm, BREACH_PART * float(np.sqrt(small.sum())))
    closed = ndimage.binary_closing(small, _disc(breach_px / 2))
    labels, _ = ndimage.label(without_holes(closed) & ~closed)
    holes = np.zeros_like(small)
    for number, box in enumerate(ndimage.find_objects(labels), 1):
        hole = labels[box] == number
        radius = float(ndimage.distance_transform_edt(np.pad(hole, 1)).max())
        if hole.sum() <= ROUND_AREA * np.pi * radius**2 and radius > breach_px / 2:
            holes[box] |= hole
    if not holes.any():
        return filled
    # The hole with the breach in it, up to the line that closing draws.
    near = grown(holes, max(2, round(2 * breach_px))) & closed
    patch = doubled((near | holes)[8:-8, 8:-8], mask.shape)
    return np.asarray(filled | patch)


def _disc(radius_px: float) -> Bools:
    reach = max(1, round(radius_px))
    y, x = np.ogrid[-reach : reach + 1, -reach : reach + 1]
    return np.asarray(x * x + y * y <= radius_px * radius_px + 0.5)


def trace(mask: Bools) -> Floats:
    """Corners (x, y) in px along the outer edge of the mask's first part, the mask on the right hand."""
    rows, columns = np.nonzero(mask)
    if not len(rows):
        return np.zeros((0, 2))
    padded = np.pad(mask, 1)
    top = int(np.argmin(rows * mask.shape[1] + columns))
    x, y = int(columns[top]), int(rows[top])
    start, heading, path = (x, y), 0, []
    ahead = ((1, 0), (0, 1), (-1, 0), (0, -1))
    # The pixels ahead on the left and on the right of each heading, from a corner of pixels, in the padded mask.
    left = ((1, 0), (1, 1), (0, 1), (0, 0))
    right = ((1, 1), (0, 1), (0, 0), (1, 0))
    for _ in range(8 * mask.size):
        path.append((x, y))
        x, y = x + ahead[heading][0], y + ahead[heading][1]
        if (x, y) == start:
            break
        if padded[y + left[heading][1], x + left[heading][0]]:
            heading = (heading - 1) % 4
        elif not padded[y + right[heading][1], x + right[heading][0]]:
            heading = (heading + 1) % 4
    return np.array(path, float)
