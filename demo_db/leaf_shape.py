"""The form of a drawn leaf: its outline and its veins, as soft masks."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFilter

Floats = NDArray[np.floating[Any]]
Point = tuple[float, float]

WIDTH_PX, HEIGHT_PX = 800, 600
FINE = 2  # shapes are drawn so many times larger and then shrunk, for soft edges
# Lobes of a fig leaf: degrees from the middle axis, length and half width as shares of the middle lobe's length.
LOBES = {
    1: ((0.0, 1.0, 0.27),),
    3: ((0.0, 1.0, 0.24), (-50.0, 0.82, 0.21), (50.0, 0.84, 0.21)),
    5: ((0.0, 1.0, 0.19), (-42.0, 0.92, 0.17), (42.0, 0.90, 0.17), (-92.0, 0.62, 0.15), (94.0, 0.60, 0.15)),
}
BODY_SHARE = {1: 0.1, 3: 0.40, 5: 0.37}
SIDE_VEINS, SIDE_VEIN_TURN = 6, 0.85


@dataclass(frozen=True, slots=True)
class LeafShape:
    """Masks of shape (HEIGHT_PX, WIDTH_PX), 0-1: blade, stalk, veins; and each pixel's distance from the stalk's
    end as a share of the leaf's length."""

    blade: Floats
    stalk: Floats
    veins: Floats
    reach: Floats


def draw_shape(lobes: int, rng: np.random.Generator) -> LeafShape:
    """One leaf of 1 (citrus), 3 or 5 lobes (fig), no two alike."""
    length = HEIGHT_PX * FINE * float(rng.uniform(0.56, 0.64))
    tilt = float(rng.uniform(-0.45, 0.45))
    base = (WIDTH_PX * FINE * (0.5 - 0.25 * sin(tilt)), HEIGHT_PX * FINE * (0.80 if lobes == 1 else 0.72))
    blade, veins, stalk = (_canvas() for _ in range(3))
    fine = 0.55 if lobes == 1 else 0.5
    for degrees, share, half_width in LOBES[lobes]:
        turn = tilt + degrees * pi / 180 + float(rng.normal(0, 0.05))
        reach = length * share * float(rng.normal(1, 0.04))
        width = length * half_width * float(rng.normal(1, 0.08))
        ImageDraw.Draw(blade).polygon(_lobe(base, turn, reach, width, pointed=lobes == 1), fill=255)
        _lobe_veins(ImageDraw.Draw(veins), (base, turn, reach), width, fine)
    _body(ImageDraw.Draw(blade), base, length * BODY_SHARE[lobes], tilt, lobes)
    foot = _on_axis(base, tilt + pi + float(rng.normal(0, 0.2)), length * (0.12 if lobes == 1 else 0.36), 0.0)
    ImageDraw.Draw(stalk).line([base, foot], fill=255, width=int(length * 0.022))
    outline = _wavy(blade, rng, 26.0 if lobes > 1 else 8.0)
    down, across = np.mgrid[0:HEIGHT_PX, 0:WIDTH_PX]
    distance = (np.hypot(across - base[0] / FINE, down - base[1] / FINE) / (length / FINE)).astype(np.float32)
    return LeafShape(outline, _shrunk(stalk), _shrunk(veins) * outline, distance)


def _canvas() -> Image.Image:
    return Image.new("L", (WIDTH_PX * FINE, HEIGHT_PX * FINE), 0)


def _on_axis(base: Point, turn: float, along: float, aside: float) -> Point:
    """A point `along` an axis that leaves `base` at `turn` (0 = up), and `aside` of it."""
    return (
        base[0] + along * sin(turn) + aside * cos(turn),
        base[1] - along * cos(turn) + aside * sin(turn),
    )


def _lobe(base: Point, turn: float, reach: float, width: float, pointed: bool) -> list[Point]:
    """A lobe's outline: narrow at its foot, widest past the middle, round at the tip; pointed at both for citrus."""
    steps = np.linspace(0, 1, 60)
    half = np.sin(pi * steps**0.95) ** 0.85 if pointed else np.sqrt(1 - steps**5) * (0.55 + 0.45 * np.sin(pi * steps))
    right = [_on_axis(base, turn, reach * t, width * h) for t, h in zip(steps, half, strict=True)]
    left = [_on_axis(base, turn, reach * t, -width * h) for t, h in zip(steps, half, strict=True)]
    return [*right, *reversed(left)]


def _body(draw: ImageDraw.ImageDraw, base: Point, radius: float, tilt: float, lobes: int) -> None:
    """The blade between the lobes, with the heart-shaped notch at the stalk left open."""
    if lobes == 1:
        return
    x, y = _on_axis(base, tilt, radius * 0.62, 0.0)
    draw.ellipse([x - radius, y - radius * 0.86, x + radius, y + radius * 0.86], fill=255)
    for side in (-1, 1):
        x, y = _on_axis(base, tilt, -radius * 0.02, side * radius * 0.55)
        draw.ellipse([x - radius * 0.5, y - radius * 0.42, x + radius * 0.5, y + radius * 0.42], fill=255)
    notch = _on_axis(base, tilt, -radius * 0.02, 0.0)
    foot = [_on_axis(base, tilt, -radius, side * radius * 0.16) for side in (-1, 1)]
    draw.polygon([notch, *foot], fill=0)


def _lobe_veins(draw: ImageDraw.ImageDraw, axis: tuple[Point, float, float], width: float, thick: float) -> None:
    """A main vein that thins towards the tip, and pairs of side veins that bend forward."""
    base, turn, reach = axis
    for step in range(40):
        ends = [_on_axis(base, turn, reach * 0.95 * (step + more) / 40, 0.0) for more in (0, 1)]
        draw.line(ends, fill=235, width=max(2, round(14 * thick * (1 - step / 44))))
    for number in range(1, SIDE_VEINS + 1):
        start = 0.12 + 0.72 * number / SIDE_VEINS
        for side in (-1, 1):
            points = [
                _on_axis(base, turn, reach * start + width * (s * 0.55 + 0.3 * s * s), side * width * s * 1.15)
                for s in np.linspace(0, SIDE_VEIN_TURN, 9)
            ]
            draw.line(points, fill=150, width=3)


def _wavy(blade: Image.Image, rng: np.random.Generator, roughness: float) -> Floats:
    """Round the joints of the lobes and let the margin wander: a blur, cut at a level that noise moves."""
    small = blade.resize((WIDTH_PX, HEIGHT_PX), Image.Resampling.BOX).filter(ImageFilter.GaussianBlur(6))
    level = 118 + roughness * (noise(rng, 46) + noise(rng, 120) - 1.0)
    return np.clip((np.asarray(small, dtype=np.float32) - level) / 18 + 0.5, 0, 1)


def _shrunk(image: Image.Image) -> Floats:
    small = image.resize((WIDTH_PX, HEIGHT_PX), Image.Resampling.BOX)
    return np.asarray(small, dtype=np.float32) / 255


def noise(rng: np.random.Generator, cells: int) -> Floats:
    """Smooth noise of mean about 0.5 with so many bumps across."""
    grid = Image.fromarray(rng.random((max(2, round(cells * HEIGHT_PX / WIDTH_PX)), cells), dtype=np.float32))
    return np.asarray(grid.resize((WIDTH_PX, HEIGHT_PX), Image.Resampling.BICUBIC), dtype=np.float32)


def spread(mask: Floats, radius_px: float) -> Floats:
    """A mask blurred: its value says how near, and how deep within, the mask a pixel lies.

    Worked at a quarter of the size, where such wide blurs lose nothing.
    """
    image = Image.fromarray((mask * 255).astype(np.uint8)).reduce(4).filter(ImageFilter.GaussianBlur(radius_px / 4))
    return np.asarray(image.resize((WIDTH_PX, HEIGHT_PX), Image.Resampling.BILINEAR), dtype=np.float32) / 255
