"""Importing: what a grower's files become, twice the same adds nothing, edits touch only what differs."""

from __future__ import annotations

import json
from collections import Counter
from datetime import date, timedelta
from itertools import count
from pathlib import Path
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server import ids
from server.errors import Refused
from server.records import database, devices
from server.records.database import execute, set_setting, write
from server.records.photo_files import PhotoFolder
from server.tables import importing
from server.tables.exporting import export_to
from server.tables.importing import import_files
from tests.support.collection import Phone
from tests.tables.conftest import TAG_1, TAG_2, TAG_3, TREES, Write, ids_of, log_length, records

pytestmark = pytest.mark.usefixtures("collection")
SEEN = "2026-05-03T08:30:00+02:00"


def test_every_kind_comes_in_with_its_references(write_files: Write) -> None:
    summary = import_files(
        [
            write_files(
                varieties="variety,species,note\nAmber Bell,Ficus carica,\n",
                places="place,cover,light_percent,heated,latitude,note\nBench,glasshouse,70.5,yes,50.1,\n",
                trees=f"tag,variety,place,pot_litres,source,started_on,standing,position,note\n"
                f"{TAG_1},Amber Bell,Bench,19,cutting,2024-03-01,trial,12,leans\n",
                observations="tag,seen_at,shoots,leaves_per_shoot,leaves,leaves_fallen,shoot_cm,fruit_breba,fruit_main,"
                f"damage_percent,causes,bbch,soil,note\n{TAG_1},{SEEN},6,4.5,27,0,12.5,1,0,7.5,sun;wind,15,dry,ok\n",
                moves=f"tag,moved_at,to_place\n{TAG_1},{SEEN},Bench\n",
                work=f"tag,done_at,task,amount,note\n{TAG_1},{SEEN},pot_up,38,\n",
                readings="place,date,t_min_c,t_max_c\nBench,2026-05-02,-1.5,18\n",
                harvests=f"tag,picked_at,fruit,weight_g,quality\n{TAG_1},{SEEN},main,52.5,4\n",
            )
        ]
    )
    [variety], [place], [tree] = ids_of("variety"), ids_of("place"), ids_of("tree")
    assert records("variety") == [{"variety": "Amber Bell", "species": "Ficus carica"}]
    assert records("place") == [
        {"place": "Bench", "cover": "glasshouse", "light_percent": 70.5, "heated": True, "latitude": 50.1}
    ]
    assert records("tree") == [
        {
            **{"tag": TAG_1, "variety": variety, "place": place, "pot_litres": 19, "source": "cutting"},
            **{"started_on": "2024-03-01", "standing": "trial", "position": "12", "note": "leans"},
        }
    ]
    assert records("observation") == [
        {
            **{"tree": tree, "seen_at": SEEN, "shoots": 6, "leaves_per_shoot": 4.5, "leaves": 27, "leaves_fallen": 0},
            **{"shoot_cm": 12.5, "fruit_breba": 1, "fruit_main": 0, "damage_percent": 7.5, "causes": "sun;wind"},
            **{"bbch": 15, "soil": "dry", "note": "ok"},
        }
    ]
    assert records("move") == [{"tree": tree, "moved_at": SEEN, "to_place": place}]
    assert records("work") == [{"tree": tree, "done_at": SEEN, "task": "pot_up", "amount": 38}]
    assert records("reading") == [{"place": place, "date": "2026-05-02", "t_min_c": -1.5, "t_max_c": 18}]
    assert records("harvest") == [{"tree": tree, "picked_at": SEEN, "fruit": "main", "weight_g": 52.5, "quality": 4}]
    assert all(count == Counter(new=1) for count in summary.counts.values())
    assert summary.lines()[0] == "varieties.csv: 1 new, 0 changed, 0 unchanged"


def test_the_same_rows_again_add_nothing_and_their_order_does_not_matter(write_files: Write) -> None:
    rows = [f"{TAG_1},{SEEN},{leaves}" for leaves in (3, 4, 5)]
    header = "tag,seen_at,leaves\n"
    import_files([write_files(trees=TREES, observations=header + "\n".join(rows))])
    length = log_length()
    assert len(records("observation")) == 3
    summary = import_files([write_files(observations=header + "\n".join(reversed(rows)))])
    assert log_length() == length
    assert summary.counts["observations.csv"] == Counter(unchanged=3)


def test_a_row_more_of_the_same_key_is_one_record_more(write_files: Write) -> None:
    harvest = f"{TAG_1},{SEEN},main,50\n"
    import_files([write_files(trees=TREES, harvests=f"tag,picked_at,fruit,weight_g\n{harvest}{harvest}")])
    assert len(records("harvest")) == 2
    import_files([write_files(harvests=f"tag,picked_at,fruit,weight_g\n{harvest}{harvest}{harvest}")])
    assert [each["weight_g"] for each in records("harvest")] == [50, 50, 50]


def test_only_the_fields_that_differ_are_edited_and_an_empty_cell_leaves_its_field(write_files: Write) -> None:
    import_files([write_files(trees=TREES, observations=f"tag,seen_at,leaves,note\n{TAG_1},{SEEN},40,windy\n")])
    length = log_length()
    summary = import_files([write_files(observations=f"tag,seen_at,leaves,note\n{TAG_1},{SEEN},44,\n")])
    assert summary.counts["observations.csv"] == Counter(changed=1)
    assert log_length() == length + 1
    newest = execute("SELECT set_json FROM change_log ORDER BY seq DESC LIMIT 1").fetchone()[0]
    assert json.loads(newest) == {"leaves": 44}
    assert records("observation")[0]["note"] == "windy"


def test_a_row_finds_what_a_phone_recorded_at_the_same_instant_in_another_offset(write_files: Write) -> None:
    import_files([write_files(trees=TREES)])
    [tree, _] = ids_of("tree")
    phone = Phone()
    phone.send(phone.change("observation", tree=tree, seen_at="2026-05-03T08:30:00.250+02:00", leaves=9))
    length = log_length()
    import_files(
        [write_files(observations=f"tag,seen_at,leaves\n{records('tree')[0]['tag']},2026-05-03T06:30:00Z,9\n")]
    )
    assert log_length() == length


def test_a_withdrawn_record_does_not_come_back_with_the_same_row(write_files: Write) -> None:
    import_files([write_files(trees=TREES, observations=f"tag,seen_at,leaves\n{TAG_1},{SEEN},40\n")])
    phone = Phone()
    phone.send(phone.change("observation", ids_of("observation")[0], voided=True))
    summary = import_files([write_files(observations=f"tag,seen_at,leaves\n{TAG_1},{SEEN},40\n")])
    assert records("observation") == []
    assert summary.lines()[-1].endswith("0 new, 0 changed, 0 unchanged, 1 withdrawn before and left so")
    import_files([write_files(observations=f"tag,seen_at,leaves\n{TAG_1},{SEEN},41\n")])
    assert [each["leaves"] for each in records("observation")] == [41]


def test_a_replaced_tag_still_finds_its_tree(write_files: Write) -> None:
    import_files([write_files(trees=TREES)])
    tree = next(i for i, f in zip(ids_of("tree"), records("tree"), strict=True) if f["tag"] == TAG_1)
    phone = Phone()
    phone.send(phone.change("tree", tree, tag=TAG_3))
    summary = import_files([write_files(trees=TREES, observations=f"tag,seen_at,leaves\n{TAG_1},{SEEN},40\n")])
    assert summary.counts["trees.csv"] == Counter(unchanged=2)
    assert records("observation")[0]["tree"] == tree
    assert {each["tag"] for each in records("tree")} == {TAG_2, TAG_3}


def test_a_tag_is_read_as_it_may_be_typed(write_files: Write) -> None:
    typed = f"{TAG_1[:3].lower()} {TAG_1[3:].lower()}"
    import_files([write_files(trees=TREES, observations=f"tag,seen_at,leaves\n {typed} ,{SEEN},1\n")])
    assert len(records("observation")) == 1


def test_the_tag_of_a_withdrawn_tree_may_go_to_a_new_one(write_files: Write) -> None:
    import_files([write_files(trees=f"tag,note\n{TAG_1},first\n")])
    phone = Phone()
    phone.send(phone.change("tree", ids_of("tree")[0], voided=True))
    import_files([write_files(trees=f"tag,note\n{TAG_1},second\n", work=f"tag,done_at,task\n{TAG_1},{SEEN},feed\n")])
    assert [each["note"] for each in records("tree")] == ["second"]
    assert records("work")[0]["tree"] == ids_of("tree")[0]


def test_facts_of_a_withdrawn_tree_are_refused_unless_known(write_files: Write) -> None:
    observed = f"tag,seen_at,leaves\n{TAG_1},{SEEN},40\n"
    import_files([write_files(trees=TREES, observations=observed)])
    phone = Phone()
    phone.send(phone.change("tree", records("observation")[0]["tree"], voided=True))
    import_files([write_files(observations=observed)])
    with pytest.raises(Refused, match="line 3, column tag: This tree was withdrawn"):
        import_files([write_files(observations=f"{observed}{TAG_1},2026-05-04,40\n")])
    assert len(records("observation")) == 1


def test_names_are_found_without_regard_to_case_spaces_and_ways_of_writing_an_accent(write_files: Write) -> None:
    import_files([write_files(places="place\nSerre d’été\nBench\nBENCH\n", trees=f"tag,place\n{TAG_1},serre D’ÉTÉ\n")])
    moved = [f"{TAG_1},{SEEN},{name}" for name in ("Serre  d’e\u0301te\u0301", "BENCH", "Bench")]
    import_files([write_files(moves="tag,moved_at,to_place\n" + "\n".join(moved))])
    places = dict(zip(ids_of("place"), [each["place"] for each in records("place")], strict=True))
    assert [places[each["to_place"]] for each in records("move")] == ["Serre d’été", "BENCH", "Bench"]
    assert places[str(records("tree")[0]["place"])] == "Serre d’été"


def test_names_without_a_card_become_cards_where_no_file_of_cards_is_given(write_files: Write) -> None:
    summary = import_files([write_files(trees=TREES, readings="place,date,t_min_c\nPorch,2026-05-01,3\n")])
    assert summary.made == {"variety": ["Amber Bell"], "place": ["Bench", "Porch"]}
    assert "New place, known by name only: Bench, Porch" in summary.lines()
    assert [each["place"] for each in records("place")] == ["Bench", "Porch"]


def test_a_withdrawn_place_that_a_new_row_names_is_in_use_again(write_files: Write) -> None:
    import_files([write_files(trees=TREES)])
    bench = ids_of("place")[0]
    phone = Phone()
    phone.send(phone.change("place", bench, voided=True))
    summary = import_files([write_files(moves=f"tag,moved_at,to_place\n{TAG_2},{SEEN},Bench\n")])
    assert summary.brought_back == ["Bench"]
    assert bench in ids_of("place")
    assert records("move")[0]["to_place"] == bench


def test_cards_of_one_name_from_two_phones_stay_as_they_are(write_files: Write) -> None:
    phone = Phone()
    one, two = phone.change("place", place="Bench", cover="open"), phone.change("place", place="Bench", cover="shade")
    tree = phone.change("tree", tag=TAG_1, place=two["record"])
    phone.send(one, two, tree, phone.change("move", tree=tree["record"], moved_at=SEEN, to_place=two["record"]))
    phone.send(phone.change("reading", place=two["record"], date="2026-05-01", t_min_c=1))
    length = log_length()
    import_files(
        [
            write_files(
                places="place,cover\nBench,open\nBench,shade\n",
                trees=f"tag,place\n{TAG_1},Bench\n",
                moves=f"tag,moved_at,to_place\n{TAG_1},{SEEN},Bench\n",
                readings="place,date,t_min_c\nBench,2026-05-01,1\n",
            )
        ]
    )
    assert log_length() == length


def test_rows_about_one_card_are_joined(write_files: Write) -> None:
    import_files([write_files(varieties="variety,species,note\nAmber Bell,,sweet\nAmber Bell,Ficus carica,\n")])
    assert records("variety") == [{"variety": "Amber Bell", "species": "Ficus carica", "note": "sweet"}]


@pytest.mark.parametrize("separator", [";", "\t"])
def test_semicolons_and_tabs_separate_too_and_then_a_comma_may_be_decimal(write_files: Write, separator: str) -> None:
    text = f"tag,variety,pot_litres\n{TAG_1},Amber Bell,19.5\n".replace(",", separator).replace("19.5", "19,5")
    import_files([write_files(trees=text)])
    assert records("tree")[0]["pot_litres"] == 19.5


def test_files_of_other_programs_come_in(write_files: Write) -> None:
    text = (
        f'\ufeff\r\n Tag , NOTE ,,\r\n\r\n{TAG_1},"two lines:\r\nhere, and ""there""",,\r\n,,,\r\n{TAG_2},česnek,,\r\n'
    )
    import_files([write_files(trees=text.encode("utf-8"))])
    notes = {each["tag"]: each["note"] for each in records("tree")}
    assert notes == {TAG_1: 'two lines:\nhere, and "there"', TAG_2: "česnek"}


def test_a_file_is_known_by_its_name_in_any_case_and_given_twice_counts_once(folder: Path) -> None:
    (folder / "TREES.CSV").write_text(f"tag\n{TAG_1}\n")
    summary = import_files([folder, folder / "TREES.CSV"])
    assert summary.counts["trees.csv"] == Counter(new=1)


def test_other_files_in_a_folder_are_left_aside_and_said_so(write_files: Write) -> None:
    folder = write_files(trees=TREES, observation="tag\n", photos="tag\n")
    notes = import_files([folder]).notes
    assert [note.split(" was left aside")[0] for note in notes] == [
        str(folder / "observation.csv"),
        str(folder / "photos.csv"),
    ]


def test_a_bare_date_is_the_start_of_that_day_in_the_time_zone_of_the_collection(write_files: Write) -> None:
    with write():
        set_setting("time_zone", "America/St_Johns")
    import_files([write_files(trees=TREES, work=f"tag,done_at,task\n{TAG_1},2026-05-03,feed\n")])
    # Newfoundland keeps UTC-2:30 in summer (IANA time zone database).
    assert records("work")[0]["done_at"] == "2026-05-03T00:00:00-02:30"


def test_numbers_and_truths_in_the_ways_that_they_are_written(write_files: Write) -> None:
    import_files([write_files(places="place,heated,light_percent\nA,YES,1e1\nB,0,+.5\nC,False,7.0\n")])
    assert [(each["heated"], each["light_percent"]) for each in records("place")] == [
        (True, 10),
        (False, 0.5),
        (False, 7),
    ]


def test_a_forecast_may_lie_ahead(write_files: Write) -> None:
    day = (ids.now() + timedelta(days=10)).date().isoformat()
    import_files([write_files(readings=f"place,date,t_min_c\nBench,{day},3\n")])
    assert records("reading")[0]["date"] == day


def test_what_a_phone_sends_while_the_files_are_read_is_matched_too(
    write_files: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = write_files(trees=TREES)
    phone = Phone()
    first_check = importing._check

    def check_while_a_phone_syncs(found: object) -> object:
        plan = first_check(found)  # type: ignore[arg-type]
        if not ids_of("tree"):
            phone.send(phone.change("tree", tag=TAG_1))
        return plan

    monkeypatch.setattr(importing, "_check", check_while_a_phone_syncs)
    summary = import_files([folder])
    assert summary.counts["trees.csv"] == Counter(new=1, changed=1)
    assert len(records("tree")) == 2


def test_more_rows_than_one_chunk_come_in_and_repeated_ones_with_them(write_files: Write) -> None:
    days = [(ids.now() - timedelta(days=number)).date().isoformat() for number in range(2500)]
    rows = [f"Bench,{day},{number % 20}" for number, day in enumerate(days)]
    text = "place,date,t_min_c\n" + "\n".join([*rows, *rows[:3], ""])
    summary = import_files([write_files(readings=text)])
    assert summary.counts["readings.csv"] == Counter(new=2503)
    assert import_files([write_files(readings=text)]).counts["readings.csv"] == Counter(unchanged=2503)
    assert execute("SELECT count(*) FROM reading").fetchone()[0] == 2503


def test_the_changes_of_an_import_are_numbered_on_and_belong_to_one_source(write_files: Write) -> None:
    import_files([write_files(trees=TREES)])
    import_files([write_files(varieties="variety\nQuill\n", places="place\nLoft\n", trees=f"tag\n{TAG_3}\n")])
    numbers = [row[0] for row in execute("SELECT n FROM change_log ORDER BY seq").fetchall()]
    assert numbers == list(range(1, len(numbers) + 1))
    assert [each.name for each in devices.devices()] == ["import"]
    assert database.read_counter() == len(numbers)


# Cells that a row may fill or leave empty, beside what it is found by.
CELLS = {
    "work": ("amount", "note"),
    "harvests": ("weight_g", "quality"),
    "observations": ("leaves", "leaves_fallen", "note"),
    "batches": ("taken", "rooted", "note"),
}
SPARSE_ROWS = st.lists(st.tuples(*[st.sampled_from(["", "", "1", "2"])] * 3), max_size=6)


def of_one_key(file: str, number: int, rows: list[tuple[str, ...]]) -> str:
    """A file whose rows share the key of this number and say more or less beside it."""
    day = date(2020, 1, 1) + timedelta(days=number)
    first, key = {
        "work": ("tag,done_at,task", f"{TAG_1},{day},water"),
        "harvests": ("tag,picked_at,fruit", f"{TAG_1},{day},main"),
        "observations": ("tag,seen_at", f"{TAG_1},{day}"),
        "batches": ("batch,taken_on", f"Autumn {number},{day}"),
    }[file]
    cells = CELLS[file]
    lines = [f"{first},{','.join(cells)}", *(f"{key},{','.join(row[: len(cells)])}" for row in rows)]
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("file", CELLS)
def test_the_same_rows_again_change_nothing_whatever_each_of_one_key_says(
    write_files: Write, photos: PhotoFolder, tmp_path: Path, file: str
) -> None:
    import_files([write_files(trees=f"tag\n{TAG_1}\n")])
    (write_files() / "trees.csv").unlink()
    numbers = count()

    @settings(max_examples=30, database=None)
    @given(before=SPARSE_ROWS, rows=SPARSE_ROWS, again=st.randoms(use_true_random=False))
    def bring_in(before: list[tuple[str, ...]], rows: list[tuple[str, ...]], again: Random) -> None:
        number = next(numbers)
        for part in (before, rows):
            import_files([write_files(**{file: of_one_key(file, number, part)})])
        then = log_length()
        again.shuffle(rows)
        import_files([write_files(**{file: of_one_key(file, number, rows)})])
        assert log_length() == then

    bring_in()
    then = log_length()
    export_to(tmp_path / "exported", photos)
    import_files([tmp_path / "exported"])
    assert log_length() == then


def test_a_row_that_says_less_leaves_its_own_record_to_the_row_that_says_more(write_files: Write) -> None:
    header = "tag,done_at,task,amount,note\n"
    rows = [f"{TAG_1},2026-05-01,water,{cells}\n" for cells in ("5,", "5,evening")]
    import_files([write_files(trees=TREES, work=header + "".join(rows))])
    length = log_length()
    summary = import_files([write_files(work=header + "".join(rows))])
    assert (log_length(), summary.counts["work.csv"]) == (length, Counter(unchanged=2))


def test_trees_of_a_batch_that_nobody_knows_make_it_by_name(write_files: Write) -> None:
    summary = import_files([write_files(trees=f"tag,batch\n{TAG_1},Autumn\n{TAG_2},Autumn\n")])
    assert "New batch, known by name only: Autumn" in summary.lines()
    assert [each["batch"] for each in records("batch")] == ["Autumn"]
