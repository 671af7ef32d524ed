"""Building: through sync like a phone, deterministic, once a folder, with photos that went through the intake."""

from __future__ import annotations

import io
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from stdnum.iso7064 import mod_37_36

from demo_db.build import Built, build, marker
from demo_db.orchard import plant
from demo_db.truths import SEED
from server import ids
from server.errors import Refused
from server.records import queries
from server.records.database import close_database, execute, get_setting
from server.records.photo_files import PhotoFolder
from server.records.settings import read_settings
from server.sync.pull import pull
from tests.demo_db.conftest import TODAY, Timed

UNTIL_S = 10**11


def everything() -> list[dict[str, Any]]:
    """All records as a phone would pull them, in order."""
    records, cursor, more = [], None, True
    while more:
        page = pull(cursor, 5000)
        records, cursor, more = records + page.records, page.cursor, page.more
    return records


def test_two_builds_give_identical_records_and_histories(demo: Built, empty_home: Path):
    columns = "SELECT seq, id, n, kind, record, edited_at, effective_ms, set_json FROM change_log ORDER BY seq"
    first, history = everything(), execute(columns).fetchall()
    build(empty_home, today=TODAY)
    assert everything() == first
    assert execute(columns).fetchall() == history
    close_database()


def test_building_takes_under_twenty_seconds_of_two_cores(built_once: Timed):
    # Processor time, which a busy machine stretches less than the clock; two cores can only be quicker.
    assert built_once.cpu_s < 20


def test_it_entered_on_two_phones_and_nothing_was_refused(demo: Built):
    assert execute("SELECT count(*) FROM parked_change").fetchone() == (0,)
    for device in (demo.owner, demo.helper):
        numbers = [n for (n,) in execute("SELECT n FROM change_log WHERE device = ? ORDER BY seq", (device.id,))]
        assert numbers == list(range(1, len(numbers) + 1)) and len(numbers) > 400
    by_helper = {kind for (kind,) in execute("SELECT kind FROM change_log WHERE device = ?", (demo.helper.id,))}
    assert by_helper <= {"round", "observation", "move", "work", "reading", "harvest", "photo"}


def test_entries_are_made_when_they_are_seen_and_none_today(demo: Built):
    newest = max(edited_at for (edited_at,) in execute("SELECT edited_at FROM change_log"))
    assert newest.startswith((demo.today - timedelta(days=1)).isoformat())
    for seen in everything():
        if seen["kind"] == "observation":
            assert date.fromisoformat(seen["fields"]["seen_at"][:10]) < demo.today


def test_all_tags_are_valid_by_an_independent_check(demo: Built):
    tags = [tree.tag for tree in queries.trees(include_retired=True)]
    assert len(set(tags)) == 90
    for tag in tags:
        # python-stdnum's ISO 7064 MOD 37,36.
        assert mod_37_36.is_valid(tag) and ids.read_tag_code(tag) == tag and tag[-1] in ids.TAG_SYMBOLS


def test_a_replaced_tag_still_finds_its_tree_and_one_tree_was_given_up(demo: Built):
    (replaced,) = [tree for tree in plant(SEED) if tree.first_tag]
    assert queries.tree_by_tag(replaced.first_tag) == queries.tree_by_tag(replaced.tag) == replaced.id
    assert len(queries.trees()) == 89 and len(queries.trees(include_retired=True)) == 90


def test_settings_tell_what_it_is(demo: Built):
    assert read_settings().collection and get_setting("time_zone") == "UTC"
    assert marker() == {"today": TODAY.isoformat(), "seed": SEED}


def test_photos_are_small_jpegs_bound_to_visits_of_their_trees(demo: Built):
    photos = queries.photos(UNTIL_S)
    trees = {seen.id: seen.tree for seen in queries.observations(UNTIL_S)}
    folder = PhotoFolder(demo.config.photo_folder)
    assert len(photos) == 25 and len({photo.sha256 for photo in photos}) == 25
    for photo in photos:
        assert photo.arrived and trees[photo.observation] == photo.tree
        with Image.open(io.BytesIO(folder.read(photo.sha256))) as picture:
            picture.load()
            assert picture.format == "JPEG" and max(picture.size) <= 1024


def test_a_folder_that_holds_a_collection_is_refused_and_left_alone(demo: Built):
    before = everything()
    with pytest.raises(Refused, match="holds a collection already"):
        build(demo.config.home, today=TODAY)
    assert everything() == before
