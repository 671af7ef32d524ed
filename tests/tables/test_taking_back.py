"""Taking back what a file brought in: all is as before, but for what others have built on or edited since."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server import ids
from server.errors import NotFound, Refused
from server.sync.pull import pull
from server.tables.importing import Summary, import_files
from server.tables.passports_in import import_passports
from server.tables.taking_back import TakenBack, take_back
from tests.support.collection import Phone
from tests.support.server import Visitor
from tests.tables.conftest import TAG_1, TAG_2, Write, ids_of, log_length, records

READINGS = "place,date,t_min_c,t_max_c\n"
BEYOND = 99_999_999_999_999_999_999
"""More than a database can number."""


def back(summary: Summary) -> TakenBack:
    """Take an import back."""
    assert summary.span is not None
    first, last = map(int, summary.span.split("-"))
    return take_back(first, last)


def in_use() -> list[tuple[str, str, dict[str, object]]]:
    """All records in use, as phones have them."""
    found = [(each["kind"], each["id"], each["fields"]) for each in pull(None, 5000).records]
    return sorted((each for each in found if not each[2].get("voided")), key=lambda each: each[:2])


@pytest.mark.usefixtures("collection")
class TestTakenBack:
    def test_new_ones_go_and_changed_ones_are_what_they_were(self, write_files: Write) -> None:
        import_files([write_files(readings=f"{READINGS}Bench,2026-04-20,1,9\n")])
        before = in_use()
        done = import_files([write_files(readings=f"{READINGS}Bench,2026-04-20,-2,9\nBench,2026-04-21,3,8\n")])
        assert [each["t_min_c"] for each in records("reading")] == [-2.0, 3.0]
        assert back(done) == TakenBack(2, 0)
        assert in_use() == before
        length = log_length()
        assert back(done) == TakenBack(0, 0), "once more, there is nothing left to do"
        assert log_length() == length

    def test_the_same_file_may_come_again_after_it(self, write_files: Write) -> None:
        import_files([write_files(places="place,cover\nBench,open\n")])
        text = f"{READINGS}Bench,2026-04-20,1,9\nBench,2026-04-21,3,8\n"
        back(import_files([write_files(readings=text)]))
        again = import_files([write_files(readings=text)])
        assert again.counts["readings.csv"] == {"new": 2}
        assert [each["t_min_c"] for each in records("reading")] == [1.0, 3.0]
        # What the grower withdrew stays so: an import brings nothing back.
        Phone().send(Phone("second").change("reading", ids_of("reading")[0], voided=True))
        assert import_files([write_files(readings=text)]).counts["readings.csv"] == {"withdrawn": 1, "unchanged": 1}

    def test_what_was_edited_since_stays(self, write_files: Write) -> None:
        phone = Phone()
        import_files([write_files(readings=f"{READINGS}Bench,2026-04-20,1,9\n")])
        done = import_files([write_files(readings=f"{READINGS}Bench,2026-04-20,-2,12\nBench,2026-04-21,3,8\n")])
        old, new = (
            each[1] for each in sorted(in_use(), key=lambda each: str(each[2].get("date"))) if each[0] == "reading"
        )
        phone.send(phone.change("reading", old, t_min_c=-3.0), phone.change("reading", new, t_max_c=10.0))
        assert back(done) == TakenBack(1, 1)
        first, second = sorted(records("reading"), key=lambda each: each["date"])
        assert (first["t_min_c"], first["t_max_c"]) == (-3.0, 9.0), "the edit stays, the rest is as it was"
        assert (second["t_min_c"], second["t_max_c"]) == (3.0, 10.0), "someone has taken it up"

    def test_a_tree_that_was_visited_stays_with_its_variety(self, write_files: Write) -> None:
        trees = f"tag,variety,place\n{TAG_1},Amber Bell,Bench\n{TAG_2},Other Bell,Porch\n"
        done = import_files([write_files(trees=trees)])
        phone, visited = Phone(), ids_of("tree")[0]
        phone.send(phone.change("observation", tree=visited, seen_at=ids.now().isoformat(), leaves=3))
        assert back(done) == TakenBack(3, 3)
        assert [each["tag"] for each in records("tree")] == [TAG_1]
        assert [each["variety"] for each in records("variety")] == ["Amber Bell"]
        assert [each["place"] for each in records("place")] == ["Bench"]
        # The other's tag is free for another tree.
        assert phone.send(phone.change("tree", tag=TAG_2))[0].outcome == "stored"

    def test_a_card_that_an_import_brought_back_goes_again(self, write_files: Write) -> None:
        phone = Phone()
        import_files([write_files(places="place,cover\nBench,open\n")])
        phone.send(phone.change("place", ids_of("place")[0], voided=True))
        done = import_files([write_files(trees=f"tag,place\n{TAG_1},Bench\n")])
        assert done.brought_back == ["Bench"]
        assert back(done) == TakenBack(2, 0)
        assert in_use() == []

    def test_passports_can_be_taken_back(self, tmp_path: Path) -> None:
        file = tmp_path / "passports.csv"
        file.write_text("ACCENUMB,ACCENAME,CROPNAME\nOF 7,Millrace Black,fig\nOF 8,Millrace Black,fig\n")
        done = import_passports(file)
        assert len(records("tree")) == 2
        assert back(done) == TakenBack(3, 0)
        assert in_use() == []
        assert back(import_passports(file)).records == 3, "and brought in again"

    def test_only_imports_are_taken_back(self) -> None:
        phone = Phone()
        phone.tree()
        for first, last in ((1, 1), (1, 0), (0, 5), (10**12, 10**12 + 5)):
            with pytest.raises(NotFound, match="no such import"):
                take_back(first, last)
        with pytest.raises(Refused, match="can't be taken back at once"):
            take_back(1, 10**9)
        assert len(records("tree")) == 1

    @settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
    @given(days=st.lists(st.lists(st.integers(1, 9), min_size=1, max_size=4, unique=True), min_size=2, max_size=4))
    def test_imports_taken_back_in_any_number_leave_what_was_before(
        self, days: list[list[int]], write_files: Write
    ) -> None:
        """Taken back from the last to the first, each leaves the collection as it was before that import."""
        states, done = [], []
        for number, some in enumerate(days):
            states.append(in_use())
            rows = "".join(f"Bench,2026-04-{day:02},{number},{number + day}\n" for day in some)
            done.append(import_files([write_files(readings=READINGS + rows)]))
        for summary, state in zip(reversed(done), reversed(states), strict=True):
            if summary.span:
                back(summary)
            assert in_use() == state


def test_it_is_taken_back_over_the_wire_by_an_owner(owner: Visitor, helper: Visitor) -> None:
    text = b"ACCENUMB,ACCENAME,CROPNAME\nOF 7,Millrace Black,fig\n"
    brought = owner.call("POST", "/passports", data=text, content_type="text/csv", headers={"Accept-Language": "de"})
    assert brought.json["lines"] == [
        "Sorten: 1 neu, 0 geändert, 0 unverändert",
        "Bäume: 1 neu, 0 geändert, 0 unverändert",
    ]
    span = brought.json["span"]
    assert helper.call("DELETE", f"/imports/{span}").status_code == 403
    assert owner.call("DELETE", f"/imports/{span}").json == {"records": 2, "left": 0}
    assert records("tree") == []
    assert owner.call("POST", "/passports", data=text.splitlines()[0], content_type="text/csv").json["span"] is None
    for wrong in ("5-1", "900-901", "all", f"1-{BEYOND}", f"{BEYOND}-{BEYOND}", f"{BEYOND}-1"):
        assert owner.call("DELETE", f"/imports/{wrong}").status_code in (404, 422), wrong
