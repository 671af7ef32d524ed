"""The outline that a leaf had: holes are filled and bites bridged, while the bays between lobes stay open."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy import ndimage

from server.photos.masks import doubled, grown, large_parts, wide_parts, without_holes

Floats = NDArray[np.floating[Any]]
Bools = NDArray[np.bool_]

# A bite has two sharp ends and a round floor. In mm and degrees: how far a margin is smoothed, how far on either side
# of a corner its direction is taken, and how sharply it must turn there.
SMOOTH_MM, STEP_MM = 0.6, 0.5
ARM_MM, CORNER_DEGREES = 2.5, 40.0
MOUTH_MM = (1.5, 26.0)
DEPTH_MM_MIN, DEPTH_PART = 1.0, (0.2, 1.8)
TURN_DEGREES_MIN = 55.0
# How far a bite's floor lies off its circle, as a share of the radius, and how much of its turn in its middle third:
# a third in a circle, nearly all in the bay between lobes.
ROUND_REST_MAX, MIDDLE_TURN_MAX = 0.1, 0.8
# A floor that is exactly a circle's is a bite's, even where its ends are worn; so is one wider within than at its
# mouth, which no bay between lobes is.
CIRCLE_REST_MAX, CIRCLE_MM_MAX, CIRCLE_TURN_MIN = 0.03, 10.0, np.radians(55.0)
UNDERCUT_DEGREES, UNDERCUT_REST_MAX = 205.0, 0.16
# A bridge bulges as the margin on both sides of the bite runs on: how much of it tells, and the highest peak of its two
# directions over the mouth's width that is believed.
RUN_MM, PEAK_PART_MAX = 6.0, 1.2
# More notches than this along one margin are teeth.
BITES_MAX = 12
# A hole may break through the margin by so much, and is round: its area over that of the circle in it.
BREACH_MM, ROUND_AREA = 2.4, 2.0
# A stalk is no wider than this and at least so long.
STALK_WIDTH_MM, STALK_MM_MIN = 3.6, 8.0
# Parts that are smaller than this share of the largest are crumbs.
CRUMB_PART = 0.02


def without_stalk(mask: Bools, px_per_mm: float) -> Bools:
    """The mask without the stalk that hangs on it, long and thin all along, and without crumbs."""
    wide = wide_parts(mask, STALK_WIDTH_MM / 2 * px_per_mm)
    if not wide.any():
        return mask
    labels, _ = ndimage.label(mask & ~wide, ndimage.generate_binary_structure(2, 2))
    stalks = np.zeros_like(mask)
    for number, box in enumerate(ndimage.find_objects(labels), 1):
        long_px = float(np.hypot(*(s.stop - s.start for s in box)))
        if long_px < STALK_MM_MIN * px_per_mm:
            continue
        part = labels[box] == number
        if part.sum() < long_px * STALK_WIDTH_MM * px_per_mm * 1.1 and part.sum() < 0.06 * mask.sum():
            stalks[box] |= part
    return large_parts(mask & ~stalks, 1, CRUMB_PART)


def filled_bites(mask: Bools, px_per_mm: float) -> Bools:
    """The mask, whose holes are filled, with its bites bridged as the margin beside them runs."""
    margin = trace(mask)
    if len(margin) * 1.0 < 20 * px_per_mm:
        return mask
    points = _evenly(margin / px_per_mm, STEP_MM)
    bites = _bites(points)
    if not bites or len(bites) > BITES_MAX:
        return mask
    picture = Image.fromarray(mask.astype(np.uint8))
    draw = ImageDraw.Draw(picture)
    for start, stop in bites:
        arc = points[np.arange(start, stop + 1) % len(points)]
        patch = np.concatenate([arc, _bridge(points, start, stop)[::-1]]) * px_per_mm
        draw.polygon([tuple(p) for p in patch.tolist()], fill=1)
    return np.asarray(picture, bool) | mask


def _bridge(points: Floats, start: int, stop: int) -> Floats:
    """Points from one end of a bite to the other: a parabola in the directions of the margin, where these meet outside.

    Where they part, or meet far away, nothing tells how the leaf went on, and the bridge is straight.
    """
    count, run = len(points), round(RUN_MM / STEP_MM)
    first, last = points[start % count], points[stop % count]
    # The corner itself is smoothed, so the margin's direction begins a little before it.
    onward = points[(start - 2) % count] - points[(start - 2 - run) % count]
    back = points[(stop + 2) % count] - points[(stop + 2 + run) % count]
    mouth = last - first
    width = float(np.hypot(*mouth))
    cross = onward[0] * back[1] - onward[1] * back[0]
    if abs(cross) < 1e-9:
        return np.stack([first, last])
    along = (mouth[0] * back[1] - mouth[1] * back[0]) / cross
    against = (mouth[0] * onward[1] - mouth[1] * onward[0]) / cross
    peak = first + along * onward
    # The mask lies on the right of the line of travel, so what was eaten from it rises on the left.
    rise = (mouth[1] * (peak - first)[0] - mouth[0] * (peak - first)[1]) / width
    if along <= 0 or against <= 0 or not 0 < rise <= PEAK_PART_MAX * width:
        return np.stack([first, last])
    t = np.linspace(0, 1, 17)[:, None]
    return np.asarray((1 - t) ** 2 * first + 2 * t * (1 - t) * peak + t**2 * last)


def filled_holes(mask: Bools, px_per_mm: float) -> Bools:
    """The mask with its holes filled, and with round ones that only just break through the margin."""
    filled = without_holes(mask)
    # Bays that closing shuts are sought at half the size; only a round one is worth the full.
    small, half_mm = np.pad(filled[::2, ::2], 8), px_per_mm / 2
    closed = ndimage.binary_closing(small, _disc(BREACH_MM / 2 * half_mm))
    labels, _ = ndimage.label(without_holes(closed) & ~closed)
    holes = np.zeros_like(small)
    for number, box in enumerate(ndimage.find_objects(labels), 1):
        hole = labels[box] == number
        radius = float(ndimage.distance_transform_edt(np.pad(hole, 1)).max())
        if hole.sum() <= ROUND_AREA * np.pi * radius**2 and radius > BREACH_MM / 2 * half_mm:
            holes[box] |= hole
    if not holes.any():
        return filled
    # The hole with the breach in it, up to the line that closing draws.
    near = grown(holes, max(2, round(2 * BREACH_MM * half_mm))) & closed
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


def _evenly(points: Floats, step: float) -> Floats:
    """The closed line with points at even steps, smoothed."""
    closed = np.concatenate([points, points[:1]])
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    count = max(8, round(along[-1] / step))
    at = np.linspace(0, along[-1], count, endpoint=False)
    even = np.stack([np.interp(at, along, closed[:, c]) for c in (0, 1)], axis=1)
    return np.asarray(ndimage.gaussian_filter1d(even, SMOOTH_MM / step, axis=0, mode="wrap"))


def _bites(points: Floats) -> list[tuple[int, int]]:
    """Starts and ends of the stretches of a margin that are bites."""
    count, arm = len(points), round(ARM_MM / STEP_MM)
    before, after = points - np.roll(points, arm, axis=0), np.roll(points, -arm, axis=0) - points
    turn = np.degrees(_angle(before, after))
    peak = ndimage.maximum_filter1d(turn, 2 * arm + 1, mode="wrap")
    corners = np.flatnonzero((turn == peak) & (turn > CORNER_DEGREES))
    direction = np.roll(points, -1, axis=0) - points
    bend = np.degrees(_angle(np.roll(direction, 1, axis=0), direction))
    found: list[tuple[int, int]] = []
    for n, start in enumerate(corners):
        for more in (1, 2, 3):
            stop = int(corners[(n + more) % len(corners)])
            stop += count if stop <= start else 0
            if stop - start < count / 2 and _is_bite(points, bend, int(start), stop):
                found.append((int(start), stop))
    return _apart(found)


def _is_bite(points: Floats, bend: Floats, start: int, stop: int) -> bool:
    """Whether a stretch between two corners is a round bay."""
    arc = points[np.arange(start, stop + 1) % len(points)]
    mouth = arc[-1] - arc[0]
    width = float(np.hypot(*mouth))
    if not MOUTH_MM[0] <= width <= MOUTH_MM[1]:
        return False
    # The mask lies on the right of the line of travel, so the bay's floor does as well.
    depths = (mouth[0] * (arc - arc[0])[:, 1] - mouth[1] * (arc - arc[0])[:, 0]) / width
    depth = float(depths.max())
    if depth < DEPTH_MM_MIN or float(depths.min()) < -0.15 * depth - 0.3:
        return False
    rest = _roundness(arc[1:-1])
    radius = (width * width / 4 + depth * depth) / (2 * depth)
    if rest < CIRCLE_REST_MAX and radius <= CIRCLE_MM_MAX and 4 * np.arctan2(2 * depth, width) >= CIRCLE_TURN_MIN:
        return True
    inner = np.arange(start + 2, stop - 1) % len(points)
    turn = -float(bend[inner].sum())
    if turn > UNDERCUT_DEGREES:
        return rest < UNDERCUT_REST_MAX and depth <= MOUTH_MM[1]
    third = len(inner) // 3
    middle = -float(bend[inner[third : len(inner) - third]].sum())
    return (
        DEPTH_PART[0] * width <= depth <= DEPTH_PART[1] * width
        and turn >= TURN_DEGREES_MIN
        and middle <= MIDDLE_TURN_MAX * turn
        and rest < ROUND_REST_MAX
    )


def _roundness(arc: Floats) -> float:
    """How far points lie off their circle, as a share of its radius (algebraic fit, Kasa 1976)."""
    columns = np.column_stack([2 * arc, np.ones(len(arc))])
    fit = np.linalg.lstsq(columns, (arc**2).sum(axis=1), rcond=None)[0]
    radius = float(np.sqrt(max(fit[2] + fit[0] ** 2 + fit[1] ** 2, 1e-9)))
    return float(np.sqrt(np.mean((np.hypot(*(arc - fit[:2]).T) - radius) ** 2))) / radius


def _apart(found: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Of bites that overlap, the longest."""
    kept: list[tuple[int, int]] = []
    for start, stop in sorted(found, key=lambda each: each[0] - each[1]):
        if all(stop <= other[0] or start >= other[1] for other in kept):
            kept.append((start, stop))
    return kept


def _angle(a: Floats, b: Floats) -> Floats:
    """The turn from a to b, in radians; clockwise as seen with y downwards is positive."""
    return np.asarray(np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1)))
