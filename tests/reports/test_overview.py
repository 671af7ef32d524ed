"""The overview from an empty collection on: it never fails, changes with what it rests on, and names what is found."""

from __future__ import annotations

from datetime import timedelta

import pytest

from server import ids
from server.reports.overview import overview, version
from server.reports.tree import tree_page
from tests.support.collection import Phone

pytestmark = pytest.mark.usefixtures("collection")


def ago(days: float) -> str:
    return (ids.now() - timedelta(days=days)).isoformat()


def grown(phone: Phone, place: str, fallen: list[int], leaves: int = 60) -> str:
    """A tree seen every four days until today, with so many leaves fallen at each visit."""
    tree = phone.tree(place=place)
    visits = []
    for at, lost in enumerate(fallen):
        leaves -= lost
        seen = ago(4 * (len(fallen) - 1 - at))
        visits.append(phone.change("observation", tree=tree, seen_at=seen, leaves=leaves, leaves_fallen=lost))
    assert {outcome.outcome for outcome in phone.send(*visits)} == {"stored"}
    return tree


def a_place(phone: Phone) -> str:
    change = phone.change("place", place="Yard", cover="open")
    phone.send(change)
    return str(change["record"])


def test_an_empty_collection_has_an_overview() -> None:
    document = overview().document
    assert (document["alerts"], document["trends"], document["collection"]) == ([], [], "My trees")


def test_trees_that_nobody_has_seen_have_no_trend_and_no_drop() -> None:
    phone = Phone()
    phone.tree()
    phone.tree(place=a_place(phone))
    document = overview().document
    assert [trend["direction"] for trend in document["trends"]] == ["unknown", "unknown"]
    assert document["alerts"] == []


def test_visits_without_any_count_are_no_reason_to_fail() -> None:
    phone = Phone()
    tree = phone.tree()
    phone.send(*[phone.change("observation", tree=tree, seen_at=ago(day), note="fine") for day in (9, 5, 1)])
    assert overview().document["trends"][0]["leaves"] is None


def test_the_version_changes_with_the_records_and_with_the_day_alone() -> None:
    phone = Phone()
    before = version()
    assert version() == before
    phone.tree()
    assert version() != before
    assert version(ids.now().date() - timedelta(days=3)) != version()


def test_a_tree_that_runs_ahead_of_its_peers_is_found_and_stands_on_its_page() -> None:
    phone = Phone()
    place = a_place(phone)
    sound = [grown(phone, place, [0, 1, 0, 0, 1, 0, 0, 1, 0, 0]) for _ in range(7)]
    dropping = grown(phone, place, [0, 1, 0, 0, 1, 0, 0, 1, 9, 11])
    found = [alert for alert in overview().document["alerts"] if alert["kind"] == "leaf_drop"]
    assert [alert["tree"] for alert in found] == [dropping]
    page = tree_page(dropping)
    assert (page["findings"], page["stands_in"]) == (found, "Yard")
    assert len(page["trend"]["series"]) == 10
    assert tree_page(sound[0])["findings"] == []


def test_nothing_after_the_day_asked_for_is_looked_at() -> None:
    phone = Phone()
    place = a_place(phone)
    for _ in range(7):
        grown(phone, place, [0, 1, 0, 0, 1, 0, 0, 1, 0, 0])
    grown(phone, place, [0, 1, 0, 0, 1, 0, 0, 1, 9, 11])
    earlier = overview(ids.now().date() - timedelta(days=10)).document
    assert [alert for alert in earlier["alerts"] if alert["kind"] == "leaf_drop"] == []
