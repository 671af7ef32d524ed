"""A chart under the arrow keys: each point is reached and told, at its place, and the finger tells the same."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, Locator, expect

from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE, Walk, now, plant

# Where the ring is, and where the dot with that number is.
PLACES = """(chart, at) => {
  const place = (one) => [one.getAttribute('cx'), one.getAttribute('cy')];
  return [place(chart.querySelector('.here')), place(chart.querySelectorAll('.dot')[at])];
}"""


@pytest.fixture
def walk(live_server: LiveServer, new_context: Callable[..., BrowserContext]) -> Walk:
    """A tree with five counts, moved between the second and the third."""
    orchard = plant(live_server, 1)
    tree = orchard.trees[0][1]
    changes = [
        orchard.new("observation", tree=tree, seen_at=now(days), leaves=leaves)
        for days, leaves in ((25, 21), (20, 22), (15, 23), (10, 24))
    ]
    changes.append(orchard.new("move", tree=tree, moved_at=now(17), to_place=orchard.places["Porch"]))
    orchard.sync(changes)
    return Walk(new_context(AWAY, reduced_motion="reduce", **PHONE).new_page(), orchard).pair()


def opened(walk: Walk) -> Locator:
    walk.open_tree(0)
    chart = walk.page.locator("#leaf-chart").get_by_role("slider", name="Leaves on the tree")
    expect(chart).to_be_visible()
    return chart


def test_arrow_keys_step_through_the_points_and_tell_each(walk: Walk) -> None:
    chart = opened(walk)
    caption = walk.page.locator("#leaf-chart figcaption")
    expect(chart).to_have_attribute("aria-valuenow", "5")
    expect(chart).to_have_attribute("aria-valuetext", caption.inner_text())
    chart.focus()
    for key, number, leaves in (
        ("ArrowLeft", 4, 24), ("ArrowDown", 3, 23), ("Home", 1, 21), ("ArrowLeft", 1, 21), ("ArrowRight", 2, 22),
        ("ArrowUp", 3, 23), ("End", 5, 44), ("ArrowRight", 5, 44), ("ArrowLeft", 4, 24), ("ArrowLeft", 3, 23),
    ):  # fmt: skip
        walk.page.keyboard.press(key)
        expect(chart).to_have_attribute("aria-valuenow", str(number))
        told = chart.get_attribute("aria-valuetext") or ""
        assert told.startswith(f"{leaves} leaves on "), (key, told)
        expect(caption).to_have_text(told)
        ring, dot = chart.evaluate(PLACES, number - 1)
        assert ring == dot, key
    assert "Dashed: to Porch" in told, "what was done since the point before"


def test_what_is_told_stays_while_the_screen_is_drawn_again(walk: Walk) -> None:
    chart = opened(walk)
    chart.focus()
    walk.page.keyboard.press("Home")
    walk.page.locator("#count-leaves").fill("40")
    expect(walk.page.locator("#save-visit")).to_be_visible()
    expect(chart).to_have_attribute("aria-valuenow", "1")
    assert (chart.get_attribute("aria-valuetext") or "").startswith("21 leaves")


def test_the_ring_shows_only_with_focus_and_nothing_moves_by_itself(walk: Walk) -> None:
    chart = opened(walk)
    ring = "(one) => getComputedStyle(one.querySelector('.here')).stroke"
    assert chart.evaluate(ring) == "none"
    chart.focus()
    assert chart.evaluate(ring) != "none"
    walk.page.keyboard.press("ArrowLeft")
    assert walk.page.evaluate("document.getAnimations().length") == 0
    # A thumb that scrolls the page with the other keys is not kept from it.
    before = walk.page.evaluate("scrollY")
    walk.page.keyboard.press("PageUp")
    walk.page.wait_for_function("(before) => scrollY < before", arg=before)


def test_a_finger_tells_what_the_keys_tell_and_axe_finds_nothing(walk: Walk) -> None:
    chart = opened(walk)
    chart.focus()
    walk.page.keyboard.press("Home")
    told = chart.get_attribute("aria-valuetext")
    walk.page.keyboard.press("End")
    chart.scroll_into_view_if_needed()
    box = chart.bounding_box()
    assert box
    walk.page.touchscreen.tap(box["x"] + 46 / 358 * box["width"], box["y"] + box["height"] / 2)
    expect(chart).to_have_attribute("aria-valuetext", told or "")
    assert Axe().run(walk.page).response["violations"] == []
