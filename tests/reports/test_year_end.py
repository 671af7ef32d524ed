"""The report of a growing year on paper: what it says, which decisions belong to it, the route and the command."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pypdfium2
import pytest

from server.errors import Refused
from server.reports.season import season
from server.reports.year_end import year_end
from tests.reports.test_season import ranking_yard
from tests.reports.trial_records import TrialYard, two_shelters
from tests.support.server import Visitor, run_leafwalk

ON = date(2026, 5, 1)


def words_of(pdf: bytes) -> str:
    with pypdfium2.PdfDocument(pdf) as document:
        return " ".join(" ".join(page.get_textpage().get_text_bounded() for page in document).split())


@pytest.mark.usefixtures("sqlite_collection")
class TestGathered:
    def test_the_review_is_that_of_the_season_report(self) -> None:
        two_shelters()
        found = year_end(ON, 2025)
        assert found.season.document() == season(ON, 2025).document()
        assert found.compare.items and found.compare.overall

    def test_shelters_are_compared_over_the_years_up_to_the_asked_one(self) -> None:
        yard = two_shelters()
        before = year_end(date(2025, 12, 1), 2025).compare
        for n, tree in enumerate(yard.trees):
            yard.grow(tree, 2026, 150 + 3 * n, 30.0)
        yard.home()
        after = date(2026, 10, 1)
        assert year_end(after, 2025).compare.items == before.items
        assert year_end(after, 2026).compare.items != before.items

    def test_a_decision_of_winter_is_about_the_year_that_ended(self) -> None:
        yard = TrialYard()
        for decided in ("2025-03-31", "2025-04-02", "2026-01-15", "2026-04-20", "2026-06-01", None):
            yard.tree("Mossbell", "open", decision="keep", **({"decided_on": decided} if decided else {}))
        yard.tree("Mossbell", "open")
        gone = yard.tree("Mossbell", "open", decision="retire", decided_on="2025-09-01")
        yard.add("tree", gone, voided=True)
        yard.home()

        def days(year: int) -> list[str | None]:
            return sorted((row.decided_on for row in year_end(ON, year).decisions), key=str)

        assert days(2024) == ["2025-03-31"]
        assert days(2025) == ["2025-04-02", "2026-01-15"]
        # What has no day belongs to the present year; what is decided later than the day asked is not known yet.
        assert days(2026) == ["2026-04-20", None]

    def test_a_year_to_come_is_refused(self) -> None:
        with pytest.raises(Refused, match="has not begun"):
            year_end(ON, 2027)


def test_the_route_gives_a_report_of_several_pages_on_both_papers(owner: Visitor) -> None:
    yard = ranking_yard()
    tree = yard.trees[0]
    yard.add("tree", tree, decision="give_away", decided_on="2025-12-20")
    yard.home()
    for paper, width_pt in (("a4", 595), ("letter", 612)):
        answer = owner.call("GET", f"/season.pdf?on=2026-02-01&year=2025&paper={paper}")
        assert (answer.status_code, answer.mimetype) == (200, "application/pdf")
        with pypdfium2.PdfDocument(answer.data) as document:
            assert round(document[0].get_width()) == width_pt
    text = words_of(answer.data)
    items = owner.call("GET", "/reports/season?on=2026-02-01&year=2025").json["items"]
    for item in items:
        assert f"{item['variety']}, open" in text
        assert f"{item['yield_g']:.0f} ({item['yield_low']:.0f} to {item['yield_high']:.0f})" in text
        assert f"{item['rank']} of {item['of']}, {item['verdict']}" in text
    for said in (
        "growing year 2025", "Best, open", "Keep: this can be said", "Let go: this can be said",
        "It gives more than most.", "can't be said yet", "grams of fruit a tree", "Give away", "2025-12-20",
        "how much it gives 40 %", "No variety stood under two shelters",
    ):  # fmt: skip
        assert said in text, said
    kilos = sum(item["picked_g"] * item["trees_picked"] for item in items) / 1000
    assert f"{kilos:.1f} kg were picked from the 24 trees" in text
    assert owner.call("GET", "/season.pdf?paper=a3").status_code == 422
    assert owner.call("GET", "/season.pdf?year=2199").status_code == 422


def test_shelters_are_compared_on_paper_and_early_years_have_no_verdict(owner: Visitor) -> None:
    two_shelters()
    text = words_of(owner.call("GET", "/season.pdf?on=2025-12-01&year=2025").data)
    assert "glasshouse against open" in text and "Fig: yield" in text and "difference, g" in text
    assert "fewer" in text or "more" in text
    early = words_of(owner.call("GET", "/season.pdf?on=2025-07-01&year=2025").data)
    assert "too early in the growing year" in early
    assert "Keep: this can be said" not in early


def test_the_command_writes_the_report_of_an_empty_collection_too(home: Path, tmp_path: Path) -> None:
    out = tmp_path / "year.pdf"
    done = run_leafwalk(
        home, "season", "--on", "2025-12-01", "--year", "2025", "--sheet", str(out), "--paper", "letter"
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, f"The year's report is in {out}\n", "")
    assert "Nothing was seen or picked in it." in words_of(out.read_bytes())
    both = run_leafwalk(home, "season", "--on", "2025-12-01", "--sheet", str(out), "--json")
    assert json.loads(both.stdout)["year"] == 2025
    refused = run_leafwalk(home, "season", "--on", "2025-12-01", "--sheet", str(tmp_path / "no" / "year.pdf"))
    assert refused.returncode == 1 and "choose another file" in refused.stderr
