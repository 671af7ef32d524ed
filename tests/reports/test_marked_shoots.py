"""Marked shoots from the records on: they make totals, narrow the trend, and fill in the leaves a shoot."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from server import ids
from server.reports.judge import judge
from server.reports.load import load
from server.reports.overview import overview
from tests.support.collection import Phone

pytestmark = pytest.mark.usefixtures("collection")


def ago(days: float) -> str:
    return (ids.now() - timedelta(days=days)).isoformat()


def see(phone: Phone, tree: str, *visits: dict[str, object]) -> None:
    """Visits four days apart, the last one a quarter of a day ago."""
    last = len(visits) - 1
    sent = [
        phone.change("observation", tree=tree, seen_at=ago(4 * (last - n) + 0.25), **visit)
        for n, visit in enumerate(visits)
    ]
    assert {outcome.outcome for outcome in phone.send(*sent)} == {"stored"}


def test_the_mean_of_marked_shoots_stands_for_leaves_a_shoot_unless_that_was_given() -> None:
    phone = Phone()
    tree, other = phone.tree(), phone.tree()
    see(phone, tree, {"shoot_leaves": "5;6;;7"}, {"shoot_leaves": "5;6;7", "leaves_per_shoot": 9}, {"shoots": 8})
    see(phone, other, {"leaves": 40, "shoots": 8})
    collection = load()
    row = collection.rows[tree]
    np.testing.assert_array_equal(collection.visits.counted["leaves_per_shoot"][row], [6, 9, np.nan])
    marked = collection.visits.marked
    assert marked is not None
    assert marked.rows.tolist() == [row]
    np.testing.assert_array_equal(marked.counts[0, :2], [[5, 6, np.nan, 7], [5, 6, 7, np.nan]])


def test_a_tree_has_a_total_at_every_visit_though_its_shoots_were_counted_once() -> None:
    phone = Phone()
    tree = phone.tree(marked_shoots=4)
    see(
        phone, tree, {"shoot_leaves": "5;6;4;7", "shoots": 20}, {"shoot_leaves": "6;6;4;8"}, {"shoot_leaves": "6;7;5;8"}
    )
    judged = judge(load())
    np.testing.assert_allclose(judged.totals[judged.collection.rows[tree]], [110, 120, 130])
    (trend,) = overview().document["trends"]
    assert trend["leaves_low"] < 130 < trend["leaves_high"]


def test_a_fall_on_the_marked_shoots_is_told_as_a_fall_of_the_tree() -> None:
    phone = Phone()
    sheds, stays = phone.tree(), phone.tree()
    rounds = [(9, 12, 7, 10), (9, 12, 7, 10), (9, 12, 7, 11), (9, 12, 7, 10), (8, 11, 6, 9), (7, 9, 6, 8), (6, 8, 5, 7)]
    see(phone, sheds, *({"shoots": 20, "shoot_leaves": ";".join(map(str, each))} for each in rounds))
    see(phone, stays, *({"shoots": 20, "shoot_leaves": text} for text in ["9;12;7;10", "9;12;7;11"] * 4))
    found = {trend["tree"]: trend for trend in overview().document["trends"]}
    assert found[sheds]["direction"] == "falling"
    assert found[stays]["change_low"] < 0 < found[stays]["change_high"]


def test_counts_of_a_withdrawn_visit_count_no_more() -> None:
    phone = Phone()
    tree = phone.tree()
    change = phone.change("observation", tree=tree, seen_at=ago(1), shoots=8, shoot_leaves="5;6")
    phone.send(change, phone.change("observation", change["record"], voided=True))
    assert load().visits.marked is None


def test_two_visits_of_one_second_keep_both_counts() -> None:
    phone = Phone()
    tree, at = phone.tree(), ago(1)
    twice = [phone.change("observation", tree=tree, seen_at=at, shoot_leaves=text) for text in ("5", "7")]
    phone.send(*twice)
    marked = load().visits.marked
    assert marked is not None
    assert sorted(marked.counts[0, :, 0]) == [5, 7]
