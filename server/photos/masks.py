"""Shapes of masks, fast: shrunk and grown by squares, opened by discs at half the size, their parts weighed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Bools = NDArray[np.bool_]


def shrunk(mask: Bools, px: int) -> Bools:
    """The mask without what lies within `px` of its outside, diagonals included; nothing lies beyond the picture."""
    return np.asarray(ndimage.minimum_filter(mask.view(np.uint8), 2 * px + 1, mode="constant")).view(np.bool_)


def grown(mask: Bools, px: int) -> Bools:
    """The mask and what lies within `px` of it, diagonals included."""
    return np.asarray(ndimage.maximum_filter(mask.view(np.uint8), 2 * px + 1, mode="constant")).view(np.bool_)


def opened(mask: Bools) -> Bools:
    """The mask without specks and lines that are less than three pixels wide."""
    return grown(shrunk(mask, 1), 1)


def wide_parts(mask: Bools, radius_px: float) -> Bools:
    """What of a mask is at least twice the radius wide, with round corners; found at half the size."""
    small = np.pad(mask[::2, ::2], 1)
    core = ndimage.distance_transform_edt(small) > radius_px / 2
    if not core.any():
        return np.zeros_like(mask)
    near = ndimage.distance_transform_edt(~core) <= radius_px / 2 + 0.7
    return np.asarray(mask & doubled(near[1:-1, 1:-1], mask.shape))


def doubled(mask: Bools, shape: tuple[int, ...]) -> Bools:
    """A mask of half the size at full size again."""
    return np.asarray(mask.repeat(2, axis=0).repeat(2, axis=1)[: shape[0], : shape[1]])


def without_holes(mask: Bools) -> Bools:
    """The mask with all that it encloses."""
    labels, _ = ndimage.label(np.pad(~mask, 1, constant_values=True))
    return np.asarray(labels[1:-1, 1:-1] != labels[0, 0])


def large_parts(mask: Bools, least_px: float, least_share: float = 0.0) -> Bools:
    """The connected parts of at least so many pixels, and of at least such a share of the largest."""
    labels, count = ndimage.label(mask)
    sizes = np.bincount(labels.ravel(), minlength=count + 1)
    sizes[0] = 0
    keep = (sizes >= least_px) & (sizes > least_share * sizes.max())
    keep[0] = False
    return np.asarray(keep[labels])
