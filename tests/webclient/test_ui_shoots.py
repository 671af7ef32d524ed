"""Marked shoots on the visit's form: one small box each, typed one-handed, and out of the way of whoever has none."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, expect

from server import ids
from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE, Orchard, Walk, now, plant


@pytest.fixture
def orchard(live_server: LiveServer) -> Orchard:
    """The planted trees, and at the end one with four marked shoots that were counted three days ago."""
    orchard = plant(live_server, 1)
    tag = ids.new_tag_code()
    tree = orchard.add("tree", tag=tag, marked_shoots=4)
    orchard.trees.append((tag, tree))
    orchard.add("observation", tree=tree, seen_at=now(3), shoots=20, shoot_leaves="5;6;;7")
    return orchard


@pytest.fixture
def walk(orchard: Orchard, new_context: Callable[..., BrowserContext]) -> Walk:
    return Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()


def test_counts_are_typed_box_after_box_and_their_mean_is_shown_at_once(walk: Walk) -> None:
    tag = walk.open_tree(-1)
    page = walk.page
    expect(page.locator("#shoots-mean")).to_have_text("last 6")
    expect(page.locator("#shoot-4-last")).to_have_text("last 7")
    expect(page.locator("#count-leaves_per_shoot")).to_have_count(0)
    page.locator("#shoot-1").focus()
    page.keyboard.type("12")
    expect(page.locator("#shoots-mean")).to_have_text("mean 12, last 5")
    page.keyboard.press("Enter")
    expect(page.locator("#shoot-2")).to_be_focused()
    page.keyboard.type("6 ")
    expect(page.locator("#shoot-3")).to_be_focused()
    page.locator("#next-shoot").click()
    expect(page.locator("#shoot-4")).to_be_focused()
    page.keyboard.type("9")
    expect(page.locator("#shoots-mean")).to_have_text("mean 9, last 6")
    page.locator("#next-shoot").click()
    expect(page.locator("#shoot-4")).not_to_be_focused()
    walk.save()
    walk.sync()
    visit = walk.orchard.visits(tag)[-1]
    assert visit["shoot_leaves"] == "12;6;;9"
    assert "leaves_per_shoot" not in visit
    walk.go(f"tree/{walk.orchard.trees[-1][1]}")
    expect(page.get_by_text("marked shoots 12, 6, –, 9")).to_be_visible()


def test_a_tree_without_marked_shoots_has_the_usual_form(walk: Walk) -> None:
    walk.open_tree(0)
    expect(walk.page.locator("#count-leaves_per_shoot")).to_be_visible()
    expect(walk.page.locator("#marked-shoots")).to_have_count(0)


def test_as_last_time_makes_up_no_counts_and_the_rest_can_be_filled_in(walk: Walk) -> None:
    tag = walk.open_tree(-1)
    walk.save(quick=True)
    walk.pause()
    walk.go(f"tree/{walk.orchard.trees[-1][1]}")
    walk.page.locator("#count-leaves_fallen").fill("2")
    expect(walk.page.locator("#shoot-1-last")).to_have_text("last 5")
    walk.page.locator("#shoot-1").fill("4")
    walk.save()
    walk.sync()
    quick, typed = walk.orchard.visits(tag)[-2:]
    assert "shoot_leaves" not in quick
    assert typed["shoot_leaves"] == "4;;;"


def test_what_is_no_count_is_told_beside_the_boxes_and_the_last_one_taken_out_leaves_nothing(walk: Walk) -> None:
    tag = walk.open_tree(-1)
    page = walk.page
    page.locator("#shoot-1").fill("many")
    page.locator("#save-visit").click()
    expect(page.locator("#shoots-wrong")).to_contain_text("Give whole numbers from 0 to 500")
    expect(page.locator("#shoot-1")).to_be_focused()
    page.locator("#shoot-1").fill("")
    expect(page.locator("#as-last-time")).to_be_visible()
    page.locator("#count-shoots").fill("21")
    walk.save()
    walk.sync()
    assert "shoot_leaves" not in walk.orchard.visits(tag)[-1]


def test_the_owner_marks_a_trees_shoots_on_its_card_and_corrects_counts_in_its_past(walk: Walk) -> None:
    tag, tree = walk.orchard.trees[0]
    walk.go(f"edit/tree/{tree}")
    walk.page.get_by_label("Marked shoots, counted each round").fill("3")
    walk.save_card()
    walk.open_tree(0)
    expect(walk.page.locator("#marked-shoots input")).to_have_count(3)
    walk.page.locator("#shoot-2").fill("8")
    walk.save()
    walk.go(f"tree/{tree}/history")
    walk.page.get_by_role("link", name="Correct").first.click()
    walk.page.get_by_label("Leaves on each marked shoot").fill("7;8;9")
    walk.save_card()
    expect(walk.page.get_by_text("marked shoots 7, 8, 9")).to_be_visible()
    walk.sync()
    assert walk.orchard.visits(tag)[-1]["shoot_leaves"] == "7;8;9"


def test_the_card_draws_homes_linked_totals_where_a_shoot_was_lost(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    # 12 shoots, with 4 and 8 leaves on two marked ones; the smaller is lost, the other stays: still 72 leaves, not 96.
    tag = ids.new_tag_code()
    tree = orchard.add("tree", tag=tag, marked_shoots=2)
    orchard.trees.append((tag, tree))
    orchard.add("observation", tree=tree, seen_at=now(9), shoots=12, shoot_leaves="4;8")
    orchard.add("observation", tree=tree, seen_at=now(5), shoot_leaves=";8")
    walk = Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()
    walk.open_tree(-1)
    expect(walk.page.locator(".chart .last").first).to_have_text("72")


def test_the_row_of_boxes_reads_well_and_fits(walk: Walk) -> None:
    walk.open_tree(-1)
    found = Axe().run(walk.page, "#visit")
    assert found.violations_count == 0, found.generate_report()
    assert walk.page.evaluate("document.documentElement.scrollWidth <= innerWidth")
