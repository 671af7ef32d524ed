"""The way that is walked most: scan, look, one press or a few counts, back at the scanner."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import BrowserContext, expect

from server import ids
from tests.support.browser_fixtures import kill_profile
from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE, SECOND_TAP_MS, Orchard, Walk, now, plant


@pytest.fixture
def orchard(live_server: LiveServer) -> Orchard:
    return plant(live_server)


@pytest.fixture
def walk(orchard: Orchard, new_context: Callable[..., BrowserContext]) -> Walk:
    return Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()


def test_a_fine_tree_takes_one_press_after_its_code(walk: Walk) -> None:
    tag = walk.open_tree(0)
    quick = walk.page.locator("#as-last-time")
    expect(quick).to_contain_text("Nothing fallen, as last time")
    expect(quick).to_contain_text("2 breba")
    quick.click()
    expect(walk.page.get_by_role("heading", level=1)).to_have_text("Scan a tag")
    expect(walk.page.locator("#slip")).to_contain_text(f"{tag[:3]} {tag[3:]} saved.")
    walk.sync()
    visit = walk.orchard.visits(tag)[-1]
    told = {name: visit.get(name) for name in ("leaves_fallen", "shoots", "leaves_per_shoot", "fruit_breba")}
    # Nobody counted leaves or shoots, so no count of them is made up.
    assert told == {"leaves_fallen": 0, "shoots": None, "leaves_per_shoot": None, "fruit_breba": 2}
    # Soil changes by the hour and a note was about its day, so neither is repeated.
    assert "soil" not in visit
    assert "note" not in visit


def test_the_browsers_back_key_leads_from_the_scanner_to_the_saved_tree_and_forth_again(walk: Walk) -> None:
    walk.open_tree(0)
    tree = walk.page.url
    walk.save(quick=True)
    scanner = walk.page.url
    walk.page.go_back()
    expect(walk.page.locator("#visit")).to_be_visible()
    assert walk.page.url == tree
    walk.page.go_forward()
    expect(walk.page.locator("#typed-code")).to_be_visible()
    assert walk.page.url == scanner


def test_counts_older_than_a_fortnight_are_not_repeated(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    tag = ids.new_tag_code()
    tree = orchard.add("tree", tag=tag)
    orchard.trees.append((tag, tree))
    orchard.add("observation", tree=tree, seen_at=now(15), fruit_breba=2)
    walk = Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()
    walk.open_tree(-1)
    expect(walk.page.locator("#as-last-time")).to_have_text("Nothing fallen")
    walk.save(quick=True)
    walk.sync()
    assert "fruit_breba" not in orchard.visits(tag)[-1]


def test_the_last_value_stands_beside_each_count_and_the_keys_start_from_it(walk: Walk) -> None:
    walk.open_tree(1)
    page = walk.page
    expect(page.locator("#count-shoots-last")).to_have_text("last 8")
    expect(page.locator("#count-leaves-last")).to_have_text("not yet counted")
    page.get_by_label("Leaves a shoot: one step more").click()
    expect(page.locator("#count-leaves_per_shoot")).to_have_value("6")
    page.get_by_label("Leaves fallen: one step more").click()
    page.get_by_label("Leaves fallen: one step more").click()
    expect(page.locator("#count-leaves_fallen")).to_have_value("2")
    page.get_by_label("Leaves fallen: one step less").click()
    expect(page.locator("#count-leaves_fallen")).to_have_value("1")
    page.locator("#fill-last").click()
    expect(page.locator("#count-shoots")).to_have_value("8")
    expect(page.locator("#count-leaves_per_shoot")).to_have_value("6")


def test_what_is_no_number_is_told_beside_its_box_and_nothing_is_saved(walk: Walk) -> None:
    tag = walk.open_tree(0)
    page = walk.page
    page.locator("#count-shoots").fill("eight")
    page.locator("#count-fruit_main").fill("6000")
    page.locator("#save-visit").click()
    expect(page.locator("#count-shoots-wrong")).to_have_text("Write a number here, such as 12 or 4.5.")
    expect(page.locator("#count-fruit_main-wrong")).to_have_text("Give a number between 0 and 5000.")
    expect(page.locator("#count-shoots")).to_be_focused()
    page.locator("#count-shoots").fill("9")
    page.locator("#count-fruit_main").fill("6")
    walk.save()
    walk.sync()
    assert [visit["shoots"] for visit in walk.orchard.visits(tag)] == [8, 9]


def test_undo_withdraws_the_visit_and_gives_the_form_back(walk: Walk) -> None:
    tag = walk.open_tree(0)
    page = walk.page
    page.locator("#count-leaves_fallen").fill("14")
    page.get_by_text("wind", exact=True).click()
    walk.save()
    walk.undo()
    expect(page.locator("#count-leaves_fallen")).to_have_value("14")
    expect(page.get_by_role("checkbox", name="wind")).to_be_checked()
    page.get_by_label("Leaves fallen: one step less").click()
    walk.save()
    walk.sync()
    assert [visit.get("leaves_fallen") for visit in walk.orchard.visits(tag)] == [None, 13]


def test_undo_gives_the_photos_back_too(walk: Walk, tmp_path: Path) -> None:
    tag = walk.open_tree(0)
    picture = tmp_path / "leaf.png"
    Image.new("RGB", (640, 480), (60, 120, 40)).save(picture)
    page = walk.page
    shown = page.get_by_role("img", name="Photo 1 of this visit")
    page.context.set_offline(True)
    page.locator("#count-leaves_fallen").fill("14")
    page.locator("#take-photo").set_input_files(picture)
    expect(shown).to_be_visible()
    walk.save()
    walk.undo()
    expect(page.locator("#count-leaves_fallen")).to_have_value("14")
    expect(shown).to_be_visible()
    states = """async () => { const { openStore } = await import('/store/open.js'); const store = await openStore();
      const [draft] = await store.drafts.list();
      const photos = await Promise.all(draft.value.photos.map((sha256) => store.photos.info(sha256)));
      store.close(); return photos.map(({ state }) => state); }"""
    assert page.evaluate(states) == ["held"]
    page.reload()
    expect(shown).to_be_visible()
    walk.save()
    page.context.set_offline(False)
    walk.sync()
    expect(page.locator("#pocket-line strong")).to_have_text("All home", timeout=15_000)
    photos = [one for one in walk.orchard.records("photo").values() if not one.get("voided")]
    assert [photo["tree"] for photo in photos] == [dict(walk.orchard.trees)[tag]]
    assert len(walk.orchard.visits(tag)) == 2


def test_a_visit_that_found_no_room_can_be_saved_again(walk: Walk) -> None:
    walk.open_tree(0)
    page = walk.page
    page.locator("#count-leaves_fallen").fill("7")
    page.evaluate(
        """() => { const { put } = IDBObjectStore.prototype;
          window.makeRoom = () => { IDBObjectStore.prototype.put = put; };
          IDBObjectStore.prototype.put = function (...given) {
            if (this.name === 'outbox') throw new DOMException('', 'QuotaExceededError');
            return put.apply(this, given); }; }"""
    )
    page.locator("#save-visit").click()
    expect(page.locator("#slip")).to_contain_text("no room")
    expect(page.locator("#save-visit")).to_be_enabled(timeout=3000)
    expect(page.locator("#count-leaves_fallen")).to_have_value("7")
    page.evaluate("makeRoom()")
    page.wait_for_timeout(SECOND_TAP_MS)
    walk.save()
    expect(page.locator("#pocket-line strong")).to_have_text(re.compile("1 unsent|All home"))


def test_inches_are_stored_as_centimetres(walk: Walk) -> None:
    walk.go("settings")
    walk.page.get_by_text("in", exact=True).click()
    tag = walk.open_tree(0)
    walk.page.get_by_label("Shoot growth, in", exact=True).fill("4")
    walk.save()
    walk.sync()
    # NIST SP 811: 1 in = 2.54 cm exactly.
    assert walk.orchard.visits(tag)[-1]["shoot_cm"] == 10.16


def test_an_unfinished_form_survives_a_killed_browser(
    orchard: Orchard, launch_profile: Callable[..., BrowserContext], tmp_path: Path
) -> None:
    folder = tmp_path / "profile"
    first = launch_profile(folder, allowed=AWAY, **PHONE)
    walk = Walk(first.new_page(), orchard).pair()
    walk.open_tree(0)
    walk.page.locator("#count-leaves_fallen").fill("7")
    walk.page.get_by_label("Note", exact=True).fill("brown rims on the south side")
    walk.page.get_by_text("dry", exact=True).click()
    walk.page.wait_for_function(
        """async () => { const { openStore } = await import('/store/open.js'); const store = await openStore();
          const drafts = await store.drafts.list(); store.close(); return drafts[0]?.value.texts.soil === 'dry'; }"""
    )
    kill_profile(folder)
    second = launch_profile(folder, allowed=AWAY, **PHONE)
    again = Walk(second.new_page(), orchard)
    again.page.goto(orchard.server.url)
    again.open_tree(0)
    expect(again.page.locator("#count-leaves_fallen")).to_have_value("7")
    expect(again.page.get_by_label("Note", exact=True)).to_have_value("brown rims on the south side")
    expect(again.page.get_by_role("radio", name="dry")).to_be_checked()


def test_unsent_entries_and_their_age_stand_on_every_screen(walk: Walk) -> None:
    walk.page.context.set_offline(True)
    walk.open_tree(0)
    walk.save(quick=True)
    for path in ("now", "index", "trees", "places", "round", "barrow", "pocket", "settings", "scan"):
        walk.go(path)
        expect(walk.page.locator("#pocket-line strong")).to_have_text("1 unsent")
        expect(walk.page.locator("#pocket-line small")).to_have_text("just now")
    walk.page.context.set_offline(False)
    expect(walk.page.locator("#pocket-line strong")).to_have_text("All home", timeout=15_000)


def test_a_photo_is_kept_with_the_form_and_goes_home_with_the_visit(walk: Walk, tmp_path: Path) -> None:
    tag = walk.open_tree(0)
    picture, text = tmp_path / "leaf.png", tmp_path / "leaf.jpg"
    Image.new("RGB", (640, 480), (60, 120, 40)).save(picture)
    text.write_text("no picture at all")
    page = walk.page
    page.locator("#take-photo").set_input_files(text)
    expect(page.locator("#slip")).to_contain_text("no picture that the browser can read")
    page.locator("#take-photo").set_input_files(picture)
    expect(page.get_by_role("img", name="Photo 1 of this visit")).to_be_visible()
    page.reload()
    expect(page.get_by_role("img", name="Photo 1 of this visit")).to_be_visible()
    walk.save()
    walk.sync()
    expect(page.locator("#pocket-line strong")).to_have_text("All home")
    (photo,) = walk.orchard.records("photo").values()
    assert photo["tree"] == dict(walk.orchard.trees)[tag]
    walk.go(f"tree/{photo['tree']}/history")
    page.get_by_role("link", name="Look").click()
    expect(page.get_by_role("img", name="Photo of this tree")).to_be_visible()
