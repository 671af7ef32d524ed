"""A picture to show others: made on the phone from chosen photos and plots, without anything that was not chosen."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import BrowserContext, Page, expect

from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE, Walk, now, plant
from tests.webclient.test_ui_life import photographed

BROWN, GREEN = (128, 96, 64), (48, 128, 48)


@pytest.fixture
def walk(live_server: LiveServer, new_context: Callable[..., BrowserContext]) -> Walk:
    orchard = plant(live_server)
    tree = orchard.trees[0][1]
    for days, leaves in ((26, 40), (20, 44), (10, 52)):
        orchard.add("observation", tree=tree, seen_at=now(days), leaves=leaves)
    photographed(orchard, tree, 26, "#806040")
    photographed(orchard, tree, 10, "#308030")
    return Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()


def made(page: Page, folder: Path) -> Image.Image:
    """Press the key, save the file, and open it."""
    page.locator("#make-picture").click()
    with page.expect_download() as caught:
        page.locator("#save-picture").click()
    file = folder / "shown.jpg"
    caught.value.save_as(file)
    with Image.open(file) as opened:
        opened.load()
        return opened


def share_of(picture: Image.Image, colour: tuple[int, int, int]) -> float:
    """How much of a picture has a colour, within what JPEG changes."""
    small = picture.convert("RGB").resize(
        (120, max(1, 120 * picture.height // picture.width)), Image.Resampling.NEAREST
    )
    pixels = list(small.get_flattened_data())
    return sum(all(abs(a - b) < 14 for a, b in zip(one, colour, strict=True)) for one in pixels) / len(pixels)


def test_a_trees_picture_holds_what_was_chosen_and_no_more(walk: Walk, tmp_path: Path) -> None:
    page = walk.page
    walk.go(f"tree/{walk.orchard.trees[0][1]}/life")
    page.get_by_role("link", name="Make a picture to show").click()
    photos = page.locator("#show-photos .pictures input")
    expect(photos).to_have_count(2)
    expect(page.locator("#show-photos img")).to_have_count(2)
    page.get_by_label("Title").fill("Eight weeks of one fig")
    photos.first.check()
    picture = made(page, tmp_path)
    assert picture.format == "JPEG" and picture.width == 1200
    assert not picture.getexif(), "neither place nor maker"
    assert share_of(picture, GREEN) > 0.6 and share_of(picture, BROWN) < 0.01

    plain = picture.height
    page.get_by_label("Leaves", exact=True).check()
    picture = made(page, tmp_path)
    assert picture.height == plain + 350, "one plot more"
    photos.last.check()
    picture = made(page, tmp_path)
    brown, green = share_of(picture, BROWN), share_of(picture, GREEN)
    assert brown > 0.1 and abs(brown - green) < 0.03, "two photos side by side"
    # The older stands first.
    assert share_of(picture.crop((0, 0, 600, picture.height)), GREEN) < 0.01


def test_the_choice_is_kept_where_a_photo_cannot_be_had(walk: Walk, tmp_path: Path) -> None:
    page, tree = walk.page, walk.orchard.trees[0][1]
    page.evaluate("navigator.serviceWorker.ready")
    walk.go(f"show/tree/{tree}")
    page.locator("#show-photos .pictures input").first.check()
    page.get_by_label("What you want to say").fill("Brought out in May.")
    page.context.set_offline(True)
    page.locator("#make-picture").click()
    expect(page.get_by_role("status").filter(has_text="No picture could be made")).to_be_visible()
    walk.go("index")
    walk.go(f"show/tree/{tree}")
    expect(page.get_by_label("What you want to say")).to_have_value("Brought out in May.")
    expect(page.locator("#show-photos .pictures input").first).to_be_checked()
    # Without the photo it needs nobody.
    page.locator("#show-photos .pictures input").first.uncheck()
    page.get_by_label("Leaves", exact=True).check()
    assert share_of(made(page, tmp_path), GREEN) < 0.01


def test_a_round_and_the_season_have_pictures_too(walk: Walk, tmp_path: Path) -> None:
    page = walk.page
    walk.go("round")
    page.locator("#start-round").click()
    walk.open_tree(0)
    walk.save(quick=True)
    walk.go("round")
    for _ in range(2):
        page.get_by_role("button", name="Finish").or_(page.get_by_role("button", name="unvisited")).first.click()
    page.get_by_role("link", name="Make a picture to show").click()
    facts = page.locator("#show-plots input")
    expect(facts.first).to_be_visible()
    before = made(page, tmp_path).height
    facts.first.check()
    assert made(page, tmp_path).height > before
    walk.go("season")
    walk.go("show/season")
    expect(page.get_by_label("Title")).to_have_value(f"The season of {now(0)[:4]}")
    page.locator("#show-photos .pictures input").last.check()
    assert share_of(made(page, tmp_path), BROWN) > 0.6
