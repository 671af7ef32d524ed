"""Measuring a leaf from the phone: a code in view, what home counted, redrawing, taking the figures, drawn leaves."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import BrowserContext, Page, expect

from tests.photos.drawn_leaves import Harm, draw_leaf
from tests.photos.scenes import Shot, photograph, tag_scene
from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE, Walk, plant

# What a page reports when home cannot measure a photo.
REFUSED = (*AWAY, r"422 .*/measure")


@pytest.fixture
def walk(live_server: LiveServer, new_context: Callable[..., BrowserContext]) -> Walk:
    return Walk(new_context(REFUSED, **PHONE).new_page(), plant(live_server, 1)).pair()


@pytest.fixture(scope="module")
def leaf_photo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A leaf with a scorched edge beside a tag."""
    rng = np.random.default_rng(5)
    leaf = draw_leaf("oval", 110, (60, 115, 45), Harm(edge=0.15), rng)
    path = tmp_path_factory.mktemp("photos") / "leaf.jpg"
    path.write_bytes(photograph(tag_scene([leaf], [(190, 120)], rng), Shot(width_px=1600, height_px=1200), rng))
    return path


def photographed(walk: Walk, photo: Path | bytes, said: str) -> None:
    """Take a photo in a visit, read what is said of it at once, save, sync, and open the photo's screen."""
    page = walk.page
    walk.open_tree(0)
    files = photo if isinstance(photo, Path) else {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": photo}
    page.locator("#take-photo").set_input_files(files)
    expect(page.get_by_text(said)).to_be_visible()
    page.locator("#count-leaves_fallen").fill("2")
    walk.save()
    walk.sync()
    expect(page.locator("#pocket-line")).to_contain_text("All home")
    ids = page.evaluate(
        "new Promise((resolve, reject) => { const open = indexedDB.open('leafwalk'); open.onerror = reject;"
        " open.onsuccess = () => { const all = open.result.transaction('photo').objectStore('photo').getAllKeys();"
        " all.onsuccess = () => resolve(all.result); }; })"
    )
    walk.go(f"photo/{ids[0]}")


def test_a_leaf_is_measured_redrawn_with_a_finger_and_taken_into_its_visit(walk: Walk, leaf_photo: Path) -> None:
    page, tag = walk.page, walk.orchard.trees[0][0]
    photographed(walk, leaf_photo, "A code is in view")
    page.locator("#measure-leaf").click()
    expect(page.get_by_text("By the tag beside it")).to_be_visible(timeout=20_000)
    area, damage = (float(page.locator(f"#leaf-{name}").input_value()) for name in ("area", "damage"))
    assert (area > 20, 5 < damage < 30) == (True, True)

    page.get_by_text("Damage", exact=True).click()
    canvas = page.locator("#leaf-mask")
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] * 0.5, box["y"] + box["height"] * 0.4)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.5, box["y"] + box["height"] * 0.6, steps=8)
    page.mouse.up()
    expect(page.locator("#stroke-back")).to_be_visible()
    redrawn = float(page.locator("#leaf-damage").input_value())
    assert redrawn > damage + 1
    page.locator("#stroke-back").click()
    expect(page.locator("#leaf-damage")).to_have_value(f"{damage:g}")

    page.locator("#leaf-area").fill("nothing")
    page.locator("#take-figures").click()
    expect(page.locator("#leaf-area-wrong")).to_contain_text("number between")
    page.locator("#leaf-area").fill(f"{area:g}")
    page.locator("#take-figures").click()
    expect(page.locator("#slip")).to_contain_text("has these figures now")
    walk.sync()
    (visit,) = [one for one in walk.orchard.visits(tag) if one.get("leaves_fallen") == 2]
    assert (visit["damage_percent"], visit["leaf_cm2"]) == (damage, area)


def test_a_photo_without_a_code_says_so_at_once_and_home_says_what_to_do(walk: Walk) -> None:
    out = io.BytesIO()
    Image.new("RGB", (640, 480), (120, 140, 90)).save(out, "JPEG")
    photographed(walk, out.getvalue(), "No code in view")
    walk.page.locator("#measure-leaf").click()
    expect(walk.page.get_by_text("Lay a tag or the printed card")).to_be_visible()
    expect(walk.page.locator("#measure-leaf")).to_have_text("Ask home again")


def test_a_drawn_leaf_is_chosen_for_its_share(walk: Walk) -> None:
    page = walk.page
    walk.open_tree(0)
    page.locator("#drawn-leaves summary").click()
    page.get_by_label("spots").check(force=True)
    expect(page.locator("#drawn-leaves .drawings button")).to_have_count(5)
    page.get_by_role("button", name="12 percent").click()
    expect(page.locator("#count-damage_percent")).to_have_value("12")


@pytest.mark.parametrize("pattern", ["margin", "spots"])
def test_drawn_leaves_are_damaged_by_just_the_share_they_stand_for(page: Page, pattern: str) -> None:
    # An area diagram is of use only if its shares are true: Nutter & Schultz 1995 (from memory), who draw and measure.
    shares = page.evaluate(
        """async (pattern) => {
          const { leafDrawing, SHARES_PERCENT } = await import('/ui/leafdiagram.js');
          const { render } = await import('lit-html');
          const found = {};
          for (const percent of SHARES_PERCENT.filter((one) => pattern === 'margin' || one <= 25)) {
            const holder = document.createElement('div');
            render(leafDrawing(percent, pattern), holder);
            const drawing = holder.querySelector('svg');
            drawing.setAttribute('xmlns', 'http://www.w3.org/2000/svg');
            drawing.setAttribute('width', '800');
            drawing.setAttribute('height', '800');
            drawing.querySelectorAll('.green').forEach((one) => one.setAttribute('fill', '#00ff00'));
            drawing.querySelectorAll('.lost').forEach((one) => one.setAttribute('fill', '#ff0000'));
            const image = new Image();
            image.src = `data:image/svg+xml,${encodeURIComponent(drawing.outerHTML)}`;
            await image.decode();
            const canvas = Object.assign(document.createElement('canvas'), { width: 800, height: 800 });
            const context = canvas.getContext('2d');
            context.drawImage(image, 0, 0);
            const { data } = context.getImageData(0, 0, 800, 800);
            let [lost, whole] = [0, 0];
            for (let at = 0; at < data.length; at += 4) {
              lost += data[at] * data[at + 3];
              whole += (data[at] + data[at + 1]) * data[at + 3];
            }
            found[percent] = (100 * lost) / whole;
          }
          return found;
        }""",
        pattern,
    )
    assert len(shares) == (7 if pattern == "margin" else 5)
    for percent, share in shares.items():
        assert share == pytest.approx(float(percent), abs=0.5), percent
