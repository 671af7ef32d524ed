"""Draws a photographed leaf as a grower would send it: healthy, or with what its tree's trouble does to leaves."""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFilter

from demo_db.grounds import draw_ground
from demo_db.leaf_shape import HEIGHT_PX, WIDTH_PX, LeafShape, draw_shape, noise, spread

Floats = NDArray[np.floating[Any]]
Colour = tuple[int, int, int]

JPEG_QUALITY = 84
GREEN_DEEP, GREEN_LIGHT, VEIN = (44, 82, 34), (98, 138, 62), (176, 190, 122)
YELLOW, BROWN, BROWN_DRY, BLACKENED, BLEACHED = (
    (206, 192, 74),
    (110, 72, 36),
    (150, 108, 62),
    (44, 36, 24),
    (196, 186, 146),
)
RUST, HALO, STIPPLE, DULL = (142, 70, 28), (198, 180, 72), (196, 200, 138), (120, 122, 84)


@dataclass(frozen=True, slots=True)
class Ailment:
    """How much of each sign a leaf shows, 0-1 (spots and dots: how many)."""

    yellow: float = 0.0
    brown_edge: float = 0.0
    bleached: float = 0.0
    blackened: float = 0.0
    spots: int = 0
    dots: int = 0
    dull: float = 0.0


AILMENTS = {
    "sound": Ailment(),
    "shaded_to_sun": Ailment(yellow=0.45, brown_edge=0.25, bleached=0.5),
    "moved_twice": Ailment(yellow=0.6, brown_edge=0.55, bleached=0.3),
    "roots": Ailment(yellow=0.7, brown_edge=0.35, dull=0.3),
    "cold_night": Ailment(blackened=0.6, brown_edge=0.15),
    "root_pruned": Ailment(yellow=0.4, dull=0.35),
    "mites": Ailment(yellow=0.2, dots=4600, dull=0.25),
    "rust": Ailment(spots=60, yellow=0.25),
    "slow_loss": Ailment(yellow=0.35),
    "too_much_fruit": Ailment(dull=0.3),
}


def draw_leaf(ailment: Ailment, lobes: int, ground: str, rng: np.random.Generator) -> bytes:
    """A JPEG of WIDTH_PX by HEIGHT_PX: one leaf with its ailment, its shadow and the light of the day."""
    shape = draw_shape(lobes, rng)
    picture = draw_ground(ground, rng)
    shadow = spread(np.roll(shape.blade, (16, 12), axis=(0, 1)), 13)
    picture *= (1 - 0.55 * shadow)[..., None]
    picture = _laid(
        picture, np.array((122, 140, 74), dtype=np.float32) * (0.8 + 0.4 * noise(rng, 20)[..., None]), shape.stalk
    )
    picture = _laid(picture, _blade(shape, ailment, rng), shape.blade)
    return _developed(picture, rng)


def _laid(below: Floats, above: Floats, mask: Floats) -> Floats:
    return below + (above - below) * mask[..., None]


def _tinted(picture: Floats, colour: Colour, share: Floats) -> Floats:
    return _laid(picture, np.array(colour, dtype=np.float32), np.clip(share, 0, 1))


def _blade(shape: LeafShape, ailment: Ailment, rng: np.random.Generator) -> Floats:
    near_vein = spread(shape.veins, 9)
    bulge = 0.5 * noise(rng, 7) + 0.22 * noise(rng, 60) + 0.16 * noise(rng, 260) + 0.9 * (0.25 - near_vein)
    deep, light = (np.array(c, dtype=np.float32) for c in (GREEN_DEEP, GREEN_LIGHT))
    blade = deep + (light - deep) * np.clip(bulge, 0, 1)[..., None]
    if ailment.dull:
        blade = _tinted(blade, DULL, np.float32(ailment.dull * 0.6) * shape.blade)
    blade = _yellowed(blade, shape, ailment.yellow, near_vein, rng)
    blade = _tinted(blade, VEIN, shape.veins * 0.85)
    if ailment.bleached:
        patch = noise(rng, 6) + 0.35 * noise(rng, 40) - 1.28 + 0.75 * ailment.bleached
        blade = _tinted(blade, BLEACHED, np.clip(patch * 7, 0, 0.85) * (1 - 0.5 * near_vein))
    if ailment.dots:
        blade = _tinted(blade, STIPPLE, _stipple(shape, ailment.dots, near_vein, rng))
    if ailment.spots:
        blade = _spotted(blade, ailment.spots, rng)
    return _edges(blade, shape, ailment, rng)


def _yellowed(blade: Floats, shape: LeafShape, level: float, near_vein: Floats, rng: np.random.Generator) -> Floats:
    """Yellow from the margin inwards and between the veins first, as an old leaf lets go."""
    if not level:
        return blade
    margin = 1 - spread(shape.blade, 70)
    share = 1.9 * level + 0.9 * (margin - 0.35) + 0.6 * (noise(rng, 8) - 0.5) + 0.3 * (noise(rng, 40) - 0.5) - 0.75
    return _tinted(blade, YELLOW, np.clip(share * 2.2 - 1.2 * near_vein, 0, 0.92))


def _edges(blade: Floats, shape: LeafShape, ailment: Ailment, rng: np.random.Generator) -> Floats:
    ragged = 0.6 * noise(rng, 26) + 0.4 * noise(rng, 110)
    if ailment.brown_edge:
        depth = spread(shape.blade, 26)
        dead = np.clip((0.5 + 0.55 * ailment.brown_edge * (ragged + noise(rng, 5) - 0.45) - depth) * 16 + 1, 0, 1)
        blade = _tinted(blade, HALO, spread(dead * shape.blade, 7) * 0.8)
        blade = _tinted(blade, BROWN_DRY, dead * 0.95)
        blade = _tinted(blade, BROWN, np.clip(dead * (ragged - 0.35) * 2, 0, 0.8))
    if ailment.blackened:
        burnt = np.clip(
            (shape.reach + 0.5 * (ragged - 0.5) + 0.5 * (noise(rng, 5) - 0.5) - 1.12 + 0.75 * ailment.blackened) * 9,
            0,
            1,
        )
        blade = _tinted(blade, (78, 84, 44), spread(burnt, 12) * 0.8)
        blade = _tinted(blade, BLACKENED, burnt * (0.78 + 0.2 * ragged))
    return blade


def _spotted(blade: Floats, count: int, rng: np.random.Generator) -> Floats:
    halo, core = Image.new("L", (WIDTH_PX, HEIGHT_PX), 0), Image.new("L", (WIDTH_PX, HEIGHT_PX), 0)
    for _ in range(count):
        x, y = rng.uniform(0.1, 0.9) * WIDTH_PX, rng.uniform(0.05, 0.95) * HEIGHT_PX
        r, flat = float(rng.gamma(4.0, 2.2)) + 2, float(rng.uniform(0.7, 1.0))
        ImageDraw.Draw(halo).ellipse([x - 1.8 * r, y - 1.8 * r * flat, x + 1.8 * r, y + 1.8 * r * flat], fill=190)
        ImageDraw.Draw(core).ellipse([x - r, y - r * flat, x + r, y + r * flat], fill=240)
    ragged = noise(rng, 200) * 0.5 + 0.6
    soft = [
        np.asarray(i.filter(ImageFilter.GaussianBlur(b)), dtype=np.float32) / 255 for i, b in ((halo, 4), (core, 1.6))
    ]
    return _tinted(_tinted(blade, HALO, soft[0] * 0.85), RUST, soft[1] * ragged)


def _stipple(shape: LeafShape, count: int, near_vein: Floats, rng: np.random.Generator) -> Floats:
    """Pale dots, densest along the veins, where mites feed."""
    image = Image.new("L", (WIDTH_PX, HEIGHT_PX), 0)
    draw = ImageDraw.Draw(image)
    crowd = near_vein * 1.6 + 0.35 * noise(rng, 7)
    for x, y, luck, r in zip(
        rng.uniform(0, WIDTH_PX - 1, 3 * count),
        rng.uniform(0, HEIGHT_PX - 1, 3 * count),
        rng.uniform(0, 0.75, 3 * count),
        rng.uniform(0.4, 1.2, 3 * count),
        strict=True,
    ):
        if shape.blade[int(y), int(x)] > 0.5 and crowd[int(y), int(x)] > luck:
            draw.ellipse([x - r, y - r, x + r, y + r], fill=230)
    return np.asarray(image.filter(ImageFilter.GaussianBlur(0.7)), dtype=np.float32) / 255


def _developed(picture: Floats, rng: np.random.Generator) -> bytes:
    """Light from one side, the sensor's grain, a little softness, and JPEG."""
    down = np.linspace(-1, 1, HEIGHT_PX, dtype=np.float32)[:, None]
    across = np.linspace(-1, 1, WIDTH_PX, dtype=np.float32)[None, :]
    angle = float(rng.uniform(0, 2 * np.pi))
    light = 1.0 + 0.16 * (across * np.cos(angle) + down * np.sin(angle)) - 0.12 * (across**2 + down**2)
    warm = np.array([1.03, 1.0, 0.94]) if rng.uniform() < 0.5 else np.array([0.98, 1.0, 1.03])
    grain = 2.2 * rng.standard_normal(light.shape, dtype=np.float32)
    lit = picture * light[..., None] * (warm * float(rng.uniform(0.95, 1.15))).astype(np.float32) + grain[..., None]
    image = Image.fromarray(np.clip(lit, 0, 255).astype(np.uint8))
    file = BytesIO()
    image.save(file, "JPEG", quality=JPEG_QUALITY)
    return file.getvalue()
