"""Draws leaves of known area and damage in millimetres: outlines, colours, veins, and what eats or kills them."""

from dataclasses import dataclass, field

import numpy as np
from PIL import Image, ImageDraw
from scipy import ndimage

FINE = 3  # masks are drawn so many times finer than the leaf's picture
YELLOWS = ((206, 192, 74), (214, 200, 60), (190, 184, 70), (222, 196, 88))
BROWNS = ((110, 72, 36), (150, 108, 62), (92, 58, 34), (142, 70, 28), (168, 128, 84), (60, 44, 30))
BLACKS = ((44, 36, 24), (38, 36, 32), (30, 26, 22))
BLEACHED = ((196, 186, 146), (208, 198, 164), (186, 172, 128))


@dataclass
class Leaf:
    """Arrays of one leaf at `px_per_mm`: colour (h, w, 3), how much of each pixel is tissue, and the truth."""

    colour: np.ndarray
    cover: np.ndarray
    outline_cm2: float
    damage_percent: float
    healthy_rgb: tuple[float, float, float]
    px_per_mm: float


@dataclass
class Harm:
    """How much of each kind of damage, as a rough share of the leaf's area, 0 to 1."""

    spots: float = 0.0
    yellow: float = 0.0
    edge: float = 0.0
    holes: float = 0.0
    bites: int = 0
    colours: tuple[tuple[int, int, int], ...] = field(default=BROWNS + BLACKS + BLEACHED)


def noise(shape, cell_px, rng):
    """Smooth noise from 0 to 1, about 0.5, with bumps of a size."""
    rows, columns = (max(2, int(np.ceil(n / cell_px)) + 1) for n in shape)
    grid = Image.fromarray(rng.random((rows, columns)).astype(np.float32))
    return np.asarray(grid.resize(shape[::-1], Image.Resampling.BICUBIC))


def outline(kind, length_mm, rng):
    """Corners (x, y) in mm of a leaf's margin about its middle."""
    turn = np.linspace(0, 2 * np.pi, 1440, endpoint=False)
    if kind == "oval":
        half = length_mm / 2
        x = half * np.cos(turn)
        y = half * rng.uniform(0.4, 0.75) * np.sin(turn) * (1 + rng.uniform(-0.25, 0.25) * np.cos(turn))
        return _rotated(x, y, rng)
    if kind == "lance":
        half = length_mm / 2
        t = np.cos(turn)
        y = half * rng.uniform(0.25, 0.4) * np.sign(np.sin(turn)) * np.abs(np.sin(turn)) ** 1.4
        return _rotated(half * t, y, rng)
    lobes = int(rng.integers(3, 6)) if kind == "lobed" else int(rng.integers(5, 8))
    depth = rng.uniform(0.25, 0.5) if kind == "lobed" else rng.uniform(0.5, 0.68)
    if kind == "toothed":
        depth = rng.uniform(0.1, 0.2)
    spread = np.linspace(-2.2, 2.2, lobes) + rng.normal(0, 0.04, lobes)
    reach = 1 - 0.16 * np.abs(spread) ** 1.2 + rng.normal(0, 0.03, lobes)
    width = 2.2 / (lobes - 1) * rng.uniform(0.82, 1.0, lobes) * 0.95
    angle = (turn + np.pi) % (2 * np.pi) - np.pi
    bumps = [
        r * np.exp(-((np.abs(angle - s) / w) ** rng.uniform(2.0, 3.2)))
        for s, r, w in zip(spread, reach, width, strict=True)
    ]
    radius = (1 - depth) * (0.82 + 0.18 * np.cos(angle)) + depth * np.max(bumps, axis=0)
    notch = np.exp(-(((np.abs(angle) - np.pi) / 0.3) ** 2))
    radius *= 1 - rng.uniform(0.3, 0.7) * notch
    if kind == "toothed":
        count = int(rng.integers(20, 40))
        radius *= 1 + 0.025 * (1 - 2 * ((turn * count / (2 * np.pi)) % 1))
    radius = ndimage.gaussian_filter1d(radius, 6 if kind != "toothed" else 1, mode="wrap")
    radius *= 0.55 * length_mm
    return _rotated(radius * np.cos(angle), radius * np.sin(angle), rng)


def _rotated(x, y, rng):
    a = rng.uniform(0, 2 * np.pi)
    x, y = np.cos(a) * x - np.sin(a) * y, np.sin(a) * x + np.cos(a) * y
    return np.stack([x, y], axis=1)


def draw_leaf(kind, length_mm, rgb, harm, rng, *, px_per_mm=6.0, shine=0.0, veins=0.8, texture=0.15):
    """One leaf; `rgb` is its healthy colour under white light, on a scale where paper has 255."""
    margin = outline(kind, length_mm, rng)
    low, high = margin.min(axis=0) - 2, margin.max(axis=0) + 2
    size = np.ceil((high - low) * px_per_mm).astype(int)
    shape = (int(size[1]), int(size[0]))
    whole = _polygon(margin - low, shape, px_per_mm)
    base = -low * px_per_mm
    healthy = np.array(rgb, float)
    colour = healthy * (1 + texture * 2 * (noise(shape, 5 * px_per_mm, rng) - 0.5)[..., None])
    colour *= (1 + 0.5 * texture * 2 * (noise(shape, 0.6 * px_per_mm, rng) - 0.5))[..., None]
    colour = _veined(colour, margin - low, base, px_per_mm, veins, healthy, rng)
    dead, gone = np.zeros(shape, bool), np.zeros(shape, bool)
    if harm.yellow:
        colour, dead = _yellowed(colour, whole, dead, harm.yellow, px_per_mm, rng)
    if harm.edge:
        colour, dead = _burnt_edge(colour, whole, dead, harm, px_per_mm, rng)
    if harm.spots:
        colour, dead = _spotted(colour, whole, dead, harm, px_per_mm, rng)
    gone = _eaten(whole, harm, margin - low, px_per_mm, rng)
    if shine:
        gloss = np.clip((noise(shape, 12 * px_per_mm, rng) - 0.62) * 4, 0, 1)[..., None] * shine
        colour = colour + (235 - colour) * gloss
    cover = whole * (1 - gone)
    lost = np.maximum(dead, gone > 0.5) & (whole > 0.5)
    area = whole.sum() / px_per_mm**2 / 100
    return Leaf(colour, cover, area, 100 * lost.sum() / (whole > 0.5).sum(), tuple(rgb), px_per_mm)


def _polygon(points_mm, shape, px_per_mm):
    """How much of each pixel lies within a polygon."""
    big = Image.new("L", (shape[1] * FINE, shape[0] * FINE))
    ImageDraw.Draw(big).polygon([tuple(p) for p in points_mm * px_per_mm * FINE], fill=255)
    return np.asarray(big.resize((shape[1], shape[0]), Image.Resampling.BOX), np.float32) / 255


def _veined(colour, margin, base, px_per_mm, strength, healthy, rng):
    image = Image.new("L", (colour.shape[1], colour.shape[0]))
    draw = ImageDraw.Draw(image)
    distance = np.hypot(*(margin * px_per_mm - base).T)
    tips = [i for i in range(len(distance)) if distance[i] == distance.take(range(i - 90, i + 90), mode="wrap").max()]
    for tip in tips[:9]:
        end = base + 0.92 * (margin[tip] * px_per_mm - base)
        draw.line([tuple(base), tuple(end)], fill=255, width=max(1, round(rng.uniform(0.5, 1.3) * px_per_mm)))
        for share in np.linspace(0.2, 0.85, 6):
            start = base + share * (end - base)
            aside = np.array([-(end - base)[1], (end - base)[0]]) * 0.18
            for side in (-1, 1):
                draw.line([tuple(start), tuple(start + side * aside + 0.12 * (end - base))], fill=170,
                          width=max(1, round(0.35 * px_per_mm)))  # fmt: skip
    share = ndimage.gaussian_filter(np.asarray(image, np.float32) / 255, 0.15 * px_per_mm)[..., None] * strength
    pale = healthy + (np.array((205, 215, 150)) - healthy) * 0.55
    return colour + (pale - colour) * share


def _pick(colours, rng):
    return np.array(colours[int(rng.integers(len(colours)))], float)


def _yellowed(colour, whole, dead, level, px_per_mm, rng):
    """Yellow patches with soft borders; counted where more than half of the way to yellow."""
    field_ = noise(whole.shape, 22 * px_per_mm, rng) + 0.25 * noise(whole.shape, 5 * px_per_mm, rng)
    cut = np.quantile(field_[whole > 0.5], 1 - level)
    share = np.clip((field_ - cut) * rng.uniform(5, 14) + 0.5, 0, 1)
    return colour + (_pick(YELLOWS, rng) - colour) * share[..., None], dead | (share > 0.5)


def _burnt_edge(colour, whole, dead, harm, px_per_mm, rng):
    """Dead tissue from the margin inwards."""
    depth = ndimage.distance_transform_edt(whole > 0.5) / px_per_mm
    field_ = (
        depth - 14 * (noise(whole.shape, 15 * px_per_mm, rng) - 0.5) - 3 * (noise(whole.shape, 2.5 * px_per_mm, rng))
    )
    cut = np.quantile(field_[whole > 0.5], harm.edge)
    share = np.clip((cut - field_) * 2 + 0.5, 0, 1)
    tone = _pick(harm.colours, rng) * (0.85 + 0.3 * noise(whole.shape, 2 * px_per_mm, rng))[..., None]
    return colour + (tone - colour) * share[..., None], dead | (share > 0.5)


def _spotted(colour, whole, dead, harm, px_per_mm, rng):
    mask = np.zeros(whole.shape, np.float32)
    inside = np.argwhere(whole > 0.5)
    ragged = noise(whole.shape, 1.2 * px_per_mm, rng)
    tone = _pick(harm.colours, rng)
    rows, columns = np.indices(whole.shape)
    for _ in range(400):
        y, x = inside[rng.integers(len(inside))]
        r = rng.gamma(3.0, 0.8) * px_per_mm + 0.7 * px_per_mm
        box = np.s_[max(0, int(y - 2 * r)) : int(y + 2 * r), max(0, int(x - 2 * r)) : int(x + 2 * r)]
        away = np.hypot(rows[box] - y, columns[box] - x) / r * (0.8 + 0.4 * ragged[box])
        mask[box] = np.maximum(mask[box], np.clip((1 - away) * r * 0.7 + 0.5, 0, 1))
        if (mask[whole > 0.5] > 0.5).mean() > harm.spots:
            break
    return colour + (tone - colour) * mask[..., None], dead | (mask > 0.5)


def _eaten(whole, harm, margin, px_per_mm, rng):
    """Where tissue is gone: round bites from the margin, ragged holes within."""
    gone = np.zeros(whole.shape, np.float32)
    rows, columns = np.indices(whole.shape)
    inner = np.argwhere(ndimage.distance_transform_edt(whole > 0.5) > 4 * px_per_mm)
    for _ in range(60):
        if not harm.holes or not len(inner) or (gone[whole > 0.5] > 0.5).mean() > harm.holes:
            break
        y, x = inner[rng.integers(len(inner))]
        r = rng.uniform(1.5, 5.0) * px_per_mm
        away = np.hypot(rows - y, (columns - x) * rng.uniform(0.7, 1.3)) / r
        gone = np.maximum(gone, np.clip((1 - away) * r + 0.5, 0, 1))
    for _ in range(harm.bites):
        x, y = margin[rng.integers(len(margin))] * px_per_mm
        r = rng.uniform(3, 7) * px_per_mm
        gone = np.maximum(gone, np.clip(r - np.hypot(rows - y, columns - x) + 0.5, 0, 1))
    return gone
