"""The store: what is saved is on disk, what is pulled takes nothing away, and what home refuses can be mended."""

from __future__ import annotations

import base64
import json

import pytest
from playwright.sync_api import BrowserContext, Page
from stdnum.iso7064 import mod_37_36

from tests.webclient.files import FileServer
from tests.webclient.phone import TIME, Phone, new_id, record, refused, stored

# TIME, as a clock reads that is a day fast.
FAST_MS = 1_777_792_440_000
DAY_MS = 86_400_000


def tag(body: str) -> str:
    return body + mod_37_36.calc_check_digit(body)


@pytest.fixture
def phone(page: Page) -> Phone:
    return Phone(page)


class TestSaving:
    def test_a_save_writes_the_record_and_its_change(self, phone: Phone) -> None:
        tree = phone.save("tree", {"tag": tag("AAAAA")})["record"]
        saved = phone.save("observation", {"tree": tree, "seen_at": TIME, "leaves": 40, "note": None})
        assert phone.fields("observation", saved["record"]) == {"tree": tree, "seen_at": TIME, "leaves": 40}
        change = phone.waiting()[1]
        assert change.pop("saved_at_ms") > 0
        assert change.pop("edited_at")
        assert change == {
            "id": saved["change"],
            "n": 2,
            "kind": "observation",
            "record": saved["record"],
            "set": {"tree": tree, "seen_at": TIME, "leaves": 40, "note": None},
        }

    def test_what_is_wrong_is_said_by_field_and_nothing_is_written(self, phone: Phone) -> None:
        failed = phone.save("observation", {"tree": new_id(), "seen_at": TIME, "leaves": -3, "bbch": 140})
        assert failed["error"] == "invalid"
        assert {problem["field"] for problem in failed["problems"]} == {"leaves", "bbch"}
        assert phone.run("store.records.count('observation')") == 0
        assert phone.summary()["unsent"] == 0

    @pytest.mark.parametrize("fields", [{}, {"colour": "red"}])
    def test_an_empty_entry_and_an_unknown_field_are_refused(self, phone: Phone, fields: dict) -> None:
        assert phone.save("tree", fields)["error"] == "invalid"

    def test_a_barrow_is_moved_as_one_or_not_at_all(self, phone: Phone) -> None:
        trees = [phone.save("tree", {"tag": tag(f"AAA{i:02d}")})["record"] for i in range(5)]
        place = new_id()
        edits = [{"kind": "move", "set": {"tree": t, "moved_at": TIME, "to_place": place}} for t in trees]
        spoiled = [*edits[:4], {"kind": "move", "set": {"tree": trees[4], "moved_at": TIME}}]
        assert phone.run("store.records.saveAll(a)", spoiled)["error"] == "invalid"
        assert phone.run("store.records.count('move')") == 0
        assert len(phone.run("store.records.saveAll(a)", edits)) == 5
        assert [change["n"] for change in phone.waiting()] == list(range(1, 11))
        assert {phone.run("store.records.latest(a)", t)["place"] for t in trees} == {place}

    def test_more_than_a_barrow_holds_is_refused(self, phone: Phone) -> None:
        edits = [{"kind": "variety", "set": {"variety": f"Early {i}"}} for i in range(501)]
        assert phone.run("store.records.saveAll(a)", edits)["error"] == "limit"

    def test_undo_takes_back_a_new_entry_and_an_edit(self, phone: Phone) -> None:
        tree = phone.save("tree", {"tag": tag("AAAAA"), "note": "by the door"})
        edit = phone.save("tree", {"note": "moved", "standing": "keeper"}, tree["record"])
        phone.run("store.records.saveAll(a)", edit["undo"])
        assert phone.fields("tree", tree["record"]) == {"tag": tag("AAAAA"), "note": "by the door"}
        phone.run("store.records.saveAll(a)", tree["undo"])
        assert phone.run("store.records.list('tree')") == []
        assert len(phone.run("store.records.list('tree', { voided: true })")) == 1

    def test_a_full_outbox_says_so_and_keeps_what_it_has(self, phone: Phone) -> None:
        phone.run(
            """(async () => {
              const { openDB } = await import('idb');
              const db = await openDB('leafwalk');
              const tx = db.transaction('outbox', 'readwrite');
              for (let n = 1; n <= 50_000; n += 1) tx.store.put({ n, id: String(n), kind: 'variety', set: {} });
              await tx.done;
              db.close();
            })()"""
        )
        failed = phone.save("variety", {"variety": "One too many"})
        assert failed["error"] == "limit"
        assert "50000" in failed["message"]
        assert phone.summary()["unsent"] == 50_000

    def test_a_full_phone_says_so_and_keeps_what_it_has(self, page: Page, files: FileServer) -> None:
        # Before the first write, because the browser remembers for a while how much room there was.
        session = page.context.new_cdp_session(page)
        session.send("Storage.overrideQuotaForOrigin", {"origin": files.url, "quotaSize": 2_000_000})
        phone = Phone(page)
        kept = phone.save("variety", {"variety": "Early Violet"})
        failed = phone.run(
            """(async () => {
              // Random, because the browser packs what is not, and then has room for it.
              const bytes = new Uint8Array(20_000_000);
              for (let at = 0; at < bytes.length; at += 5e4) crypto.getRandomValues(bytes.subarray(at, at + 5e4));
              return store.photos.hold({ bytes: bytes.buffer, sha256: 'a'.repeat(64), type: 'image/jpeg',
                taken_at: '' });
            })()"""
        )
        assert failed["error"] == "full"
        assert "room" in failed["message"]
        session.send("Storage.overrideQuotaForOrigin", {"origin": files.url})
        assert phone.fields("variety", kept["record"]) == {"variety": "Early Violet"}
        assert phone.run("store.photos.info(a)", "a" * 64) is None
        assert "record" in phone.save("variety", {"variety": "Late Violet"})


class TestAnswers:
    def test_a_change_that_is_home_leaves_the_outbox_and_stays_in_the_view(self, phone: Phone) -> None:
        saved = phone.save("place", {"place": "Yard", "cover": "open"})
        applied = phone.take(results=stored(saved["change"]), cursor="7")
        assert applied == {"stored": 1, "refused": 0, "again": 0, "pulled": 0, "epochChanged": False}
        assert phone.summary()["unsent"] == 0
        assert phone.run("store.records.get('place', a)", saved["record"]) == {
            "kind": "place",
            "id": saved["record"],
            "fields": {"place": "Yard", "cover": "open"},
            "unsent": 0,
            "at_ms": None,
        }
        assert phone.run("store.settings.get('cursor')") == "7"

    def test_already_known_is_success(self, phone: Phone) -> None:
        saved = phone.save("place", {"place": "Yard"})
        phone.take(results=[{"id": saved["change"], "outcome": "duplicate"}])
        assert phone.summary() == {
            "unsent": 0,
            "oldest_at_ms": None,
            "parked": 0,
            "photos_waiting": 0,
            "photos_refused": 0,
        }
        assert phone.fields("place", saved["record"]) == {"place": "Yard"}

    def test_a_pull_never_loses_an_unsent_edit(self, phone: Phone) -> None:
        tree = new_id()
        phone.take([record("tree", {"tag": tag("AAAAA"), "note": "old", "standing": "trial"}, tree)])
        phone.save("tree", {"note": "mine"}, tree)
        phone.take([record("tree", {"tag": tag("AAAAA"), "note": "theirs", "standing": "keeper"}, tree)], cursor="2")
        assert phone.fields("tree", tree) == {"tag": tag("AAAAA"), "note": "mine", "standing": "keeper"}

    def test_what_the_merge_decided_replaces_the_view_once_nothing_is_unsent(self, phone: Phone) -> None:
        tree = new_id()
        phone.take([record("tree", {"tag": tag("AAAAA"), "note": "old"}, tree)])
        mine = phone.save("tree", {"note": "mine"}, tree)
        phone.take([record("tree", {"tag": tag("AAAAA"), "note": "theirs, later"}, tree)], stored(mine["change"]), "2")
        assert phone.fields("tree", tree)["note"] == "theirs, later"

    def test_an_edit_made_while_another_was_under_way_stays_on_top(self, phone: Phone) -> None:
        tree = new_id()
        phone.take([record("tree", {"tag": tag("AAAAA"), "note": "old"}, tree)])
        first = phone.save("tree", {"note": "first", "standing": "trial"}, tree)
        phone.save("tree", {"note": "second"}, tree)
        phone.take([record("tree", {"tag": tag("AAAAA"), "note": "first"}, tree)], stored(first["change"]), "2")
        assert phone.fields("tree", tree)["note"] == "second"
        assert phone.summary()["unsent"] == 1

    def test_a_field_cleared_here_is_cleared_over_what_was_pulled(self, phone: Phone) -> None:
        tree = new_id()
        phone.take([record("tree", {"tag": tag("AAAAA"), "note": "old"}, tree)])
        phone.save("tree", {"note": None}, tree)
        assert phone.fields("tree", tree) == {"tag": tag("AAAAA")}

    def test_an_answer_to_an_older_request_moves_no_cursor(self, phone: Phone) -> None:
        phone.take(cursor="5")
        stale = {
            "records": [record("place", {"place": "Ghost"})],
            "results": [],
            "cursor": "3",
            "epoch": "first",
            "more": False,
        }
        applied = phone.run("store.outbox.applyAnswer(a, { epoch: 'first', cursor: '2', changes: [] })", stale)
        assert applied["pulled"] == 0
        assert phone.run("store.settings.get('cursor')") == "5"
        assert phone.run("store.records.count('place')") == 0

    def test_a_kind_of_a_newer_server_is_passed_over(self, phone: Phone) -> None:
        phone.take([record("weather", {"rain_mm": 3}), record("place", {"place": "Yard"})], cursor="4")
        assert phone.run("store.records.count('place')") == 1
        assert phone.run("store.settings.get('cursor')") == "4"

    def test_numbers_run_on_after_everything_went_home(self, phone: Phone) -> None:
        first = phone.save("place", {"place": "Yard"})
        phone.take(results=stored(first["change"]))
        assert phone.save("place", {"place": "Porch"})["n"] == 2


class TestRefusals:
    def test_a_refused_edit_is_parked_with_its_reason_and_leaves_the_view(self, phone: Phone) -> None:
        tree = new_id()
        phone.take([record("tree", {"tag": tag("AAAAA"), "note": "old"}, tree)])
        edit = phone.save("tree", {"tag": tag("BBBBB")}, tree)
        phone.take(results=[refused(edit["change"], "tag", "Another tree carries this tag.")], cursor="2")
        assert phone.fields("tree", tree)["tag"] == tag("AAAAA")
        [parked] = phone.run("store.outbox.parked()")
        assert parked["change"]["set"] == {"tag": tag("BBBBB")}
        assert parked["problem"]["errors"] == [{"field": "tag", "message": "Another tree carries this tag."}]
        assert phone.summary()["parked"] == 1

    def test_mending_makes_a_new_change_of_the_same_record(self, phone: Phone) -> None:
        tree = phone.save("tree", {"tag": tag("AAAAA"), "note": "kept"})
        phone.take(results=[refused(tree["change"], "tag", "Another tree carries this tag.")])
        assert phone.fields("tree", tree["record"]) is None
        mended = phone.run("store.outbox.mend(a[0], a[1])", [tree["change"], {"tag": tag("BBBBB")}])
        assert mended["record"] == tree["record"]
        assert mended["change"] != tree["change"]
        assert phone.fields("tree", tree["record"]) == {"tag": tag("BBBBB"), "note": "kept"}
        assert phone.summary()["parked"] == 0
        assert phone.waiting()[0]["n"] == 2

    def test_what_was_refused_for_the_lack_of_a_record_goes_again_with_it(self, phone: Phone) -> None:
        tree = phone.save("tree", {"tag": tag("AAAAA")})
        seen = phone.save("observation", {"tree": tree["record"], "seen_at": TIME, "leaves": 9})
        stranger = phone.save("observation", {"tree": new_id(), "seen_at": TIME, "leaves": 1})
        results = [refused(each["change"], "tree", "No such tree.") for each in (tree, seen, stranger)]
        phone.take(results=results)
        edited_at = phone.run("(await store.outbox.parked())[1].change.edited_at")
        phone.run("store.outbox.mend(a[0], a[1])", [tree["change"], {"tag": tag("BBBBB")}])
        assert [change["record"] for change in phone.waiting()] == [tree["record"], seen["record"]]
        assert phone.waiting()[1]["edited_at"] == edited_at
        assert [each["id"] for each in phone.run("store.outbox.parked()")] == [stranger["change"]]
        assert phone.run("store.records.latest(a)", tree["record"])["fields"]["leaves"] == 9

    def test_a_photo_by_a_fast_clock_goes_again_with_the_mended_moment_of_its_visit(self, page: Page) -> None:
        phone = Phone(page, now_ms=FAST_MS)
        sha256 = phone.hold_photo()
        seen = phone.save("observation", {"tree": new_id(), "seen_at": TIME, "leaves": 9}, photos=[sha256])
        photo = phone.waiting()[1]
        outcomes = [refused(seen["change"], "seen_at", "In the future."), refused(photo["id"], "taken_at", "Likewise.")]
        phone.take(results=outcomes)
        page.evaluate("(now) => { clockMs = now; }", FAST_MS - DAY_MS)
        mended = "2026-05-02T09:12:00+02:00"
        assert phone.run("store.outbox.mend(a[0], { seen_at: a[1] })", [seen["change"], mended])["n"] == 3
        assert phone.summary()["parked"] == 0
        assert [change["kind"] for change in phone.waiting()] == ["observation", "photo"]
        assert phone.waiting()[1]["set"] == {**photo["set"], "taken_at": mended}
        assert phone.run("store.photos.info(a)", sha256)["state"] == "waiting"

    def test_what_is_wrong_by_itself_waits_for_its_own_mend_and_holds_up_no_other(self, page: Page) -> None:
        phone = Phone(page, now_ms=FAST_MS)
        tree = phone.save("tree", {"tag": tag("AAAAA")})
        seen = phone.save(
            "observation", {"tree": tree["record"], "seen_at": TIME}, photos=[phone.hold_photo("by the fast clock")]
        )
        note = phone.save("observation", {"note": "of the same visit"}, seen["record"])
        sound = phone.save("work", {"tree": tree["record"], "done_at": "2026-05-01T09:00:00+02:00", "task": "water"})
        ids = [change["id"] for change in phone.waiting()]
        phone.take(results=[refused(each, "tree", "No such tree.") for each in ids])
        page.evaluate("(now) => { clockMs = now; }", FAST_MS - DAY_MS)
        phone.run("store.outbox.mend(a[0], a[1])", [tree["change"], {"tag": tag("BBBBB")}])
        assert [change["record"] for change in phone.waiting()] == [tree["record"], sound["record"]]
        assert [each["id"] for each in phone.run("store.outbox.parked()")] == [seen["change"], ids[2], note["change"]]
        phone.run("store.outbox.mend(a[0], { seen_at: a[1] })", [seen["change"], "2026-05-02T09:12:00+02:00"])
        assert phone.summary()["parked"] == 0
        assert phone.fields("observation", seen["record"])["note"] == "of the same visit"

    def test_a_mend_that_is_still_wrong_changes_nothing(self, phone: Phone) -> None:
        seen = phone.save("observation", {"tree": new_id(), "seen_at": TIME, "leaves": 9})
        phone.take(results=[refused(seen["change"], "leaves", "Too many.")])
        assert phone.run("store.outbox.mend(a, { leaves: -1 })", seen["change"])["error"] == "invalid"
        assert phone.summary()["parked"] == 1
        assert phone.summary()["unsent"] == 0

    def test_discarding_is_for_good(self, phone: Phone) -> None:
        seen = phone.save("observation", {"tree": new_id(), "seen_at": TIME})
        phone.take(results=[refused(seen["change"], "tree", "No such tree.")])
        phone.run("store.outbox.discard(a)", seen["change"])
        assert phone.summary()["parked"] == 0
        assert phone.run("store.outbox.mend(a, {})", seen["change"])["error"] == "missing"


class TestLateOutcome:
    """Another phone's later edit was pulled before this phone heard that its own had come home."""

    @pytest.mark.parametrize("outcome", ["stored", "duplicate"])
    def test_it_puts_no_old_value_over_what_was_pulled(self, phone: Phone, outcome: str) -> None:
        place = new_id()
        phone.take([record("place", {"place": "Yard"}, place)], cursor="1")
        own = phone.save("place", {"note": "mine"}, place)
        request = {"epoch": "first", "cursor": "1", "changes": phone.waiting()}
        phone.take([record("place", {"place": "Yard", "note": "said later"}, place)], cursor="3")
        assert phone.fields("place", place)["note"] == "mine", "until home has answered for it"
        late = {"epoch": "first", "cursor": "2", "more": False, "records": []}
        late["results"] = [{"id": own["change"], "outcome": outcome}]
        phone.run("store.outbox.applyAnswer(a[0], a[1])", [late, request])
        assert phone.fields("place", place)["note"] == "said later"
        assert phone.summary()["unsent"] == 0

    def test_a_repeated_outcome_keeps_what_was_pulled_before_it(self, phone: Phone) -> None:
        place = new_id()
        phone.take([record("place", {"place": "Yard"}, place)], cursor="1")
        own = phone.save("place", {"note": "mine"}, place)
        phone.take([record("place", {"place": "Yard", "note": "said later"}, place)], cursor="3")
        phone.take(results=[{"id": own["change"], "outcome": "duplicate"}], cursor="3")
        assert phone.fields("place", place)["note"] == "said later"

    def test_what_was_stored_just_now_shows_before_it_is_pulled(self, phone: Phone) -> None:
        phone.take(cursor="1")
        place = phone.save("place", {"place": "Yard"})
        phone.take(results=stored(place["change"]), cursor="1", more=True)
        edit = phone.save("place", {"note": "mine"}, place["record"])
        phone.take(results=stored(edit["change"]), cursor="2", more=True)
        assert phone.fields("place", place["record"]) == {"place": "Yard", "note": "mine"}


class TestEpoch:
    def test_a_restored_home_is_pulled_afresh_and_offered_recent_changes_again(self, phone: Phone) -> None:
        old, gone = new_id(), new_id()
        phone.take([record("place", {"place": "Yard"}, old), record("place", {"place": "Shed"}, gone)], cursor="9")
        sent = phone.save("place", {"place": "Porch"})
        phone.take(results=stored(sent["change"]), cursor="10")
        unsent = phone.save("place", {"place": "Tunnel"})

        applied = phone.take([record("place", {"place": "Elsewhere"})], cursor="1", epoch="second")
        assert applied["epochChanged"] is True
        assert phone.run("store.settings.get('cursor')") is None
        assert [(c["id"], c["n"]) for c in phone.waiting()] == [(sent["change"], 1), (unsent["change"], 2)]
        names = lambda: {p["fields"]["place"] for p in phone.run("store.records.list('place')")}  # noqa: E731
        assert names() == {"Yard", "Shed", "Porch", "Tunnel"}, "the walk goes on with what was pulled before"

        results = stored(sent["change"], unsent["change"])
        phone.take([record("place", {"place": "Yard, swept"}, old)], results, "3", "second", more=True)
        assert "Shed" in names()
        fresh = [record("place", {"place": n}, i) for n, i in (("Porch", sent["record"]), ("Tunnel", unsent["record"]))]
        phone.take(fresh, cursor="5", epoch="second")
        assert names() == {"Yard, swept", "Porch", "Tunnel"}
        assert phone.fields("place", gone) is None

    def test_an_edit_of_what_home_lost_goes_again_after_the_entry_itself(self, phone: Phone) -> None:
        phone.take()
        place = phone.save("place", {"place": "Porch"})
        phone.take(results=stored(place["change"]))
        edit = phone.save("place", {"note": "sunny"}, place["record"])
        phone.take(results=[refused(edit["change"], "place", "place is missing.")], epoch="second")
        assert (phone.summary()["unsent"], phone.summary()["parked"]) == (1, 1)
        applied = phone.take(results=stored(place["change"]), epoch="second")
        assert applied["again"] == 1
        (again,) = phone.waiting()
        assert (again["id"], again["n"], again["set"]) == (edit["change"], edit["n"], {"note": "sunny"})
        (sent,) = phone.run("store.outbox.next(10, 1e6)")
        assert set(sent) == {"id", "n", "kind", "record", "edited_at", "set"}, "home takes no other keys"
        assert phone.fields("place", place["record"]) == {"place": "Porch", "note": "sunny"}
        assert phone.summary()["parked"] == 0

    def test_what_names_another_phones_entry_waits_until_that_is_home_again(self, phone: Phone) -> None:
        tree = new_id()
        phone.take([record("tree", {"tag": tag("AAAAA")}, tree)])
        seen = phone.save("observation", {"tree": tree, "seen_at": TIME, "leaves": 9})
        wrong = phone.save("place", {"place": "Porch"})
        phone.take(results=stored(seen["change"], wrong["change"]))
        phone.take(epoch="second")
        outcomes = [refused(seen["change"], "tree", "No such tree."), refused(wrong["change"], "place", "No.")]
        phone.take(results=outcomes, epoch="second")
        phone.take(cursor="2", epoch="second")
        assert (phone.summary()["unsent"], phone.summary()["parked"]) == (0, 2)
        phone.take([record("tree", {"tag": tag("AAAAA")}, tree)], cursor="3", epoch="second")
        assert [change["record"] for change in phone.waiting()] == [seen["record"]]
        assert phone.run("store.records.latest(a)", tree)["fields"]["leaves"] == 9
        results = [refused(phone.waiting()[0]["id"], "leaves", "Too many.")]
        phone.take(results=results, cursor="4", epoch="second")
        assert (phone.summary()["unsent"], phone.summary()["parked"]) == (0, 2), "it goes again once, not for ever"

    def test_what_home_refused_is_offered_to_another_home_again(self, phone: Phone) -> None:
        phone.take()
        place = phone.save("place", {"place": "Porch"})
        phone.take(results=[refused(place["change"], "place", "No.")])
        phone.take(epoch="second")
        assert [change["id"] for change in phone.waiting()] == [place["change"]]
        assert phone.summary()["parked"] == 0
        phone.take(results=stored(place["change"]), epoch="second")
        assert phone.fields("place", place["record"]) == {"place": "Porch"}

    def test_photos_that_are_still_here_are_offered_again(self, phone: Phone) -> None:
        phone.take()
        sha256 = phone.hold_photo()
        phone.save("observation", {"tree": new_id(), "seen_at": TIME}, photos=[sha256])
        phone.run("store.photos.markSent(a)", sha256)
        phone.take(epoch="second")
        assert phone.run("store.photos.info(a)", sha256)["state"] == "waiting"

    def test_a_trees_last_visit_and_tag_go_with_it(self, phone: Phone) -> None:
        tree = new_id()
        phone.take(
            [record("tree", {"tag": tag("AAAAA")}, tree), record("observation", {"tree": tree, "seen_at": TIME})]
        )
        phone.take(epoch="second")
        phone.take(epoch="second", cursor="1")
        assert phone.run("store.records.treeByTag(a)", tag("AAAAA")) is None
        assert phone.run("store.records.latest(a)", tree) is None


class TestTags:
    def test_a_replaced_tag_still_finds_its_tree(self, phone: Phone) -> None:
        tree = new_id()
        phone.take([record("tree", {"tag": tag("BBBBB"), "former_tags": [tag("AAAAA")]}, tree)])
        phone.save("tree", {"tag": tag("CCCCC")}, tree)
        found = {body: phone.run("store.records.treeByTag(a)", tag(body)) for body in ("AAAAA", "BBBBB", "CCCCC")}
        assert {body: (f["tree"]["id"], f["former"]) for body, f in found.items()} == {
            "AAAAA": (tree, True),
            "BBBBB": (tree, True),
            "CCCCC": (tree, False),
        }
        assert phone.run("store.records.treeByTag(a)", tag("DDDDD")) is None

    def test_the_tree_that_carries_the_tag_now_comes_first(self, phone: Phone) -> None:
        # The former bearer's id comes first in the index, so that order alone does not give the right tree.
        first, second = f"0{new_id()[1:]}", f"f{new_id()[1:]}"
        trees = [record("tree", {"tag": tag("BBBBB"), "former_tags": [tag("AAAAA")]}, first)]
        phone.take([*trees, record("tree", {"tag": tag("AAAAA")}, second)])
        assert phone.run("store.records.treeByTag(a)", tag("AAAAA"))["tree"]["id"] == second
        phone.save("tree", {"voided": True}, second)
        assert phone.run("store.records.treeByTag(a)", tag("AAAAA"))["tree"]["id"] == first


class TestPhotos:
    def test_a_photo_waits_from_its_form_on_and_belongs_to_the_entry(self, phone: Phone) -> None:
        tree = phone.save("tree", {"tag": tag("AAAAA")})["record"]
        sha256 = phone.hold_photo()
        assert phone.summary()["photos_waiting"] == 0
        seen = phone.save("observation", {"tree": tree, "seen_at": TIME}, photos=[sha256])
        info = phone.run("store.photos.info(a)", sha256)
        assert (info["state"], info["tree"], info["observation"]) == ("waiting", tree, seen["record"])
        assert phone.fields("photo", info["record"]) == {
            "sha256": sha256,
            "tree": tree,
            "observation": seen["record"],
            "taken_at": TIME,
        }
        assert phone.run("new TextDecoder().decode(await store.photos.bytes(a))", sha256) == "a leaf"
        assert [view["kind"] for view in phone.run("store.records.history(a)", tree)] == ["observation", "photo"]

        phone.run("store.records.saveAll(a)", seen["undo"])
        assert phone.run("store.photos.info(a)", sha256)["state"] == "withdrawn"
        assert phone.run("store.records.history(a)", tree) == []

    def test_one_file_on_two_visits_waits_until_the_last_of_them_is_taken_back(self, phone: Phone) -> None:
        sha256 = phone.hold_photo()
        trees = [new_id(), new_id()]
        first, second = (phone.save("observation", {"tree": t, "seen_at": TIME}, photos=[sha256]) for t in trees)
        phone.run("store.records.saveAll(a)", second["undo"])
        info = phone.run("store.photos.info(a)", sha256)
        assert (info["state"], info["tree"], info["observation"]) == ("waiting", trees[0], first["record"])
        assert phone.run("(await store.photos.due(0, 10)).length") == 1
        phone.run("store.records.saveAll(a)", first["undo"])
        assert phone.run("store.photos.info(a)", sha256)["state"] == "withdrawn"

    def test_discarding_one_of_two_entries_of_a_file_leaves_the_others_photo(self, phone: Phone) -> None:
        sha256 = phone.hold_photo()
        first = phone.save("observation", {"tree": new_id(), "seen_at": TIME}, photos=[sha256])
        phone.save("observation", {"tree": new_id(), "seen_at": TIME}, photos=[sha256])
        ids = [change["id"] for change in phone.waiting()]
        phone.take(results=[*stored(*ids[:3]), refused(ids[3], "tree", "No such tree.")])
        phone.run("store.outbox.discard(a)", ids[3])
        info = phone.run("store.photos.info(a)", sha256)
        assert (info["state"], info["observation"]) == ("waiting", first["record"])

    def test_only_what_is_due_is_sent_and_the_rest_waits_its_time(self, phone: Phone) -> None:
        prints = [phone.hold_photo(f"leaf {i}") for i in range(3)]
        phone.save("observation", {"tree": new_id(), "seen_at": TIME}, photos=prints)
        phone.run("store.photos.markFailed(a, 2000)", prints[0])
        phone.run("store.photos.markRefused(a, { title: 'Not a picture' })", prints[1])
        due = "(await store.photos.due(a, 10)).map((photo) => photo.sha256)"
        assert phone.run(due, 1999) == [prints[2]]
        assert phone.run(due, 2000) == [prints[2], prints[0]], "first those that were never put off"
        assert phone.summary()["photos_refused"] == 1
        phone.run("store.photos.retry(a)", prints[1])
        assert set(phone.run(due, 2000)) == set(prints)

    def test_a_photo_that_was_put_off_by_a_fast_clock_is_sent_once_the_clock_is_right(self, phone: Phone) -> None:
        sha256 = phone.hold_photo()
        phone.save("observation", {"tree": new_id(), "seen_at": TIME}, photos=[sha256])
        now_ms, hour_ms = 1_780_000_000_000, 3_600_000
        phone.run("store.photos.markFailed(a[0], a[1])", [sha256, now_ms + hour_ms])
        assert phone.run("(await store.photos.due(a, 10)).length", now_ms) == 0
        phone.run("store.photos.markFailed(a[0], a[1])", [sha256, now_ms + 365 * 24 * hour_ms])
        assert phone.run("(await store.photos.due(a, 10)).length", now_ms) == 1

    def test_bounds(self, phone: Phone) -> None:
        photo = "{ bytes: new ArrayBuffer(a), sha256: 'a'.repeat(64), type: 'image/jpeg', taken_at: '' }"
        assert phone.run(f"store.photos.hold({photo})", 25 * 1024 * 1024 + 1)["error"] == "limit"
        assert phone.run(f"store.photos.hold({photo})", 0)["error"] == "invalid"
        lost = phone.save("observation", {"tree": new_id(), "seen_at": TIME}, photos=["b" * 64])
        assert lost["error"] == "missing"
        assert phone.run("store.records.count('observation')") == 0

    def test_a_photo_that_no_form_wants_is_cleared_away_after_a_week_and_a_drafts_is_not(self, page: Page) -> None:
        now_ms = 1_780_000_000_000
        phone = Phone(page, now_ms=now_ms)
        stray, wanted, young = (phone.hold_photo(text) for text in ("stray", "wanted", "young"))
        phone.run("store.drafts.put('observation:x', { photos: [a] })", wanted)
        phone.run("store.close()")
        week_ms = 7 * 86_400_000
        later = Phone(page, now_ms=now_ms + week_ms)
        assert later.run("store.photos.info(a)", young)["state"] == "held"
        later.run("store.close()")
        latest = Phone(page, now_ms=now_ms + week_ms + 1)
        assert latest.run("store.photos.bytes(a)", stray) is None
        assert latest.run("store.photos.info(a)", wanted)["state"] == "held"


class TestRounds:
    def test_the_open_round_is_the_newest_that_this_phone_began(self, phone: Phone) -> None:
        phone.take([record("round", {"started_at": "2026-05-03T08:00:00+02:00"})])
        assert phone.run("store.records.roundOpen()") is None
        mine = phone.save("round", {"started_at": "2026-05-02T08:00:00+02:00", "places": []})
        assert phone.run("store.records.roundOpen()")["id"] == mine["record"]
        phone.take(
            [record("round", {"started_at": "2026-05-02T08:00:00+02:00"}, mine["record"])], stored(mine["change"]), "2"
        )
        assert phone.run("store.records.roundOpen()")["id"] == mine["record"]
        phone.save("round", {"finished_at": TIME}, mine["record"])
        assert phone.run("store.records.roundOpen()") is None

    def test_what_was_done_on_a_round_is_found_by_it(self, phone: Phone) -> None:
        walk, tree = new_id(), new_id()
        phone.save("observation", {"tree": tree, "seen_at": TIME, "round": walk})
        phone.save("observation", {"tree": tree, "seen_at": TIME})
        phone.save("move", {"tree": tree, "moved_at": TIME, "to_place": new_id(), "round": walk})
        phone.save("work", {"tree": tree, "done_at": TIME, "task": "water", "round": walk})
        found = phone.run("store.records.ofRound(a)", walk)
        assert {kind: len(views) for kind, views in found.items()} == {"observations": 1, "moves": 1, "work": 1}


class TestDrafts:
    def test_a_draft_is_kept_listed_and_dropped(self, phone: Phone) -> None:
        phone.run("store.drafts.put('observation:x', { leaves: 12, photos: ['p'] })")
        assert phone.run("(await store.drafts.get('observation:x')).value") == {"leaves": 12, "photos": ["p"]}
        phone.run("store.drafts.put('observation:x', { leaves: 13 })")
        assert [draft["value"] for draft in phone.run("store.drafts.list()")] == [{"leaves": 13}]
        phone.run("store.drafts.drop('observation:x')")
        assert phone.run("store.drafts.get('observation:x')") is None

    def test_bounds(self, phone: Phone) -> None:
        assert phone.run("store.drafts.put('a', 'x'.repeat(200_000))")["error"] == "limit"
        phone.run("Promise.all(Array.from({ length: 500 }, (_, i) => store.drafts.put(`d${i}`, i)))")
        assert phone.run("store.drafts.put('one more', 1)")["error"] == "limit"
        assert phone.run("store.drafts.put('d7', 'changed')") is None

    def test_a_draft_goes_with_the_save_made_from_it_and_stays_when_that_fails(self, phone: Phone) -> None:
        phone.run("Promise.all(['visit:x', 'barrow', 'other'].map((key) => store.drafts.put(key, { leaves: 12 })))")
        kept = "(await store.drafts.list()).map(({ key }) => key).sort()"
        save = "store.records.save('observation', null, a.visit, { photos: a.photos, drafts: ['visit:x'] })"
        visit = {"tree": new_id(), "seen_at": TIME}
        assert phone.run(save, {"visit": visit, "photos": ["b" * 64]})["error"] == "missing"
        assert phone.run(kept) == ["barrow", "other", "visit:x"]
        assert phone.run(save, {"visit": visit, "photos": []})["n"] == 1
        assert phone.run(kept) == ["barrow", "other"]
        edits = [{"kind": "variety", "set": {"variety": "Early Violet"}}]
        phone.run("store.records.saveAll(a, { drafts: ['barrow', 'never written'] })", edits)
        assert phone.run(kept) == ["other"]


class TestClosed:
    def test_a_read_too_says_plainly_that_the_storage_is_gone(self, phone: Phone) -> None:
        phone.save("variety", {"variety": "Early Violet"})
        phone.page.evaluate(
            """async () => {
              const newer = indexedDB.open('leafwalk', 1000);
              await new Promise((done) => { newer.onupgradeneeded = () => { newer.transaction.abort(); done(); }; });
            }"""
        )
        assert phone.page.evaluate("heard.at(-1)") == {"topic": "closed", "elsewhere": False, "lost": False}
        for read in (
            "records.list('tree')",
            "outbox.summary()",
            "photos.refused()",
            "drafts.list()",
            "settings.get('x')",
        ):
            failed = phone.run(f"store.{read}")
            assert failed["error"] == "closed", read
            assert failed["message"] == "This page can no longer reach its storage. Load it again."


class TestPocket:
    def test_the_age_is_that_of_the_oldest_entry_or_photo_refused_ones_too(self, page: Page) -> None:
        phone = Phone(page, now_ms=FAST_MS)

        def oldest_after(now_ms: int) -> int | None:
            page.evaluate("(now) => { clockMs = now; }", now_ms)
            oldest: int | None = phone.summary()["oldest_at_ms"]
            return oldest

        assert oldest_after(FAST_MS) is None
        wrong = phone.save("variety", {"variety": "Refused"})
        phone.take(results=[refused(wrong["change"], "kind", "Owners only.")])
        assert oldest_after(FAST_MS + 1) == FAST_MS
        prints = [phone.hold_photo("leaf"), phone.hold_photo("another leaf")]
        phone.save("observation", {"tree": new_id(), "seen_at": TIME}, photos=prints)
        phone.run("store.outbox.discard(a)", wrong["change"])
        phone.take(results=stored(*(change["id"] for change in phone.waiting())), cursor="2")
        assert oldest_after(FAST_MS + 2) == FAST_MS + 1
        phone.run("store.photos.markSent(a)", prints[0])
        phone.run("store.photos.markRefused(a, { title: 'Not a picture' })", prints[1])
        assert oldest_after(FAST_MS + 3) == FAST_MS + 1
        phone.save("variety", {"variety": "Later"})
        assert oldest_after(FAST_MS + 4) == FAST_MS + 1

    def test_the_exported_text_holds_everything_that_is_not_home(self, phone: Phone) -> None:
        home = phone.save("place", {"place": "Yard"})
        phone.take(results=stored(home["change"]))
        sha256 = phone.hold_photo("leaf bytes")
        seen = phone.save("observation", {"tree": new_id(), "seen_at": TIME, "note": "Blätter: 3 µm"}, photos=[sha256])
        bad = phone.save("variety", {"variety": "Refused"})
        phone.take(results=[refused(bad["change"], "kind", "Owners only.")], cursor="2")
        file = phone.run("store.outbox.exportPocket()")
        pocket = json.loads(file["text"])
        assert file["left_out"] == 0
        assert (pocket["format"], pocket["version"]) == ("leafwalk-pocket", 1)
        assert [change["kind"] for change in pocket["changes"]] == ["observation", "photo"]
        assert set(pocket["changes"][0]) == {"id", "n", "kind", "record", "edited_at", "set"}
        assert pocket["changes"][0]["record"] == seen["record"]
        assert pocket["changes"][0]["set"]["note"] == "Blätter: 3 µm"
        assert pocket["parked"][0]["change"]["record"] == bad["record"]
        assert pocket["photos"][0]["sha256"] == sha256
        assert base64.b64decode(pocket["photos"][0]["bytes_base64"]) == b"leaf bytes"


class TestTwoTabs:
    def test_both_save_at_once_and_no_number_is_given_twice(self, context: BrowserContext, files: FileServer) -> None:
        tabs = []
        for _ in range(2):
            page = context.new_page()
            page.goto(f"{files.url}/bench")
            tabs.append(Phone(page))
        for number, tab in enumerate(tabs):
            tab.page.evaluate(
                """(tab) => { window.all = Promise.all(Array.from({ length: 60 }, (_, i) =>
                  store.records.save('variety', null, { variety: `From tab ${tab}, ${i}` }))); }""",
                number,
            )
        for tab in tabs:
            tab.page.evaluate("() => all")
        changes = tabs[0].waiting()
        assert [change["n"] for change in changes] == list(range(1, 121))
        assert len({change["id"] for change in changes}) == 120
        assert tabs[1].run("store.records.count('variety')") == 120
        assert tabs[1].run("heard.some((event) => event.topic === 'saved' && event.elsewhere)")

    def test_a_tab_gives_way_to_a_newer_version(self, context: BrowserContext, files: FileServer) -> None:
        page = context.new_page()
        page.goto(f"{files.url}/bench")
        old = Phone(page)
        other = context.new_page()
        other.goto(f"{files.url}/bench")
        other.evaluate(
            "async () => { const { openDB } = await import('idb'); (await openDB('leafwalk', 999)).close(); }"
        )
        assert old.run("heard.map((event) => event.topic)") == ["closed"]
        assert old.save("variety", {"variety": "Too late"})["error"] == "closed"
