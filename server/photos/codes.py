"""Finds square codes in a picture and says where they lie to a small part of a pixel, and how sharp they are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, cast

import numpy as np
import zxingcpp
from numpy.typing import NDArray
from PIL import Image, ImageFilter
from scipy import ndimage

from server.photos.plane import apply, fit_homography

Floats = NDArray[np.floating[Any]]

# Modules around the code that are known to be white and are compared as well; its white border has four.
BORDER = 1
STEPS_MAX = 12
# A step that moves no corner by more than this, in modules, is the last.
SETTLED_MODULES = 0.004
# A code's modules are read and laid over the picture so often, until they stay the same.
TURNS_MAX = 4
# Widths of blur that are tried, as standard deviations in modules.
BLURS_MODULES = (0.08, 0.15, 0.22, 0.3, 0.4, 0.5, 0.62, 0.78, 1.0)
BLUR_FIRST = 3
# Pictures up to this size are enlarged to look again; radius in px, percent and threshold of the sharpening.
ENLARGED_PX_MAX = 5_000_000
SHARPENING = (4, 200, 0)


@dataclass(frozen=True, slots=True)
class Code:
    """A code as it was read: `corners` (4, 2) of its ink in px, clockwise from its own top left.

    `blur_modules` is the standard deviation of the blur; `misfit` what is left unexplained, as a share of the contrast;
    `white` and `black` are grey levels.
    """

    text: str
    modules: int
    corners: Floats
    blur_modules: float
    misfit: float
    white: float
    black: float

    @property
    def module_px(self) -> float:
        """A module's side in px: the mean over the code's four sides."""
        sides = np.hypot(*(self.corners - np.roll(self.corners, 1, axis=0)).T)
        return float(sides.mean()) / self.modules


def find_codes(grey: NDArray[np.uint8], thorough: bool = False) -> list[tuple[str, int, Floats]]:
    """Text, modules a side and rough corners of each readable code; `thorough` takes three times as long."""
    formats = cast(zxingcpp.BarcodeFormats, zxingcpp.BarcodeFormat.QRCode)
    found = zxingcpp.read_barcodes(
        grey,
        formats=formats,
        try_rotate=thorough,
        try_downscale=thorough,
        try_invert=False,
    )
    codes = []
    for each in found:
        at, extra = each.position, cast(dict[str, str], each.extra)
        corners = [(p.x, p.y) for p in (at.top_left, at.top_right, at.bottom_right, at.bottom_left)]
        codes.append((each.text, 17 + 4 * int(extra.get("Version", 1)), np.array(corners, float)))
    return codes


def find_blurred_codes(grey: NDArray[np.uint8]) -> list[tuple[str, int, Floats]]:
    """As `find_codes`, in the picture enlarged twice and sharpened: reads codes that are a little blurred or far."""
    if grey.size > ENLARGED_PX_MAX:
        return []
    size = (2 * grey.shape[1], 2 * grey.shape[0])
    large = Image.fromarray(grey).resize(size, Image.Resampling.BICUBIC)
    found = find_codes(np.asarray(large.filter(ImageFilter.UnsharpMask(*SHARPENING))))
    return [(text, modules, corners / 2) for text, modules, corners in found]


def register(
    grey: NDArray[np.uint8], text: str, modules: int, rough: Floats, samples: int, known: Floats | None = None
) -> Code:
    """Lay a code's own pattern over the picture by least squares, over all of its edges (Gauss-Newton).

    `samples` are compared along a module's side: the more, the finer and slower. `known` is the pattern, 1 for white,
    where it is known; else it is read from the picture.
    """
    grid = (np.arange((modules + 2 * BORDER) * samples) + 0.5) / samples - BORDER
    points = np.stack(np.meshgrid(grid, grid), axis=-1)
    square = np.array([(0, 0), (modules, 0), (modules, modules), (0, modules)], float)
    low = np.floor(rough.min(axis=0) - 8).astype(int).clip(0)
    high = np.ceil(rough.max(axis=0) + 8).astype(int)
    patch = grey[low[1] : high[1], low[0] : high[0]].astype(np.float32)
    h = fit_homography(square, rough - low)
    blur = BLURS_MODULES[BLUR_FIRST]
    if known is None:
        fixed, where = _fixed_parts(modules)
        h = _settle(patch, h, points, _blurred(_enlarged(fixed, samples), blur * samples), _enlarged(where, samples))
    bits = known if known is not None else _read(patch, h, modules)
    for _ in range(TURNS_MAX):
        pattern = _enlarged(bits, samples)
        h = _settle(patch, h, points, _blurred(pattern, blur * samples))
        last, (blur, misfit, white, black) = blur, _sharpness(_sample(patch, apply(h, points)), pattern, points, blur)
        before, bits = bits, known if known is not None else _read(patch, h, modules)
        if abs(BLURS_MODULES.index(blur) - BLURS_MODULES.index(last)) <= 1 and (before == bits).all():
            break
    return Code(text, modules, apply(h, square) + low, blur, misfit, white, black)


def _settle(patch: Floats, h: Floats, points: Floats, pattern: Floats, where: Floats | None = None) -> Floats:
    """Move h until the pattern lies on the picture; the pattern is what moves, so that its slopes are found once."""
    rows, columns = np.gradient(pattern, float(points[0, 1, 0] - points[0, 0, 0]))
    x, y, gx, gy = points[..., 0].ravel(), points[..., 1].ravel(), columns.ravel(), rows.ravel()
    # Lengths in halves of the code's side, so that all unknowns have one size.
    unit = float(x.max()) / 2
    x, y, gx, gy = x / unit, y / unit, gx * unit, gy * unit
    along = gx * x + gy * y
    # Light is fitted together with the form, so that a gradient of light doesn't move the code.
    slopes = np.stack([gx * x, gx * y, gx, gy * x, gy * y, gy, -along * x, -along * y], axis=1)
    columns = np.concatenate([_shades(x, y, pattern.ravel()), slopes], axis=1)
    model = _Normal(columns if where is None else columns * where.ravel()[:, None])
    scale = np.diag([1 / unit, 1 / unit, 1.0])
    for _ in range(STEPS_MAX):
        seen = _sample(patch, apply(h, points)).ravel()
        fit = model.solve(seen if where is None else seen * where.ravel())
        a = fit[6:] / max(float(fit[3]), 1.0)
        change = np.array([[1 + a[0], a[1], a[2]], [a[3], 1 + a[4], a[5]], [a[6], a[7], 1.0]])
        h = h @ np.linalg.inv(scale) @ np.linalg.inv(change) @ scale
        h = h / h[2, 2]
        if np.abs(a).max() * unit < SETTLED_MODULES:
            break
    return h


class _Normal:
    """Least squares by the normal equations: the unknowns are few and well scaled, and the same for many pictures."""

    def __init__(self, columns: Floats) -> None:
        self.columns = columns
        # Not a matrix product: its threads would wait for each other on a small machine.
        gram = np.einsum("ij,ik->jk", columns, columns)
        self.inverse = np.linalg.inv(gram + 1e-9 * np.trace(gram) * np.eye(len(gram)))

    def solve(self, values: Floats) -> Floats:
        """The coefficients that come nearest to the values."""
        return np.asarray(self.inverse @ np.einsum("ij,i->j", self.columns, values))


def _shades(x: Floats, y: Floats, pattern: Floats) -> Floats:
    """Black and white levels that change evenly along the code."""
    return np.stack([np.ones_like(x), x, y, pattern, pattern * x, pattern * y], axis=1)


def _read(patch: Floats, h: Floats, modules: int) -> Floats:
    """The code's modules as read at their middles, 1 for white."""
    middles = np.arange(modules) + 0.5
    offsets = np.array([(-0.2, -0.2), (0.2, -0.2), (0.0, 0.0), (-0.2, 0.2), (0.2, 0.2)])
    points = np.stack(np.meshgrid(middles, middles), axis=-1)
    levels = np.mean([_sample(patch, apply(h, points + each)) for each in offsets], axis=0)
    # Half-way between the code's own blacks and whites nearby: light may fall off along it.
    low = ndimage.minimum_filter(levels, 7)
    high = ndimage.maximum_filter(levels, 7)
    return np.asarray(levels > (low + high) / 2, np.float32)


def _fixed_parts(modules: int) -> tuple[Floats, Floats]:
    """What every code of a size has alike (ISO/IEC 18004): 1 for white, and where that is known.

    The three squares with their white edge, the dotted lines between them, and the small square from version 2 to 6.
    """
    bits, known = np.ones((modules, modules), np.float32), np.zeros((modules, modules), np.float32)
    dots = np.arange(modules) % 2
    bits[6], bits[:, 6], known[6], known[:, 6] = dots, dots, 1, 1
    ring = np.maximum(*np.abs(np.indices((9, 9)) - 4))
    square = np.where((ring == 4) | (ring == 2), 1.0, 0.0)
    padded, padded_known = np.pad(bits, 1, constant_values=1.0), np.pad(known, 1)
    for at in (np.s_[:9, :9], np.s_[:9, -9:], np.s_[-9:, :9]):
        padded[at], padded_known[at] = square, 1
    bits, known = padded[1:-1, 1:-1], padded_known[1:-1, 1:-1]
    if 25 <= modules <= 41:
        small = np.maximum(*np.abs(np.indices((5, 5)) - 2))
        bits[-9:-4, -9:-4], known[-9:-4, -9:-4] = np.where(small == 1, 1.0, 0.0), 1
    return bits, known


def _enlarged(bits: Floats, samples: int) -> Floats:
    """The modules with their border, at `samples` a module."""
    padded = np.pad(bits, BORDER, constant_values=1.0)
    return np.asarray(np.kron(padded, np.ones((samples, samples), np.float32)))


def _blurred(pattern: Floats, blur_samples: float) -> Floats:
    return np.asarray(ndimage.gaussian_filter(pattern, blur_samples, mode="nearest", truncate=3.0))


def _sample(patch: Floats, points: Floats) -> Floats:
    """Grey levels at points (x, y); the middle of the first pixel lies at (0.5, 0.5)."""
    at = (points[..., 1] - 0.5, points[..., 0] - 0.5)
    return np.asarray(ndimage.map_coordinates(patch, at, order=1, mode="nearest"))


def _sharpness(seen: Floats, pattern: Floats, points: Floats, blur: float) -> tuple[float, float, float, float]:
    """The blur that explains a picture best, sought downhill from `blur`, with what `_photometric` says of it."""
    per_module = 1 / float(points[0, 1, 0] - points[0, 0, 0])
    tried: dict[int, tuple[float, float, float]] = {}
    at = BLURS_MODULES.index(blur)
    while True:
        near = [n for n in (at - 1, at, at + 1) if 0 <= n < len(BLURS_MODULES)]
        for n in near:
            if n not in tried:
                tried[n] = _photometric(seen, _blurred(pattern, BLURS_MODULES[n] * per_module), points)
        best = min(near, key=lambda n: tried[n][0])
        if best == at:
            return BLURS_MODULES[at], *tried[at]
        at = best


def _photometric(seen: Floats, pattern: Floats, points: Floats) -> tuple[float, float, float]:
    """Unexplained rest over contrast, and the grey levels of white and black at the code's middle."""
    unit = float(points.max()) / 2
    x, y = points[..., 0].ravel() / unit - 1, points[..., 1].ravel() / unit - 1
    shades = _shades(x, y, pattern.ravel())
    fit = _Normal(shades).solve(seen.ravel())
    rest = float(np.sqrt(np.mean((seen.ravel() - np.einsum("ij,j->i", shades, fit)) ** 2)))
    return rest / max(float(fit[3]), 1.0), float(fit[0] + fit[3]), float(fit[0])
