"""Tells damaged tissue from healthy by colour: green has less red than green in any light; what dies has not."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from server.photos.tissue import Tints, excess_green

Floats = NDArray[np.floating[Any]]
Bools = NDArray[np.bool_]

# Logarithms of red over green. Healthy leaves lie below HEALTHY_MAX; yellow, brown, rust, bleached and black tissue at
# STRONG_MIN and above (computed from usual colours); between them the leaf's own green decides.
HEALTHY_MAX, STRONG_MIN = -0.08, -0.015
# Yellow for the half-way mark: red over green of a yellowed leaf, as a logarithm.
YELLOW = 0.08
HALF_WAY = (-0.15, -0.02)
# What is pale and narrower than this is a vein.
VEIN_MM = 2.0
# Shine has the colour of the light: no channel differs from another by more than this, and it is bright.
NEUTRAL = (0.05, 0.13)
SHINE_LIGHT_MIN = 0.6
# Specks below this are grain.
SPECK_MM2 = 0.25
RIM_MM = 0.5


def damaged(shares: Floats, seen: Tints, tissue: Bools, px_per_mm: float) -> Bools:
    """Where tissue is dead, spotted or yellowed, by colours (h, w, 3) as shares of white, and their tints."""
    half_way = _half_way(shares, seen, tissue)
    strong = seen.red > max(STRONG_MIN, half_way)
    neutral = (np.abs(seen.red) < NEUTRAL[0]) & (np.abs(seen.blue) < NEUTRAL[1])
    shine = neutral & (seen.light > SHINE_LIGHT_MIN)
    weak = (seen.red > half_way) & ~shine
    wide = _opened(weak, VEIN_MM / 2 * px_per_mm)
    found = ((strong & ~shine) | wide) & tissue
    return _without_rim(_without_specks(found, px_per_mm), tissue, px_per_mm)


def _half_way(shares: Floats, seen: Tints, tissue: Bools) -> float:
    """The logarithm of red over green half-way from this leaf's own green to yellow, within bounds."""
    green = tissue & (seen.red < HEALTHY_MAX) & (excess_green(shares) > 0.1)
    own = float(np.median(seen.red[green])) if green.sum() > 0.02 * tissue.sum() else -0.3
    return float(np.clip((own + YELLOW) / 2, *HALF_WAY))


def _opened(mask: Bools, radius_px: float) -> Bools:
    """What of a mask is at least twice the radius wide, with round corners."""
    if not mask.any():
        return mask
    core: Bools = ndimage.distance_transform_edt(mask) > radius_px
    if not core.any():
        return core
    return np.asarray(mask & (ndimage.distance_transform_edt(~core) <= radius_px + 0.5))


def _without_specks(mask: Bools, px_per_mm: float) -> Bools:
    """Specks and pinholes below SPECK_MM2 are taken away and filled."""
    least = SPECK_MM2 * px_per_mm**2
    for _ in range(2):
        labels, count = ndimage.label(mask)
        if count:
            sizes = np.bincount(labels.ravel())
            mask = mask & (sizes[labels] >= least)
        mask = ~mask
    return mask


def _without_rim(found: Bools, tissue: Bools, px_per_mm: float) -> Bools:
    """Along the margin, where colours mix with the ground's, what counts is the tissue a little further in."""
    rim_px = max(2, round(RIM_MM * px_per_mm))
    ball = ndimage.generate_binary_structure(2, 1)
    inner = ndimage.binary_erosion(tissue, ball, iterations=rim_px, border_value=0)
    size = 4 * rim_px + 1
    weight = ndimage.uniform_filter(inner.astype(np.float32), size)
    share = ndimage.uniform_filter((found & inner).astype(np.float32), size)
    by_inner = share > 0.5 * weight
    known = weight > 1e-4
    return np.asarray(np.where(inner | ~known, found, by_inner) & tissue)


def green_index(rgb: Floats) -> float:
    """Dark green colour index of one colour (red, green, blue), 0 to 1: Karcher & Richardson 2003, Crop Sci. 43:943."""
    red, green, blue = (float(c) for c in rgb)
    bright, low = max(red, green, blue), min(red, green, blue)
    if bright <= 0:
        return 0.0
    span = bright - low
    if span == 0:
        hue = 0.0
    elif bright == red:
        hue = 60 * ((green - blue) / span % 6)
    elif bright == green:
        hue = 60 * ((blue - red) / span + 2)
    else:
        hue = 60 * ((red - green) / span + 4)
    return ((hue - 60) / 60 + (1 - span / bright) + (1 - bright)) / 3
