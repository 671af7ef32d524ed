"""Shelters compared from records: the contract's items, the rules of shelter and measures, sentences, the command."""

from __future__ import annotations

import json
import re
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from server.reports.compare import CompareItem, compare_shelters
from server.reports.text_years import compare_lines
from tests.reports.trial_records import TrialYard, two_shelters
from tests.support.server import Visitor, run_leafwalk

CONTRACT = {"variety", "shelter", "against", "measure", "difference", "low", "high", "trees"}
ON = date(2025, 12, 1)


def items(measure: str, on: date = ON) -> dict[str, CompareItem]:
    return {item.variety or "": item for item in compare_shelters(on).items if item.measure == measure}


@pytest.mark.usefixtures("sqlite_collection")
class TestReport:
    def test_each_measure_of_each_variety_is_told_with_its_interval(self) -> None:
        two_shelters()
        true = {"leaves": 60.0, "growth_cm": -8.0, "yield_g": 300.0, "days_to_ripeness": -20.0}
        for measure, difference in true.items():
            found = items(measure)
            assert set(found) == {"Lanternfoot", "Mossbell"}
            for item in found.values():
                assert (item.shelter, item.against, item.trees) == ("glasshouse", "open", 8)
                assert item.low is not None and item.high is not None and item.difference is not None
                assert item.low < item.difference < item.high
                assert item.difference == pytest.approx(difference, rel=0.25)
                assert item.told == ("more" if difference > 0 else "less")
        assert not {each.measure for each in compare_shelters(ON).items} - {*true, "fruit"}

    def test_sentences_say_the_direction_in_a_growers_words(self) -> None:
        two_shelters()
        assert "more leaves in a glasshouse than in the open (between" in items("leaves")["Mossbell"].say
        assert "cm less in a glasshouse than in the open" in items("growth_cm")["Mossbell"].say
        assert "days earlier in a glasshouse than in the open" in items("days_to_ripeness")["Mossbell"].say
        # Every tree was given twelve fruits, so nothing tells how much trees differ by chance.
        fruit = items("fruit")["Mossbell"]
        assert fruit.say.startswith("Mossbell: can't tell yet whether it carries more or fewer fruits in a glasshouse")
        assert "all alike" in fruit.say
        assert (fruit.difference, fruit.low, fruit.high, fruit.seen) == (None, None, None, 0.0)

    def test_what_varieties_have_in_common_stands_apart(self) -> None:
        two_shelters()
        document = compare_shelters(ON).document()
        (leaves,) = [each for each in document["overall"] if each["measure"] == "leaves"]
        assert (leaves["variety"], leaves["species"], leaves["varieties"]) == (None, "fig", 2)
        assert leaves["difference"] == pytest.approx(60.0, abs=10.0)
        assert leaves["say"].startswith("Fig (2 varieties together) carries ")
        lines = list(compare_lines(document))
        (line,) = [each for each in lines if each.startswith("  leaves")]
        words = f"{leaves['difference']:.0f} more leaves  +{leaves['low']:.0f} and {leaves['high']:.0f}  +8 against 8"
        assert re.search(f"glasshouse against open  +{words}", line)
        assert items("leaves")["Mossbell"].say in lines

    def test_with_one_tree_on_a_side_it_cannot_be_told(self) -> None:
        two_shelters(trees=1)
        found = compare_shelters(ON).items
        assert found and all(item.told == "unknown" and "can't tell yet" in item.say for item in found)
        assert all("too few trees (1 tree against 1)" in item.say for item in found)
        lines = "\n".join(compare_lines(compare_shelters(ON).document()))
        assert f"Of the {len(found)} differences in single varieties, none can be told yet" in lines
        assert f"{len(found)} have fewer than two trees on one side" in lines

    def test_noise_alone_cannot_be_told_and_its_bounds_are_said(self) -> None:
        yard, rng = TrialYard(varieties=("Lanternfoot",)), np.random.default_rng(3)
        for number, cover in enumerate(["glasshouse", "open"] * 4):
            tree = yard.tree("Lanternfoot", cover)
            yard.grow(tree, 2025, leaves=round(100 + (-1) ** (number // 2) * 40 + rng.normal(0, 3)), cm=30.0)
        yard.home()
        item = items("leaves")["Lanternfoot"]
        assert item.told == "unknown"
        assert item.low is not None and item.high is not None and item.low < 0 < item.high
        assert (
            f"between {abs(item.low):.0f} fewer leaves and {item.high:.0f} more leaves would fit (4 trees against 4)"
            in item.say
        )

    def test_nothing_later_than_the_day_asked_is_looked_at(self) -> None:
        two_shelters()
        assert items("yield_g", date(2025, 7, 1)) == {}
        assert compare_shelters(date(2025, 1, 1)).items == []

    def test_retired_trees_still_tell_what_they_did(self) -> None:
        yard = two_shelters()
        before = items("leaves")["Mossbell"]
        for tree in yard.trees[-2:]:
            yard.add("tree", tree, standing="retired")
        yard.home()
        assert items("leaves")["Mossbell"] == before

    def test_a_move_for_less_than_half_the_season_changes_no_shelter(self) -> None:
        yard = two_shelters()
        for tree in yard.trees:
            yard.move(tree, date(2025, 9, 15), "polytunnel")
        yard.home()
        assert items("leaves")["Mossbell"].shelter == "glasshouse"

    def test_a_head_start_is_compared_within_a_shelter(self) -> None:
        yard, rng = TrialYard(), np.random.default_rng(4)
        for variety in ("Lanternfoot", "Mossbell"):
            for number in range(8):
                early = number % 2
                tree = yard.tree(variety, "glasshouse" if early else "open")
                if early:
                    yard.move(tree, date(2025, 5, 4), "open")
                yard.grow(tree, 2025, round(100 + 50 * early + rng.normal(0, 5)), 30 + rng.normal(0, 1.0))
        yard.home()
        item = items("leaves")["Mossbell"]
        assert (item.shelter, item.against, item.head_start_days) == ("head start", "no head start", 30)
        assert item.difference == pytest.approx(50.0, abs=10.0)
        assert "more leaves with a head start of 30 days than without" in item.say

    def test_breba_and_main_crop_ripen_each_on_its_own(self) -> None:
        yard = two_shelters()
        # The four trees of each variety under each shelter ripen their brebas on the same four days.
        for number, tree in enumerate(yard.trees):
            yard.pick(tree, date(2025, 6, 20) + timedelta(days=number % 4), 30, fruit="breba")
        yard.home()
        assert items("days_to_ripeness")["Mossbell"].difference == pytest.approx(-20.0, abs=4.0)
        assert items("days_to_ripeness_breba")["Mossbell"].told == "unknown"

    def test_a_tree_that_bore_nothing_gave_nothing_once_the_year_is_over(self) -> None:
        yard = two_shelters()
        for _ in range(2):
            barren = yard.tree("Mossbell", "open")
            yard.grow(barren, 2025, 180, 35.0, fruit=0)
        unpicked = yard.tree("Mossbell", "open")
        yard.grow(unpicked, 2025, 180, 35.0, fruit=12)
        yard.home()
        assert items("yield_g", date(2025, 9, 25))["Mossbell"].trees_against == 4
        over = items("yield_g")["Mossbell"]
        assert over.trees_against == 6
        assert over.seen == pytest.approx(300 + 500 / 3, abs=30)


def test_an_empty_collection_compares_nothing(collection: str) -> None:
    assert collection
    assert compare_shelters(ON).document() == {"on": "2025-12-01", "items": [], "overall": [], "trees_a_side_min": 2}


def test_both_engines_tell_the_same(collection: str) -> None:
    assert collection
    two_shelters(trees=2)
    assert items("leaves")["Mossbell"].difference == pytest.approx(60.0, abs=15.0)


def test_the_route_answers_with_the_contracts_items(owner: Visitor) -> None:
    two_shelters()
    answer = owner.call("GET", "/reports/compare?on=2025-12-01")
    assert answer.status_code == 200
    assert answer.json["items"] and all(set(item) >= CONTRACT for item in answer.json["items"])


def test_the_command_prints_sentences_or_one_document(home: Path) -> None:
    empty = run_leafwalk(home, "compare", "--on", "2025-12-01")
    assert empty.returncode == 0
    assert "nothing to compare" in empty.stdout
    document = json.loads(run_leafwalk(home, "compare", "--on", "2025-12-01", "--json").stdout)
    assert document == {"on": "2025-12-01", "items": [], "overall": [], "trees_a_side_min": 2}
    assert run_leafwalk(home, "compare", "--on", "someday").returncode == 1
