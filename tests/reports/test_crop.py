"""Crop from records: the contract's items, thinning and harvest since the count, refusals, findings, the command."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from server.records.database import set_setting
from server.reports.alerts import alerts
from server.reports.crop import CropItem, crop
from tests.reports.growing_records import Yard, at, day, stored
from tests.support.server import run_leafwalk

CONTRACT = {
    *("tag", "leaves", "fruit_breba", "fruit_main", "leaves_per_fruit", "low", "high", "needed", "surplus"),
    *("remove_breba", "remove_main"),
}
ON = day(60)


def bearing(yard: Yard, leaves: int, breba: int | None = None, main: int | None = None, **fields: Any) -> str:
    """A tree with so many leaves on its last visits and so much fruit on the last."""
    tree = yard.tree(**fields)
    for number in (48, 52, 56):
        yard.see(tree, number, leaves=leaves)
    yard.see(tree, 60, leaves=leaves, fruit_breba=breba, fruit_main=main)
    return tree


def item_of(tree: str) -> CropItem:
    (item,) = [each for each in crop(ON).items if each.tree == tree]
    return item


@pytest.mark.usefixtures("sqlite_collection")
class TestReport:
    def test_a_tree_with_too_much_is_told_how_much_to_take_brebas_first(self) -> None:
        tree = bearing(Yard(), 60, breba=8, main=40)
        item = item_of(tree)
        assert (item.leaves_per_fruit, item.needed) == (1.25, 4.0)
        assert item.low < 1.25 < item.high
        # Sixty leaves feed fifteen fruits of four leaves each.
        assert item.surplus == item.remove_breba + item.remove_main == pytest.approx(48 - 15, abs=3)
        assert item.remove_breba == 8
        assert item.remove_main_low <= item.remove_main <= item.remove_main_high
        assert item.needed_source == "a grower's setting"
        assert item.advice.index("8 brebas") < item.advice.index("main fruits")
        assert item.caution == "sap"

    def test_smaller_leaves_than_usual_feed_less_fruit(self) -> None:
        # Magness 1929: what feeds a fruit is leaf area.
        yard = Yard()
        small = bearing(yard, 60, main=15)
        assert item_of(small).surplus == 0
        usual = [bearing(yard, 60, main=15) for _ in range(4)]
        for tree in usual:
            yard.see(tree, 50, leaf_cm2=100)
        assert item_of(small).surplus == 0, "its own leaves were not measured"
        yard.see(small, 50, leaf_cm2=20)
        assert item_of(small).surplus > 0
        assert "0.6 times as large as is usual" in " ".join(item_of(small).why)
        assert item_of(usual[0]).surplus == 0

    def test_a_finding_says_why_and_since_when(self) -> None:
        yard = Yard()
        tree = bearing(yard, 60, breba=8, main=40)
        yard.see(tree, 44, leaves=60, fruit_breba=20, shoot_cm=8.0, fruit_main=3)
        bearing(yard, 300, breba=2, main=20)
        (finding,) = [each for each in alerts(ON).items if each.kind == "overloaded"]
        assert (finding.tree, finding.level, finding.since) == (tree, "act", day(44).isoformat())
        assert "8 brebas and 40 main fruits on 60 leaves" in finding.why[0]
        assert "by the grower's setting" in finding.why[1]
        # Forced by early heat fruit sets at 5 to 15 cm instead of 25 to 30: common practice, no published source.
        assert "shoots of 8 cm; in a normal year they grow 25 to 30 cm" in finding.why[-1]

    def test_short_shoots_at_fruit_set_are_told_as_forced_and_usual_ones_are_not(self) -> None:
        """Forced at 5 to 15 cm or even less, 25 to 30 cm in a normal year: common practice, no published source."""
        yard = Yard()
        trees = {cm: yard.tree() for cm in (3.0, 5.0, 15.0, 25.0, 30.0)}
        for cm, tree in trees.items():
            for number in (48, 52, 56, 60):
                yard.see(tree, number, leaves=40, shoot_cm=cm, fruit_main=40)
        forced = {each.tree: any("in a normal year" in words for words in each.why) for each in alerts(ON).items}
        assert [forced[tree] for tree in trees.values()] == [True, True, True, False, False]

    def test_more_than_two_fruits_a_node_are_doubted(self) -> None:
        """One fruit a node is a full set, two are exceptional: common practice, no published source."""
        yard = Yard()
        full, exceptional, slip = (bearing(yard, 30, main=fruit) for fruit in (30, 60, 90))
        doubted = [any("hardly happens" in words for words in item_of(tree).why) for tree in (full, exceptional, slip)]
        assert doubted == [False, False, True]
        set_setting("species", {"fig.fruit_per_node": 2.5})
        assert not any("hardly happens" in words for words in item_of(slip).why)

    def test_what_was_thinned_since_the_count_is_taken_off(self) -> None:
        yard = Yard()
        tree = bearing(yard, 100, breba=6, main=10)
        stored(yard.phone, yard.phone.change("work", tree=tree, done_at=at(day(60), 12), task="thin_breba", amount=5))
        item = item_of(tree)
        assert (item.fruit_breba, item.fruit_main, item.surplus) == (1, 10, 0)

    @pytest.mark.parametrize(("kind", "fields"), [("work", {"task": "thin_main"}), ("harvest", {"fruit": "main"})])
    def test_fruit_taken_that_nobody_numbered_asks_for_a_new_count(self, kind: str, fields: dict[str, Any]) -> None:
        yard = Yard()
        tree = bearing(yard, 60, main=40)
        when = {"done_at" if kind == "work" else "picked_at": at(day(60), 12)}
        stored(yard.phone, yard.phone.change(kind, tree=tree, **when, **fields))
        item = item_of(tree)
        assert item.surplus is None
        assert "count those that are left" in item.why[0]
        assert not [each for each in alerts(ON).items if each.kind == "overloaded"]

    def test_too_little_counted_is_refused_with_what_to_count(self) -> None:
        yard = Yard()
        no_fruit = bearing(yard, 60)
        old = yard.tree()
        yard.see(old, 30, leaves=60)
        yard.see(old, 60, fruit_main=30)
        never = yard.tree()
        for tree, words in ((no_fruit, "fruit was not counted"), (old, "since 1 May: count them"), (never, "leaves")):
            item = item_of(tree)
            assert [item.surplus, item.remove_breba, item.remove_main, item.advice] == [None] * 4
            assert words in item.why[0]

    def test_a_species_without_a_need_says_that_it_must_be_set_and_the_growers_figure_counts(self) -> None:
        yard = Yard()
        other = yard.phone.change("variety", variety="Odd one", species="Feijoa")
        stored(yard.phone, other)
        tree = bearing(yard, 60, main=20, variety=other["record"])
        assert "is not known for other species: set it" in item_of(tree).why[0]
        set_setting("species", {"general.leaves_per_fruit": 6.0})
        assert item_of(tree).needed == 6.0
        assert item_of(tree).surplus == pytest.approx(10, abs=2)

    def test_a_bare_tree_carries_none(self) -> None:
        tree = bearing(Yard(), 60, breba=0, main=0)
        item = item_of(tree)
        assert (item.surplus, item.leaves_per_fruit, item.why) == (0, None, ["It carries no fruit."])

    def test_nothing_later_is_looked_at(self) -> None:
        yard = Yard()
        tree = bearing(yard, 60, breba=0, main=10)
        yard.see(tree, 61, fruit_main=60)
        assert item_of(tree).fruit_main == 10

    def test_an_empty_collection_has_no_crop(self) -> None:
        assert crop(ON).document() == {"on": ON.isoformat(), "items": []}


def test_the_command_prints_the_contracts_items(tmp_path: Path) -> None:
    for name, text in {
        "varieties.csv": "variety,species\nLanternfoot,fig\n",
        "places.csv": "place,cover\nYard,open\n",
        "trees.csv": "tag,variety,place\n00000A,Lanternfoot,Yard\n",
        "observations.csv": "tag,seen_at,leaves,fruit_breba,fruit_main\n"
        "00000A,2024-05-20T09:00:00+02:00,60,8,40\n00000A,2024-05-30T09:00:00+02:00,60,8,40\n",
    }.items():
        (tmp_path / name).write_text(text.replace("00000A", _tag()), encoding="utf-8")
    home = tmp_path / "home"
    assert run_leafwalk(home, "import", str(tmp_path)).returncode == 0
    told = run_leafwalk(home, "crop", "--on", "2024-05-31", "--json")
    document = json.loads(told.stdout)
    (item,) = document["items"]
    assert set(item) >= CONTRACT
    assert item["surplus"] > 20
    assert "8 brebas" in run_leafwalk(home, "crop", "--on", "2024-05-31").stdout
    assert run_leafwalk(home, "crop", "--on", "yesterday").returncode == 1


def _tag() -> str:
    from server.ids import check_character

    return "00000" + check_character("00000")
