"""Measures the leaves in a photo: their area and damage, by a tag's code or the printed card in the picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from server.errors import Unmeasurable
from server.photos.bites import filled_bites
from server.photos.damage import damaged, green_index, is_purple
from server.photos.decode import decode, one_at_a_time
from server.photos.ground import (
    CLIPPED,
    White,
    Window,
    card_white,
    px_box,
    rectify,
    tag_white,
    whitened,
)
from server.photos.in_view import FirstLook, Region, whole_leaves
from server.photos.masks import grown, opened, shrunk
from server.photos.outline import filled_holes, without_stalk
from server.photos.plane import apply
from server.photos.rulers import CardPlan, Ruler, TagOf, burnt_out, check_ruler, find_ruler
from server.photos.scene import Counted, Scene, scene_of
from server.photos.tissue import PLANT_EXCESS, excess_green, learn_ground, soft_edge, tints
from server.wording.said import say

Floats = NDArray[np.floating[Any]]
Bools = NDArray[np.bool_]

# A JPEG is decoded at half its size while its longer edge keeps this many pixels.
EDGE_PX_MIN = 1900
# Scales of the first look and of the measurement.
COARSE_PX_PER_MM, FINE_PX_PER_MM = 1.5, 4.0
COARSE_PIXELS_MAX, FINE_PIXELS_MAX = 200_000, 125_000
# Ground is learned where it lies at least this far from anything green, and at most so far: squares of this half side
# hold less and more than this share of green.
APART_MM, AROUND_MM, APART_SHARE = 10.0, 70.0, 0.003
MARGIN_MM = 6.0
REACH_MM = 400.0
# Green along so much of the picture's edge means that the ground is as green as the leaf.
GREEN_EDGE_MAX = 0.3
# Beside a tag, a leaf is what has this share and area of sure green.
GREEN_SHARE_MIN, GREEN_CM2_MIN = 0.08, 0.3
# How far a tint may lie off the tints of the ground, in bins: paper has one tint, wood and soil have many already.
SLACK_TAG, SLACK_CARD = 1, 2
BURNT_LEAF_MAX = 0.25
# How far blur spreads a leaf's edge, in px of the close-up.
EDGE_PX = 3


@dataclass(frozen=True, slots=True)
class MeasuredLeaf:
    """One leaf: area of its outline and of its healthy part in cm², damage in percent of the outline, DGCI, its box.

    The outline is the whole leaf's, with what was eaten, without its stalk. The box is (x, y, width, height) in px of
    the upright photo.
    """

    area_cm2: float
    healthy_cm2: float
    damage_percent: float
    green_index: float
    box: tuple[int, int, int, int]


@dataclass(frozen=True, slots=True)
class Measurement:
    """The leaves of one photo, largest first; `reference` is `tag` or `card`; `scene` where it was asked for."""

    scale_mm_per_px: float
    reference: str
    leaves: tuple[MeasuredLeaf, ...]
    scene: Scene | None = None


@dataclass(frozen=True, slots=True)
class View:
    """A decoded photo, its map, its light, and how many pixels of the photo one of its own stands for."""

    picture: Image.Image
    ruler: Ruler
    white: White
    photo_px: float


def measure(data: bytes, cards: Sequence[CardPlan], tag_of: TagOf, with_scene: bool = False) -> Measurement:
    """Measure the leaves in a JPEG, PNG or WebP file that shows one of the cards or a tag.

    Raises Unmeasurable with what to do where it can't be done honestly; TooLarge or Refused for what is no photo.
    """
    with one_at_a_time:
        view, page = _look(data, cards, tag_of)
        first = _first_look(view, page)
        found = [_measured(view, first, region) for region in whole_leaves(view.ruler, first)]
        found.sort(key=lambda each: -each[0].area_cm2)
        scene = scene_of(view.picture, view.ruler, [counted for _, counted in found]) if with_scene else None
    scale = 1 / (view.ruler.px_per_mm * view.photo_px)
    return Measurement(scale, view.ruler.kind, tuple(leaf for leaf, _ in found), scene)


def _look(data: bytes, cards: Sequence[CardPlan], tag_of: TagOf) -> tuple[View, Any]:
    """The photo, its ruler and its light; at half size first, at full size where no code is read in that."""
    for edge_px_min in (EDGE_PX_MIN, 100_000):
        picture, (width_px, _) = decode(data, edge_px_min)
        picture = picture if picture.mode == "RGB" else picture.convert("RGB")
        photo_px = width_px / picture.width
        try:
            ruler = find_ruler(np.asarray(picture.convert("L")), cards, tag_of)
        except Unmeasurable:
            if photo_px == 1:
                raise
            continue
        break
    check_ruler(ruler, photo_px)
    if ruler.card is None:
        return View(picture, ruler, tag_white(picture, ruler), photo_px), None
    window = Window(0, 0, *ruler.card.page_mm, COARSE_PX_PER_MM)
    page = rectify(picture, ruler, window)
    return View(picture, ruler, card_white(page[0], window, ruler.card), photo_px), (window, *page)


def _first_look(view: View, page: Any) -> FirstLook:
    """Where leaves are, and what the ground looks like."""
    window, rgb, seen = page if page else _around(view)
    shares = whitened(rgb, view.white.at(window))
    colours = tints(shares)
    plant = (excess_green(shares) > PLANT_EXCESS) & seen
    bare = seen.copy()
    room = seen.copy()
    for box in view.ruler.boxes:
        bare[window.px(box, 4.0)] = False
    if view.ruler.card is not None:
        room[:] = False
        room[window.px(view.ruler.card.blank)] = True
        bare &= room
    else:
        room[window.px(view.ruler.boxes[0], 0.0)] = False
        _check_ground(plant, seen)
    plant = opened(plant & room)
    where = bare & _around_plants(plant, window.px_per_mm)
    if view.ruler.card is not None:
        where &= colours.light > 0.75
    if where.sum() < 500:
        raise _as_green()
    ground = learn_ground(colours, where, SLACK_TAG if view.ruler.card is None else SLACK_CARD)
    leaf = _with_plants(~ground.has(colours) & room, plant, window.px_per_mm, view.ruler.card is not None)
    return FirstLook(window, leaf, room, ground)


def _with_plants(mask: Bools, plant: Bools, px_per_mm: float, any_colour: bool) -> Bools:
    """The parts of a mask that are a leaf by their green; on a card `any_colour` is one, as nothing else lies there."""
    mask = opened(mask)
    if any_colour:
        return np.asarray(mask)
    labels, count = ndimage.label(mask)
    green = np.bincount(labels[mask & plant], minlength=count + 1)
    whole = np.bincount(labels.ravel(), minlength=count + 1)
    keep = (green > GREEN_SHARE_MIN * whole) & (green > GREEN_CM2_MIN * 100 * px_per_mm**2)
    keep[0] = False
    return np.asarray(keep[labels])


def _around_plants(plant: Bools, px_per_mm: float) -> Bools:
    """Where ground is sure: not at anything green, and not so far away that it may be another ground."""
    here = plant.astype(np.float32)
    apart = ndimage.uniform_filter(here, round(2 * APART_MM * px_per_mm)) < APART_SHARE
    near = ndimage.uniform_filter(here, round(2 * AROUND_MM * px_per_mm)) > APART_SHARE
    return np.asarray(apart & near) if near.any() else np.asarray(apart)


def _around(view: View) -> tuple[Window, NDArray[np.uint8], Bools]:
    """The ground around a tag, as far as the picture shows it well."""
    width, height = view.picture.size
    edge = np.linspace(0, 1, 9)
    x, y = np.meshgrid(edge * width, edge * height)
    back = np.linalg.inv(view.ruler.to_px)
    points = np.stack([x.ravel(), y.ravel()], axis=1)
    depth = points @ back[2, :2] + back[2, 2]
    middle = view.ruler.middle_mm
    there = apply(view.ruler.to_px, middle[None])[0]
    sign = np.sign(there @ back[2, :2] + back[2, 2])
    mm = apply(back, points[depth * sign > 1e-9])
    low = np.maximum(mm.min(axis=0), middle - REACH_MM)
    high = np.minimum(mm.max(axis=0), middle + REACH_MM)
    size = high - low
    scale = min(COARSE_PX_PER_MM, float(np.sqrt(COARSE_PIXELS_MAX / (size[0] * size[1]))))
    window = Window(float(low[0]), float(low[1]), float(size[0]), float(size[1]), scale)
    return window, *rectify(view.picture, view.ruler, window)


def _check_ground(plant: Bools, seen: Bools) -> None:
    """Raises Unmeasurable when plants or green ground run along much of the picture's edge."""
    edge = seen & ~shrunk(seen, 4)
    if plant[edge].mean() > GREEN_EDGE_MAX:
        raise _as_green()


def _as_green() -> Unmeasurable:
    return Unmeasurable(
        "green ground",
        say(
            "The ground is as green as the leaf, or leaves fill the picture. Lay the leaf on paper, wood, stone or "
            "soil, with bare ground all round it."
        ),
    )


def _measured(view: View, first: FirstLook, region: Region) -> tuple[MeasuredLeaf, Counted]:
    """One leaf, looked at closely: its figures, and the pixels that they were counted on."""
    coarse, ground = first.window, first.ground
    window = _close_up(view, coarse, region)
    rgb, seen = rectify(view.picture, view.ruler, window)
    shares = whitened(rgb, view.white.at(window))
    colours = tints(shares)
    mask = _same_leaf(~ground.has(colours) & seen, coarse, region, window)
    cover = soft_edge(shares, mask, window.px_per_mm)
    filled = without_stalk(filled_holes(cover > 0.5, window.px_per_mm), window.px_per_mm)
    tissue = (cover > 0.5) & filled
    if (rgb[tissue][::4].max(axis=-1) >= CLIPPED * 255).mean() > BURNT_LEAF_MAX:
        raise burnt_out()
    if is_purple(shares, tissue):
        raise Unmeasurable(
            "leaf not green",
            say(
                "A leaf is red or purple all over, so its colour doesn't tell what of it is damaged. Measure a green "
                "leaf."
            ),
        )
    whole = filled_bites(filled, window.px_per_mm)
    lost = damaged(shares, tissue, window.px_per_mm) | (whole & ~tissue)
    area_px = _area_px(cover, whole, tissue)
    healthy = tissue & ~lost
    index = green_index(np.median(shares[healthy][::8], axis=0)) if healthy.any() else 0.0
    damage = float(lost.sum()) / float(whole.sum())
    area_cm2 = area_px / window.px_per_mm**2 / 100
    box = tuple(round(v * view.photo_px) for v in px_box(view.ruler, window, *_box_of(whole)))
    leaf = MeasuredLeaf(area_cm2, area_cm2 * (1 - damage), 100 * damage, index, box)  # type: ignore[arg-type]
    return leaf, Counted(window, whole, lost)


def _area_px(cover: Floats, whole: Bools, tissue: Bools) -> float:
    """The area of the outline: what is covered in and just outside of it, and all of its holes and bites."""
    near = grown(whole, EDGE_PX)
    gone = grown(opened(whole & ~tissue), EDGE_PX) & whole
    return float(np.where(gone, 1.0, cover)[near].sum())


def _close_up(view: View, coarse: Window, region: Region) -> Window:
    """The leaf with a margin, at the picture's own scale where that is finer than needed."""
    left = coarse.left_mm + region.columns.start / coarse.px_per_mm - MARGIN_MM
    top = coarse.top_mm + region.rows.start / coarse.px_per_mm - MARGIN_MM
    width = (region.columns.stop - region.columns.start) / coarse.px_per_mm + 2 * MARGIN_MM
    height = (region.rows.stop - region.rows.start) / coarse.px_per_mm + 2 * MARGIN_MM
    scale = min(
        FINE_PX_PER_MM, max(FINE_PX_PER_MM / 2, view.ruler.px_per_mm), (FINE_PIXELS_MAX / width / height) ** 0.5
    )
    return Window(left, top, width, height, scale)


def _same_leaf(mask: Bools, coarse: Window, region: Region, window: Window) -> Bools:
    """The parts of a close-up's mask that belong to the leaf of the first look."""
    rows = ((np.arange(window.shape[0]) + 0.5) / window.px_per_mm - MARGIN_MM) * coarse.px_per_mm
    columns = ((np.arange(window.shape[1]) + 0.5) / window.px_per_mm - MARGIN_MM) * coarse.px_per_mm
    row, column = np.floor(rows).astype(int), np.floor(columns).astype(int)
    inside = ((row >= 0) & (row < region.mask.shape[0]))[:, None] & ((column >= 0) & (column < region.mask.shape[1]))
    there = (
        inside & region.mask[row.clip(0, region.mask.shape[0] - 1)[:, None], column.clip(0, region.mask.shape[1] - 1)]
    )
    labels, count = ndimage.label(mask)
    hits = np.bincount(labels[there & mask], minlength=count + 1)
    hits[0] = 0
    keep = hits > 0.02 * max(1, there.sum())
    return np.asarray(keep[labels])


def _box_of(mask: Bools) -> tuple[slice, slice]:
    found: tuple[slice, slice] = ndimage.find_objects(mask.astype(np.int32))[0]
    return found
