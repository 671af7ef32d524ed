"""Files that can't come in: every problem is told with file, line and column, and nothing is changed."""

from __future__ import annotations

import os
from datetime import timedelta
from pathlib import Path

import pytest

from server import ids
from server.errors import LeafwalkError, Refused, TooLarge, Unavailable
from server.records.database import execute
from server.tables import csv_files, importing, intake, planning, rows
from server.tables.importing import import_files
from tests.support.collection import Phone
from tests.tables.conftest import TAG_1, TAG_2, TREES, Write, log_length

pytestmark = pytest.mark.usefixtures("collection")
SEEN = "2026-05-03T08:30:00+02:00"
AHEAD = (ids.now() + timedelta(hours=3)).isoformat(timespec="seconds")
FAR_AHEAD = (ids.now() + timedelta(days=30)).date().isoformat()


def refusal(folder: Path, error: type[LeafwalkError] = Refused) -> str:
    """The message of an import that must be refused and must leave nothing behind."""
    before = log_length()
    with pytest.raises(error) as caught:
        import_files([folder])
    assert log_length() == before
    assert execute("SELECT count(*) FROM parked_change").fetchone()[0] == 0
    return caught.value.message


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("trees", "tag,note\n123456,x\n", "“123456” is not a tag code; a spreadsheet may have made a"),
        ("trees", "tag,note\nAB,x\n", "line 2, column tag: “AB” is not a tag code"),
        ("trees", f"tag,pot_litres\n{TAG_1},big\n", "column pot_litres: “big” must be a number from 0.1 to 2000."),
        ("trees", f"tag,pot_litres\n{TAG_1},NaN\n", "column pot_litres: “NaN” must be a number"),
        ("trees", f"tag,pot_litres\n{TAG_1},\"19,5\"\n", "column pot_litres: “19,5” must be a number"),
        ("trees", f"tag,started_on\n{TAG_1},1.3.2024\n", "started_on: “1.3.2024” must be a date such as 2026-05-03."),
        ("trees", f"tag,started_on\n{TAG_1},{FAR_AHEAD}\n", "lies too far in the future"),
        ("trees", f"tag,standing\n{TAG_1},doubtful\n", "must be one of: trial, keeper, retired"),
        ("trees", f"tag,note\n,x\n{TAG_1},\n", "line 2, column tag: This cell is empty"),
        ("trees", f"tag,note\n{TAG_1},{'x' * 2001}\n", "has 2001 characters: at most 2000 fit"),
        ("trees", f"tag,note\n{TAG_1},a\x00b\n", "has characters that can't be kept"),
        ("trees", f"tag,note\n{TAG_1},a\n{TAG_1},b\n", "line 3, column note: The same tag stands in"),
        ("observations", f"tag,seen_at,causes\n{TAG_1},2026-05-03,sun;rust\n", "causes: “sun;rust” must be words"),
        ("places", "place,heated\nBench,warm\n", "column heated: “warm” must be yes or no"),
        ("places", "place,cover\nBench,tent\n", "must be one of: open, shade, porch"),
        ("places", "place,light_percent\nBench,150\n", "column light_percent: It is 150: must lie between 0 and 100"),
        ("readings", "place,date,t_min_c,t_max_c\nBench,2026-05-01,9,3\n", "The lowest (9) is above the highest (3)"),
        ("readings", "place,date\nBench,2026-05-01\n", "A reading needs the lowest or the highest"),
        ("readings", f"place,date,t_min_c\nBench,{FAR_AHEAD},1\n", "lies too far in the future"),
        ("work", f"tag,done_at,task\n{TAG_1},{SEEN},feed\n", f"No tree has the tag {TAG_1}; check the code"),
        ("trees", "", "It is empty; its first line must name the columns: tag, variety"),
        ("trees", f"{TAG_1},Amber Bell\n", "line 1: The first line must name the columns"),
        ("trees", "tag,varieti\n", "line 1, column varieti: Unknown column; did you mean variety? trees.csv has: tag,"),
        ("trees", "variety\nx\n", "line 1, column tag: This column is missing"),
        ("trees", "tag,note,tag\n", "line 1, column tag: This column stands there twice"),
        ("trees", "tag,,note\n", "line 1: Column 2 has no name"),
        ("trees", f"tag,note,place\n{TAG_1},x\n", "line 2: It has 2 cells, the header 3"),
        ("trees", f"tag,note\n{TAG_1},a, b\n", "line 2: It has 3 cells, the header 2"),
        ("trees", f'tag,note\n{TAG_1},"never closed\n', "A quote never closes"),
        ("trees", f'tag,note\n{TAG_1},"a"b\n', "line 2: A quote never closes, or text follows"),
        ("trees", f'tag,note\n{TAG_1},"{"x" * 140_000}"\n', "A cell is longer than 131072 characters"),
        ("trees", f"tag,note\n{TAG_1},caf\xe9\n".encode("latin-1"), "line 2: It is not UTF-8 text; save it again"),
        ("trees", b"t\xe9g\n", "line 1: It is not UTF-8 text"),
        ("trees", f"tag,note\n{TAG_1},x\n".encode("utf-16"), "It is written in UTF-16"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_with_where_it_stands(
    write_files: Write, name: str, text: str | bytes, told: str
) -> None:
    folder = write_files(**{name: text})
    message = refusal(folder)
    assert told in message
    assert str(folder / f"{name}.csv") in message
    assert message.startswith("Nothing was imported. Mend this, then import again:\n")


@pytest.mark.parametrize(
    ("at", "told"),
    [
        ("2026-05-03T08:30:00", "has no offset from UTC; at the collection's place it would be 2026-05-03T08:30:00"),
        ("2026-05-03 08:30", "has no offset from UTC; at the collection's place it would be 2026-05-03T08:30:00"),
        ("2026-02-30", "must be a time with offset"),
        ("3 May", "must be a time with offset, such as 2026-05-03T08:30:00+02:00"),
        pytest.param(AHEAD, "lies in the future; check day, month and offset", id="ahead"),
    ],
)
def test_a_time_must_have_its_offset_and_lie_behind(write_files: Write, at: str, told: str) -> None:
    message = refusal(write_files(trees=TREES, observations=f"tag,seen_at\n{TAG_1},{at}\n"))
    assert "line 2, column seen_at" in message
    assert told in message


def test_a_name_that_the_file_of_cards_lacks_is_refused_with_the_nearest(write_files: Write) -> None:
    text = f"tag,variety\n{TAG_1},Amber Bel\n{TAG_2},Zzz\n"
    message = refusal(write_files(varieties="variety\nAmber Bell\n", trees=text))
    assert "line 2, column variety: No variety is called “Amber Bel”; did you mean “Amber Bell”?" in message
    assert "line 3, column variety: No variety is called “Zzz”; check the name" in message


def test_two_rows_of_one_card_contradict_each_other_also_where_the_first_says_nothing_new(write_files: Write) -> None:
    import_files([write_files(varieties="variety,species\nAmber Bell,fig\n")])
    message = refusal(write_files(varieties="variety,species\nAmber Bell,fig\nAmber Bell,olive\n"))
    assert "line 3, column species: The same variety stands in" in message


def test_all_problems_of_all_files_are_told_at_once(write_files: Write) -> None:
    bad = "tag,seen_at,leaves\n" + f"{TAG_1},{SEEN},-1\n" * 60
    message = refusal(write_files(trees="tag\nnonsense\n", observations=bad.replace(TAG_1, "x")))
    assert len(message.splitlines()) == 1 + 50 + 1
    assert message.endswith("and 71 more.")  # 1 tag, and in 60 rows a tag and a count each, less the 50 shown
    assert "trees.csv, line 2" in message
    assert "observations.csv, line 26" in message


def test_what_sync_refuses_is_told_by_line_and_rolls_everything_back(write_files: Write) -> None:
    import_files([write_files(readings="place,date,t_min_c\nBench,2026-05-01,5\n")])
    # Alone the row is sound; joined with the lowest temperature that is recorded it is not.
    message = refusal(write_files(readings="place,date,t_max_c\nBench,2026-05-02,9\nBench,2026-05-01,4\n"))
    assert "readings.csv, line 3, column t_min_c: The lowest temperature (5) is above the highest (4)." in message


def test_nothing_goes_in_when_a_later_chunk_fails(write_files: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    pushed = []

    def push_then_fail(sender: object, changes: list[object]) -> object:
        if pushed:
            raise Unavailable("The disk of the server is full or failing.")
        pushed.append(len(changes))
        return real_push(sender, changes)  # type: ignore[arg-type]

    real_push = intake.push
    monkeypatch.setattr(intake, "push", push_then_fail)
    days = [(ids.now() - timedelta(days=number)).date().isoformat() for number in range(2500)]
    text = "place,date,t_min_c\n" + "".join(f"Bench,{day},1\n" for day in days)
    refusal(write_files(readings=text), Unavailable)
    assert pushed
    assert execute("SELECT count(*) FROM device").fetchone()[0] == 0


def test_a_file_with_another_name_is_refused_with_the_names_that_are_known(folder: Path) -> None:
    path = folder / "tree.csv"
    path.write_text("tag\n")
    with pytest.raises(Refused, match=r"rename it to what it holds: varieties\.csv, places\.csv, trees\.csv, obs"):
        import_files([path])


def test_a_path_that_leads_nowhere_and_an_empty_folder_are_refused(folder: Path) -> None:
    with pytest.raises(Refused, match="does not exist; check the name"):
        import_files([folder / "trees.csv"])
    with pytest.raises(Refused, match="holds none of the files that can be imported: varieties"):
        import_files([folder])


def test_what_is_no_plain_file_is_refused_without_waiting_for_it(folder: Path) -> None:
    os.mkfifo(folder / "trees.csv")
    with pytest.raises(Refused, match="is not a plain file"):
        import_files([folder / "trees.csv"])


def test_photos_alone_are_nothing_to_import(write_files: Write) -> None:
    with pytest.raises(Refused, match="There is nothing to import"):
        import_files([write_files(photos="tag\n") / "photos.csv"])


def test_limits_are_told(write_files: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    text = "place,date,t_min_c\n" + "Bench,2026-05-01,1\n" * 12
    folder = write_files(readings=text)
    with monkeypatch.context() as patch:
        patch.setattr(rows, "ROWS_MAX", 10)
        assert "more than 10 rows" in refusal(folder, TooLarge)
    with monkeypatch.context() as patch:
        patch.setattr(csv_files, "SIZE_BYTES_MAX", 100)
        assert "is larger than 100 bytes" in refusal(folder, TooLarge)
    with monkeypatch.context() as patch:
        patch.setattr(importing, "REPEATED_ROWS_MAX", 0)
        assert "the same rows may stand there twice" in refusal(folder, TooLarge)
    with monkeypatch.context() as patch:
        patch.setattr(planning, "CARD_ROWS_MAX", 1)
        assert "More than 1 rows for trees.csv" in refusal(write_files(trees=TREES), TooLarge)


def test_a_file_without_line_ends_does_not_fill_the_memory(write_files: Write) -> None:
    message = refusal(write_files(trees="tag" + "," * 3_000_000))
    assert "line 1: The first line is too long; it must name the columns: tag, variety" in message
    message = refusal(write_files(trees="tag,note\n" + "x," * 1_500_000))
    assert "line 2: It has 500001 cells, the header 2" in message


def test_a_phone_keeps_working_after_a_refused_import(write_files: Write) -> None:
    refusal(write_files(trees="tag\nnonsense\n"))
    assert Phone().tree()
