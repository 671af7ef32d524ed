"""Bites along a leaf's margin: round bays with sharp ends, bridged the way the margin goes on at both sides of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from server.photos.margin import (
    STEP_MM,
    along_circle,
    angle,
    area_mm2,
    circle,
    corners_of,
    follows,
    is_hollow,
    margin_of,
    sharpness,
    turns,
    way_beside,
)

Floats = NDArray[np.floating[Any]]
Bools = NDArray[np.bool_]

# All in mm and degrees, or in steps of STEP_MM; measured on drawn leaves of six forms, whole, bitten and holed.
# Bites are sought from each corner to so many of the next ones. Their radius, mouth, depth and length.
AHEAD_MAX = 6
RADIUS_MM, MOUTH_MM, DEPTH_MM_MIN, LONG_MM_MAX = (1.5, 11.0), (0.4, 26.0), 1.0, 60.0
TURN_DEGREES = (40.0, 355.0)
# How far a floor lies off its circle: at least, and as a share of the radius, more where both ends are VERY_SHARP.
REST_MM, REST_PART, ROUGH_PART, VERY_SHARP = 0.12, 0.05, 0.09, 50.0
# What turns so far is a hole that broke through the margin, and may be less round.
BROKEN_TURN, BROKEN_PART = 250.0, 0.13
# How far the margin turns at each end from its own way to the circle's, and at both together.
SHARP_DEGREES, SHARP_BOTH = 30.0, 85.0
# The ends blur into the margin over so many steps; from there on a bite lies on its circle within this angle, while a
# round tip beside a bay would first bulge; the wider angle is for ends that are sharper than CUT_DEGREES.
END_STEPS, FOLLOW_DEGREES, CUT_DEGREES = 2, (25.0, 35.0), 80.0
# A bite shallower than this takes a tip off: the margin's ways on both sides differ so much.
SHALLOW_DEGREES, TIP_DEGREES = 95.0, 70.0
# A margin with more corners is toothed, and what is shallower and turns less is the bay between teeth.
CORNERS_TOOTHED, TOOTHED_TURN, TOOTHED_DEPTH_MM = 16, 85.0, 2.2
# The lobes of a leaf below this area are so small that their tips look sharp.
SMALL_MM2 = 600.0
# A bite that runs into a bay has one end only: a sharp one, and so much of its circle, so exactly.
LONE_CORNER, LONE_TURN, LONE_REST = 45.0, (110.0, 300.0), (0.08, 0.035)
LONE_STEPS, LONE_STEP = (14, 100), 4
# How much the margin may lean from a bridge's straight line, inwards and outwards.
LEAN_DEGREES = (-50.0, 75.0)
# Bites nearer to each other are bridged together.
JOIN_STEPS = 4
# More notches than this along one margin are its own.
BITES_MAX = 12
BRIDGE_POINTS = 24


@dataclass(frozen=True, slots=True)
class Bite:
    """A stretch of a margin from one point's number to another's, which may count on beyond the last."""

    start: int
    stop: int


@dataclass(frozen=True, slots=True)
class Strict:
    """Why bites are told from a leaf's own bays more strictly: its margin is toothed, or it is small."""

    toothed: bool
    small: bool


def filled_bites(mask: Bools, px_per_mm: float) -> Bools:
    """The mask, whose holes are filled, with its bites bridged."""
    points = margin_of(mask, px_per_mm)
    bites = find_bites(points)
    if not bites or len(bites) > BITES_MAX:
        return mask
    picture = Image.fromarray(mask.astype(np.uint8))
    draw = ImageDraw.Draw(picture)
    for start, stop in _joined(bites, len(points)):
        floor = points[np.arange(start, stop + 1) % len(points)]
        around = np.concatenate([floor, _bridge(points, start, stop)[::-1]]) * px_per_mm - 0.5
        draw.polygon([tuple(p) for p in around.tolist()], fill=1)
    return np.asarray(picture, bool) | mask


def find_bites(points: Floats) -> list[Bite]:
    """The bites along a closed margin (n, 2) in mm with the mask on its right hand, in its order; none overlap."""
    if not len(points):
        return []
    count, turn = len(points), turns(points)
    corners = corners_of(turn)
    strict = Strict(len(corners) > CORNERS_TOOTHED, area_mm2(points) < SMALL_MM2)
    found = []
    for n, start in enumerate(corners):
        for more in range(1, min(AHEAD_MAX, len(corners) - 1) + 1):
            stop = corners[(n + more) % len(corners)]
            stop += count if stop <= start else 0
            if stop - start > min(LONG_MM_MAX / STEP_MM, count / 2):
                break
            if _is_bite(points, start, stop, strict):
                found.append(Bite(start, stop))
    kept: list[Bite] = []
    for bite in sorted(found, key=lambda each: each.start - each.stop):
        if all(_apart(bite, other, count) for other in kept):
            kept.append(bite)
    for corner in [] if strict.toothed or strict.small else corners:
        for way in (1, -1) if turn[corner] > LONE_CORNER else ():
            lone = _lone_bite(points, corner, way)
            if lone is not None and all(_apart(lone, other, count) for other in kept):
                kept.append(lone)
    return sorted(kept, key=lambda each: each.start)


def _is_bite(points: Floats, start: int, stop: int, strict: Strict) -> bool:
    """Whether a stretch between two corners is a round bay with sharp ends."""
    arc = points[np.arange(start, stop + 1) % len(points)]
    mouth = arc[-1] - arc[0]
    width = float(np.hypot(*mouth))
    if len(arc) < 2 * END_STEPS + 6 or not MOUTH_MM[0] <= width <= MOUTH_MM[1]:
        return False
    # The mask lies on the right of the line of travel, so the bay's floor does as well.
    depth = float((mouth[0] * (arc - arc[0])[:, 1] - mouth[1] * (arc - arc[0])[:, 0]).max()) / width
    if depth < DEPTH_MM_MIN:
        return False
    middle, radius, rest = circle(arc[END_STEPS:-END_STEPS])
    turn = float(np.degrees((len(arc) - 1) * STEP_MM / radius))
    rough = rest > max(REST_MM, REST_PART * radius)
    rest_max = max(REST_MM, (BROKEN_PART if turn > BROKEN_TURN else ROUGH_PART) * radius)
    if (
        not RADIUS_MM[0] <= radius <= RADIUS_MM[1]
        or not TURN_DEGREES[0] <= turn <= TURN_DEGREES[1]
        or rest > rest_max
        or not is_hollow(arc, middle)
        or (strict.small and rough and turn <= BROKEN_TURN)
        or (strict.toothed and turn < 180 and (rough or turn < TOOTHED_TURN or depth < TOOTHED_DEPTH_MM))
    ):
        return False
    return _has_sharp_ends(
        points, Bite(start, stop), middle, VERY_SHARP if rough or strict.small else SHARP_DEGREES, turn
    )


def _has_sharp_ends(points: Floats, bite: Bite, middle: Floats, sharp_min: float, turn: float) -> bool:
    """Whether the margin turns sharply into a bay's circle and out of it; a shallow one must have taken a tip."""
    arc = points[np.arange(bite.start, bite.stop + 1) % len(points)]
    way_in, way_out = way_beside(points, bite.start, -1), way_beside(points, bite.stop, 1)
    first, last = sharpness(way_in, along_circle(arc[0], middle)), sharpness(along_circle(arc[-1], middle), way_out)
    if min(first, last) < sharp_min or first + last < SHARP_BOTH:
        return False
    off_max = FOLLOW_DEGREES[min(first, last) > CUT_DEGREES]
    if not (follows(arc, middle, off_max) and follows(arc[::-1], middle, off_max)):
        return False
    return turn >= SHALLOW_DEGREES or float(angle(way_in, way_out)) >= TIP_DEGREES


def _lone_bite(points: Floats, corner: int, way: int) -> Bite | None:
    """The bite that starts at a corner, forwards (1) or backwards (-1), and runs into a bay at its other end."""
    best: tuple[int, Floats, float] | None = None
    for steps in range(LONE_STEPS[0], min(LONE_STEPS[1], len(points) // 3), LONE_STEP):
        arc = points[(corner + way * np.arange(END_STEPS, steps + 1)) % len(points)]
        middle, radius, rest = circle(arc)
        turn = float(np.degrees(steps * STEP_MM / radius))
        if (
            not RADIUS_MM[0] <= radius <= RADIUS_MM[1]
            or turn > LONE_TURN[1]
            or rest > max(LONE_REST[0], LONE_REST[1] * radius)
            or not is_hollow(arc[::way], middle)
        ):
            break
        best = (steps, middle, turn)
    if best is None or best[2] < LONE_TURN[0]:
        return None
    steps, middle, _ = best
    if not follows(points[(corner + way * np.arange(LONE_STEPS[0])) % len(points)], middle, FOLLOW_DEGREES[0]):
        return None
    along, outside = along_circle(points[corner], middle), way_beside(points, corner, -way)
    if (sharpness(outside, along) if way > 0 else sharpness(along, outside)) < VERY_SHARP:
        return None
    start = corner if way > 0 else (corner - steps) % len(points)
    return Bite(start, start + steps)


def _apart(one: Bite, other: Bite, count: int) -> bool:
    ahead, behind = (one.start - other.start) % count, (other.start - one.start) % count
    return ahead >= other.stop - other.start and behind >= one.stop - one.start


def _joined(bites: list[Bite], count: int) -> list[tuple[int, int]]:
    """Starts and stops of bites, those that touch as one."""
    spans = [(bite.start, bite.stop) for bite in bites]
    joined = spans[:1]
    for start, stop in spans[1:]:
        if start - joined[-1][1] <= JOIN_STEPS:
            joined[-1] = (joined[-1][0], stop)
        else:
            joined.append((start, stop))
    if len(joined) > 1 and joined[0][0] + count - joined[-1][1] <= JOIN_STEPS:
        last = joined.pop()
        joined[0] = (last[0], joined[0][1] + count)
    return joined


def _bridge(points: Floats, start: int, stop: int) -> Floats:
    """The margin that was there: a cubic curve that leaves both ends as the margin reaches them.

    Its arms are those with which such a curve comes nearest to an arc of a circle.
    """
    first, last = points[start % len(points)], points[stop % len(points)]
    chord = last - first
    width = max(float(np.hypot(*chord)), 1e-6)
    ahead = chord / width
    outwards = np.array([ahead[1], -ahead[0]])
    leans = (-float(angle(chord, way_beside(points, start, -1))), float(angle(chord, way_beside(points, stop, 1))))
    rise, fall = np.radians(np.clip(leans, *LEAN_DEGREES))
    half = max((abs(rise) + abs(fall)) / 2, 1e-3)
    arm = width * 2 / 3 * np.tan(half / 2) / np.sin(half)
    one = first + arm * (np.cos(rise) * ahead + np.sin(rise) * outwards)
    two = last - arm * (np.cos(fall) * ahead - np.sin(fall) * outwards)
    s = np.linspace(0, 1, BRIDGE_POINTS)[:, None]
    return np.asarray((1 - s) ** 3 * first + 3 * (1 - s) ** 2 * s * one + 3 * (1 - s) * s**2 * two + s**3 * last)
