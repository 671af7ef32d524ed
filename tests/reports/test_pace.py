"""Pace from records: heat along a tree's places, waking, pruning, findings, the drawing."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date

import pytest

from server.reports.alerts import alerts
from server.reports.lagging import behind
from server.reports.load import load
from server.reports.overview import overview
from server.reports.pace import find_paces, pace_item, pace_report
from server.reports.pacerests import Rests
from tests.reports.growing_records import Yard, at, day, stored

pytestmark = pytest.mark.usefixtures("sqlite_collection")

PACES = (0.85, 0.9, 0.95, 1.0, 1.0, 1.05, 1.1, 1.15, 0.92, 1.08)


@pytest.fixture
def yard() -> Yard:
    """Ten sound trees that grow at about the same pace until day 60."""
    found = Yard()
    for pace in PACES:
        found.grow(found.tree(), pace)
    return found


def test_heat_since_waking_follows_the_places_that_a_tree_stood_in(yard: Yard) -> None:
    """Ten degree-days a day in the yard (18 °C over 8 °C; Souza et al. 2009), two in the cellar."""
    cellar = yard.phone.change("place", place="Cellar", cover="indoors")
    stored(yard.phone, cellar)
    yard.read(cellar["record"], 10.0)
    tree = yard.tree()
    yard.grow(tree)
    stored(yard.phone, yard.phone.change("move", tree=tree, moved_at=at(day(30), 0), to_place=cellar["record"]))
    paced = find_paces(load(day(60)))
    moved = pace_item(paced, paced.collection.rows[tree])
    stayed = pace_item(paced, paced.collection.rows[next(iter(set(paced.collection.rows) - {tree}))])
    assert moved.woke == stayed.woke == day(4).isoformat()
    # Days 4 to 29 in the yard; of days 30 to 60 the last has just ended, but its heat counts from the day after.
    assert stayed.heat == 56 * 10
    in_the_cellar = moved.heat - 26 * 10
    assert 30 * 2 <= in_the_cellar <= 30 * 2.5  # a sine around 10 °C dips below 8 °C; what lies below is not taken off


def test_sound_trees_are_on_pace_and_a_weak_one_is_found(yard: Yard) -> None:
    weak = yard.tree()
    yard.grow(weak, 0.35)
    items = {item.tree: item for item in pace_report(day(60)).items}
    assert items[weak].pace == "behind"
    assert items[weak].further_on > 0.98
    assert sum(item.pace == "on pace" for item in items.values()) >= 9
    (finding,) = [item for item in alerts(day(60)).items if item.kind == "behind"]
    assert (finding.tree, finding.level) in {(weak, "watch"), (weak, "act")}
    assert finding.advice
    assert any("trees like it" in sentence for sentence in finding.why)
    assert finding.since is not None
    assert date.fromisoformat(finding.since) <= day(60)
    said = items[weak].leaves_per_shoot
    assert said.seen < said.low < said.middle < said.high


def test_a_tree_with_a_better_reason_is_left_out(yard: Yard) -> None:
    weak = yard.tree()
    yard.grow(weak, 0.35)
    paced = find_paces(load(day(60)))
    assert [item.tree for item in behind(paced)] == [weak]
    assert behind(paced, besides={weak}) == []


def test_a_pruned_tree_is_not_held_against_others(yard: Yard) -> None:
    tree = yard.tree()
    yard.grow(tree, 0.3)
    stored(yard.phone, yard.phone.change("work", tree=tree, done_at=at(day(6)), task="prune"))
    (item,) = [each for each in pace_report(day(60)).items if each.tree == tree]
    assert item.pace == "unknown"
    assert "pruned" in item.why[0]
    assert not [each for each in alerts(day(60)).items if each.kind == "behind"]


def test_a_tree_pruned_lately_is_not_judged_by_what_was_counted_before(yard: Yard) -> None:
    tree = yard.tree()
    yard.grow(tree, 0.3)
    stored(yard.phone, yard.phone.change("work", tree=tree, done_at=at(day(58)), task="prune"))
    paced = find_paces(load(day(60)))
    assert behind(paced) == []
    assert pace_item(paced, paced.collection.rows[tree]).pace == "unknown"


def test_the_overview_holds_each_pace_with_its_band_and_what_it_rests_on(yard: Yard) -> None:
    bare = yard.tree()
    told = {item["tree"]: item for item in overview(day(60)).document["pace"]}
    missing = told.pop(bare)
    assert (missing["pace"], missing["rests_on"]) == ("unknown", asdict(Rests()))
    assert "count its leaves" in missing["why"][0]
    assert len(told) == len(PACES)
    for item in told.values():
        leaves = item["leaves_per_shoot"]
        assert leaves["low"] < leaves["middle"] < leaves["high"]
        assert leaves["on"] == day(60).isoformat()
        assert item["rests_on"] == {"own_seasons": 0, "variety_trees": len(PACES) - 1, "species_trees": len(PACES) - 1}
        assert (item["guessed_days"], item["woke_seen"]) == (0, True)
        assert "why" not in item


def test_leaves_that_fell_had_grown(yard: Yard) -> None:
    """A tree that lost half of its leaves, all picked up, is not behind in making them."""
    tree = yard.tree()
    yard.see(tree, 0, bbch=1)
    yard.see(tree, 4, bbch=9)
    for number in range(8, 61, 4):
        grown = round(6 * 10.0 * (number - 4) / 45.0)
        on_tree = grown if number < 60 else grown // 2
        yard.see(tree, number, shoots=6, leaves=on_tree, leaves_fallen=grown - on_tree)
    (item,) = [each for each in pace_report(day(60)).items if each.tree == tree]
    assert item.pace == "on pace"


def test_a_tree_first_seen_in_full_leaf_takes_the_waking_of_its_kind(yard: Yard) -> None:
    tree = yard.tree()
    for number in range(40, 61, 4):
        yard.see(tree, number, shoots=6, leaves=round(6 * 10.0 * (number - 4) / 45.0))
    (item,) = [each for each in pace_report(day(60)).items if each.tree == tree]
    assert (item.woke, item.woke_seen) == (day(4).isoformat(), False)
    assert item.pace == "on pace"


def test_the_next_spring_is_another_season(yard: Yard) -> None:
    tree = yard.tree()
    yard.grow(tree)
    yard.see(tree, 365, bbch=9)
    yard.see(tree, 369, shoots=6, leaves=4)
    paced = find_paces(load(day(370)))
    item = pace_item(paced, paced.collection.rows[tree])
    assert item.woke == day(365).isoformat()
    assert item.rests_on.own_seasons == 1
    others = [pace_item(paced, row) for other, row in paced.collection.rows.items() if other != tree]
    assert {other.pace for other in others} == {"unknown"}
    assert {other.woke for other in others} == {None}


def test_one_trees_report_draws_it_against_its_band(yard: Yard) -> None:
    tag = load(day(60)).trees[0].tag
    (item,) = pace_report(day(60), tag).items
    leaves = item.drawing["leaves_per_shoot"]
    assert len(leaves["counts"]) == 14
    assert leaves["band"][0]["heat"] == 0
    assert all(point["low"] <= point["middle"] <= point["high"] for point in leaves["band"])
    assert leaves["band"][-1]["middle"] == pytest.approx(item.leaves_per_shoot.middle, abs=0.5)
    told = item.leaves_per_shoot
    last = leaves["counts"][-1]
    assert (last["seen"], last["low"], last["high"]) == (told.seen, told.low, told.high)


def test_a_tree_whose_growth_nobody_counted_is_drawn_without_a_band(yard: Yard) -> None:
    tree = yard.tree()
    yard.see(tree, 4, bbch=9)
    yard.see(tree, 58, bbch=31)
    collection = load(day(60))
    (item,) = pace_report(day(60), collection.trees[collection.rows[tree]].tag).items
    assert item.pace == "unknown"
    assert item.why == ["Growth was not counted: count the leaves of five shoots, or measure a typical shoot."]
    assert item.drawing == {name: {"counts": [], "band": []} for name in ("leaves_per_shoot", "shoot_cm")}


def test_an_evergreen_counts_from_the_first_day_known_and_guessed_warmth_is_told() -> None:
    """It was first seen on 20 March; the readings begin with April."""
    yard = Yard()
    lemon = yard.phone.change("variety", variety="Cloudlemon", species="citrus")
    stored(yard.phone, lemon)
    trees = [yard.tree(variety=lemon["record"]) for _ in PACES]
    for tree, pace in zip(trees, PACES, strict=True):
        for number in range(-12, 61, 8):
            yard.see(tree, number, shoots=6, leaves=round(6 * pace * (5 + number / 6)))
    told = {item.tree: item for item in pace_report(day(60)).items}
    first = told[trees[0]]
    assert (first.evergreen, first.woke, first.guessed_days) == (True, "2024-03-19", 13)
    assert first.why[0].startswith("It has had")
    assert "since 19 March. No thermometer was read on 13 of the days" in first.why[0]


def test_without_readings_days_count_instead() -> None:
    yard = Yard()
    stored(yard.phone, *(_withdrawn(yard, reading) for reading in _readings()))
    for pace in PACES:
        yard.grow(yard.tree(), pace)
    items = pace_report(day(60)).items
    assert {(item.heat, item.guessed_days) for item in items} == {(56 * 9, 56)}
    assert sum(item.pace == "on pace" for item in items) >= 8


def test_an_empty_collection_has_no_pace() -> None:
    assert pace_report(day(60)).items == []


def test_trees_that_nobody_saw_are_asked_to_be_looked_at() -> None:
    yard = Yard()
    yard.tree()
    (item,) = pace_report(day(60)).items
    assert item.pace == "unknown"
    assert "count its leaves" in item.why[0]


def _readings() -> list[str]:
    from server.records.database import execute

    return [row[0] for row in execute("SELECT id FROM reading").fetchall()]


def _withdrawn(yard: Yard, reading: str) -> dict[str, object]:
    return yard.phone.change("reading", record=reading, voided=True)
