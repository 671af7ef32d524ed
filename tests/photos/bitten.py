"""Leaves as masks, bitten by circles or raggedly, with their true outline; and leaves with a stalk."""

from dataclasses import replace

import numpy as np
from PIL import Image, ImageDraw
from scipy import ndimage

from tests.photos.drawn_leaves import FINE, noise, outline

PX_PER_MM = 4.0
EDGE_MM = 2.0


def drawn_mask(margin_mm):
    """A polygon's mask at PX_PER_MM, and the same corners in mm of the mask's picture."""
    at = margin_mm - margin_mm.min(axis=0) + EDGE_MM
    columns, rows = (int(n) for n in np.ceil((at.max(axis=0) + EDGE_MM) * PX_PER_MM))
    big = Image.new("L", (columns * FINE, rows * FINE))
    ImageDraw.Draw(big).polygon([tuple(p) for p in at * PX_PER_MM * FINE], fill=255)
    return np.asarray(big.resize((columns, rows), Image.Resampling.BOX)) > 127, at


def without_disc(mask, middle_mm, radius_mm, ragged=None):
    """The mask without a disc, whose radius changes by the share `ragged` (an array like the mask)."""
    rows, columns = np.indices(mask.shape)
    away = np.hypot((columns + 0.5) / PX_PER_MM - middle_mm[0], (rows + 0.5) / PX_PER_MM - middle_mm[1])
    return mask & (away > radius_mm * (1 if ragged is None else ragged))


def bitten_leaf(kind, length_mm, bites, rng, ragged=False):
    """A leaf's mask with round bites at its margin, and the pixels of its whole outline."""
    whole, margin = drawn_mask(outline(kind, length_mm, rng))
    left = whole
    for _ in range(bites):
        edge = 0.93 + 0.14 * noise(whole.shape, PX_PER_MM, rng) if ragged else None
        left = without_disc(left, margin[rng.integers(len(margin))], rng.uniform(3, 7), edge)
    labels, _ = ndimage.label(left)
    sizes = np.bincount(labels.ravel())
    sizes[0] = 0
    # What a bite has cut off is no part of the leaf any more.
    return labels == sizes.argmax(), whole.sum() - (sizes.sum() - sizes.max())


def with_stalk(leaf, long_mm, wide_mm):
    """The leaf with a straight stalk downwards from its lowest point; its truth stays that of the blade."""
    scale = leaf.px_per_mm
    more = round(long_mm * scale)
    cover, colour = np.pad(leaf.cover, ((0, more), (0, 0))), np.pad(leaf.colour, ((0, more), (0, 0), (0, 0)), "edge")
    low = int(np.nonzero(leaf.cover.max(axis=1) > 0.5)[0].max())
    middle = int(np.nonzero(leaf.cover[low] > 0.5)[0].mean())
    half = round(wide_mm * scale / 2)
    stalk = np.s_[low - 3 : low + more - 12, middle - half : middle + half]
    colour[stalk] = np.where(cover[stalk][..., None] > 0.5, colour[stalk], (150, 165, 85))
    cover[stalk] = 1.0
    return replace(leaf, cover=cover, colour=colour)
