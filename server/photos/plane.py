"""The flat ground of a photo: the projective map between its millimetres and the picture's pixels."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating[Any]]
REFINEMENTS = 2


def fit_homography(points_from: Floats, points_to: Floats) -> Floats:
    """The 3 x 3 map between two (n, 2) lists of at least four points: direct linear, then least squares in `points_to`.

    Hartley & Zisserman, Multiple View Geometry, 2nd ed., algorithms 4.2 (normalised) and 4.3.
    """
    shift_from, shift_to = _normalising(points_from), _normalising(points_to)
    a, b = apply(shift_from, points_from), apply(shift_to, points_to)
    rows = np.zeros((2 * len(a), 9))
    rows[0::2, 0:2], rows[0::2, 2], rows[0::2, 6:8], rows[0::2, 8] = a, 1, -a * b[:, :1], -b[:, 0]
    rows[1::2, 3:5], rows[1::2, 5], rows[1::2, 6:8], rows[1::2, 8] = a, 1, -a * b[:, 1:], -b[:, 1]
    h = np.linalg.svd(rows)[2][-1].reshape(3, 3)
    h /= h[2, 2]
    # Four points are met exactly already.
    for _ in range(REFINEMENTS if len(a) > 4 else 0):
        step = np.linalg.lstsq(_slopes(h, a), (b - apply(h, a)).ravel(), rcond=None)[0]
        h = h + np.append(step, 0.0).reshape(3, 3)
    result = np.linalg.inv(shift_to) @ h @ shift_from
    return np.asarray(result / result[2, 2])


def apply(h: Floats, points: Floats) -> Floats:
    """Points (..., 2) mapped by h."""
    w = points[..., 0] * h[2, 0] + points[..., 1] * h[2, 1] + h[2, 2]
    x = points[..., 0] * h[0, 0] + points[..., 1] * h[0, 1] + h[0, 2]
    y = points[..., 0] * h[1, 0] + points[..., 1] * h[1, 1] + h[1, 2]
    return np.stack([x / w, y / w], axis=-1)


def stretches(h: Floats, point: Floats) -> tuple[float, float]:
    """The largest and the smallest local scale of h at a point: their ratio tells the tilt of the view."""
    x, y, w = h @ np.array([point[0], point[1], 1.0])
    jacobian = (h[:2, :2] - np.array([[x / w], [y / w]]) * h[2:, :2]) / w
    large, small = np.linalg.svd(jacobian, compute_uv=False)
    return float(large), float(small)


def _normalising(points: Floats) -> Floats:
    """The shift and scale that bring points about the origin, at a mean distance of the square root of two."""
    middle = points.mean(axis=0)
    scale = np.sqrt(2) / max(float(np.hypot(*(points - middle).T).mean()), 1e-12)
    return np.array([[scale, 0, -scale * middle[0]], [0, scale, -scale * middle[1]], [0, 0, 1.0]])


def _slopes(h: Floats, points: Floats) -> Floats:
    """How mapped points (x, y in turn) move with the first eight entries of h."""
    mapped = apply(h, points)
    w = points @ h[2, :2] + h[2, 2]
    rows = np.zeros((2 * len(points), 8))
    ones = np.column_stack([points, np.ones(len(points))]) / w[:, None]
    rows[0::2, 0:3], rows[0::2, 6:8] = ones, -ones[:, :2] * mapped[:, :1]
    rows[1::2, 3:6], rows[1::2, 6:8] = ones, -ones[:, :2] * mapped[:, 1:]
    return rows
