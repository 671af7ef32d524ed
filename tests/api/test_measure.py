"""Measuring a photo that has arrived: its leaves, or why it can't be measured."""

from __future__ import annotations

import hashlib
import io

import numpy as np
import pytest
from PIL import Image

from tests.photos.drawn_leaves import Harm, draw_leaf
from tests.photos.scenes import Shot, photograph, tag_scene
from tests.support.server import Visitor


def sent(visitor: Visitor, photo: bytes) -> str:
    sha256 = hashlib.sha256(photo).hexdigest()
    assert visitor.call("PUT", f"/photos/{sha256}", data=photo).status_code == 201
    return sha256


def test_a_photo_with_a_tag_is_measured(helper: Visitor) -> None:
    rng = np.random.default_rng(8)
    leaf = draw_leaf("oval", 110, (60, 115, 45), Harm(), rng)
    photo = photograph(tag_scene([leaf], [(190, 120)], rng), Shot(width_px=1400, height_px=1050), rng)
    answer = helper.call("GET", f"/photos/{sent(helper, photo)}/measure")
    assert answer.status_code == 200
    (found,) = answer.json["leaves"]
    assert answer.json["reference"] == "tag"
    assert found["area_cm2"] == pytest.approx(leaf.outline_cm2, rel=0.05)
    assert found["damage_percent"] < 2


def test_a_photo_without_a_code_is_refused_with_what_to_do(helper: Visitor) -> None:
    out = io.BytesIO()
    Image.new("RGB", (640, 480), (120, 140, 90)).save(out, "JPEG")
    answer = helper.call("GET", f"/photos/{sent(helper, out.getvalue())}/measure")
    assert (answer.status_code, answer.mimetype) == (422, "application/problem+json")
    assert "Lay a tag or the printed card" in answer.json["detail"]


def test_a_photo_that_is_not_here_is_not_measured(helper: Visitor) -> None:
    assert helper.call("GET", f"/photos/{'ab' * 32}/measure").status_code == 404
    assert helper.call("GET", "/photos/nothing/measure").status_code == 404
