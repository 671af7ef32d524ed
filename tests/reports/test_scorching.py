"""Findings after moves into too much light, from records."""

from __future__ import annotations

import pytest

from server.reports.alerts import alerts
from server.reports.load import load
from server.reports.scorching import LightItem, scorched
from tests.reports.ahead_records import ON, Garden, before

pytestmark = pytest.mark.usefixtures("collection")


@pytest.fixture
def garden() -> Garden:
    return Garden()


def found() -> dict[str, LightItem]:
    return {item.tree: item for item in scorched(load(ON))}


def test_a_move_out_of_the_shade_is_watched_for_a_week(garden: Garden) -> None:
    """Latitude 48, 8 April, FAO-56 by pencil: equations 23 to 25 give a declination of 0.120 and a sunset hour angle of
    1.705, equation 21 30.3 MJ m⁻² d⁻¹; half of that on a middling day, and 2.07 mol of light a MJ, make 31.4 mol."""
    shade, yard = garden.place("Wall", "shade"), garden.place("Yard")
    tree, stayed = garden.tree(shade), garden.tree(shade)
    garden.move(tree, before(3), yard)
    (item,) = [each for each in alerts(ON).items if each.kind == "too_much_light"]
    assert (item.tree, item.level, item.since) == (tree, "watch", before(3).isoformat())
    assert (item.from_place, item.to_place) == ("Wall", "Yard")
    assert item.after_mol == pytest.approx(31.4, abs=0.2)
    assert item.before_mol == pytest.approx(0.45 * item.after_mol, abs=0.1)
    assert stayed not in found()
    assert scorched(load(before(4))) == []
    assert scorched(load(before(-5))) == []


@pytest.mark.parametrize("sign", [{"damage_percent": 12.0}, {"causes": "wind;sun"}])
def test_signs_on_the_leaves_call_for_action(garden: Garden, sign: dict[str, object]) -> None:
    shade, yard = garden.place("Wall", "shade"), garden.place("Yard")
    burnt, sound, hurt_before = (garden.tree(shade) for _ in range(3))
    garden.see(sound, before(13), damage_percent=1.0)
    garden.see(hurt_before, before(13), damage_percent=12.0, causes="sun")
    for tree in (burnt, sound, hurt_before):
        garden.move(tree, before(12), yard)
    garden.see(burnt, before(2), **sign)
    garden.see(sound, before(2), damage_percent=2.0, causes="wind")
    garden.see(hurt_before, before(2), damage_percent=13.0)
    assert {tree: item.level for tree, item in found().items()} == {burnt: "act"}
    # What comes after the day asked for is not looked at.
    assert scorched(load(before(3))) == []


def test_a_tree_carried_back_is_no_finding_and_two_quick_moves_are_one_step(garden: Garden) -> None:
    indoors, porch, yard = garden.place("Room", "indoors"), garden.place("Porch", "porch"), garden.place("Yard")
    back, twice, settled = (garden.tree(indoors) for _ in range(3))
    garden.move(back, before(4), yard)
    garden.move(back, before(2), indoors)
    garden.move(twice, before(5), porch)
    garden.move(twice, before(2), yard)
    garden.move(settled, before(60), porch)
    garden.move(settled, before(2), yard)
    items = found()
    assert set(items) == {twice, settled}
    assert (items[twice].from_place, items[twice].since) == ("Room", before(2).isoformat())
    assert items[settled].from_place == "Porch"


def test_small_steps_and_unknown_light_say_nothing(garden: Garden) -> None:
    bright, yard, nook = garden.place("Edge", "open", light_percent=90.0), garden.place("Yard"), garden.place("?", None)
    for start, target in ((bright, yard), (nook, yard), (yard, nook), (None, yard), (yard, bright)):
        garden.move(garden.tree(start), before(1), target)
    garden.move(garden.tree(yard), before(1), yard)
    assert found() == {}
