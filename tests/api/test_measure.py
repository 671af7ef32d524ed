"""Measuring a photo that has arrived: its leaves, or why it can't be measured."""

from __future__ import annotations

import hashlib
import io
import threading
import time

import numpy as np
import pytest
from PIL import Image

from server.api.remembered import Remembered
from server.errors import Unavailable, Unmeasurable
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


def test_what_was_counted_can_be_looked_at_and_agrees_with_the_figures(helper: Visitor) -> None:
    rng = np.random.default_rng(11)
    leaves = [
        draw_leaf("oval", 95, (60, 115, 45), Harm(edge=0.15), rng),
        draw_leaf("oval", 75, (60, 115, 45), Harm(), rng),
    ]
    photo = photograph(tag_scene(leaves, [(150, 120), (260, 120)], rng), Shot(width_px=1600, height_px=1200), rng)
    address = f"/photos/{sent(helper, photo)}/measure"
    told = helper.call("GET", address).json
    size = (told["picture"]["width_px"], told["picture"]["height_px"])
    picture = Image.open(io.BytesIO(helper.call("GET", f"{address}/picture").data))
    drawn = Image.open(io.BytesIO(helper.call("GET", f"{address}/mask").data))
    assert (picture.format, picture.mode, picture.size) == ("JPEG", "RGB", size)
    assert (drawn.format, drawn.mode, drawn.size) == ("PNG", "L", size)
    mask = np.asarray(drawn)
    assert set(np.unique(mask)) <= {0, 1, 2, 101, 102}
    for number, leaf in enumerate(told["leaves"], 1):
        lost, whole = (mask == 100 + number).sum(), ((mask == number) | (mask == 100 + number)).sum()
        assert whole * told["picture"]["mm_per_px"] ** 2 / 100 == pytest.approx(leaf["area_cm2"], rel=0.03)
        assert 100 * lost / whole == pytest.approx(leaf["damage_percent"], abs=1)


def test_a_photo_is_measured_once_and_few_wait_meanwhile() -> None:
    remembered: Remembered[str, int] = Remembered(count_max=2, waiting_max=1)
    go_on, made, told = threading.Event(), [], []

    def slow() -> int:
        made.append(1)
        go_on.wait(10)
        return 7

    waiting = [threading.Thread(target=lambda: told.append(remembered.get("a", slow))) for _ in range(2)]
    for thread in waiting:
        thread.start()
    until = time.monotonic() + 10
    while remembered._rooms._value and time.monotonic() < until:  # both have come in
        time.sleep(0.01)
    with pytest.raises(Unavailable, match="ask again"):
        remembered.get("b", lambda: 1)
    go_on.set()
    for thread in waiting:
        thread.join(10)
    assert (told, made) == ([7, 7], [1])

    def refuse() -> int:
        made.append(1)
        raise Unmeasurable("blurred", "Hold still.")

    for _ in range(2):
        with pytest.raises(Unmeasurable, match="Hold still"):
            remembered.get("blurred", refuse)
    assert len(made) == 2
    assert remembered.get("c", lambda: 3) == 3
    assert remembered.get("a", lambda: 8) == 8, "the oldest was forgotten"


def test_a_photo_without_a_code_is_refused_with_what_to_do(helper: Visitor) -> None:
    out = io.BytesIO()
    Image.new("RGB", (640, 480), (120, 140, 90)).save(out, "JPEG")
    answer = helper.call("GET", f"/photos/{sent(helper, out.getvalue())}/measure")
    assert (answer.status_code, answer.mimetype) == (422, "application/problem+json")
    assert "Lay a tag or the printed card" in answer.json["detail"]


def test_a_photo_that_is_not_here_is_not_measured(helper: Visitor) -> None:
    assert helper.call("GET", f"/photos/{'ab' * 32}/measure").status_code == 404
    assert helper.call("GET", "/photos/nothing/measure").status_code == 404
