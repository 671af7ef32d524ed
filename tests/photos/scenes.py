"""Photographs drawn scenes: leaves on the printed card, or beside a tag, under a tilted camera and odd light."""

from dataclasses import dataclass, replace
from functools import cache
from io import BytesIO

import numpy as np
import pypdfium2
from PIL import Image
from scipy import ndimage

from labels.card import CARDS, card_pdf
from labels.codes import QUIET_MODULES, make_code
from tests.photos.drawn_leaves import Leaf, noise

PX_PER_MM = 6.0
GROUNDS = {
    "wood": ((176, 132, 88), 0.16), "oak": ((205, 176, 130), 0.1), "slate": ((92, 96, 102), 0.2),
    "stone": ((168, 164, 156), 0.12), "soil": ((84, 64, 48), 0.35), "white": ((232, 232, 228), 0.03),
    "concrete": ((150, 150, 146), 0.15), "blue": ((70, 96, 150), 0.08), "black": ((40, 40, 42), 0.15),
    "terracotta": ((178, 98, 66), 0.12), "green": ((84, 128, 60), 0.2),
}  # fmt: skip


@dataclass(frozen=True)
class Shot:
    """How a scene is photographed."""

    width_px: int = 2000
    height_px: int = 1500
    tilt_degrees: float = 10.0
    toward_degrees: float = 0.0
    turn_degrees: float = 5.0
    focal: float = 0.8  # focal length over the picture's longer side; 26 mm equivalent is 0.75
    fill: float = 0.86  # share of the picture that the scene takes
    shift: tuple[float, float] = (0.0, 0.0)
    gradient: float = 0.2
    gradient_degrees: float = 40.0
    cast: tuple[float, float, float] = (1.0, 1.0, 1.0)
    exposure: float = 0.92
    shadow: float = 0.35  # depth of the leaf's own shadow
    wide_shadow: float = 0.0  # depth of a hand's shadow across the scene
    blur_px: float = 0.7
    grain: float = 2.5
    quality: int = 88


@dataclass
class Scene:
    """A flat scene: colours (h, w, 3) at PX_PER_MM, on a scale where paper in white light has 255."""

    picture: np.ndarray
    look_at_mm: tuple[float, float]
    extent_mm: tuple[float, float]


@cache
def card_picture(paper):
    """The card as printed, at PX_PER_MM."""
    with pypdfium2.PdfDocument(card_pdf(paper)) as document:
        page = document[0].render(scale=PX_PER_MM * 25.4 / 72).to_pil().convert("RGB")
    width, height = (round(mm * PX_PER_MM) for mm in CARDS[paper].page_mm)
    picture = np.asarray(page.resize((width, height)), np.float32)
    return 22 + picture * (233 / 255)


def ground(kind, shape, rng):
    """A table, stone or soil; drawn at a third of the size, with fine grain laid over it."""
    rgb, rough = GROUNDS[kind]
    small, scale = (shape[0] // 3, shape[1] // 3), PX_PER_MM / 3
    grain = noise(small, 30 * scale, rng) + 0.6 * noise(small, 1.5 * scale, rng)
    if kind in ("wood", "oak"):
        grain = grain * 0.6 + 1.6 * noise((small[0], 4), 2.5 * scale, rng).mean(axis=1)[:, None]
    tint = (noise(small, 40 * scale, rng) - 0.5)[..., None] * np.array((0.05, 0.0, -0.06))
    shade = 1 + rough * ((grain - grain.mean()) / 0.6)[..., None] + tint
    picture = Image.fromarray(np.clip(np.array(rgb) * shade, 4, 250).astype(np.uint8))
    large = np.asarray(picture.resize((shape[1], shape[0]), Image.Resampling.BILINEAR), np.float32)
    tile = rng.normal(0, 12 * rough, (256, 256)).astype(np.float32)
    repeats = (shape[0] // 256 + 1, shape[1] // 256 + 1)
    return large + np.tile(tile, repeats)[: shape[0], : shape[1], None]


def card_scene(leaves, places_mm, rng, paper="a4", table="wood", shadow=0.35):
    """Leaves on the card on a table; places are of the leaves' middles, in mm on the card."""
    card = card_picture(paper)
    edge = round(40 * PX_PER_MM)
    picture = ground(table, (card.shape[0] + 2 * edge, card.shape[1] + 2 * edge), rng)
    picture[edge:-edge, edge:-edge] = card
    for leaf, (x, y) in zip(leaves, places_mm, strict=True):
        lay(picture, leaf, (x + 40, y + 40), shadow)
    page = CARDS[paper].page_mm
    return Scene(picture, (40 + page[0] / 2, 40 + page[1] / 2), page)


def tag_scene(
    leaves, places_mm, rng, *, table="wood", size_mm=(270, 240), tag_mm=(15, 90), code="K7M2P3", shadow=0.35,
    tag_size_mm=(63, 38), code_mm=20.0,
):  # fmt: skip
    """Leaves and a tag on a ground; the tag's top left corner and the leaves' middles in mm."""
    margin = 100
    shape = tuple(round((mm + 2 * margin) * PX_PER_MM) for mm in size_mm[::-1])
    picture = ground(table, shape, rng)
    left, top = (round((mm + margin) * PX_PER_MM) for mm in tag_mm)
    tag = tag_picture(code, tag_size_mm, code_mm)
    picture[top : top + tag.shape[0], left : left + tag.shape[1]] = tag
    for leaf, (x, y) in zip(leaves, places_mm, strict=True):
        lay(picture, leaf, (x + margin, y + margin), shadow)
    return Scene(picture, (margin + size_mm[0] / 2, margin + size_mm[1] / 2), size_mm)


def tag_picture(text, size_mm, code_mm):
    """A white label with its code on the left."""
    code = make_code(text)
    module = code_mm / code.modules
    rows, columns = (round(mm * PX_PER_MM) for mm in size_mm[::-1])
    fine = 12
    y, x = ((np.arange(n * fine) + 0.5) / fine / PX_PER_MM for n in (rows, columns))
    left, top = QUIET_MODULES * module + 1.5, (size_mm[1] - code_mm) / 2
    row, column = np.floor((y - top) / module).astype(int), np.floor((x - left) / module).astype(int)
    inside = ((row >= 0) & (row < code.modules))[:, None] & ((column >= 0) & (column < code.modules))[None]
    dark = np.array(code.rows)[np.clip(row, 0, code.modules - 1)[:, None], np.clip(column, 0, code.modules - 1)[None]]
    fine_picture = np.where(inside & dark, 25.0, 250.0)
    # Lines of type at the right, as dashes.
    type_x = left + code_mm + QUIET_MODULES * module + 2
    for line in (8, 16, 24):
        band = (np.abs(y - line) < 1.0)[:, None] & ((x > type_x) & (x < size_mm[0] - 3) & (np.floor(x / 1.3) % 2 == 0))[
            None
        ]
        fine_picture[band] = 40
    grey = fine_picture.reshape(rows, fine, columns, fine).mean(axis=(1, 3)).astype(np.float32)
    return np.repeat(grey[..., None], 3, axis=2)


def lay(picture, leaf: Leaf, middle_mm, shadow):
    """Put a leaf into a scene with a soft shadow beside it."""
    assert leaf.px_per_mm == PX_PER_MM
    height, width = leaf.cover.shape
    top, left = round(middle_mm[1] * PX_PER_MM - height / 2), round(middle_mm[0] * PX_PER_MM - width / 2)
    pad = 6 * int(PX_PER_MM)
    dark = ndimage.gaussian_filter(np.pad(leaf.cover, pad), 1.5 * PX_PER_MM)
    dark = ndimage.shift(dark, (2.0 * PX_PER_MM, 1.4 * PX_PER_MM), order=1)
    wide = np.s_[top - pad : top + height + pad, left - pad : left + width + pad]
    picture[wide] *= (1 - shadow * dark)[..., None]
    at = np.s_[top : top + height, left : left + width]
    picture[at] += (leaf.colour - picture[at]) * leaf.cover[..., None]


def homography(scene: Scene, shot: Shot):
    """3 x 3 matrix from the scene in mm to the picture in pixels, of a pinhole camera that looks at its middle."""
    tilt, toward, turn = np.radians([shot.tilt_degrees, shot.toward_degrees, shot.turn_degrees])
    focal_px = shot.focal * max(shot.width_px, shot.height_px)
    axis = np.array([np.cos(toward), np.sin(toward), 0.0])
    k = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    lean = np.eye(3) + np.sin(tilt) * k + (1 - np.cos(tilt)) * k @ k
    roll = np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]])
    rotation = roll @ lean
    half = np.array(scene.extent_mm) / 2
    corners = np.array([(sx * half[0], sy * half[1], 0) for sx in (-1, 1) for sy in (-1, 1)]) @ rotation.T
    middle = np.array([shot.width_px * (0.5 + shot.shift[0]), shot.height_px * (0.5 + shot.shift[1])])
    distance = 100.0
    for _ in range(60):
        seen = focal_px * corners[:, :2] / (corners[:, 2:] + distance)
        over = (np.abs(seen) / (np.array([shot.width_px, shot.height_px]) / 2)).max() / shot.fill
        if corners[:, 2].min() + distance < 30 or over > 1:
            distance *= max(1.02, min(over, 1.3))
        elif over > 0.995:
            break
        else:
            distance *= 0.995
    camera = np.array([[focal_px, 0, middle[0]], [0, focal_px, middle[1]], [0, 0, 1.0]])
    x, y = scene.look_at_mm
    place = np.array([[1, 0, -x], [0, 1, -y], [0, 0, 1.0]])
    return camera @ np.column_stack([rotation[:, 0], rotation[:, 1], [0, 0, distance]]) @ place


def photograph(scene: Scene, shot: Shot, rng) -> bytes:
    """JPEG bytes of a scene."""
    to_px = homography(scene, shot)
    grid = np.diag([PX_PER_MM, PX_PER_MM, 1]) @ np.linalg.inv(to_px)
    grid /= grid[2, 2]
    source = Image.fromarray(np.clip(scene.picture, 0, 255).astype(np.uint8))
    over = 2 if shot.width_px <= 1100 else 1
    size = (shot.width_px * over, shot.height_px * over)
    scaled = grid @ np.diag([1 / over, 1 / over, 1])
    scaled /= scaled[2, 2]
    seen = source.transform(
        size,
        Image.Transform.PERSPECTIVE,
        scaled.ravel()[:8].tolist(),
        Image.Resampling.BILINEAR,
        fillcolor=tuple(int(c) for c in scene.picture[:60].mean(axis=(0, 1))),
    )
    pixels = np.asarray(seen.reduce(over) if over > 1 else seen, np.float32)
    pixels = pixels * _light(shot, rng)[..., None] * np.array(shot.cast, np.float32) * shot.exposure
    if shot.blur_px:
        pixels = ndimage.gaussian_filter(pixels, (shot.blur_px, shot.blur_px, 0))
    pixels += shot.grain * rng.standard_normal(pixels.shape[:2], np.float32)[..., None]
    pixels += shot.grain / 2 * rng.standard_normal(pixels.shape, np.float32)
    out = BytesIO()
    Image.fromarray(np.clip(np.rint(pixels), 0, 255).astype(np.uint8)).save(out, "JPEG", quality=shot.quality)
    return out.getvalue()


def _light(shot, rng):
    shape = (shot.height_px, shot.width_px)
    down = np.linspace(-1, 1, shape[0], dtype=np.float32)[:, None]
    across = np.linspace(-1, 1, shape[1], dtype=np.float32)[None]
    a = np.radians(shot.gradient_degrees)
    light = 1 + shot.gradient / 2 * (across * np.cos(a) + down * np.sin(a)) - 0.06 * (across**2 + down**2)
    if shot.wide_shadow:
        edge = across * np.sin(a) + 0.6 * down * np.cos(a) - rng.uniform(-0.3, 0.3)
        light = light * (1 - shot.wide_shadow / (1 + np.exp(-edge * 18)))
    return light


def with_portrait(shot: Shot) -> Shot:
    """The same shot with the picture upright."""
    return replace(shot, width_px=shot.height_px, height_px=shot.width_px)
