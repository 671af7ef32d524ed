"""The demonstration's batches of cuttings: plausible, linked to its trees, and with plants to give."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from demo_db.build import Built, build
from demo_db.cuttings import BATCHES, GIVEN_AWAY, came_of
from demo_db.orchard import plant
from demo_db.season import Season
from demo_db.truths import SEED, sound_tags
from server.records.database import close_database, execute
from server.reports.jobs import jobs
from server.reports.offers import offers
from tests.demo_db.conftest import TODAY


@dataclass(frozen=True)
class Batch:
    """A batch as it is kept."""

    id: str
    batch: str
    variety: str
    parent: str | None
    method: str
    taken_on: str
    taken: int
    rooted: int | None
    failed: int | None


def batches() -> list[Batch]:
    columns = "id, batch, variety, parent, method, taken_on, taken, rooted, failed"
    return [Batch(*row) for row in execute(f"SELECT {columns} FROM batch ORDER BY taken_on")]


def trees_of(batch: Batch) -> list[tuple[str, str, str]]:
    """(tag, variety, started_on) of the trees that came of a batch."""
    return execute("SELECT tag, variety, started_on FROM tree WHERE batch = ?", (batch.id,)).fetchall()


def test_the_book_has_batches_of_several_methods_and_years(demo: Built):
    kept = batches()
    assert [each.batch for each in kept] == [each.name for each in BATCHES] and len(kept) == 5
    assert {each.method for each in kept} == {"cutting", "layer", "graft"}
    assert len({each.taken_on[:4] for each in kept}) >= 3


def test_no_more_rooted_and_failed_than_were_taken(demo: Built):
    for each in batches():
        assert each.taken > 0 and (each.rooted or 0) + (each.failed or 0) <= each.taken


def test_one_batch_failed_mostly_and_one_is_too_recent_to_tell(demo: Built):
    kept = batches()
    assert [each for each in kept if (each.failed or 0) > 0.8 * each.taken]
    newest = kept[-1]
    assert newest.rooted is newest.failed is None
    assert 0 < (demo.today - date.fromisoformat(newest.taken_on)).days < 14
    assert all(each.rooted for each in kept[:-1])


def test_dormant_wood_is_cut_in_late_winter_and_layers_are_made_in_summer(demo: Built):
    for each in batches():
        month = date.fromisoformat(each.taken_on).month
        assert month in ((2, 3) if each.method == "cutting" else (6, 7, 8))


def test_a_batch_is_of_its_parents_variety_and_younger_than_it(demo: Built):
    with_parent = [each for each in batches() if each.parent]
    assert len(with_parent) == 4
    for each in with_parent:
        variety, started_on = execute("SELECT variety, started_on FROM tree WHERE id = ?", (each.parent,)).fetchone()
        assert variety == each.variety and started_on < each.taken_on


def test_this_years_cuttings_are_those_that_the_work_tells_of(demo: Built):
    (cuttings,) = [each for each in batches() if each.method == "cutting" and each.parent]
    done = execute("SELECT done_at FROM work WHERE tree = ? AND task = 'take_cuttings'", (cuttings.parent,)).fetchall()
    assert [at[:10] for (at,) in done] == [cuttings.taken_on]


def test_of_the_oldest_batch_some_plants_became_trees_of_the_collection(demo: Built):
    oldest, *others = batches()
    trees = trees_of(oldest)
    assert 0 < len(trees) < (oldest.rooted or 0)
    for _, variety, started_on in trees:
        assert variety == oldest.variety and started_on > oldest.taken_on
    assert not any(trees_of(each) for each in others)


def test_the_list_to_share_offers_what_rooted_and_the_tree_to_give_away(demo: Built):
    found = offers()
    rooted = sum(each.rooted or 0 for each in batches())
    of_batches = [each for each in found.plants if not each.tag]
    assert sum(each.plants for each in of_batches) == rooted - len(trees_of(batches()[0])) == 15
    (given,) = [tree for tree in plant(SEED) if tree.key == GIVEN_AWAY]
    assert [(each.tag, each.plants) for each in found.plants if each.tag] == [(given.tag, 1)]
    assert given.tag in sound_tags()
    assert [job for job in jobs(demo.today).items if job.key.startswith("give_away:") and job.tags == [given.tag]]


def test_the_rest_of_the_story_is_as_it_was_before_the_book_was_copied(demo: Built):
    # Counted in the build that had no batches yet, of the same seed and day.
    before = {"variety": 21, "place": 10, "tree": 90, "round": 38, "observation": 1813, "move": 72, "work": 397}
    before |= {"reading": 1129, "harvest": 153, "photo": 25}
    for kind, count in before.items():
        assert (kind, *execute(f"SELECT count(*) FROM {kind}").fetchone()) == (kind, count)
    entered = execute(
        "SELECT edited_at, device FROM change_log WHERE kind = 'batch' OR json_extract(set_json, '$.batch')"
        " IS NOT NULL OR json_extract(set_json, '$.decision') IS NOT NULL"
    ).fetchall()
    (last,) = execute("SELECT max(edited_at) FROM change_log WHERE kind NOT IN ('batch', 'tree')").fetchone()
    assert len(entered) == 8
    assert all(edited_at > last and device == demo.owner.id for edited_at, device in entered)


@pytest.mark.parametrize("today", [date(2024, 2, 29), date(2025, 1, 1), date(2025, 9, 30), TODAY])
def test_on_no_day_is_a_batch_dated_ahead_or_has_more_trees_than_rooted(today: date):
    season = Season(today, ZoneInfo("UTC"))
    for seed in range(40):
        trees = plant(seed)
        for batch in BATCHES:
            assert season.on(*batch.taken_on, batch.years_before) < today
            assert len(came_of(batch, season, trees)) <= (batch.rooted or 0)


def test_another_seed_on_another_day_in_another_zone_builds_too(empty_home: Path):
    build(empty_home, date(2026, 1, 3), seed=7, time_zone="Pacific/Auckland")
    kept = batches()
    assert len(kept) == len(BATCHES) and max(each.taken_on for each in kept) < "2026-01-03"
    assert sum(each.plants for each in offers().plants) > 5
    close_database()
