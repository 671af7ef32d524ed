"""Tells damaged tissue from healthy by colour: green has less red than green in any light; what dies has not."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from server.photos.masks import large_parts, shrunk, wide_parts

Floats = NDArray[np.floating[Any]]
Bools = NDArray[np.bool_]

# Hues in degrees (60 yellow, 120 green), which neither shade nor shine alters. Healthy leaves lie above HEALTHY_MIN,
# yellowed and dead tissue below YELLOW_MAX (computed from usual colours); between them a leaf's own green decides: what
# is half-way from it to YELLOW counts as yellowed, within HALF_WAY.
HEALTHY_MIN, YELLOW_MAX, YELLOW = 66.0, 60.0, 54.0
HALF_WAY = (61.0, 74.0)
# What is pale and narrower than this is a vein.
VEIN_MM = 2.0
# Below this saturation a hue is noise: bright it is shine.
COLOURED_MIN = 0.1
# Black tissue has less than these parts of the saturation and value of the leaf's own green; shade leaves saturation.
BLACK_PART = (0.55, 0.7)
UNKNOWN_GREEN = [100.0, 0.5, 0.4]
# Specks below this are grain.
SPECK_MM2 = 0.25
# Hues above this are reds on the far side of 0.
RED_WRAP = 300.0
# Hues of wine-red and purple leaves, and the share of its tissue from which a leaf is such a one: dead tissue is brown,
# with hues above 18 (computed from usual colours).
PURPLE, PURPLE_SHARE = (285.0, 14.0), 0.5
RIM_MM = 0.5


def damaged(shares: Floats, tissue: Bools, px_per_mm: float) -> Bools:
    """Where tissue is dead, spotted or yellowed, by colours (h, w, 3) as shares of white."""
    hues, saturation, value = hue_saturation_value(shares)
    coloured = saturation > COLOURED_MIN
    warm = np.where(hues > RED_WRAP, hues - 360, hues)
    green = tissue & coloured & (hues > HEALTHY_MIN) & (hues < RED_WRAP)
    own = UNKNOWN_GREEN
    if green.any():
        # Every eighth pixel tells the middle as well as all.
        own = [float(np.median(each[green][::8])) for each in (hues, saturation, value)]
    black = (saturation < BLACK_PART[0] * own[1]) & (value < BLACK_PART[1] * own[2])
    strong = (coloured & (warm < YELLOW_MAX)) | black
    weak = coloured & (warm < np.clip((own[0] + YELLOW) / 2, *HALF_WAY))
    wide = wide_parts((weak | strong) & tissue, VEIN_MM / 2 * px_per_mm)
    return _without_rim(_without_specks((strong | wide) & tissue, px_per_mm), tissue, px_per_mm)


def is_purple(shares: Floats, tissue: Bools) -> bool:
    """Whether a leaf is wine-red or purple by nature, so that its colours don't tell what of it is dead."""
    hues, saturation, _ = hue_saturation_value(shares[tissue][::8])
    purple = (saturation > COLOURED_MIN) & ((hues > PURPLE[0]) | (hues < PURPLE[1]))
    return bool(purple.mean() > PURPLE_SHARE) if len(purple) else False


def hue_saturation_value(shares: Floats) -> tuple[Floats, Floats, Floats]:
    """Hue in degrees, saturation and value (0 to 1) of colours (..., 3); grey has hue 0."""
    red, green, blue = shares[..., 0], shares[..., 1], shares[..., 2]
    high = np.maximum(np.maximum(red, green), blue)
    span = high - np.minimum(np.minimum(red, green), blue)
    per_span = 60 / np.maximum(span, 1e-6)
    hue = np.where(high == green, (blue - red) * per_span + 120, (red - green) * per_span + 240)
    hue = np.where(high == red, ((green - blue) * per_span) % 360, hue)
    return np.where(span > 0, hue, 0.0), span / np.maximum(high, 1e-6), high


def _without_specks(mask: Bools, px_per_mm: float) -> Bools:
    """Specks and pinholes below SPECK_MM2 are taken away and filled."""
    least_px = SPECK_MM2 * px_per_mm**2
    return ~large_parts(~large_parts(mask, least_px), least_px)


def _without_rim(found: Bools, tissue: Bools, px_per_mm: float) -> Bools:
    """Along the margin, where colours mix with the ground's, what counts is the tissue a little further in."""
    rim_px = max(2, round(RIM_MM * px_per_mm))
    inner = shrunk(tissue, rim_px)
    size = 4 * rim_px + 1
    weight = ndimage.uniform_filter(inner.astype(np.float32), size)
    share = ndimage.uniform_filter((found & inner).astype(np.float32), size)
    by_inner = share > 0.5 * weight
    known = weight > 1e-4
    return np.asarray(np.where(inner | ~known, found, by_inner) & tissue)


def green_index(rgb: Floats) -> float:
    """Dark green colour index of one colour (red, green, blue), 0 to 1: Karcher & Richardson 2003, Crop Sci. 43:943."""
    hue, saturation, brightness = (float(each) for each in hue_saturation_value(np.asarray(rgb)))
    return ((hue - 60) / 60 + (1 - saturation) + (1 - brightness)) / 3
