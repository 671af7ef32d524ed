"""A tree's whole life on one page: two photos under one edge, series with marks, companions, places, pots and tags."""

from __future__ import annotations

import hashlib
import io
import urllib.request
from collections.abc import Callable

import pytest
from PIL import Image
from playwright.sync_api import BrowserContext, expect

from server import ids
from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE, Orchard, Walk, now, plant


def photographed(orchard: Orchard, tree: str, days_ago: float, colour: str) -> None:
    """A photo that another phone took and sent home."""
    file = io.BytesIO()
    Image.new("RGB", (600, 800), colour).save(file, "JPEG")
    data = file.getvalue()
    sha256 = hashlib.sha256(data).hexdigest()
    orchard.add("photo", tree=tree, sha256=sha256, taken_at=now(days_ago))
    url = f"{orchard.server.url.rstrip('/')}/api/v1/photos/{sha256}"
    headers = {"Authorization": f"Bearer {orchard.token}", "Content-Type": "image/jpeg"}
    with urllib.request.urlopen(urllib.request.Request(url, data, headers, method="PUT"), timeout=20) as answer:
        assert answer.status in {200, 201, 204}


@pytest.fixture
def walk(live_server: LiveServer, new_context: Callable[..., BrowserContext]) -> Walk:
    orchard = plant(live_server, 5)
    changes = []
    for number, (_, tree) in enumerate(orchard.trees):
        for days in (400, 26, 22, 18, 14, 10):
            counts = {"leaves": 40 + 5 * number, "shoot_cm": 5 + number, "fruit_main": 3}
            changes.append(orchard.new("observation", tree=tree, seen_at=now(days), **counts))
    tree = orchard.trees[0][1]
    changes.append(orchard.new("move", tree=tree, moved_at=now(20), to_place=orchard.places["Porch"]))
    changes.append(orchard.new("work", tree=tree, done_at=now(15), task="pot_up", amount=30))
    orchard.sync(changes)
    photographed(orchard, tree, 26, "#806040")
    photographed(orchard, tree, 10, "#308030")
    return Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()


def test_two_photos_lie_under_one_edge_that_keys_move(walk: Walk) -> None:
    page = walk.page
    walk.open_tree(0)
    page.get_by_role("link", name="Its whole life").click()
    expect(page.locator("#overlay img")).to_have_count(2)
    edge = page.locator("#overlay-cut")
    edge.focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    cut = page.locator(".overlay").evaluate("(one) => getComputedStyle(one).getPropertyValue('--cut')")
    assert cut == "53%"
    over = page.locator("#overlay .over").evaluate("(one) => getComputedStyle(one).clipPath")
    assert "53%" in over
    widths = page.locator("#overlay img").evaluate_all("(all) => all.map((one) => one.naturalWidth)")
    assert widths == [600, 600], "both photos came from home"
    # One side may be any other day.
    page.locator("#overlay-left").select_option(index=1)
    expect(page.locator("#overlay img").first).to_have_attribute(
        "alt", page.locator("#overlay .over").get_attribute("alt") or ""
    )


def test_every_measure_stands_over_the_same_time_with_moves_and_work(walk: Walk) -> None:
    page = walk.page
    walk.go(f"tree/{walk.orchard.trees[0][1]}/life")
    for name in ("Leaves", "Shoot growth", "Fruit on the tree", "Health"):
        expect(page.get_by_role("heading", name=name, exact=True)).to_be_visible()
    charts = page.locator("svg.chart")
    first_days = charts.evaluate_all("(all) => all.map((one) => [...one.querySelectorAll('text')].at(-2).textContent)")
    assert len(set(first_days[:3])) == 1, first_days
    marks = charts.first.locator(".mark")
    expect(marks).to_have_count(2)
    page.locator("#life-year").select_option(index=1)
    expect(page.get_by_role("heading", name="Leaves", exact=True)).to_be_visible()


def test_companions_places_pots_and_tags(walk: Walk) -> None:
    page, orchard = walk.page, walk.orchard
    tag, tree = orchard.trees[0]
    newer = ids.new_tag_code()
    change = orchard.new("tree", tag=newer)
    orchard.sync([{**change, "record": tree}])
    walk.sync()
    walk.go(f"tree/{tree}/life")
    among = page.locator("#among")
    expect(among).to_contain_text("Held against all 5 trees of its kind.")
    expect(among).to_contain_text("5th of 5")
    stood = page.locator("#stood")
    for told in ("South yard, pot of 19 l", "Porch", "pot of 30 l"):
        expect(stood).to_contain_text(told)
    for code in (newer, tag):
        expect(stood.locator(".plate").filter(has_text=code[:3])).to_have_count(1)


def test_without_signal_it_shows_what_the_phone_holds(walk: Walk) -> None:
    page, tree = walk.page, walk.orchard.trees[1][1]
    page.evaluate("navigator.serviceWorker.ready")
    walk.go("index")
    page.context.set_offline(True)
    walk.go(f"tree/{tree}/life")
    expect(page.get_by_role("heading", name="Leaves", exact=True)).to_be_visible()
    expect(page.get_by_text("Photos of two different days")).to_be_visible()
    expect(page.get_by_text("Health and companions are missing")).to_be_visible()


def test_a_branch_is_counted_apart_and_who_noted_it_is_told(walk: Walk) -> None:
    page, (tag, tree) = walk.page, walk.orchard.trees[0]
    walk.open_tree(0)
    page.get_by_text("Only a branch or a side").click()
    page.locator("#observation-part").fill("south branch")
    page.locator("#count-leaves").fill("7")
    walk.save()
    walk.sync()
    (seen,) = [visit for visit in walk.orchard.visits(tag) if visit.get("part")]
    assert (seen["part"], seen["leaves"]) == ("south branch", 7)
    walk.go(f"tree/{tree}/history")
    expect(page.locator(".entry").filter(has_text="south branch")).to_be_visible()
    expect(page.locator(".entry").filter(has_text="grown 5")).to_have_count(6)
    expect(page.locator("svg.chart .last")).to_have_text("44"), "the branch is no count of the tree"
    expect(page.get_by_text("noted on bench").first).to_be_visible()
