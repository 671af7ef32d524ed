"""Exporting: every kind in the import's columns, exactly enough that an import makes the same collection of it."""

from __future__ import annotations

import csv
import hashlib
import tempfile
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server import ids
from server.errors import Refused, Unavailable
from server.records.database import close_database, open_database
from server.records.photo_files import PhotoFolder
from server.tables import exporting
from server.tables.columns import TABLES
from server.tables.exporting import export_to
from server.tables.importing import import_files
from tests.support.collection import Phone
from tests.tables.conftest import TAG_1, TREES, Write, ids_of, log_length, records, tag_code
from tests.tables.test_cells import KEPT

SEEN = "2026-05-03T08:30:00+02:00"


def files_of(folder: Path) -> dict[str, bytes]:
    """The CSV files of an export but the photos' list, which an import does not take."""
    return {name: (folder / name).read_bytes() for name in TABLES}


def cells_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file, strict=True))


def fill(phone: Phone) -> None:
    """A small collection as a phone makes it, with everything that an export must take care of."""

    def at(minutes: int) -> str:
        return (ids.now() - timedelta(days=3, minutes=minutes)).isoformat(timespec="milliseconds")

    variety = phone.change("variety", variety="=Amber", species="Ficus carica", note="a, b\n\"c\"; d\t'e'")
    gone_variety = phone.change("variety", variety="Old Quill")
    bench = phone.change("place", place="-bench-", cover="glasshouse", heated=False, light_percent=66.6)
    porch = phone.change("place", place="Porch", heated=True, latitude=-41.25)
    trees = [
        phone.change(
            "tree", tag=tag_code(30_000_000 + number), variety=(gone_variety if number == 7 else variety)["record"],
            place=(bench, porch)[number % 2]["record"], pot_litres=19 + number / 3, note=f"'@{number}",
        )
        for number in range(8)
    ]  # fmt: skip
    facts = []
    for number, tree in enumerate(trees):
        own = {"tree": tree["record"]}
        facts += [
            phone.change("observation", **own, seen_at=at(number), leaves_per_shoot=number / 7, causes="sun;wind"),
            # The same tree in the same second, twice.
            phone.change("observation", **own, seen_at=SEEN, leaves=2, note="=second"),
            phone.change("observation", **own, seen_at=SEEN, leaves=1, note="first"),
            phone.change("move", **own, moved_at=at(number), to_place=porch["record"]),
            phone.change("work", **own, done_at=at(number), task="water", amount=1.5),
            phone.change("harvest", **own, picked_at=at(number), weight_g=50.25, quality=3),
        ]
    facts.append(phone.change("reading", place=bench["record"], date="2026-04-01", t_min_c=-3.25, t_max_c=0))
    withdrawn = [
        phone.change("variety", gone_variety["record"], voided=True),
        phone.change("place", porch["record"], voided=True),
        phone.change("tree", trees[0]["record"], voided=True),
        phone.change("work", facts[-3]["record"], voided=True),
    ]
    outcomes = phone.send(variety, gone_variety, bench, porch, *trees, *facts, *withdrawn)
    assert {each.outcome for each in outcomes} == {"stored"}


@pytest.mark.usefixtures("collection")
def test_what_was_exported_makes_the_same_collection_elsewhere(
    elsewhere: str, tmp_path: Path, photos: PhotoFolder
) -> None:
    fill(Phone())
    done = export_to(tmp_path / "one", photos)
    assert done.rows["trees.csv"] == 7
    assert done.rows["observations.csv"] == 21
    assert done.rows["work.csv"] == 6
    open_database(elsewhere)
    import_files([tmp_path / "one"])
    export_to(tmp_path / "two", photos)
    assert files_of(tmp_path / "one") == files_of(tmp_path / "two")


@pytest.mark.usefixtures("collection")
def test_an_export_taken_in_again_adds_nothing(tmp_path: Path, photos: PhotoFolder) -> None:
    fill(Phone())
    export_to(tmp_path / "one", photos)
    length = log_length()
    summary = import_files([tmp_path / "one"])
    assert log_length() == length
    assert not any(count["new"] or count["changed"] for count in summary.counts.values())


names = KEPT.filter(lambda text: 0 < len(text) <= 120)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.tuples(names, KEPT, names, KEPT, st.floats(0.1, 2000)),
        min_size=1,
        max_size=5,
        unique_by=(lambda row: row[0], lambda row: row[2]),
    )
)
def test_any_text_comes_in_again_as_it_was(rows: list[tuple[str, str, str, str, float]]) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        photos = PhotoFolder(folder / "photos")
        open_database(str(folder / "one.db"))
        phone = Phone()
        for number, (variety, note, place, source, litres) in enumerate(rows):
            cards = [phone.change("variety", variety=variety, note=note), phone.change("place", place=place)]
            tree: dict[str, Any] = {"variety": cards[0]["record"], "place": cards[1]["record"], "pot_litres": litres}
            outcomes = phone.send(*cards, phone.change("tree", tag=tag_code(number), source=source[:120], **tree))
            assert [each.outcome for each in outcomes] == ["stored"] * 3
        export_to(folder / "out", photos)
        first, length = files_of(folder / "out"), log_length()
        import_files([folder / "out"])
        assert log_length() == length
        open_database(str(folder / "two.db"))
        import_files([folder / "out"])
        export_to(folder / "again", photos)
        assert files_of(folder / "again") == first
        close_database()


@pytest.mark.usefixtures("sqlite_collection")
def test_no_cell_of_text_starts_a_formula(tmp_path: Path, photos: PhotoFolder) -> None:
    fill(Phone())
    export_to(tmp_path / "out", photos)
    [variety, _] = cells_of(tmp_path / "out" / "varieties.csv")
    assert variety["variety"] == "'=Amber"
    assert {each["place"] for each in cells_of(tmp_path / "out" / "trees.csv")} == {"'-bench-", "Porch"}
    assert cells_of(tmp_path / "out" / "readings.csv")[0]["t_min_c"] == "-3.25"
    assert cells_of(tmp_path / "out" / "places.csv")[0]["heated"] == "no"


@pytest.mark.usefixtures("sqlite_collection")
def test_times_stay_as_they_were_recorded(tmp_path: Path, photos: PhotoFolder, write_files: Write) -> None:
    given_at = "2026-05-03T08:30:00.125-09:30"
    import_files([write_files(trees=TREES, observations=f"tag,seen_at,leaves\n{TAG_1},{given_at},1\n")])
    export_to(tmp_path / "out", photos)
    assert cells_of(tmp_path / "out" / "observations.csv")[0]["seen_at"] == given_at


@pytest.mark.usefixtures("sqlite_collection")
def test_photos_are_copied_and_listed_and_an_import_leaves_them_aside(
    tmp_path: Path, photos: PhotoFolder, write_files: Write
) -> None:
    import_files([write_files(trees=TREES)])
    tree = next(i for i, f in zip(ids_of("tree"), records("tree"), strict=True) if f["tag"] == TAG_1)
    here, missing = (hashlib.sha256(text).hexdigest() for text in (b"here", b"missing"))
    photos.keep(here, b"picture", 10, 10)
    phone = Phone()
    phone.send(
        phone.change("photo", sha256=here, tree=tree, taken_at=SEEN, note="+leaf"),
        phone.change("photo", sha256=missing, tree=tree, taken_at=SEEN),
    )
    done = export_to(tmp_path / "out", photos)
    assert (done.photos, done.photos_missing) == (1, 1)
    assert "Photos listed without a file, since it has not arrived yet: 1" in done.lines()
    rows = {each["sha256"]: each for each in cells_of(tmp_path / "out" / "photos.csv")}
    assert rows[here] == {
        "tag": TAG_1, "taken_at": SEEN, "sha256": here, "file": f"photos/{here}.jpg", "note": "'+leaf"
    }  # fmt: skip
    assert rows[missing]["file"] == ""
    assert (tmp_path / "out" / rows[here]["file"]).read_bytes() == b"picture"
    assert "photos.csv was left aside: photos come in through the phone" in import_files([tmp_path / "out"]).notes[0]


@pytest.mark.usefixtures("sqlite_collection")
def test_an_earlier_export_is_overwritten_only_when_asked(
    tmp_path: Path, photos: PhotoFolder, write_files: Write
) -> None:
    out = tmp_path / "out"
    export_to(out, photos)
    earlier = files_of(out)
    (out / "mine.txt").write_text("stays")
    import_files([write_files(trees=TREES)])
    with pytest.raises(Refused, match="choose an empty folder, or add --replace"):
        export_to(out, photos)
    assert files_of(out) == earlier
    export_to(out, photos, replace=True)
    assert len(cells_of(out / "trees.csv")) == 2
    assert sorted(each.name for each in out.iterdir()) == sorted([*TABLES, "photos.csv", "mine.txt"])


@pytest.mark.usefixtures("sqlite_collection")
def test_a_folder_that_can_not_be_made_is_refused(tmp_path: Path, photos: PhotoFolder) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(Refused, match="is a file; name a folder"):
        export_to(tmp_path / "file", photos)
    with pytest.raises(Refused, match="choose another folder"):
        export_to(tmp_path / "file" / "below", photos)
    with pytest.raises(Refused, match="choose another folder"):
        export_to(Path("/proc/leafwalk"), photos)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs Linux's always full device")
@pytest.mark.usefixtures("sqlite_collection")
def test_a_full_disk_leaves_the_earlier_export_as_it_was(
    tmp_path: Path, photos: PhotoFolder, write_files: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    export_to(out, photos)
    earlier = files_of(out)
    import_files([write_files(trees=TREES)])

    def part_on_full_disk(target: Path, parts: Any) -> Path:
        part = real_part(target, parts)
        if target.name == "work.csv":
            part.symlink_to("/dev/full")
        return part

    real_part = exporting._part
    monkeypatch.setattr(exporting, "_part", part_on_full_disk)
    with pytest.raises(Unavailable, match=r"No space left on device\); make room there"):
        export_to(out, photos, replace=True)
    assert files_of(out) == earlier
    assert not list(out.glob("*.part"))


@pytest.mark.usefixtures("collection")
def test_an_export_is_of_one_moment_while_a_phone_writes(
    tmp_path: Path, photos: PhotoFolder, write_files: Write, monkeypatch: pytest.MonkeyPatch, collection: str
) -> None:
    import subprocess
    import sys

    import_files([write_files(trees=TREES)])
    script = (
        "import sys; from server.records.database import open_database; from tests.support.collection import Phone;"
        "open_database(sys.argv[1]); phone = Phone(); tree = phone.tree();"
        f"phone.send(phone.change('work', tree=tree, done_at='{SEEN}', task='feed'))"
    )
    real_rows = exporting._rows

    def rows_while_a_phone_writes(table: Any, columns: Any) -> Any:
        if table.kind == "observation":  # trees are written by now, work is not
            root = Path(__file__).parents[2]
            subprocess.run([sys.executable, "-c", script, collection], check=True, cwd=root, timeout=60)
        return real_rows(table, columns)

    monkeypatch.setattr(exporting, "_rows", rows_while_a_phone_writes)
    done = export_to(tmp_path / "out", photos)
    assert (done.rows["trees.csv"], done.rows["work.csv"]) == (2, 0)
    monkeypatch.undo()
    assert export_to(tmp_path / "later", photos).rows["work.csv"] == 1
