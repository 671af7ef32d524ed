"""A tree's life: health told from visit to visit, its place among companions, and who noted what."""

from __future__ import annotations

import pytest

from server.reports.tree import tree_page
from tests.reports.growing_records import Yard, at, day, stored
from tests.support.collection import Phone

ON = day(60)
pytestmark = pytest.mark.usefixtures("collection")


def test_health_falls_from_the_visit_on_at_which_leaves_were_lost() -> None:
    yard = Yard()
    trees = [yard.tree() for _ in range(5)]
    for tree in trees:
        for number in range(20, 61, 4):
            yard.see(tree, number, leaves=60 if tree != trees[0] or number < 44 else 25)
    page = tree_page(trees[0], ON)
    points = {point["at"]: point["health"] for point in page["health"]}
    before, after = points[day(40).isoformat()], points[day(44).isoformat()]
    assert before > 80 and after < before - 20, points
    assert page["health"][-1]["health"] == page["trend"]["health"]
    # What was known then does not change by what came later.
    earlier = {point["at"]: point["health"] for point in tree_page(trees[0], day(41))["health"]}
    assert earlier[day(36).isoformat()] == pytest.approx(points[day(36).isoformat()], abs=3.0)


def test_a_tree_stands_among_those_of_its_species_in_its_place() -> None:
    yard = Yard()
    trees = [yard.tree() for _ in range(5)]
    for number, tree in enumerate(trees):
        for seen in range(40, 61, 4):
            yard.see(tree, seen, leaves=50 + 10 * number, shoot_cm=10 + number)
    other = yard.phone.change("place", place="Porch")
    stored(yard.phone, other)
    alone = yard.tree(place=other["record"])
    found = tree_page(trees[4], ON)["companions"]
    assert (found["species"], found["place"], found["trees"]) == ("fig", "Long yard", 5)
    ranks = {rank["measure"]: (rank["rank"], rank["of"]) for rank in found["ranks"]}
    assert ranks["leaves"] == ranks["shoot_cm"] == (1, 5)
    lonely = tree_page(alone, ON)["companions"]
    assert (lonely["place"], lonely["trees"], lonely["ranks"]) == (None, 6, [])


def test_who_noted_a_thing_first_stays_known_after_a_correction() -> None:
    yard = Yard()
    tree = yard.tree()
    helper = Phone("Ilvy's phone", "helper")
    seen = helper.change("observation", tree=tree, seen_at=at(day(10)), leaves=40)
    stored(helper, seen)
    stored(yard.phone, yard.phone.change("observation", seen["record"], leaves=41))
    assert tree_page(tree, ON)["recorded_by"][seen["record"]] == "Ilvy's phone"
