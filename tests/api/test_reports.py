"""Reports over HTTP: the overview with its ETag, reports by name and day, a tree's page. Not whether they are right."""

from __future__ import annotations

import gzip
import json
from datetime import timedelta

from server import ids
from tests.support.server import Visitor

LEAVES = (60, 62, 61, 59, 40, 22)


def visited_tree(owner: Visitor) -> tuple[str, str]:
    """A tree seen every third day until today, whose leaves are falling; its code and record id."""
    code = ids.new_tag_code()
    tree = owner.tree(tag=code)
    for number, leaves in enumerate(reversed(LEAVES)):
        seen_at = (ids.now() - timedelta(days=3 * number)).isoformat(timespec="seconds")
        owner.stored(owner.change("observation", tree=tree, seen_at=seen_at, leaves=leaves))
    return code, tree


def test_the_overview_is_sent_only_when_something_changed(owner: Visitor, helper: Visitor) -> None:
    code, tree = visited_tree(owner)
    first = helper.call("GET", "/overview")
    assert first.status_code == 200
    assert {"on", "alerts", "trends", "collection", "time_zone"} <= set(first.json)
    assert first.json["collection"] == owner.call("GET", "/settings").json["collection"]
    assert [(each["tag"], each["tree"]) for each in first.json["trends"]] == [(code, tree)]
    known = {"If-None-Match": first.headers["ETag"]}
    again = helper.call("GET", "/overview", headers=known)
    assert (again.status_code, again.data) == (304, b"")
    owner.stored(owner.change("observation", tree=tree, seen_at=ids.now().isoformat(timespec="seconds"), leaves=20))
    assert helper.call("GET", "/overview", headers=known).status_code == 200
    known = {"If-None-Match": helper.call("GET", "/overview").headers["ETag"]}
    owner.call("PUT", "/settings", json={"collection": "The yard"})
    assert helper.call("GET", "/overview", headers=known).json["collection"] == "The yard"


def test_each_phone_is_told_in_its_language_and_units(owner: Visitor, helper: Visitor) -> None:
    visited_tree(owner)
    american = {"Leafwalk-Units": "in gal F"}
    answers = {
        name: owner.call("GET", "/overview", headers=headers)
        for name, headers in (
            ("plain", {}),
            ("english", {"Accept-Language": "en-GB,en;q=0.9,de;q=0.5"}),
            ("unknown", {"Accept-Language": "fr", "Leafwalk-Units": "furlong"}),
            ("german", {"Accept-Language": "de-AT, de;q=0.9, en;q=0.5"}),
            ("american", american),
        )
    }
    (plain,), (german,) = (answers[name].json["crop"] for name in ("plain", "german"))
    assert plain["why"][0] == "Its fruit was not counted lately: count it, and write 0 where there is none."
    assert german["why"][0] == "Seine Früchte wurden zuletzt nicht gezählt: zählen, und 0 schreiben, wo keine sind."
    assert answers["english"].data == answers["unknown"].data == answers["plain"].data
    etags = {name: answer.headers["ETag"] for name, answer in answers.items()}
    assert etags["english"] == etags["plain"] and len(set(etags.values())) == 3
    assert {"Accept-Language", "Leafwalk-Units"} <= set(answers["german"].headers["Vary"].split(", "))
    # What a phone has in one language is no answer to its asking for another.
    known = {"If-None-Match": etags["plain"]}
    assert owner.call("GET", "/overview", headers={**known, **american}).status_code == 200
    assert owner.call("GET", "/overview", headers=known).status_code == 304
    german_now = {"Accept-Language": "de"}
    assert owner.call("GET", "/reports/crop", headers=german_now).json["items"][0]["why"] == german["why"]
    assert owner.call("GET", "/reports/crop").json["items"][0]["why"] == plain["why"]
    refused = owner.call("POST", "/pair", json={"code": "WRONG", "device_name": "x"}, headers=german_now)
    assert refused.status_code in (403, 422) and refused.json["detail"]


def test_a_packed_overview_keeps_its_etag(owner: Visitor) -> None:
    for _ in range(12):
        owner.tree()
    packed = owner.call("GET", "/overview", headers={"Accept-Encoding": "gzip"})
    assert packed.headers["Content-Encoding"] == "gzip"
    assert json.loads(gzip.decompress(packed.data)) == owner.call("GET", "/overview").json
    for headers in ({}, {"Accept-Encoding": "gzip"}):
        again = owner.call("GET", "/overview", headers={**headers, "If-None-Match": packed.headers["ETag"]})
        assert again.status_code == 304


def test_reports_are_asked_by_name_and_day(owner: Visitor) -> None:
    code, _ = visited_tree(owner)
    for name in ("alerts", "trends"):
        report = owner.call("GET", f"/reports/{name}")
        assert report.status_code == 200
        assert set(report.json) >= {"on", "items"}
        assert owner.call("GET", f"/reports/{name}?on=2020-02-29").json["on"] == "2020-02-29"
    now, before = owner.call("GET", "/reports/trends").json, owner.call("GET", "/reports/trends?on=2020-02-29").json
    assert [(each["tag"], each["leaves"] is None) for each in now["items"]] == [(code, False)]
    assert [(each["tag"], each["leaves"] is None) for each in before["items"]] == [(code, True)]


def test_a_tree_has_a_page(owner: Visitor) -> None:
    code, tree = visited_tree(owner)
    page = owner.call("GET", f"/trees/{tree}").json
    assert page["record"]["tag"] == code
    assert page["trend"]["tag"] == code
    assert len(page["trend"]["series"]) == len(LEAVES)


def test_what_there_is_no_report_on_is_told_as_such(owner: Visitor) -> None:
    visited_tree(owner)
    for path, status in (
        ("/reports/gossip", 404),
        (f"/trees/{ids.new_id()}", 404),
        ("/trees/nothing", 404),
        ("/overview?on=yesterday", 422),
        ("/overview?on=0001-01-01", 422),
        ("/overview?on=9999-12-31", 422),
        ("/reports/alerts?on=9999-12-31", 422),
        ("/reports/alerts?on=2025-02-30", 422),
        ("/reports/alerts?day=2025-02-03", 422),
        (f"/trees/{ids.new_id()}?on=x", 422),
    ):
        answer = owner.call("GET", path)
        assert (answer.status_code, answer.mimetype) == (status, "application/problem+json"), path


def test_trees_that_were_never_visited_are_no_failure(owner: Visitor) -> None:
    assert owner.call("GET", "/overview").json["trends"] == []
    trees = {owner.tree() for _ in range(3)}
    overview = owner.call("GET", "/overview")
    assert overview.status_code == 200
    assert {each["tree"] for each in overview.json["trends"]} == trees
    assert owner.call("GET", f"/trees/{trees.pop()}").status_code == 200
