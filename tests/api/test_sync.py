"""The exchange over HTTP: idempotent, an outcome a change, refusals parked, pages, and what a bad request is told."""

import gzip
import json
from datetime import timedelta
from typing import Any

from server import ids
from server.records.database import execute
from tests.support.server import Visitor

SEEN = "2025-05-03T08:30:00+02:00"


def test_the_same_request_twice_changes_nothing(owner: Visitor) -> None:
    tree = owner.change("tree", tag=ids.new_tag_code(), note="by the door")
    seen = owner.change("observation", tree=tree["record"], seen_at=SEEN, leaves=62)
    first = owner.sync(tree, seen).json
    second = owner.sync(tree, seen).json
    assert [each["outcome"] for each in first["results"]] == ["stored", "stored"]
    assert [each["outcome"] for each in second["results"]] == ["duplicate", "duplicate"]
    assert second["records"] == first["records"]
    assert second["cursor"] == first["cursor"]
    fields = {each["kind"]: each["fields"] for each in first["records"]}
    assert fields["observation"] == {"tree": tree["record"], "seen_at": SEEN, "leaves": 62}


def test_a_refused_change_is_parked_and_its_neighbours_are_stored(owner: Visitor) -> None:
    tree = owner.tree()
    good = owner.change("observation", tree=tree, seen_at=SEEN, leaves_fallen=3)
    bad = owner.change("observation", tree=tree, seen_at=SEEN, leaves_fallen=-3)
    answer = owner.sync(bad, good)
    assert answer.status_code == 200
    refused, stored = answer.json["results"]
    assert stored == {"id": good["id"], "outcome": "stored"}
    assert refused["outcome"] == "refused"
    assert refused["problem"]["status"] == 422
    assert [each["field"] for each in refused["problem"]["errors"]] == ["leaves_fallen"]
    ((kept,),) = execute("SELECT change_json FROM parked_change WHERE id = ?", (bad["id"],)).fetchall()
    assert json.loads(kept) == bad
    assert owner.sync(bad).json["results"] == [refused]


def test_bad_input_is_refused_by_field_and_loses_nothing(owner: Visitor) -> None:
    tree = owner.tree()
    nobody = ids.new_id()
    in_two_hours = (ids.now() + timedelta(hours=2)).isoformat(timespec="seconds")
    cases = [
        ("seen_at", {"seen_at": in_two_hours}),
        ("seen_at", {"seen_at": "2025-05-03"}),
        ("seen_at", {"seen_at": None}),
        ("shoots", {"shoots": -1}),
        ("leaves", {"leaves": 5_000_000}),
        ("leaves", {"leaves": 1.5}),
        ("leaves", {"leaves": 10**19}),
        ("leaves", {"leaves": "many"}),
        ("leaves", {"leaves": True}),
        ("damage_percent", {"damage_percent": 100.5}),
        ("shoot_cm", {"shoot_cm": 1e300}),
        ("causes", {"causes": "sun;goblins"}),
        ("bbch", {"bbch": 100}),
        ("note", {"note": "x" * 2001}),
        ("note", {"note": "bell \x07"}),
        ("note", {"note": "half \ud800 pair"}),
        ("note", {"note": ["list"]}),
        ("tree", {"tree": nobody}),
        ("tree", {"tree": "not an id"}),
        ("colour", {"colour": "green"}),
        ("colour\ud800", {"colour\ud800": 1}),
        ("voided", {"voided": "yes"}),
    ]
    changes = [owner.change("observation", **{"tree": tree, "seen_at": SEEN, **fields}) for _, fields in cases]
    results = owner.sync(*changes).json["results"]
    for (field, fields), result in zip(cases, results, strict=True):
        assert result["outcome"] == "refused", fields
        assert field in [each["field"] for each in result["problem"]["errors"]], fields
    assert execute("SELECT count(*) FROM parked_change").fetchone()[0] == len(cases)
    assert execute("SELECT count(*) FROM observation").fetchone()[0] == 0


def test_what_is_hardly_a_change_is_refused_and_the_rest_goes_on(owner: Visitor) -> None:
    tree = owner.tree()
    good = owner.change("observation", tree=tree, seen_at=SEEN)
    hardly: list[Any] = [None, 7, "text", [], {}]
    hardly += [{**good, "id": identity} for identity in (5, None, "x" * 300, "\x00" * 36, "\ud800" * 36)]
    for spoilt in ({"kind": "potion"}, {"set": {}}, {"set": []}, {"n": 0}, {"edited_at": "now"}, {"record": "\ud800"}):
        hardly.append({**good, "id": ids.new_id(), **spoilt})
    answer = owner.sync(*hardly, good)
    assert answer.status_code == 200
    outcomes = [each["outcome"] for each in answer.json["results"]]
    assert outcomes == ["refused"] * len(hardly) + ["stored"]


def test_a_wrong_tag_code_is_refused_with_what_to_do(owner: Visitor) -> None:
    for tag in ("ABC", "00000U", "ABCDE*", "", "A" * 400):
        (result,) = owner.sync(owner.change("tree", tag=tag)).json["results"]
        assert result["outcome"] == "refused", tag
        assert result["problem"]["errors"][0]["field"] == "tag", tag
    code = ids.new_tag_code()
    wrong = code[:-1] + ("2" if code[-1] != "2" else "3")
    (result,) = owner.sync(owner.change("tree", tag=wrong)).json["results"]
    assert "check character" in result["problem"]["detail"]


def test_a_helper_records_and_edits_no_card(owner: Visitor, helper: Visitor) -> None:
    tree = owner.tree()
    seen = helper.change("observation", tree=tree, seen_at=SEEN)
    card = helper.change("tree", tree, note="mine now")
    outcomes = [each["outcome"] for each in helper.sync(seen, card).json["results"]]
    assert outcomes == ["stored", "refused"]


def test_records_come_in_pages_and_none_is_missed_or_told_twice(owner: Visitor, helper: Visitor) -> None:
    trees = {owner.tree(note=str(n)) for n in range(23)}
    cursor, epoch, seen, pages = None, None, [], 0
    while True:
        page = helper.sync(limit=5, cursor=cursor, epoch=epoch).json
        cursor, epoch, pages = page["cursor"], page["epoch"], pages + 1
        assert len(page["records"]) <= 5
        seen += [each["id"] for each in page["records"]]
        if not page["more"]:
            break
    assert pages == 5
    assert sorted(seen) == sorted(trees)
    assert helper.sync(limit=5, cursor=cursor, epoch=epoch).json["records"] == []


def test_a_phone_that_knows_another_epoch_gets_everything_afresh(owner: Visitor) -> None:
    owner.tree()
    answer = owner.sync(epoch=ids.new_id(), cursor="999").json
    assert len(answer["records"]) == 1
    assert answer["epoch"] == owner.sync().json["epoch"]


def test_a_bad_envelope_is_refused_and_nothing_is_taken(owner: Visitor) -> None:
    change = owner.change("tree", tag=ids.new_tag_code())
    for envelope in (
        {"protocol": 2},
        {"limit": 0},
        {"limit": 10**6},
        {"limit": "5"},
        {"changes": {"0": change}},
        {"changes": None},
        {"cursor": 5},
        {"surprise": 1},
    ):
        answer = owner.sync(change, **envelope)
        assert answer.status_code == 422, envelope
        assert answer.json["errors"][0]["field"] == next(iter(envelope)), envelope
    epoch = owner.sync().json["epoch"]
    for cursor in ("abc", "-1", "9" * 40, "１"):
        assert owner.sync(epoch=epoch, cursor=cursor).status_code == 422, cursor
    assert owner.sync().json["records"] == []


def test_more_changes_than_one_request_takes_are_refused_whole(owner: Visitor) -> None:
    answer = owner.sync(*[None] * 5001)
    assert answer.status_code == 413
    assert execute("SELECT count(*) FROM parked_change").fetchone()[0] == 0


def test_a_body_over_the_limit_is_refused(owner: Visitor) -> None:
    answer = owner.call("POST", "/sync", data=b" " * (8 * 1024 * 1024 + 1))
    assert answer.status_code == 413
    assert owner.call("PUT", "/settings", data=b" " * (64 * 1024 + 1)).status_code == 413


def test_a_device_shut_out_in_mid_round_stores_nothing_more_and_is_told_why(owner: Visitor, helper: Visitor) -> None:
    tree = owner.tree()
    helper.stored(helper.change("observation", tree=tree, seen_at=SEEN))
    listed = owner.call("GET", "/devices").json["devices"]
    device = next(each["id"] for each in listed if each["role"] == "helper")
    owner.call("DELETE", f"/devices/{device}")
    answer = helper.sync(helper.change("observation", tree=tree, seen_at=SEEN))
    assert answer.status_code == 401
    assert answer.json["type"].endswith("/token-revoked")
    assert execute("SELECT count(*) FROM observation").fetchone()[0] == 1


def test_a_long_answer_is_packed_for_those_who_take_it(owner: Visitor) -> None:
    for _ in range(20):
        owner.tree(note="the same words again and again")
    plain = owner.sync()
    packed = owner.call("POST", "/sync", json={"protocol": 1}, headers={"Accept-Encoding": "gzip"})
    assert packed.headers["Content-Encoding"] == "gzip"
    assert "Content-Encoding" not in plain.headers
    assert len(packed.data) < len(plain.data) / 2
    assert json.loads(gzip.decompress(packed.data)) == plain.json
