"""A phone's camera looking at a tag: the pixels of a module at a distance, and what blur and noise leave of it."""

from dataclasses import dataclass
from math import hypot, log, pi, sqrt

import numpy as np
import zxingcpp
from PIL import Image, ImageFilter

from labels.codes import QUIET_MODULES, Code

# The diagonal of the 36 x 24 mm frame that "equivalent" focal lengths refer to.
FRAME_DIAGONAL_MM = hypot(36, 24)
# A lens and sensor that keep half the contrast at 0.3 cycles a pixel (a usual figure for phones, from memory); for a
# Gaussian blur with transfer exp(-2 pi^2 s^2 f^2) that is s = 0.62 pixels.
BLUR_PX = sqrt(log(2) / 2) / (pi * 0.3)
NOISE_LEVELS = 5.0
# Ink and paper out of doors, in levels of 255 (from memory), on a mid-grey ground.
INK, PAPER, GROUND = 35, 205, 120
OVERSAMPLING = 6
MARGIN_PX = 24


@dataclass(frozen=True)
class Camera:
    """A camera with 4:3 sensor: the picture's width in pixels and the 35 mm equivalent focal length in mm."""

    name: str
    width_px: int
    equivalent_mm: float

    def px_per_mm(self, distance_mm: float) -> float:
        """Pixels that one mm gets at a distance; the diagonal of a 4:3 picture is 1.25 times its width."""
        focal_px = self.equivalent_mm / FRAME_DIAGONAL_MM * 1.25 * self.width_px
        return focal_px / distance_mm


def photograph(
    code: Code, code_mm: float, px_per_mm: float, turn_degrees: float, rng: np.random.Generator
) -> Image.Image:
    """The part of a picture around one code, turned and off the pixel grid, with blur and noise."""
    module_px = px_per_mm * code_mm / code.modules
    label = np.full((code.modules + 2 * QUIET_MODULES,) * 2, PAPER, np.uint8)
    label[QUIET_MODULES:-QUIET_MODULES, QUIET_MODULES:-QUIET_MODULES] = np.where(np.array(code.rows), INK, PAPER)
    side_px = int(np.ceil(module_px * len(label) * 1.3)) + 2 * MARGIN_PX
    fine = np.arange(side_px * OVERSAMPLING) / OVERSAMPLING - side_px / 2
    x, y = np.meshgrid(fine + rng.uniform(-0.5, 0.5), fine + rng.uniform(-0.5, 0.5))
    cos, sin = np.cos(np.radians(turn_degrees)), np.sin(np.radians(turn_degrees))
    column = np.floor((cos * x + sin * y) / module_px + len(label) / 2).astype(int)
    row = np.floor((cos * y - sin * x) / module_px + len(label) / 2).astype(int)
    inside = (column >= 0) & (column < len(label)) & (row >= 0) & (row < len(label))
    scene = np.full(x.shape, GROUND, np.uint8)
    scene[inside] = label[row[inside], column[inside]]
    blurred = Image.fromarray(scene).filter(ImageFilter.GaussianBlur(BLUR_PX * OVERSAMPLING))
    pixels = np.asarray(blurred, float).reshape(side_px, OVERSAMPLING, side_px, OVERSAMPLING).mean(axis=(1, 3))
    noisy = pixels + rng.normal(0, NOISE_LEVELS, pixels.shape)
    return Image.fromarray(np.clip(np.rint(noisy), 0, 255).astype(np.uint8))


def reach_mm(code: Code, code_mm: float, camera: Camera, step_mm: int = 100) -> int:
    """The farthest distance, in steps, from which and from three quarters and half of which 18 of 20 pictures are read.

    Sought from where a module has one pixel, too few for any decoder, inwards.
    """
    distance_mm = int(camera.px_per_mm(1.0) * code_mm / code.modules / step_mm) * step_mm
    while distance_mm > 0:
        if all(reads_well(code, code_mm, camera.px_per_mm(distance_mm * part)) for part in (1.0, 0.75, 0.5)):
            return distance_mm
        distance_mm -= step_mm
    return 0


def reads_well(code: Code, code_mm: float, px_per_mm: float) -> bool:
    """Whether at least 18 of 20 pictures are read."""
    return reads(code, code_mm, px_per_mm, misses_max=2) >= 18


def reads(code: Code, code_mm: float, px_per_mm: float, tries: int = 20, misses_max: int = 20, seed: int = 1) -> int:
    """In how many of `tries` pictures, each turned up to 15 degrees, the decoder reads exactly the code's text.

    Gives up after more than `misses_max` pictures that it cannot read.
    """
    rng = np.random.default_rng(seed)
    hits = misses = 0
    while hits + misses < tries and misses <= misses_max:
        picture = photograph(code, code_mm, px_per_mm, rng.uniform(-15, 15), rng)
        found = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.QRCode)
        read = [one.text for one in found] == [code.text]
        hits, misses = hits + read, misses + (not read)
    return hits
