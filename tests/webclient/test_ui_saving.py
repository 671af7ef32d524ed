"""What is saved is saved once: whatever is tapped twice, and whenever the phone dies."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE, SECOND_TAP_MS, Orchard, Walk, plant

# The kinds of what waits on the phone, and what its drafts are of.
WAITING = """async () => { const { openStore } = await import('/store/open.js'); const store = await openStore();
  const waiting = await store.outbox.list(); store.close(); return waiting.map(({ kind }) => kind); }"""
DRAFTS = """async () => { const { openStore } = await import('/store/open.js'); const store = await openStore();
  const drafts = await store.drafts.list(); store.close(); return drafts.map(({ key }) => key).sort(); }"""
# From now on nothing more is written to the drafts by themselves, as on a phone that dies as soon as it has saved.
DYING = """() => { const begin = IDBDatabase.prototype.transaction;
  IDBDatabase.prototype.transaction = function (stores, mode, ...more) {
    if (mode === 'readwrite' && String(stores) === 'drafts') throw new Error('The phone has died.');
    return begin.call(this, stores, mode, ...more); }; }"""
# A finger that does not leave the key, as fast as the phone can tell.
HAMMER = """async (key) => { for (let count = 0; count < 60; count += 1) {
  document.querySelector(key)?.click(); await new Promise((done) => setTimeout(done, 2)); } }"""


@pytest.fixture
def orchard(live_server: LiveServer) -> Orchard:
    return plant(live_server)


@pytest.fixture
def walk(orchard: Orchard, new_context: Callable[..., BrowserContext]) -> Walk:
    page = new_context([*AWAY, "phone has died"], **PHONE).new_page()
    walk = Walk(page, orchard).pair()
    page.evaluate("async () => { await navigator.serviceWorker.ready; }")
    page.context.set_offline(True)
    return walk


def spot(page: Page, key: str) -> tuple[float, float]:
    """The middle of a key, once it has come to rest there."""
    page.locator(key).click(trial=True)
    box = page.locator(key).bounding_box()
    assert box
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def fill_move(walk: Walk) -> None:
    walk.go(f"tree/{walk.orchard.trees[0][1]}/move")
    walk.page.get_by_text("Porch", exact=True).click()


def fill_work(walk: Walk) -> None:
    walk.go(f"tree/{walk.orchard.trees[0][1]}/work")
    walk.page.locator("#work-task").select_option("prune")


def fill_visit(walk: Walk) -> None:
    walk.open_tree(0)
    walk.page.locator("#count-leaves_fallen").fill("7")


def fill_job(walk: Walk) -> None:
    walk.go(f"edit/job/new/{walk.orchard.trees[0][1]}")
    walk.page.locator("#job-job").fill("Mend the hose")
    walk.page.locator("#job-task").select_option("other")


FORMS = [
    (fill_move, "#save-deed", "move"),
    (fill_work, "#save-deed", "work"),
    (fill_visit, "#save-visit", "observation"),
    (fill_job, "#save-card", "job"),
]


@pytest.mark.parametrize(("fill", "key", "kind"), FORMS)
def test_a_key_that_is_hammered_saves_once(walk: Walk, fill: Callable[[Walk], None], key: str, kind: str) -> None:
    fill(walk)
    spot(walk.page, key)
    walk.page.evaluate(HAMMER, key)
    expect(walk.page.locator("#undo")).to_be_visible()
    assert walk.page.evaluate(WAITING) == [kind]


@pytest.mark.parametrize(("fill", "key", "kind"), FORMS)
@pytest.mark.parametrize("awaited", ["", "#slip .slip", "the next screen"])
def test_a_second_tap_touches_nothing_that_the_first_has_brought(
    walk: Walk, fill: Callable[[Walk], None], key: str, kind: str, awaited: str
) -> None:
    page = walk.page
    fill(walk)
    x, y = spot(page, key)
    page.touchscreen.tap(x, y)
    if awaited.startswith("#"):
        page.locator(awaited).wait_for()
    elif awaited:
        page.locator(key).wait_for(state="detached")
    page.touchscreen.tap(x, y)
    page.locator(key).wait_for(state="detached")
    arrived = page.url
    page.wait_for_timeout(SECOND_TAP_MS)
    assert page.url == arrived
    expect(page.locator("#slip")).not_to_contain_text("Taken back")
    assert page.evaluate(WAITING) == [kind]
    expect(page.locator("#undo")).to_be_visible()


def test_a_tap_elsewhere_counts_at_once_and_one_there_a_little_later(walk: Walk) -> None:
    page = walk.page
    fill_move(walk)
    x, y = spot(page, "#save-deed")
    page.touchscreen.tap(x, y)
    page.locator("#as-last-time").wait_for()
    page.locator("#undo").tap()
    expect(page.locator("#slip")).to_contain_text("Taken back")
    page.wait_for_timeout(SECOND_TAP_MS)
    page.touchscreen.tap(x, y)
    expect(page.get_by_role("heading", level=1)).to_have_text("Scan a tag")
    assert page.evaluate(WAITING) == ["move", "move", "observation"]


def dies_at(page: Page, key: str) -> None:
    """Save by this key, and begin anew as if the phone had died just then."""
    page.evaluate(DYING)
    page.locator(key).click()
    page.wait_for_function(f"async () => (await ({WAITING})()).length > 0")
    page.reload()
    page.locator("#pocket-line").wait_for()


@pytest.mark.parametrize(("fill", "key", "kind"), FORMS)
def test_a_phone_that_dies_as_soon_as_it_has_saved_shows_no_filled_form_again(
    walk: Walk, fill: Callable[[Walk], None], key: str, kind: str
) -> None:
    page = walk.page
    fill(walk)
    page.wait_for_function(f"async () => (await ({DRAFTS})()).length > 0")
    dies_at(page, key)
    assert page.evaluate(WAITING) == [kind]
    assert page.evaluate(DRAFTS) == []


def test_a_phone_that_dies_as_soon_as_the_pots_are_moved_has_an_empty_barrow(walk: Walk) -> None:
    page = walk.page
    walk.load_barrow(2)
    walk.go("barrow/move")
    page.get_by_text("Porch", exact=True).click()
    page.wait_for_function(f"async () => (await ({DRAFTS})()).length === 2")
    dies_at(page, "#save-deed")
    walk.go("barrow")
    expect(page.locator("#barrow-move")).to_have_count(0)
    assert page.evaluate(DRAFTS) == []
    assert page.evaluate(WAITING) == ["move", "move"]
