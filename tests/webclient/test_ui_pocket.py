"""What the screens say and keep when home refuses, shuts out, or lets in only a helper."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import BrowserContext, expect

from server import ids
from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE, Orchard, Walk, plant

SAVE_LOST_VISIT = """async (seen_at) => {
  const { openStore } = await import('/store/open.js');
  const store = await openStore();
  await store.records.save('observation', null, { tree: crypto.randomUUID(), seen_at, leaves_fallen: 5 });
  store.close();
}"""

SAVE_LARGE_PHOTOS = """async ([tree, seen_at]) => {
  const { openStore } = await import('/store/open.js');
  const store = await openStore();
  const photos = ['a', 'b', 'c'].map((each) => each.repeat(64));
  for (const sha256 of photos) {
    const bytes = new ArrayBuffer(24 * 1024 * 1024);
    await store.photos.hold({ bytes, sha256, type: 'image/jpeg', taken_at: seen_at });
  }
  await store.records.save('observation', null, { tree, seen_at, leaves: 5 }, { photos });
  store.close();
}"""


@pytest.fixture
def orchard(live_server: LiveServer) -> Orchard:
    return plant(live_server)


def test_a_refused_entry_is_mended_on_the_phone(orchard: Orchard, new_context: Callable[..., BrowserContext]) -> None:
    """A visit to a tree that home does not have is the grower's to put right."""
    walk = Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()
    page = walk.page
    page.evaluate(SAVE_LOST_VISIT, ids.now().isoformat(timespec="seconds"))
    walk.sync()
    expect(page.locator("#pocket-line strong")).to_have_text("1 refused")
    page.get_by_role("link", name="Visit").click()
    expect(page.get_by_role("alert").first).not_to_be_empty()
    tag, tree = orchard.trees[2]
    page.get_by_label("Tree", exact=True).select_option(tree)
    page.locator("#send-again").click()
    walk.sync()
    expect(page.locator("#pocket-line strong")).to_have_text("All home")
    assert orchard.visits(tag)[-1]["leaves_fallen"] == 5


def test_a_refused_entry_is_discarded_only_when_asked_twice(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    walk = Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()
    page = walk.page
    page.evaluate(SAVE_LOST_VISIT, ids.now().isoformat(timespec="seconds"))
    walk.sync()
    page.get_by_role("link", name="Visit").click()
    page.get_by_role("button", name="Discard it").click()
    expect(page.locator("#pocket-line strong")).to_have_text("1 refused")
    page.get_by_role("button", name="Yes, discard for good").click()
    expect(page.locator("#pocket-line strong")).to_have_text("All home")


def test_a_phone_that_is_shut_out_keeps_everything_and_sends_it_after_pairing_again(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    walk = Walk(new_context((*AWAY, "401"), **PHONE).new_page(), orchard).pair()
    page = walk.page
    (device,) = [one for one in orchard.ask("GET", "/devices")["devices"] if one["name"] != "bench"]
    orchard.ask("DELETE", f"/devices/{device['id']}")
    tag = walk.open_tree(0)
    page.locator("#count-leaves_fallen").fill("3")
    walk.save()
    expect(page.get_by_role("region", name="Notice")).to_contain_text("Home has shut this phone out", timeout=15_000)
    walk.go("pocket")
    expect(page.locator("#unsent-count")).to_have_text("1 entry unsent")
    walk.go("pair")
    expect(page.get_by_role("main")).to_contain_text("One unsent entry stays here")
    page.get_by_label("Pairing code").fill(orchard.server.pair())
    page.locator("#pair-key").click()
    expect(page.get_by_role("heading", level=1, name="Now")).to_be_visible()
    expect(page.locator("#pocket-line strong")).to_have_text("All home")
    assert orchard.visits(tag)[-1]["leaves_fallen"] == 3


def test_a_wrong_pairing_code_says_so(live_server: LiveServer, new_context: Callable[..., BrowserContext]) -> None:
    page = new_context(("40[0-9]|42[0-9]", *AWAY), **PHONE).new_page()
    page.goto(live_server.url)
    page.get_by_label("Pairing code").fill("00000000")
    page.locator("#pair-key").click()
    expect(page.locator("#pair-wrong")).not_to_be_empty()
    expect(page.get_by_role("heading", level=1)).to_have_text("Pair this phone")


def test_a_pairing_address_fills_in_the_code(
    live_server: LiveServer, new_context: Callable[..., BrowserContext]
) -> None:
    page = new_context(AWAY, **PHONE).new_page()
    page.goto(f"{live_server.url.rstrip('/')}/#/pair/{live_server.pair()}")
    page.locator("#pair-key").click()
    expect(page.get_by_role("heading", level=1, name="Now")).to_be_visible()


def test_a_helper_records_but_edits_no_card(orchard: Orchard, new_context: Callable[..., BrowserContext]) -> None:
    walk = Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair("helper")
    page = walk.page
    unknown = ids.new_tag_code()
    walk.type_code(unknown)
    expect(page.locator("#scan-wrong")).to_contain_text("Adding trees is for an owner’s phone.")
    walk.go(f"edit/tree/{orchard.trees[0][1]}")
    expect(page.get_by_role("main")).to_contain_text("Cards are edited on an owner’s phone.")
    walk.go("places")
    expect(page.get_by_role("link", name="Add a place")).to_have_count(0)
    tag = walk.open_tree(0)
    walk.save(quick=True)
    walk.sync()
    assert len(orchard.visits(tag)) == 2


def test_the_owner_decides_on_one_tree_alone(orchard: Orchard, new_context: Callable[..., BrowserContext]) -> None:
    walk = Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()
    page, (_, tree) = walk.page, orchard.trees[0]

    def decided(words: str) -> tuple[str | None, str | None]:
        walk.go(f"edit/tree/{tree}")
        page.get_by_label("Decision").select_option(words)
        walk.save_card()
        walk.sync()
        fields = orchard.records("tree")[tree]
        return fields.get("decision"), fields.get("decided_on")

    assert decided("give away") == ("give_away", ids.now().astimezone().date().isoformat())
    assert any("Give away" in job["title"] for job in orchard.ask("GET", "/reports/jobs")["items"])
    assert decided("not recorded") == (None, None)


def test_the_pocket_is_saved_as_a_file(
    orchard: Orchard, new_context: Callable[..., BrowserContext], tmp_path: Path
) -> None:
    walk = Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()
    walk.page.context.set_offline(True)
    walk.open_tree(0)
    walk.save(quick=True)
    walk.go("pocket")
    with walk.page.expect_download() as waiting:
        walk.page.locator("#export-pocket").click()
    file = tmp_path / "pocket.json"
    waiting.value.save_as(file)
    assert orchard.trees[0][1] in json.dumps(json.loads(file.read_text()))


def test_what_a_phone_saved_as_a_file_comes_home_by_it_and_once(
    orchard: Orchard, new_context: Callable[..., BrowserContext], tmp_path: Path
) -> None:
    walk = Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()
    page, picture = walk.page, tmp_path / "leaf.jpg"
    Image.new("RGB", (300, 300), (90, 120, 60)).save(picture)
    page.context.set_offline(True)
    tag = walk.open_tree(0)
    page.locator("#count-leaves_fallen").fill("7")
    page.locator("#take-photo").set_input_files(picture)
    expect(page.locator(".pictures img")).to_have_count(1)
    walk.save()
    walk.go("pocket")
    with page.expect_download() as waiting:
        page.locator("#export-pocket").click()
    expect(page.locator("#slip")).to_contain_text(
        "The file holds all that is not home yet. At home: leafwalk import FILE"
    )
    file = tmp_path / waiting.value.suggested_filename
    waiting.value.save_as(file)
    done = orchard.server.leafwalk("import", str(file))
    assert (done.returncode, done.stderr) == (0, "")
    lines = [f"{what}: 1 new, 0 here already, 0 refused" for what in ("observation", "photo", "photo files")]
    assert done.stdout.splitlines() == lines
    assert [visit.get("leaves_fallen") for visit in orchard.visits(tag)] == [None, 7]
    page.context.set_offline(False)
    walk.sync()
    expect(page.locator("#pocket-line strong")).to_have_text("All home")
    assert orchard.server.leafwalk("import", str(file)).stdout.count("0 new, 1 here already, 0 refused") == 3
    assert len(orchard.visits(tag)) == 2
    assert len(orchard.records("photo")) == 1


def test_photos_that_the_file_has_no_room_for_are_told(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    walk = Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()
    page = walk.page
    page.context.set_offline(True)
    page.evaluate(SAVE_LARGE_PHOTOS, [orchard.trees[0][1], ids.now().isoformat(timespec="seconds")])
    walk.go("pocket")
    with page.expect_download() as waiting:
        page.locator("#export-pocket").click()
    expect(page.locator("#slip")).to_contain_text("1 photo that it has no room for, still on this phone alone")
    photos = json.loads(waiting.value.path().read_text())["photos"]
    assert sorted(photo["bytes_base64"] is None for photo in photos) == [False, False, True]


def test_a_tags_own_address_opens_its_tree(orchard: Orchard, new_context: Callable[..., BrowserContext]) -> None:
    walk = Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()
    tag = orchard.trees[3][0]
    walk.page.goto(f"{orchard.server.url.rstrip('/')}/t/{tag}")
    expect(walk.page.get_by_role("heading", level=1)).to_contain_text(" ".join(tag))
    expect(walk.page.locator("#visit")).to_be_visible()
