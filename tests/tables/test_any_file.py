"""Whatever stands in a grower's files: an import takes all of it or refuses all of it, and says why."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from server.errors import LeafwalkError
from server.records.database import close_database, execute, open_database
from server.tables.columns import TABLES
from server.tables.importing import import_files
from tests.tables.conftest import TAG_1, TAG_2, TAG_3, log_length

EXAMPLES, EXAMPLES_MANY = 150, 10_000
CELLS = {
    "tag": [TAG_1, TAG_2, TAG_3, TAG_1.lower(), f"https://trees.example/t/{TAG_2}", "ABC", "000000"],
    "heated": ["yes", "no", "true", "maybe"],
    "cover": ["open", "glasshouse", "tent"],
    "standing": ["trial", "keeper", "lost"],
    "task": ["pot_up", "water", "sing"],
    "fruit": ["breba", "main", "early"],
    "causes": ["sun;wind", "cold", "sun,wind"],
    "note": ["fine", "=1+1", "“quoted”", "two\nlines", 'a "quote"', "\u2028", "\x00", "é" * 2001],
    **{
        name: ["Amber Bell", "amber bell", "Bench", " Bench ", ""]
        for name in ("variety", "place", "to_place", "source")
    },
    **{
        name: ["2025-05-03T08:30:00+02:00", "2025-05-03", "2025-05-03 08:30", "2999-01-01", "0000-00-00", "3.5.2025"]
        for name in ("seen_at", "moved_at", "done_at", "picked_at", "date", "started_on")
    },
}
NUMBERS = ["1", "3", "0", "12.5", "-1", "1e9", "1e400", "NaN", "٣", "1,5", " 7 ", "0x10", ""]


def _cell(column: str, tidy: bool) -> st.SearchStrategy[str]:
    """A tidy file holds what a careful grower writes (the first two examples); any other holds anything."""
    cells = CELLS.get(column, NUMBERS)
    if tidy:
        return st.sampled_from(cells[:2])
    return st.integers(0, 19).flatmap(lambda die: st.text(max_size=20) if die == 0 else st.sampled_from(cells))


@st.composite
def _tables(draw: st.DrawFn) -> tuple[str, bytes]:
    """A file of one of the kinds, with columns missing, doubled or unknown now and then, in any encoding."""
    table = TABLES[draw(st.sampled_from(sorted(TABLES)))]
    columns, tidy = draw(st.permutations(table.columns)), draw(st.booleans())
    columns = columns[: draw(st.integers(1, len(columns)))] if not tidy and draw(st.booleans()) else columns
    columns = [
        *columns,
        *draw(st.lists(st.sampled_from([*table.columns, "leafs", ""]), max_size=draw(st.sampled_from([0, 0, 0, 1])))),
    ]
    rows = draw(st.lists(st.tuples(*[_cell(column, tidy) for column in columns]), max_size=5))
    text = io.StringIO()
    writer = csv.writer(
        text, delimiter=draw(st.sampled_from(",,,,;\t")), lineterminator=draw(st.sampled_from(["\n", "\r\n"]))
    )
    writer.writerows([columns, *rows])
    encoding = draw(st.sampled_from(["utf-8", "utf-8", "utf-8", "utf-8-sig", "utf-16", "latin-1"]))
    return table.file, text.getvalue().encode(encoding, "replace")


FILES = _tables() | st.tuples(st.sampled_from([*sorted(TABLES), "other.csv"]), st.binary(max_size=120))


@pytest.fixture
def small_collection(tmp_path: Path) -> Iterator[Path]:
    """A collection on SQLite and a folder for files; what earlier examples left behind is part of the test."""
    open_database(str(tmp_path / "leafwalk.db"))
    folder = tmp_path / "files"
    folder.mkdir()
    (folder / "trees.csv").write_text(f"tag,variety,place\n{TAG_1},Amber Bell,Bench\n{TAG_2},Amber Bell,Bench\n")
    import_files([folder])
    yield folder
    close_database()


def never_half_taken(folder: Path, examples: int) -> None:
    """Import that many files: each is taken whole, or refused in words with nothing changed; again it adds nothing."""
    taken = []

    @settings(
        max_examples=examples,
        deadline=None,
        database=None,
        phases=[Phase.generate, Phase.shrink],
        suppress_health_check=list(HealthCheck),
    )
    @given(file=FILES)
    def offer(file: tuple[str, bytes]) -> None:
        for old in folder.iterdir():
            old.unlink()
        name, data = file
        (folder / name).write_bytes(data)
        before = log_length()
        try:
            import_files([folder])
        except LeafwalkError as error:
            assert error.message
            assert log_length() == before
        else:
            after = log_length()
            taken.append(after - before)
            import_files([folder])
            assert log_length() == after
        assert execute("SELECT count(*) FROM parked_change").fetchone()[0] == 0

    offer()
    # A fuzzer that the importer always refuses would prove little.
    assert sum(taken) > examples / 50


def test_any_file_is_taken_whole_or_refused_whole(small_collection: Path) -> None:
    never_half_taken(small_collection, EXAMPLES)


@pytest.mark.benchmark
def test_ten_thousand_files(small_collection: Path) -> None:
    never_half_taken(small_collection, EXAMPLES_MANY)
