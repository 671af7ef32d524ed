"""Cold findings from records: what counts as forecast, whom it threatens, and when nothing is said."""

from __future__ import annotations

from datetime import timedelta

import pytest

from server.reports.alerts import alerts
from server.reports.cold_watch import ColdItem, cold
from server.reports.load import load
from server.reports.species_settings import set_species_figure
from tests.reports.ahead_records import ON, Garden, before

pytestmark = pytest.mark.usefixtures("collection")
TONIGHT = before(-1)
"""A day's lowest is that of its morning, so that tomorrow's reading tells of tonight."""


@pytest.fixture
def garden() -> Garden:
    return Garden()


def found() -> dict[str, ColdItem]:
    return {item.tree: item for item in cold(load(ON))}


def test_a_reading_dated_ahead_calls_for_shelter_tonight(garden: Garden) -> None:
    """Fig leaves are harmed from about −2 °C: extension bulletins."""
    yard = garden.place("Yard")
    leafy, resting = garden.tree(yard), garden.tree(yard)
    garden.see(leafy, before(2), bbch=15)
    garden.see(resting, before(2), bbch=0)
    garden.read(yard, TONIGHT, -3.0, 9.0)
    (item,) = [each for each in alerts(ON).items if each.kind == "cold" and each.level == "act"]
    assert (item.tree, item.night, item.since, item.place) == (leafy, ON.isoformat(), ON.isoformat(), "Yard")
    assert (item.part, item.low_c, item.harm_c) == ("leaves and new growth", -3.0, -2.0)
    assert item.why[0] == "Tonight is forecast to fall to −3 °C in Yard."
    assert item.advice.startswith("Carry it under cover")
    # A pot of 12 l lets −2 °C through to the roots, which are harmed from −4 °C: to be watched.
    assert (found()[resting].level, found()[resting].part) == ("watch", "roots")


def test_todays_own_reading_is_no_forecast_and_seventeen_days_are_too_far(garden: Garden) -> None:
    yard = garden.place("Yard")
    garden.see(garden.tree(yard), before(2), bbch=15)
    garden.read(yard, ON, -6.0, 9.0)
    garden.read(yard, ON + timedelta(days=17), -6.0, 9.0)
    assert found() == {}
    garden.read(yard, ON + timedelta(days=16), -6.0, 9.0)
    (item,) = found().values()
    assert (item.level, item.night) == ("watch", (ON + timedelta(days=15)).isoformat())


def test_a_tree_is_judged_where_it_stands_now_and_in_the_pot_it_has_now(garden: Garden) -> None:
    yard, house = garden.place("Yard"), garden.place("House", "glasshouse")
    carried_in, carried_out, repotted = garden.tree(yard), garden.tree(house), garden.tree(yard)
    for tree in (carried_in, carried_out, repotted):
        garden.see(tree, before(3), bbch=0)
    garden.move(carried_in, before(1), house)
    garden.move(carried_out, before(1), yard)
    garden.work(repotted, before(1), "pot_up", amount=60.0)
    garden.read(yard, TONIGHT, -4.5, 9.0)
    garden.read(house, TONIGHT, 5.0, 9.0)
    # Wood at rest bears −6.7 °C; −3.5 °C in a small pot is near the −4 °C of its roots, −1.5 °C in a large one is not.
    assert {tree: (item.level, item.part) for tree, item in found().items()} == {
        carried_out: ("act", "roots"),
        repotted: ("watch", "wood"),
    }


def test_trees_that_were_sheltered_are_left_alone_unless_all_is_at_stake(garden: Garden) -> None:
    yard = garden.place("Yard")
    wrapped, unwrapped, long_ago = (garden.tree(yard, "citrus") for _ in range(3))
    garden.work(wrapped, before(1), "shelter")
    garden.work(unwrapped, before(2), "shelter")
    garden.work(unwrapped, before(1), "uncover")
    garden.work(long_ago, before(40), "shelter")
    for tree in (wrapped, unwrapped, long_ago):
        garden.see(tree, before(3), bbch=31)
    garden.read(yard, TONIGHT, -3.0, 9.0)
    assert set(found()) == {unwrapped, long_ago}
    garden.read(yard, TONIGHT, -5.5, 9.0)
    assert found()[wrapped].ruinous


def test_a_place_without_a_forecast_of_its_own_is_told_by_its_neighbour(garden: Garden) -> None:
    yard, tunnel, corner, heated = (
        garden.place("Yard"),
        garden.place("Tunnel", "polytunnel"),
        garden.place("Corner", "shade"),
        garden.place("Heated", "glasshouse"),
    )
    for day in range(20):
        air = -4.0 + (day * 7) % 5
        garden.read(yard, before(day), air, 12.0)
        garden.read(tunnel, before(day), air + 3.0 + 0.3 * (-1) ** day, 20.0)
        garden.read(heated, before(day), 12.0 + day % 2, 20.0)
    garden.read(yard, TONIGHT, -5.0, 9.0)
    trees = [garden.tree(place) for place in (yard, tunnel, corner, heated)]
    for tree in trees:
        garden.see(tree, before(2), bbch=15)
    items = found()
    assert set(items) == set(trees[:3])
    # The tunnel was 3 °C warmer all along.
    assert items[trees[1]].low_c == pytest.approx(-2.0, abs=0.4)
    assert items[trees[2]].low_c == -5.0
    assert [("another place" in items[tree].why[0]) for tree in trees[:3]] == [False, True, True]
    assert "give or take 2 °C" in items[trees[2]].why[0]


def test_the_note_goes_with_the_advice(garden: Garden) -> None:
    yard, porch, bed = garden.place("Yard"), garden.place("Porch", "porch"), garden.place("Bed", "ground")
    light, heavy = garden.tree(yard), garden.tree(yard, pot_litres=40.0)
    covered, planted = garden.tree(porch), garden.tree(bed)
    for tree in (light, heavy, covered, planted):
        garden.see(tree, before(2), bbch=15)
    for place in (yard, porch, bed):
        garden.read(place, TONIGHT, -3.0, 9.0)
    items = found()
    assert [items[tree].caution for tree in (light, heavy, covered, planted)] == [None, "lifting", "heater", None]
    assert items[planted].advice == "Cover it down to the ground before dusk."
    assert "under cover" not in items[covered].advice


def test_what_nobody_noted_follows_the_season(garden: Garden) -> None:
    yard = garden.place("Yard")
    unseen, bare, long_ago = garden.tree(yard), garden.tree(yard), garden.tree(yard)
    garden.see(bare, before(2), leaves=0)
    garden.see(long_ago, before(150), bbch=97)
    garden.read(yard, TONIGHT, -2.5, 9.0)
    # In April a fig that nobody looked at is taken to be in leaf; of the bare one only the roots are to be watched.
    assert {tree for tree, item in found().items() if item.level == "act"} == {unseen, long_ago}
    assert found()[bare].part == "roots"
    assert "Its stage was not noted; it is taken to be in leaf." in found()[unseen].why


def test_the_growers_own_figure_counts(garden: Garden) -> None:
    yard = garden.place("Yard")
    garden.see(garden.tree(yard), before(2), bbch=15)
    garden.read(yard, TONIGHT, 2.0, 9.0)
    assert found() == {}
    set_species_figure("fig", "cold_leaves_c", 1.5)
    (item,) = found().values()
    assert (item.level, item.harm_c) == ("act", 1.5)


def test_trees_without_a_place_and_places_without_readings_are_passed_over(garden: Garden) -> None:
    garden.tree(None)
    garden.tree(garden.place("Attic", "indoors"))
    garden.tree(garden.place("Nook", None))
    assert found() == {}
    garden.read(garden.place("Yard"), TONIGHT, -9.0)
    assert found() == {}
