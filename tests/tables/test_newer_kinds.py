"""Batches, jobs, lessons, parents and parts of trees as CSV: out and in again, in another home and in the same."""

from __future__ import annotations

from pathlib import Path

import pytest

from server.errors import Refused
from server.records.database import open_database
from server.records.photo_files import PhotoFolder
from server.tables.columns import TABLES
from server.tables.exporting import export_to
from server.tables.importing import import_files
from tests.support.collection import Phone
from tests.tables.conftest import TAG_1, TAG_2, TAG_3, Write, ids_of, log_length, records, tag_code
from tests.tables.test_exporting import SEEN, cells_of, files_of

pytestmark = pytest.mark.usefixtures("collection")


def fill(phone: Phone) -> dict[str, str]:
    """A mother tree, two batches of one name taken from it, a daughter of each, jobs, lessons and a branch's counts."""
    variety = phone.change("variety", variety="Amber Bell", species="Ficus carica", origin_country="ITA")
    gone = phone.change("variety", variety="Old Quill")
    place, shed = phone.change("place", place="Bench"), phone.change("place", place="Shed")
    # The mother's tag sorts behind her daughters': they name a row that comes later.
    mother = phone.change("tree", tag=TAG_3, variety=variety["record"], donor_number="FC 12", source="a friend")
    lost = phone.change("tree", tag=tag_code(20_000_099), variety=variety["record"])
    first, second = (
        phone.change(
            "batch", batch="Winter cuttings", variety=variety["record"], parent=mother["record"], method="cutting",
            taken_on=f"{year}-02-01", taken=12, rooted=rooted, failed=12 - rooted, note="=in sand",
        )
        for year, rooted in ((2024, 7), (2025, 9))
    )  # fmt: skip
    orphan = phone.change("batch", batch="From afar", parent=lost["record"], variety=gone["record"])
    daughters = [
        phone.change("tree", tag=tag, variety=variety["record"], parent=mother["record"], batch=batch["record"],
                     decision="keep", decided_on="2025-11-30")
        for tag, batch in ((TAG_1, first), (TAG_2, orphan))
    ]  # fmt: skip
    tree = daughters[0]["record"]
    jobs = [
        phone.change("job", job="Mend the hose; then\nwater", task="other", due_on="2026-05-01", note="'+behind"),
        phone.change("job", job="Mend the hose; then\nwater", task="other", due_on="2026-06-01"),
        phone.change("job", job="Look", task="look", key=f"look:{tree}:2026-05-01", tree=tree, done_on="2026-05-02"),
        phone.change("job", job="Cold", task="shelter", key="shelter:Bench:2026-05-01", dropped=True),
        phone.change("job", job="Move", task="move", place=place["record"], to_place=shed["record"], amount=2.5,
                     put_off_to="2026-05-09", dropped=False),
        phone.change("job", job="Old", task="look", tree=lost["record"]),
    ]  # fmt: skip
    lessons = [
        phone.change("lesson", lesson="Move out later", place=shed["record"], on_day="04-20", task="uncover",
                     learned_on="2025-05-01", heeded_on="2026-04-19"),
        phone.change("lesson", lesson="Thin hard", variety=gone["record"], tree=tree, degree_days=350.5),
    ]  # fmt: skip
    seen = [
        phone.change("observation", tree=tree, seen_at=SEEN, leaves=5),
        phone.change("observation", tree=tree, seen_at=SEEN, leaves=5, part="left branch", leaf_cm2=81.5),
    ]
    withdrawn = [
        phone.change("variety", gone["record"], voided=True),
        phone.change("place", shed["record"], voided=True),
        phone.change("tree", lost["record"], voided=True),
        phone.change("job", phone.change("job", job="x", task="look")["record"], job="x", task="look", voided=True),
    ]
    everything = (variety, gone, place, shed, mother, lost, first, second, orphan, *daughters, *jobs, *lessons, *seen)
    outcomes = phone.send(*everything, *withdrawn)
    assert {each.outcome for each in outcomes} == {"stored"}, outcomes
    return {"daughter": tree, "mother": mother["record"]}


def test_what_was_exported_makes_the_same_collection_elsewhere(
    elsewhere: str, tmp_path: Path, photos: PhotoFolder
) -> None:
    fill(Phone())
    done = export_to(tmp_path / "one", photos)
    counted = {name: done.rows[name] for name in ("batches.csv", "jobs.csv", "lessons.csv", "trees.csv")}
    assert counted == {"batches.csv": 3, "jobs.csv": 5, "lessons.csv": 2, "trees.csv": 3}
    open_database(elsewhere)
    import_files([tmp_path / "one"])
    export_to(tmp_path / "two", photos)
    assert files_of(tmp_path / "one") == files_of(tmp_path / "two")
    trees = dict(zip((tree["tag"] for tree in records("tree")), ids_of("tree"), strict=True))
    by_tag = {tree["tag"]: tree for tree in records("tree")}
    assert by_tag[TAG_1]["parent"] == by_tag[TAG_2]["parent"] == trees[TAG_3]
    assert "parent" not in by_tag[TAG_3]
    batches = dict(zip(ids_of("batch"), records("batch"), strict=True))
    assert batches[by_tag[TAG_1]["batch"]]["batch"] == "Winter cuttings"
    assert batches[by_tag[TAG_1]["batch"]]["parent"] == trees[TAG_3]
    # An answer to a computed job names its tree by id: here that of this home.
    keys = {job.get("key") for job in records("job")}
    assert keys == {None, f"look:{trees[TAG_1]}:2026-05-01", "shelter:Bench:2026-05-01"}


def test_an_export_taken_in_again_adds_nothing(tmp_path: Path, photos: PhotoFolder) -> None:
    fill(Phone())
    export_to(tmp_path / "one", photos)
    length = log_length()
    summary = import_files([tmp_path / "one"])
    assert log_length() == length
    assert not any(count["new"] or count["changed"] for count in summary.counts.values())


def test_further_columns_are_written_only_where_a_record_fills_them(tmp_path: Path, photos: PhotoFolder) -> None:
    phone = Phone()
    phone.tree()
    export_to(tmp_path / "bare", photos)
    for table in TABLES.values():
        header = (tmp_path / "bare" / table.file).read_text(encoding="utf-8").splitlines()[0]
        assert header == ",".join(table.columns)
    fill(phone)
    export_to(tmp_path / "full", photos)
    [country] = {each["origin_country"] for each in cells_of(tmp_path / "full" / "varieties.csv")} - {""}
    assert country == "ITA"
    assert cells_of(tmp_path / "full" / "jobs.csv")[0]["dropped"] in ("", "yes", "no")
    keys = {each["key"] for each in cells_of(tmp_path / "full" / "jobs.csv")}
    assert f"look:#{TAG_1}:2026-05-01" in keys


def test_a_row_changes_the_card_that_it_is_about(tmp_path: Path, photos: PhotoFolder, write_files: Write) -> None:
    fill(Phone())
    export_to(tmp_path / "out", photos)
    jobs = (tmp_path / "out" / "jobs.csv").read_text(encoding="utf-8")
    assert ",2026-06-01,,,," in jobs
    (tmp_path / "out" / "jobs.csv").write_text(
        jobs.replace(",2026-06-01,,,,", ",2026-06-01,,2026-06-02,,"), encoding="utf-8"
    )
    before = set(ids_of("job"))
    summary = import_files([tmp_path / "out" / "jobs.csv"])
    assert summary.counts["jobs.csv"] == {"changed": 1, "unchanged": 4}
    assert set(ids_of("job")) == before
    [mended] = [job for job in records("job") if job.get("done_on") == "2026-06-02"]
    assert mended["due_on"] == "2026-06-01"
    summary = import_files(
        [write_files(batches="batch,taken_on,parent,rooted\nWinter cuttings,2025-02-01," + TAG_3 + ",11\n")]
    )
    assert summary.counts["batches.csv"] == {"changed": 1}
    assert sorted(each["rooted"] for each in records("batch") if "rooted" in each) == [7, 11]


def test_trees_name_trees_and_batches_that_come_later_or_are_known_already(write_files: Write) -> None:
    files = write_files(
        trees=f"tag,parent,batch\n{TAG_1},{TAG_2},Spring\n{TAG_2},{TAG_3},\n{TAG_3},,\n",
        batches=f"batch,parent,method\nSpring,{TAG_2},layer\n",
    )
    summary = import_files([files])
    assert summary.counts["trees.csv"] == {"new": 3}
    ids = dict(zip((tree["tag"] for tree in records("tree")), ids_of("tree"), strict=True))
    parents = {tree["tag"]: tree.get("parent") for tree in records("tree")}
    assert parents == {TAG_1: ids[TAG_2], TAG_2: ids[TAG_3], TAG_3: None}
    length = log_length()
    assert import_files([files]).counts["trees.csv"] == {"unchanged": 3}
    assert log_length() == length
    summary = import_files([write_files(trees=f"tag,parent\n{TAG_1},{TAG_3}\n")])
    assert {k: n for k, n in summary.counts["trees.csv"].items() if n} == {"changed": 1}


def test_a_batch_known_by_name_only_becomes_a_card_where_no_file_of_batches_is_given(write_files: Write) -> None:
    summary = import_files([write_files(trees=f"tag,batch\n{TAG_1},Spring\n{TAG_2},Spring\n")])
    assert summary.made["batch"] == ["Spring"]
    [batch] = ids_of("batch")
    assert {tree["batch"] for tree in records("tree")} == {batch}


@pytest.mark.parametrize(
    ("files", "words"),
    [
        ({"trees": f"tag,parent\n{TAG_1},{TAG_2}\n"}, f"line 2, column parent: No tree has the tag {TAG_2}"),
        (
            {"trees": f"tag,batch\n{TAG_1},Spirng\n", "batches": "batch\nSpring\n"},
            "column batch: No batch is called “Spirng”; did you mean “Spring”",
        ),
        (
            {"trees": f"tag,parent\n{TAG_1},{TAG_2}\n{TAG_2},\n{TAG_1},{TAG_1}\n"},
            "line 4, column parent: The same tag stands in .* with another parent",
        ),
        ({"batches": "batch,method,taken\nSpring,magic,many\n"}, "“magic” must be one of: cutting.*“many” must be a"),
        ({"jobs": "job,task\nDig,sing\n,other\n"}, "“sing” must be one of.*line 3, column job: This cell is empty"),
        ({"jobs": f"job,task,key\nLook,look,look:#{TAG_1}:x\n"}, f"column key: No tree has the tag {TAG_1}"),
        ({"lessons": "lesson,on_day\nLate,31-04\n"}, "“31-04” must be a month and day"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_with_line_and_column(write_files: Write, files: dict[str, str], words: str) -> None:
    with pytest.raises(Refused, match=f"(?s){words}"):
        import_files([write_files(**files)])
    assert log_length() == 0
