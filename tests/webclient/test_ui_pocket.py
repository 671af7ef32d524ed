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
from tests.webclient.orchard import AWAY, PHONE, Orchard, Walk, now, plant

SAVE_LOST_VISIT = """async (seen_at) => {
  const { openStore } = await import('/store/open.js');
  const store = await openStore();
  await store.records.save('observation', null, { tree: crypto.randomUUID(), seen_at, leaves_fallen: 5 });
  store.close();
}"""

SAVE_REFUSED_PHOTO = """async ([tree, seen_at]) => {
  const { openStore } = await import('/store/open.js');
  const store = await openStore();
  const sha256 = 'a'.repeat(64);
  await store.photos.hold({ bytes: new ArrayBuffer(9), sha256, type: 'image/jpeg', taken_at: seen_at });
  await store.records.save('observation', null, { tree, seen_at }, { photos: [sha256] });
  await store.photos.markRefused(sha256, { title: 'This is no photo' });
  store.close();
}"""
# A visit that an older version kept, of a round that has no proper id.
PARK_VISIT = """async ([tree, seen_at]) => {
  const { openDB } = await import('idb');
  const db = await openDB('leafwalk');
  const set = { tree, seen_at, leaves_fallen: 5, round: 'yesterday' };
  const change = { id: 'bad', n: 1, kind: 'observation', record: crypto.randomUUID(), edited_at: seen_at, set };
  await db.put('parked', { id: 'bad', change, problem: { title: 'Refused' }, parked_at_ms: Date.now() });
  db.close();
}"""
CLOCK_AHEAD = """{
  const Right = Date;
  const now = () => Right.now() + Number(localStorage.getItem('ahead_ms'));
  window.Date = class extends Right {
    constructor(...given) { super(...(given.length ? given : [now()])); }
    static now() { return now(); }
  };
}"""
OPEN_NEWER = """async () => {
  const newer = indexedDB.open('leafwalk', 1000);
  await new Promise((done) => { newer.onupgradeneeded = () => { newer.transaction.abort(); done(); }; });
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


def test_a_refused_visit_with_a_photo_by_a_fast_clock_is_mended(
    orchard: Orchard, new_context: Callable[..., BrowserContext], tmp_path: Path
) -> None:
    page = new_context(AWAY, **PHONE).new_page()
    page.add_init_script(CLOCK_AHEAD)
    walk = Walk(page, orchard).pair()
    page.evaluate("localStorage.setItem('ahead_ms', 86_400_000)")
    page.reload()
    tag = walk.open_tree(0)
    page.locator("#count-leaves_fallen").fill("4")
    picture = tmp_path / "leaf.png"
    Image.new("RGB", (640, 480), (60, 120, 40)).save(picture)
    page.locator("#take-photo").set_input_files(picture)
    expect(page.get_by_role("img", name="Photo 1 of this visit")).to_be_visible()
    walk.save()
    walk.sync()
    expect(page.locator("#pocket-line strong")).to_have_text("2 refused")
    page.evaluate("localStorage.clear()")
    page.reload()
    page.get_by_role("link", name="Visit").click()
    page.get_by_label("Seen at").fill(now(0.01)[:16])
    page.locator("#send-again").click()
    expect(page.locator("#slip")).to_contain_text("It goes home with the next sync.")
    walk.sync()
    expect(page.locator("#pocket-line strong")).to_have_text("All home")
    visit, (photo,) = orchard.visits(tag)[-1], orchard.records("photo").values()
    assert (visit["leaves_fallen"], photo["taken_at"]) == (4, visit["seen_at"])


def test_what_is_wrong_with_a_field_that_the_form_lacks_is_told(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    walk = Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()
    page = walk.page
    page.evaluate(PARK_VISIT, [orchard.trees[0][1], now()])
    walk.go("pocket/bad")
    page.locator("#send-again").click()
    expect(page.locator("#slip")).to_contain_text("Not saved. Choose a round.")
    expect(page.get_by_role("main")).to_contain_text("Choose a round.")


def test_the_line_tells_unsent_and_refused_entries_side_by_side(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    walk = Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()
    page, line = walk.page, walk.page.locator("#pocket-line strong")
    page.evaluate(SAVE_LOST_VISIT, now())
    walk.sync()
    expect(page.locator("#unsent-count")).to_have_text("1 refused")
    expect(page.locator("#sync-state")).to_contain_text("The oldest was made just now.")
    expect(page.get_by_role("main")).not_to_contain_text("Every entry has reached home.")
    page.context.set_offline(True)
    for at in (0, 1):
        walk.open_tree(at)
        walk.save(quick=True)
    expect(line).to_have_text("2 unsent, 1 refused")
    edges = [page.locator(one).bounding_box() for one in ("#pocket-line strong", "#scan-key")]
    assert edges[0] and edges[1] and edges[0]["x"] + edges[0]["width"] <= edges[1]["x"]
    walk.go("pocket")
    expect(page.locator("#unsent-count")).to_have_text("2 entries unsent, 1 refused")
    page.context.set_offline(False)
    walk.sync()
    expect(line).to_have_text("1 refused")


def test_a_refused_photo_is_not_home(orchard: Orchard, new_context: Callable[..., BrowserContext]) -> None:
    walk = Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()
    page = walk.page
    page.evaluate(SAVE_REFUSED_PHOTO, [orchard.trees[0][1], now()])
    walk.sync()
    for place in ("#pocket-line strong", "#unsent-count"):
        expect(page.locator(place)).to_have_text("1 refused")
    expect(page.locator("#sync-state")).to_contain_text("The oldest was made just now.")
    expect(page.get_by_role("main")).not_to_contain_text("Every entry has reached home.")


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


def test_a_window_whose_storage_a_newer_one_took_says_so_and_keeps_the_form(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    walk = Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()
    page = walk.page
    walk.open_tree(0)
    page.locator("#count-leaves_fallen").fill("3")
    page.wait_for_timeout(500)
    page.evaluate(OPEN_NEWER)
    notice = page.get_by_role("region", name="Notice")
    expect(notice).to_contain_text("opened anew in another window")
    page.locator("#save-visit").click()
    expect(page.locator("#slip")).to_contain_text(
        "Not saved. This page can no longer reach its storage. Load it again."
    )
    notice.get_by_role("button", name="Load again").click()
    expect(page.locator("#count-leaves_fallen")).to_have_value("3")


def test_a_window_whose_storage_was_cleared_promises_nothing(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    walk = Walk(new_context((*AWAY, "StoreError"), **PHONE).new_page(), orchard).pair()
    page = walk.page
    session = page.context.new_cdp_session(page)
    session.send("Storage.clearDataForOrigin", {"origin": orchard.server.url.rstrip("/"), "storageTypes": "indexeddb"})
    expect(page.get_by_role("region", name="Notice")).to_contain_text("The browser has cleared Leafwalk’s storage.")
    walk.go(f"tree/{orchard.trees[1][1]}")
    expect(page.get_by_role("main")).to_contain_text("This screen could not be opened.")
    expect(page.get_by_role("main")).not_to_contain_text("still on this phone")


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
