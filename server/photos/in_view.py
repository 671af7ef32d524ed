"""Leaves wholly in view: each on its own, and refused where one is cut off or lies on what it is measured by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from server.errors import Unmeasurable
from server.photos.ground import Window
from server.photos.rulers import Ruler
from server.photos.tissue import Ground
from server.wording.said import say

Bools = NDArray[np.bool_]
Floats = NDArray[np.floating[Any]]

# What is smaller is no leaf to be measured; more leaves than this are no photo of leaves.
LEAF_CM2_MIN = 1.0
LEAVES_MAX = 40
# Beside a tag, a cut off plant at the edge is passed over where it is smaller than this part of the largest whole leaf.
PASSED_OVER_PART = 0.15
# A leaf on a code reaches this near to it.
AT_CODE_MM = 7.0
# A loose piece of a leaf lies so near to it, has at least this area, is no leaf or at most this part of one, and is no
# stalk: the square of its length is at most so many times its area.
LOOSE_MM, LOOSE_CM2_MIN, LOOSE_PART, LOOSE_LONG = 8.0, 0.2, 0.25, 8.0


@dataclass(frozen=True, slots=True)
class FirstLook:
    """The ground from above: its window, where leaves are, where leaves may be measured, and how the ground looks."""

    window: Window
    leaf: Bools
    room: Bools
    ground: Ground


@dataclass(frozen=True, slots=True)
class Region:
    """One leaf as first seen: its pixels in the window of the first look, and their box there."""

    mask: Bools
    rows: slice
    columns: slice

    @property
    def pixels(self) -> int:
        """How many pixels it has."""
        return int(self.mask.sum())


def whole_leaves(ruler: Ruler, first: FirstLook) -> list[Region]:
    """Each leaf of the first look.

    Raises Unmeasurable where there is none, or one is cut off, in pieces, or lies on a code or on the card's print.
    """
    labels, _ = ndimage.label(first.leaf)
    cm2_px = 100 * first.window.px_per_mm**2
    parts = []
    for number, (rows, columns) in enumerate(ndimage.find_objects(labels), 1):
        part = Region(labels[rows, columns] == number, rows, columns)
        if part.pixels >= LOOSE_CM2_MIN * cm2_px:
            parts.append(part)
    regions = [part for part in parts if part.pixels >= LEAF_CM2_MIN * cm2_px]
    cut = [region for region in regions if _ends(first.room, region).any()]
    whole = [region for region in regions if not _ends(first.room, region).any()]
    largest = max((region.pixels for region in whole), default=0)
    for region in cut:
        if ruler.card is not None or region.pixels > PASSED_OVER_PART * largest:
            raise _cut_off(ruler, first, region)
    if not whole:
        raise Unmeasurable(
            "no leaf",
            say("No leaf can be told from the ground. Lay it flat, on paper, wood, stone or soil that is not green."),
        )
    if len(whole) > LEAVES_MAX:
        told = say("{count} leaves are more than the {most} of one photo. Take several photos.")
        raise Unmeasurable("too many leaves", told.filled(count=len(whole), most=LEAVES_MAX))
    _check_pieces(whole, parts, LOOSE_MM * first.window.px_per_mm, LEAF_CM2_MIN * cm2_px)
    return whole


def _check_pieces(leaves: list[Region], parts: list[Region], near_px: float, whole_px: float) -> None:
    """Raises Unmeasurable when a piece that must have come off a leaf lies beside it."""
    for leaf in leaves:
        for part in parts:
            rows, columns = part.rows.stop - part.rows.start, part.columns.stop - part.columns.start
            if (
                part.pixels < max(LOOSE_PART * leaf.pixels, whole_px)
                and rows**2 + columns**2 < LOOSE_LONG * part.pixels
                and _distance_px(leaf, part, near_px) <= near_px
            ):
                raise Unmeasurable(
                    "leaf in pieces",
                    say(
                        "A loose piece lies beside a leaf, so what its outline was can't be told. Lay whole leaves a "
                        "finger's width apart, without loose pieces."
                    ),
                )


def _distance_px(one: Region, other: Region, enough_px: float) -> float:
    """How far two regions are apart; that of their boxes where it is more than enough."""
    gaps = [
        max(a.start - b.stop, b.start - a.stop, 0) for a, b in ((one.rows, other.rows), (one.columns, other.columns))
    ]
    if float(np.hypot(*gaps)) > enough_px:
        return float(np.hypot(*gaps))
    y, x = np.nonzero(one.mask & ~ndimage.binary_erosion(one.mask))
    v, u = np.nonzero(other.mask & ~ndimage.binary_erosion(other.mask))
    down = (y + one.rows.start)[:, None] - (v + other.rows.start)[None]
    across = (x + one.columns.start)[:, None] - (u + other.columns.start)[None]
    return float(np.sqrt((down**2 + across**2).min()))


def _ends(room: Bools, region: Region) -> Bools:
    """Where a leaf ends only because its room does, in the region's box."""
    padded = np.pad(room, 1)[region.rows.start : region.rows.stop + 2, region.columns.start : region.columns.stop + 2]
    beyond = ndimage.binary_dilation(~padded, ndimage.generate_binary_structure(2, 2))[1:-1, 1:-1]
    return np.asarray(region.mask & beyond)


def _cut_off(ruler: Ruler, first: FirstLook, region: Region) -> Unmeasurable:
    """What is wrong with a leaf that reaches beyond its room."""
    rows, columns = np.nonzero(_ends(first.room, region))
    x = first.window.left_mm + (columns + region.columns.start + 0.5) / first.window.px_per_mm
    y = first.window.top_mm + (rows + region.rows.start + 0.5) / first.window.px_per_mm
    for left, top, width, height in ruler.boxes:
        across = np.maximum(np.maximum(left - x, x - left - width), 0)
        down = np.maximum(np.maximum(top - y, y - top - height), 0)
        if (np.hypot(across, down) < AT_CODE_MM).any():
            return Unmeasurable(
                "leaf over code", say("A leaf lies on a code. Move it away from the code, a finger's width at least.")
            )
    if ruler.card is None:
        return Unmeasurable(
            "leaf cut off",
            say("A leaf touches the picture's edge. Go a little further away, so that all of it is in view."),
        )
    left, _, width, _ = ruler.card.blank
    if ((x < left + 2) | (x > left + width - 2)).any():
        return Unmeasurable(
            "leaf over edge",
            say("A leaf reaches over the card's edge. Lay it in the middle; for a larger leaf use a tag."),
        )
    return Unmeasurable(
        "leaf over print",
        say("A leaf lies on the card's greys or ruler. Lay it in the blank middle; for a larger leaf use a tag."),
    )
