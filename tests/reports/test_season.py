"""The season's review from records: its items and verdicts, what year it is, refusals, the route and the command."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from server.errors import Refused
from server.reports.season import SeasonItem, SeasonReport, season
from server.reports.season_settings import RULES, set_season_figure
from server.reports.text_years import season_lines
from tests.reports.trial_records import TrialYard, every_ten_days, two_shelters
from tests.support.server import Visitor, run_leafwalk

ON = date(2025, 12, 1)


def item_of(report: SeasonReport, variety: str, shelter: str = "open") -> SeasonItem:
    (item,) = [each for each in report.items if (each.variety, each.shelter) == (variety, shelter)]
    return item


def ranking_yard(trees: int = 4, years: tuple[int, ...] = (2025,)) -> TrialYard:
    """Six varieties in the open: Best gives 1200 g a tree, Worst 100 g and takes much work, the others about 500 g."""
    names = ("Best", "Worst", "Middleton", "Evenside", "Plainfare", "Halfway")
    yard, rng = TrialYard(varieties=names), np.random.default_rng(2)
    for name in names:
        for _ in range(trees):
            tree = yard.tree(name, "open")
            for year in years:
                yard.grow(tree, year, 120, 30.0, fruit=8)
                grams = {"Best": 1200, "Worst": 100}.get(name, 500) + rng.normal(0, 40)
                picked_on = date(year, 8, 25) + timedelta(days=int(rng.integers(0, 10)))
                yard.pick(tree, picked_on, round(grams), quality=int(rng.integers(3, 5)))
                for n in range((9 if name == "Worst" else 3) + int(rng.integers(0, 2))):
                    yard.add("work", tree=tree, done_at=f"{year}-05-{n + 1:02}T10:00:00+02:00", task="water")
    yard.home()
    return yard


@pytest.mark.usefixtures("sqlite_collection")
class TestReport:
    def test_what_each_kind_gave_is_told_with_its_interval(self) -> None:
        two_shelters()
        report = season(ON)
        assert (report.year, report.over, report.growing_year) == (2025, True, "January to December")
        glass, outside = item_of(report, "Mossbell", "glasshouse"), item_of(report, "Mossbell")
        for item, grams in ((glass, 800), (outside, 500)):
            assert item.picked_g == pytest.approx(grams, abs=40)
            assert item.yield_low is not None and item.yield_g is not None and item.yield_high is not None
            assert item.yield_low < item.yield_g < item.yield_high
            assert item.yield_g == pytest.approx(grams, rel=0.06)
            assert (item.trees, item.tree_seasons, item.trees_picked, item.of) == (4, 4, 4, 4)
            assert item.quality is not None and 3.5 <= item.quality <= 4.5
        # Woken on 4 April; first picked by 1 September, under glass 20 days sooner.
        assert outside.days_to_ripeness == pytest.approx(150 - 1.5, abs=2)
        assert glass.days_to_ripeness == pytest.approx(130 - 1.5, abs=2)
        assert glass.visits == pytest.approx(18)
        assert glass.rank_low <= glass.rank <= glass.rank_high
        assert glass.rank < outside.rank

    def test_keep_let_go_and_try_again_with_reasons(self) -> None:
        ranking_yard()
        report = season(ON)
        best, worst = item_of(report, "Best"), item_of(report, "Worst")
        assert (best.verdict, best.rank, best.rank_low, best.rank_high) == ("keep", 1, 1, 1)
        assert (worst.verdict, worst.rank, worst.of) == ("let go", 6, 6)
        assert best.reasons[:2] == [
            "It ranks 1st of 6.",
            "In 99 of 100 cases it belongs to the better half (4 tree-seasons with a known yield).",
        ]
        assert "it belongs to the lesser half" in worst.reasons[1]
        assert "It gives more than most." in best.reasons
        assert {"It gives less than most.", "It asks for more work than most."} <= set(worst.reasons)
        assert worst.care == pytest.approx(9.5, abs=0.5)
        assert {"try again"} & {item.verdict for item in report.items}

    def test_the_grower_says_what_counts_for_how_much(self) -> None:
        ranking_yard()
        assert season(ON).weights == {
            "yield_g": 0.4,
            "quality": 0.25,
            "days_to_ripeness": 0.15,
            "troubles": 0.1,
            "care": 0.1,
        }
        for name in ("yield_g", "quality", "days_to_ripeness", "troubles"):
            set_season_figure(name, 0)
        by_care = season(ON)
        assert by_care.weights == {**dict.fromkeys(by_care.weights, 0.0), "care": 1.0}
        worst = item_of(by_care, "Worst")
        assert (worst.rank, worst.rank_low, worst.verdict) == (6, 6, "let go")
        told = {sentence for item in by_care.items for sentence in item.reasons[2:]}
        assert "It asks for more work than most." in told
        assert not {sentence for sentence in told if "gives" in sentence or "fruit" in sentence}
        # The other five take the same work but for chance: surer than this, none of them is to be kept.
        set_season_figure("sure_percent", 99)
        assert {item.verdict for item in season(ON).items if item.variety != "Worst"} == {"try again"}
        with pytest.raises(Refused, match="Something must count"):
            set_season_figure("care", 0)
        for name in RULES:
            set_season_figure(name, None)
        assert item_of(season(ON), "Best").rank == 1

    def test_no_verdict_rests_on_one_tree_season(self) -> None:
        ranking_yard(trees=1)
        report = season(ON)
        assert {item.verdict for item in report.items} == {"try again"}
        for item in report.items:
            assert item.reasons == ["Its yield is known of one tree in one year only, which may have been lucky."]

    def test_earlier_years_count_for_the_verdict_and_not_for_the_years_figures(self) -> None:
        ranking_yard(trees=2, years=(2024, 2025))
        now, before = season(ON), season(ON, year=2024)
        assert (item_of(now, "Best").trees, item_of(now, "Best").tree_seasons) == (2, 4)
        assert (item_of(before, "Best").trees, item_of(before, "Best").tree_seasons) == (2, 2)
        assert item_of(now, "Worst").verdict == "let go"
        assert before.year == 2024 and before.over
        assert now.years == before.years == [2024, 2025]

    def test_a_year_that_has_hardly_begun_gives_no_verdict(self) -> None:
        ranking_yard()
        report = season(date(2025, 7, 1))
        assert not report.over
        assert {item.verdict for item in report.items} == {"try again"}
        assert report.items[0].reasons == ["It is too early in the growing year for a verdict."]
        assert report.items[0].yield_g is None
        # For the eye it is said once, above all.
        lines = list(season_lines(report.document()))
        assert report.early and sum("too early" in line for line in lines) == 1
        assert not any("try again" in line for line in lines)

    def test_leaf_drop_and_damage_are_its_trouble(self) -> None:
        yard = two_shelters()
        ill = yard.tree("Mossbell", "open")
        yard.grow(ill, 2025, 200, 35.0)
        for n, day in enumerate(every_ten_days(date(2025, 7, 1), date(2025, 8, 10))):
            yard.see(ill, day + timedelta(days=2), damage_percent=40 if n else 0, leaves=200 - 40 * n)
        yard.home()
        report = season(ON)
        outside = item_of(report, "Mossbell")
        assert outside.damage_percent == pytest.approx(40.0)
        assert outside.troubles is not None and outside.troubles >= 1 / 5
        assert item_of(report, "Mossbell", "glasshouse").troubles == 0.0

    def test_species_are_ranked_apart(self) -> None:
        yard = two_shelters()
        lemon = yard.add("variety", variety="Sourwick", species="citrus")
        yard.varieties["Sourwick"] = lemon
        for cover in ("glasshouse", "open"):
            yard.grow(yard.tree("Sourwick", cover), 2025, 300, 20.0)
        yard.home()
        report = season(ON)
        assert item_of(report, "Sourwick").of == 2
        assert item_of(report, "Mossbell").of == 4

    def test_in_the_south_the_growing_year_runs_from_july_to_june(self) -> None:
        yard = TrialYard(latitude=-37.0)
        for variety in yard.varieties:
            for grams in (400, 450, 500):
                tree = yard.tree(variety, "open")
                yard.see(tree, date(2024, 10, 1), bbch=9)
                for day in every_ten_days(date(2024, 10, 5), date(2025, 3, 30)):
                    yard.see(tree, day, leaves=50)
                yard.pick(tree, date(2025, 2, 20), grams)
        yard.home()
        report = season(date(2025, 6, 20))
        assert (report.year, report.growing_year) == (2025, "July to June, named for the year in which it ends")
        item = item_of(report, "Mossbell")
        assert (item.trees, item.picked_g, item.tree_seasons) == (3, 450.0, 3)
        assert item.days_to_ripeness == pytest.approx((date(2025, 2, 20) - date(2024, 10, 1)).days, abs=1)

    @pytest.mark.parametrize(("year", "words"), [(1492, "1900 to 2199"), (2027, "has not begun"), (10**12, "reach")])
    def test_a_year_out_of_reach_is_refused(self, year: int, words: str) -> None:
        with pytest.raises(Refused, match=words):
            season(ON, year)


def test_an_empty_collection_has_an_empty_review(collection: str) -> None:
    assert collection
    body = season(ON).document()
    assert (body["items"], body["year"]) == ([], 2025)


def test_the_route_takes_a_year(owner: Visitor) -> None:
    two_shelters(trees=2)
    answer = owner.call("GET", "/reports/season?on=2025-12-01&year=2025")
    assert answer.status_code == 200
    assert {item["variety"] for item in answer.json["items"]} == {"Lanternfoot", "Mossbell"}
    assert owner.call("GET", "/reports/season?year=soon").status_code == 422
    assert owner.call("GET", "/reports/season?on=2025-12-01&year=2050").status_code == 422


def test_the_command_takes_a_year(home: Path) -> None:
    document = json.loads(run_leafwalk(home, "season", "--on", "2025-12-01", "--json").stdout)
    assert (document["on"], document["year"], document["items"]) == ("2025-12-01", 2025, [])
    assert "Nothing was seen" in run_leafwalk(home, "season", "--year", "2024").stdout
    refused = run_leafwalk(home, "season", "--year", "3000")
    assert (refused.returncode, refused.stdout) == (1, "")
    assert "Years reach" in refused.stderr
