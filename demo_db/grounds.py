"""What a photographed leaf lies on: potting soil, an open hand, a bench of planks."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFilter

from demo_db.leaf_shape import HEIGHT_PX, WIDTH_PX, noise, spread

Floats = NDArray[np.floating[Any]]

GROUNDS = ("soil", "hand", "bench")
SOIL_DARK, SOIL_LIGHT = (38, 28, 20), (104, 80, 58)
SKIN_DARK, SKIN_LIGHT = (168, 118, 92), (224, 180, 152)
WOOD_DARK, WOOD_LIGHT = (96, 84, 70), (168, 150, 126)
PERLITE_GRAINS, BARK_CHIPS, PLANKS = 80, 110, 5


def draw_ground(name: str, rng: np.random.Generator) -> Floats:
    """An RGB picture of shape (HEIGHT_PX, WIDTH_PX, 3), 0-255."""
    draws = {"soil": _soil, "hand": _hand, "bench": _bench}
    return draws[name](rng)


def _between(dark: tuple[int, int, int], light: tuple[int, int, int], share: Floats) -> Floats:
    a, b = np.array(dark, dtype=np.float32), np.array(light, dtype=np.float32)
    mixed: Floats = a + (b - a) * np.clip(share, 0, 1)[..., None]
    return mixed


def _soil(rng: np.random.Generator) -> Floats:
    crumbs = 0.2 * noise(rng, 9) + 0.3 * noise(rng, 60) + 0.3 * noise(rng, 170) + 0.35 * noise(rng, 420)
    image = Image.fromarray(_between(SOIL_DARK, SOIL_LIGHT, crumbs * 1.5 - 0.5).astype(np.uint8))
    draw = ImageDraw.Draw(image)
    for _ in range(BARK_CHIPS):
        x, y, turn = rng.uniform(0, WIDTH_PX), rng.uniform(0, HEIGHT_PX), rng.uniform(0, np.pi)
        long, wide, shade = rng.uniform(6, 20), rng.uniform(2, 6), int(rng.integers(30, 95))
        corners = [(long, wide), (long * 0.8, -wide), (-long, -wide * 0.7), (-long * 0.7, wide)]
        turned = [
            (x + a * np.cos(turn) - b * np.sin(turn), y + a * np.sin(turn) + b * np.cos(turn)) for a, b in corners
        ]
        draw.polygon(turned, fill=(shade + 12, round(shade * 0.8) + 4, round(shade * 0.6)))
    for _ in range(PERLITE_GRAINS):
        x, y, r = rng.uniform(0, WIDTH_PX), rng.uniform(0, HEIGHT_PX), rng.uniform(1.2, 4.0)
        white = int(rng.integers(165, 225))
        draw.ellipse([x - r, y - r * 0.8, x + r, y + r * 0.8], fill=(white, white - 5, white - 16))
    return np.asarray(image.filter(ImageFilter.GaussianBlur(0.9)), dtype=np.float32)


def _hand(rng: np.random.Generator) -> Floats:
    """An open palm from below, four fingers up and a thumb to the side, over blurred ground."""
    ground = Image.fromarray(_soil(rng).astype(np.uint8)).reduce(4).filter(ImageFilter.GaussianBlur(2))
    mask, creases = Image.new("L", (WIDTH_PX, HEIGHT_PX), 0), Image.new("L", (WIDTH_PX, HEIGHT_PX), 0)
    draw, line = ImageDraw.Draw(mask), ImageDraw.Draw(creases)
    left, top = 200 + float(rng.uniform(-30, 30)), 258 + float(rng.uniform(-20, 20))
    draw.rounded_rectangle([left, top - 30, left + 406, HEIGHT_PX + 70], radius=100, fill=255)
    for finger, (length, lean) in enumerate(((234, -55), (297, -17), (285, 17), (219, 58))):
        x = left + 52 + finger * 101
        _capsule(draw, (x, top + 30), (x + lean, top + 30 - length), 47, 255)
        line.line([(x + 50, top - 8), (x + 48 + lean / 2, top - length / 2)], fill=200, width=7)
        for share in (0.42, 0.72):
            y = top + 30 - length * share
            line.arc([x + lean * share - 35, y - 6, x + lean * share + 35, y + 9], 10, 170, fill=110, width=3)
    _capsule(draw, (left + 47, top + 258), (left - 94, top + 94), 53, 255)
    line.arc([left + 23, top + 47, left + 367, top + 203], 200, 345, fill=130, width=4)
    line.arc([left + 16, top + 100, left + 258, top + 437], 250, 20, fill=130, width=4)
    solid = np.asarray(mask, dtype=np.float32) / 255
    inside = np.asarray(mask.filter(ImageFilter.GaussianBlur(1.5)), dtype=np.float32)[..., None] / 255
    lines = np.asarray(creases.filter(ImageFilter.GaussianBlur(2)), dtype=np.float32) / 255
    share = 1.5 * spread(solid, 27) - 0.55 + 0.10 * noise(rng, 14) + 0.07 * noise(rng, 330) - 0.4 * lines
    behind = np.asarray(ground.resize((WIDTH_PX, HEIGHT_PX)), dtype=np.float32)
    return behind * (1 - inside) + _between(SKIN_DARK, SKIN_LIGHT, share) * inside


def _capsule(
    draw: ImageDraw.ImageDraw, a: tuple[float, float], b: tuple[float, float], radius: float, fill: int
) -> None:
    draw.line([a, b], fill=fill, width=round(2 * radius))
    for x, y in (a, b):
        draw.ellipse([x - radius, y - radius, x + radius, y + radius], fill=fill)


def _bench(rng: np.random.Generator) -> Floats:
    """Weathered planks across the picture, each with its own tone and grain."""
    plank_px = HEIGHT_PX / PLANKS
    rows = np.arange(HEIGHT_PX)
    tone = rng.uniform(-0.12, 0.12, PLANKS + 1)[(rows / plank_px).astype(int)][:, None]
    wander = noise(rng, 5) * 40
    grain = np.sin((rows[:, None] + wander) / 3.1 + 6 * noise(rng, 3)) * 0.07
    stretched = np.asarray(
        Image.fromarray(rng.random((HEIGHT_PX // 2, 14)).astype(np.float32)).resize((WIDTH_PX, HEIGHT_PX)),
        dtype=np.float32,
    )
    share = 0.45 + tone + grain + 0.45 * (stretched - 0.5) + 0.15 * (noise(rng, 300) - 0.5)
    gap = np.minimum(rows % plank_px, plank_px - rows % plank_px)[:, None]
    shade: Floats = np.clip(0.25 + gap / 5, 0.25, 1)[..., None]
    return _between(WOOD_DARK, WOOD_LIGHT, share) * shade
