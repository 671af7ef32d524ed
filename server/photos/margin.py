"""A leaf's margin as a line of points in mm: its corners, its ways, and the circles along it."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from server.photos.outline import trace

Floats = NDArray[np.floating[Any]]
Bools = NDArray[np.bool_]

# A margin is smoothed by SMOOTH_MM and has a point every STEP_MM. At a corner it turns by so many degrees over so many
# steps on either side; only the sharpest so many corners are kept.
SMOOTH_MM, STEP_MM = 0.4, 0.4
ARM_STEPS, CORNER_DEGREES, CORNERS_MAX = 4, 25.0, 60
# Over so many steps a bay's ends blur into the margin, and over how many the margin's way is taken.
FOLLOW_STEPS, SIDE_STEPS = 3, 9


def margin_of(mask: Bools, px_per_mm: float) -> Floats:
    """The mask's margin in mm, smoothed, with points at even steps."""
    path = trace(mask)
    if len(path) < 20 * px_per_mm:
        return np.zeros((0, 2))
    # A path along pixels is longer than the margin, by 4 / pi on average over all directions.
    smooth_px = SMOOTH_MM * px_per_mm * 4 / np.pi
    middles = ndimage.gaussian_filter1d((path + np.roll(path, -1, axis=0)) / 2, smooth_px, axis=0, mode="wrap")
    closed = np.concatenate([middles, middles[:1]]) / px_per_mm
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    at = np.linspace(0, along[-1], max(8, round(along[-1] / STEP_MM)), endpoint=False)
    return np.stack([np.interp(at, along, closed[:, c]) for c in (0, 1)], axis=1)


def area_mm2(points: Floats) -> float:
    """The area within a closed line."""
    x, y = points.T
    return abs(float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())) / 2


def turns(points: Floats) -> Floats:
    """How far a margin turns at each point, in degrees; outer corners are positive."""
    before, after = points - np.roll(points, ARM_STEPS, axis=0), np.roll(points, -ARM_STEPS, axis=0) - points
    return angle(before, after)


def corners_of(turn: Floats) -> list[int]:
    """The numbers of the sharpest outer corners, in the margin's order."""
    peak = ndimage.maximum_filter1d(turn, 2 * ARM_STEPS - 1, mode="wrap")
    found = np.flatnonzero((turn == peak) & (turn > CORNER_DEGREES))
    return sorted(found[np.argsort(-turn[found])[:CORNERS_MAX]].tolist())


def circle(arc: Floats) -> tuple[Floats, float, float]:
    """The circle nearest to points: its middle, its radius, and how far they lie off it (algebraic fit, Kasa 1976)."""
    mean = arc.mean(axis=0)
    at = arc - mean
    fit = np.linalg.lstsq(np.column_stack([2 * at, np.ones(len(at))]), (at**2).sum(axis=1), rcond=None)[0]
    radius = float(np.sqrt(max(fit[2] + fit[0] ** 2 + fit[1] ** 2, 1e-9)))
    rest = np.hypot(*(at - fit[:2]).T) - radius
    return fit[:2] + mean, radius, float(np.sqrt(np.mean(rest**2)))


def along_circle(point: Floats, middle: Floats) -> Floats:
    """The way of travel on a bay's circle at a point: the middle lies on the left hand."""
    return np.array([point[1] - middle[1], middle[0] - point[0]])


def is_hollow(arc: Floats, middle: Floats) -> bool:
    """Whether a circle's middle lies outside of the mask, on the left of nearly all of a stretch."""
    step, to = arc[1:] - arc[:-1], middle - arc[:-1]
    return float(np.mean(step[:, 0] * to[:, 1] - step[:, 1] * to[:, 0] < 0)) > 0.8


def follows(arc: Floats, middle: Floats, off_max: float) -> bool:
    """Whether a stretch goes along its circle, within an angle, as soon as its blurred end is passed."""
    step = arc[FOLLOW_STEPS + 2] - arc[FOLLOW_STEPS]
    off = abs(float(angle(step, along_circle(arc[FOLLOW_STEPS + 1], middle))))
    return min(off, 180 - off) < off_max


def way_beside(points: Floats, at: int, side: int) -> Floats:
    """The way of travel of the margin beside a point: behind it (-1) or ahead of it (1)."""
    near = points[(at + side * np.arange(1, SIDE_STEPS + 1)) % len(points)]
    way = np.linalg.svd(near - near.mean(axis=0), full_matrices=False)[2][0]
    return np.asarray(way if (way @ (near[-1] - near[0])) * side > 0 else -way)


def sharpness(way_in: Floats, way_out: Floats) -> float:
    """How far a margin turns at an outer corner, in degrees; a thin horn turns by more than 180."""
    turn = float(angle(way_in, way_out))
    return turn + 360 if turn < -90 else turn


def angle(a: Floats, b: Floats) -> Floats:
    """The turn from a to b, in degrees; clockwise as seen with y downwards is positive."""
    return np.asarray(np.degrees(np.arctan2(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0], (a * b).sum(axis=-1))))
