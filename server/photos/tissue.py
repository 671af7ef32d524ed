"""Tells leaf from ground by colour: what looks like no part of the ground and hangs together with something green."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from server.photos.masks import grown, shrunk

Floats = NDArray[np.floating[Any]]
Bools = NDArray[np.bool_]

# Added to every channel before ratios are taken: in the dark, noise is not colour.
DARK = 0.03
# Excess green 2g - r - b on chromatic coordinates (Woebbecke et al. 1995) above which a pixel is surely of a plant.
# White, greys, wood and soil stay below 0.1 (computed from usual colours).
PLANT_EXCESS = 0.13
# Bins of the ground's colours: natural logarithms of red over green and of blue over green.
# Nothing at all, 0, lies in the middle of a bin.
BINS = ((-1.215, 1.215, 0.03), (-1.82, 1.22, 0.04))
BIN_SPREAD = 1.2
# Ground of no more bins than this is plain, like paper; wood and soil bring their own spread.
PLAIN_BINS = 12
# The share of the ground's own pixels that may be taken for something else.
ODD_SHARE = 0.003
# How dark a shadow makes ground, and how light shine makes it, as shares of what it usually has.
SHADE, SHINE = 0.36, 1.3
# A leaf's edge is looked for in a band of this width, from the colours of leaf and ground so near to it.
# Blur tints ground beyond the edge like leaf, so the band reaches further into the mask, by BLUR_PX, than out of it.
BAND_MM, BLUR_PX, NEAR_LEAF_MM, NEAR_GROUND_MM = 1.5, 1, 2.5, 3.5
# How dark and how light ground may be beside a leaf, as a share of the mean nearby.
SHADES = (0.5, 1.06)
EVEN = 0.002


@dataclass(frozen=True, slots=True)
class Tints:
    """Each pixel's colour apart from its lightness: `red` and `blue` over green as logarithms, and `light` itself."""

    red: Floats
    blue: Floats
    light: Floats


def tints(shares: Floats) -> Tints:
    """The tints of colours (h, w, 3) that are shares of white."""
    r, g, b = shares[..., 0] + DARK, shares[..., 1] + DARK, shares[..., 2] + DARK
    red, green, blue = (np.log(np.maximum(each, 1e-4)) for each in (r, g, b))
    light = 0.3 * shares[..., 0] + 0.59 * shares[..., 1] + 0.11 * shares[..., 2]
    return Tints(red - green, blue - green, light)


def excess_green(shares: Floats) -> Floats:
    """2g - r - b on chromatic coordinates r + g + b = 1 (Woebbecke et al. 1995); 0 for black."""
    total = shares.sum(axis=-1) + 1e-6
    return np.asarray((3 * shares[..., 1] - total) / total)


@dataclass(frozen=True, slots=True)
class Ground:
    """The tints that the ground has, and how dark and light it is."""

    likely: Bools
    light_low: float
    light_high: float

    def has(self, seen: Tints) -> Bools:
        """Where a picture looks like this ground, in light or shadow."""
        known = self.likely.ravel()[_bins(seen)]
        return np.asarray(known & (seen.light > self.light_low) & (seen.light < self.light_high))


def learn_ground(seen: Tints, where: Bools, slack_bins: int) -> Ground:
    """The ground as it looks where it surely is ground; plain ground has tints up to so many bins away as well."""
    # Every fourth pixel is plenty.
    sure = Tints(*(each[where][::4] for each in (seen.red, seen.blue, seen.light)))
    shape = tuple(round((high - low) / step) for low, high, step in BINS)
    at = _bins(sure)
    counts = np.bincount(at, minlength=shape[0] * shape[1]).reshape(shape).astype(np.float32)
    spread = ndimage.gaussian_filter(counts, BIN_SPREAD)
    least = np.quantile(spread.ravel()[at], ODD_SHARE)
    low, high = np.quantile(sure.light, (0.02, 0.995))
    likely = spread >= max(float(least), 1e-6)
    if likely.sum() <= PLAIN_BINS:
        likely = ndimage.binary_dilation(likely, iterations=slack_bins)
    return Ground(likely, SHADE * float(low), SHINE * float(high))


def _bins(seen: Tints) -> NDArray[np.intp]:
    """The number of each pixel's bin."""
    numbers = []
    for values, (low, high, step) in zip((seen.red, seen.blue), BINS, strict=True):
        count = round((high - low) / step)
        numbers.append(np.clip(((values - low) * (1 / step)).astype(np.int32), 0, count - 1))
    return np.asarray(numbers[0] * round((BINS[1][1] - BINS[1][0]) / BINS[1][2]) + numbers[1], np.intp)


def soft_edge(shares: Floats, mask: Bools, px_per_mm: float) -> Floats:
    """How much of each pixel is leaf, 0 to 1: along the mask's edge, by where its colour lies between leaf and ground.

    Both are the means nearby; the ground's may be in the leaf's shadow.
    """
    half = max(1, round(BAND_MM / 2 * px_per_mm))
    inner, outer = shrunk(mask, half + BLUR_PX), ~grown(mask, half)
    band = ~inner & ~outer
    leaf, near_leaf = _near(shares, inner, round(NEAR_LEAF_MM * px_per_mm))
    ground, near_ground = _near(shares, outer, round(NEAR_GROUND_MM * px_per_mm))
    cover = mask.astype(np.float32)
    usable = band & near_leaf & near_ground
    cover[usable] = _share(shares[usable], leaf[usable], ground[usable])
    return cover


def _share(seen: Floats, leaf: Floats, ground: Floats) -> Floats:
    """How much of a mixture is leaf, with the ground as dark as explains it best, within what a shadow does.

    First seen = a leaf + t ground by least squares, where EVEN pulls a + t towards 1 if only lightness tells leaf from
    ground; then a again, with the ground's shade t / (1 - a) held within SHADES.
    """
    ll, gg, lg = (leaf * leaf).sum(-1) + EVEN, (ground * ground).sum(-1) + EVEN, (leaf * ground).sum(-1) + EVEN
    sl, sg = (seen * leaf).sum(-1) + EVEN, (seen * ground).sum(-1) + EVEN
    a = (sl * gg - sg * lg) / (ll * gg - lg * lg + 1e-9)
    t = (sg * ll - sl * lg) / (ll * gg - lg * lg + 1e-9)
    dim = ground * np.clip(t / np.maximum(1 - a, 0.05), *SHADES)[:, None]
    way = leaf - dim
    return np.asarray(np.clip(((seen - dim) * way).sum(-1) / ((way * way).sum(-1) + 1e-4), 0, 1))


def _near(shares: Floats, where: Bools, reach_px: int) -> tuple[Floats, Bools]:
    """The mean colour of the chosen pixels around each pixel, found at half the size, and where there are any."""
    h, w = (n // 2 * 2 for n in where.shape)
    weight = where[:h:2, :w:2].astype(np.float32)
    size = max(3, reach_px)
    total = ndimage.uniform_filter(weight, size)
    means = [ndimage.uniform_filter(shares[:h:2, :w:2, c] * weight, size) / (total + 1e-6) for c in range(3)]
    large = np.stack(means, axis=-1).repeat(2, axis=0).repeat(2, axis=1)
    enough = (total > 0.02).repeat(2, axis=0).repeat(2, axis=1)
    pad = ((0, where.shape[0] - h), (0, where.shape[1] - w))
    return np.pad(large, (*pad, (0, 0)), mode="edge"), np.pad(enough, pad)
