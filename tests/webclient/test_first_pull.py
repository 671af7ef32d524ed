"""A first pull in many pages: broken off, killed or out of room, it goes on where it stood and ends in order."""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page

from tests.support.browser_fixtures import kill_profile
from tests.webclient.files import Answer, FileServer, Request
from tests.webclient.home import FakeHome
from tests.webclient.phone import TIME, Phone, new_id, record
from tests.webclient.test_engine import SyncingPhone
from tests.webclient.test_latest import Model, check

TREES = 12
WALKS = 5
PAGE_RECORDS = 15
FIRST = datetime(2026, 4, 1, 8, tzinfo=UTC)


def collection() -> tuple[list[dict[str, Any]], Model]:
    """Trees and then what was done to them, walk by walk, as home sends them; the same as plain dictionaries."""
    chance = random.Random(7)
    places = [new_id() for _ in range(3)]
    trees = [
        record("tree", {"tag": f"TAG{i:03d}", "place": chance.choice(places), "pot_litres": 19}) for i in range(TREES)
    ]
    records = list(trees)
    for walk, tree in itertools.product(range(WALKS), trees):
        at = (FIRST + timedelta(days=walk, seconds=chance.randrange(9000))).isoformat()
        counts = {name: chance.randrange(99) for name in ("leaves", "leaves_fallen") if chance.random() < 0.6}
        records.append(record("observation", {"tree": tree["id"], "seen_at": at, **counts}))
        if chance.random() < 0.2:
            records.append(record("move", {"tree": tree["id"], "moved_at": at, "to_place": chance.choice(places)}))
        if chance.random() < 0.2:
            records.append(
                record("work", {"tree": tree["id"], "done_at": at, "task": "pot_up", "amount": chance.choice([38, 57])})
            )
    model = Model()
    model.base = {(each["kind"], each["id"]): each["fields"] for each in records}
    return records, model


def pages(records: list[dict[str, Any]]) -> list[dict[str, Any]]:
    starts = range(0, len(records), PAGE_RECORDS)
    return [
        {
            "records": records[start : start + PAGE_RECORDS],
            "cursor": str(start + PAGE_RECORDS),
            "more": start + PAGE_RECORDS < len(records),
        }
        for start in starts
    ]


def known_trees(phone: Phone) -> list[str]:
    trees: list[str] = phone.run("(await store.records.list('tree')).map((tree) => tree.id)")
    return trees


def held(phone: Phone, model: Model) -> Model:
    """What of the whole collection is on the phone, and what was saved there."""
    here = Model()
    kinds = ("tree", "observation", "move", "work")
    ids = {(kind, view["id"]) for kind in kinds for view in phone.run("store.records.list(a)", kind)}
    here.base = {key: fields for key, fields in model.base.items() if key in ids}
    here.own = model.own
    return here


def check_all(phone: Phone, model: Model) -> None:
    trees = known_trees(phone)
    assert len(trees) == TREES
    for tree in trees:
        check(phone, model, tree)


@pytest.fixture
def fake(files: FileServer) -> FakeHome:
    home = FakeHome(files)
    home.page_records_max = PAGE_RECORDS
    return home


@pytest.fixture
def context(new_context: Callable[..., BrowserContext]) -> BrowserContext:
    # Browsers report every failed request; failing is what this home does.
    return new_context(allowed=["Failed to load resource"])


@pytest.mark.parametrize("backwards", [True, False])
def test_pages_that_follow_each_other_end_with_right_last_visits(page: Page, backwards: bool) -> None:
    if not backwards:
        # As browsers are that read an index forwards only: most phones of 2025 and before.
        page.evaluate("delete IDBIndex.prototype.getAllRecords")
    phone = Phone(page)
    records, model = collection()
    for each in pages(records):
        phone.take(**each)
    check_all(phone, model)
    assert phone.run("store.settings.get('latest_owed')") is None


def test_a_pull_that_breaks_off_shows_what_it_has_and_goes_on_from_there(page: Page, fake: FakeHome) -> None:
    records, model = collection()
    fake.log = list(records)
    asked = []

    def busy_at_the_fourth(request: Request) -> Answer | None:
        if request.path != "/api/v1/sync":
            return None
        asked.append(request.json["cursor"])
        return Answer.of({"type": "about:blank", "title": "Come back later"}, 503) if len(asked) == 4 else None

    fake.before = busy_at_the_fourth
    phone = SyncingPhone(page)
    assert phone.pair()["phase"] == "busy"
    assert phone.run("engine.state().progress.pulled") == 3 * PAGE_RECORDS
    assert phone.run("store.records.count('observation')") < TREES * WALKS
    check_all(phone, held(phone, model))

    assert phone.sync()["phase"] == "idle"
    check_all(phone, model)
    expected = [None, *(str(start) for start in range(PAGE_RECORDS, 4 * PAGE_RECORDS, PAGE_RECORDS))]
    assert asked[:4] == expected
    assert asked[4] == asked[3], "it goes on with the page that did not come"
    assert len(asked) == len(pages(records)) + 1, "no page is pulled twice"


@pytest.mark.parametrize("pages_before", [1, 3])
def test_a_browser_killed_between_pages_has_right_last_visits_when_opened_again(
    launch_profile: Callable[..., BrowserContext], files: FileServer, tmp_path: Path, pages_before: int
) -> None:
    folder = tmp_path / "profile"
    records, model = collection()
    all_pages = pages(records)
    phone = opened(launch_profile(folder), files)
    for each in all_pages[:pages_before]:
        phone.take(**each)
    assert kill_profile(folder) > 0

    phone = opened(launch_profile(folder), files)
    assert phone.run("store.settings.get('cursor')") == str(pages_before * PAGE_RECORDS)
    check_all(phone, held(phone, model))
    for each in all_pages[pages_before:]:
        phone.take(**each)
    check_all(phone, model)


def test_a_visit_saved_between_pages_counts_at_once_and_afterwards(page: Page) -> None:
    phone = Phone(page)
    records, model = collection()
    first, *others = pages(records)
    phone.take(**first)
    tree = records[0]["id"]
    fields = {"tree": tree, "seen_at": TIME, "leaves": 7}
    saved = phone.save("observation", fields)
    model.own.append(("observation", saved["record"], saved["change"], fields))
    check(phone, held(phone, model), tree)
    for each in others:
        phone.take(**each)
    check_all(phone, model)
    assert phone.summary()["unsent"] == 1


def test_a_page_that_finds_no_room_changes_nothing_and_can_be_pulled_again(page: Page, files: FileServer) -> None:
    session = page.context.new_cdp_session(page)
    session.send("Storage.overrideQuotaForOrigin", {"origin": files.url, "quotaSize": 2_000_000})
    phone = Phone(page)
    phone.take([record("place", {"place": "Yard"})], cursor="1", more=True)
    chance = random.Random(3)
    # Random, because the browser packs what is not, and then has room for it.
    notes = ["".join(chr(chance.randrange(0x4E00, 0x9FFF)) for _ in range(2000)) for _ in range(1500)]
    page_of_notes = [record("variety", {"variety": f"Early {i}", "note": note}) for i, note in enumerate(notes)]
    failed = phone.take(page_of_notes, cursor="2")
    assert failed["error"] == "full"
    assert phone.run("store.settings.get('cursor')") == "1"
    assert phone.run("store.records.count('variety')") == 0

    session.send("Storage.overrideQuotaForOrigin", {"origin": files.url})
    assert phone.take(page_of_notes, cursor="2")["pulled"] == len(notes)
    assert phone.run("store.records.count('variety')") == len(notes)
    assert phone.run("store.records.count('place')") == 1


def test_a_long_page_takes_nothing_from_unsent_changes(page: Page) -> None:
    phone = Phone(page)
    # More than the store looks up one by one.
    varieties = [record("variety", {"variety": f"Early {i}"}) for i in range(500)]
    phone.take(varieties, cursor="1")
    saved = phone.save("variety", {"note": "sweet"}, varieties[0]["id"])
    again = [record("variety", {"variety": f"Late {i}"}, each["id"]) for i, each in enumerate(varieties)]
    phone.run(
        """store.outbox.applyAnswer({ records: a, results: [], cursor: '2', epoch: 'first', more: false },
          { epoch: 'first', cursor: '1', changes: [] })""",
        again,
    )
    assert phone.fields("variety", varieties[0]["id"]) == {"variety": "Late 0", "note": "sweet"}
    assert phone.fields("variety", varieties[499]["id"]) == {"variety": "Late 499"}
    assert [change["id"] for change in phone.waiting()] == [saved["change"]]
    assert phone.run("store.records.count('variety')") == 500


def opened(context: BrowserContext, files: FileServer) -> Phone:
    page = context.new_page()
    page.goto(f"{files.url}/bench")
    return Phone(page)
