"""Any two groups of trees, chosen and compared: figures, sentence, and what the figures can't say."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from server.errors import Refused
from server.reports.alike import alike
from server.reports.groups import Asked, group_report
from tests.reports.trial_records import TrialYard, at

pytestmark = pytest.mark.usefixtures("collection")
ON = date(2025, 11, 1)


@pytest.fixture
def yard() -> TrialYard:
    """Six trees a variety: Lanternfoot grows 20 cm more, and stands under glass."""
    yard = TrialYard()
    for name, cover, more in (("Lanternfoot", "glasshouse", 20), ("Mossbell", "open", 0)):
        for number in range(6):
            tree = yard.tree(name, cover, pot_litres=15 if number % 2 else 40)
            for year, good in ((2024, 0), (2025, 10)):
                yard.grow(tree, year, 60, 40 + more + number + good, fruit=5)
    yard.home()
    return yard


def test_varieties_are_compared_and_what_else_differs_is_told(yard: TrialYard) -> None:
    report = group_report(Asked(first="Lanternfoot", second="Mossbell"), ON)
    assert report.gap is not None and report.gap.low is not None and report.gap.high is not None
    assert report.gap.low <= 20 <= report.gap.high and report.gap.trees == (6, 6)
    assert report.say.startswith("Lanternfoot grows 20 cm more than Mossbell (between ")
    assert any("in a glasshouse, most of the second in the open" in limit for limit in report.limits)
    assert len(report.dots[0]) == len(report.dots[1]) == 6
    document = report.document()
    assert {group["value"] for group in document["groups"]["variety"]} == {"Lanternfoot", "Mossbell"}
    assert document["items"][0]["told"] == "more"


def test_the_same_trees_in_two_years_are_held_against_themselves(yard: TrialYard) -> None:
    report = group_report(Asked(by="year", first="2025", second="2024"), ON)
    assert report.gap is not None and report.gap.paired
    assert report.gap.difference == pytest.approx(10)


def test_pots_are_those_of_the_growing_year(yard: TrialYard) -> None:
    small, large = "10-20", "35-60"
    report = group_report(Asked(by="pot", first=large, second=small), ON)
    assert report.gap is not None and report.gap.trees == (6, 6)
    assert report.gap.told == "unknown" and report.say.startswith("Can't tell yet whether a tree in 35 to 60 l")
    # A tree that was potted on stands with the large ones from then on.
    yard.add("work", tree=yard.trees[1], done_at=at(date(2025, 3, 1)), task="pot_up", amount=50)
    yard.home()
    again = group_report(Asked(by="pot", first=large, second=small), ON)
    assert again.gap is not None and again.gap.trees == (7, 6)


def test_wrong_questions_say_what_can_be_asked(yard: TrialYard) -> None:
    for asked in (
        Asked(measure="beauty"),
        Asked(by="colour"),
        Asked(first="Nobody"),
        Asked(species="oak"),
    ):
        with pytest.raises(Refused):
            group_report(asked, ON)


def test_an_empty_collection_has_nothing_to_compare() -> None:
    report = group_report(Asked(), ON)
    assert (report.gap, report.document()["items"]) == (None, [])


def test_two_names_that_behave_alike_are_offered_as_perhaps_one() -> None:
    yard = TrialYard(varieties=("Lanternfoot", "Mossbell", "Quillpear"))
    rng = np.random.default_rng(5)
    for name, more in (("Lanternfoot", 0), ("Mossbell", 0), ("Quillpear", 45)):
        for number in range(10):
            tree = yard.tree(name, ("glasshouse", "open")[number % 2])
            for year in (2024, 2025):
                leaves, cm, fruit = (int(each) for each in rng.normal((60 + more, 60 + more, 20 + more / 3), 4))
                yard.grow(tree, year, leaves, cm, fruit=max(fruit, 0))
    yard.home()
    (found,) = alike(ON).items
    assert {found.variety, found.other} == {"Lanternfoot", "Mossbell"}
    assert {each.measure for each in found.evidence} >= {"growth_cm", "leaves", "fruit"}
    assert all(-each.limit < each.low < each.high < each.limit for each in found.evidence)
    assert "perhaps one and the same" in found.say


def test_few_trees_are_never_said_to_be_alike() -> None:
    yard = TrialYard()
    for name in ("Lanternfoot", "Mossbell"):
        for number in range(2):
            yard.grow(yard.tree(name, "open"), 2025, 60 + number, 50 + number, fruit=5)
    yard.home()
    assert alike(ON).items == []
