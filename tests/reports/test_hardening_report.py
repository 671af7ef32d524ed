"""Plans for bringing trees out, and the judgement of a move, from records."""

from __future__ import annotations

import uuid
from datetime import date

import pytest

from server.errors import BadTagCode, NotFound, Refused
from server.reports.hardening import NOT_HOME, TREES_MAX, HardeningItem, hardening
from server.reports.movestep import too_big_step
from tests.reports.ahead_records import ON, Garden, before

pytestmark = pytest.mark.usefixtures("collection")


@pytest.fixture
def garden() -> Garden:
    return Garden()


def plan(**asked: str) -> HardeningItem:
    (item,) = hardening(ON, **asked).items
    assert isinstance(item, HardeningItem)
    return item


def test_a_places_trees_go_out_in_seven_to_ten_days(garden: Garden) -> None:
    """Extension services: 7 to 10 days, the first with 1 to 3 hours of sun, about an hour more each day."""
    house, _ = garden.place("House", "glasshouse"), garden.place("Yard")
    trees = {garden.tree(house), garden.tree(house)}
    item = plan(place="House")
    assert (item.place, item.target, {each["tree"] for each in item.trees}) == ("House", "Yard", trees)
    assert 7 <= len(item.days) - 1 <= 10
    assert item.days[0]["on"] == ON.isoformat()
    assert 1.0 <= item.days[0]["sun_hours"] <= 3.0
    assert item.days[-1]["place"] == "Yard"
    assert item.arrives_on == item.days[-1]["on"]
    light = [day["light_mol"] for day in item.days]
    assert light == sorted(light)
    assert "carrying out and back in" in item.why[-1]


def test_the_way_leads_only_through_places_that_exist(garden: Garden) -> None:
    room, net = garden.place("Room", "indoors"), garden.place("Net", "shade")
    garden.place("Yard")
    garden.place("Bed", "ground")
    tree = garden.tree(room)
    places = {name for day in plan(tree=tree).days for name in (day["place"], day["sun_place"]) if name}
    assert places == {"Room", "Net", "Yard"}
    assert {day["place"] for day in plan(tree=tree, to=net).days} == {"Room", "Net"}


def test_the_tenderest_of_a_group_sets_its_pace(garden: Garden) -> None:
    house, porch = garden.place("House", "glasshouse"), garden.place("Porch", "porch")
    garden.place("Yard")
    for _ in range(2):
        garden.tree(house)
    quick = plan(place=house)
    assert (quick.shaded, quick.moved_days_ago) == (False, None)
    garden.move(garden.tree(porch), before(3), house)
    slow = plan(place=house)
    assert slow.moved_days_ago == 3
    assert 1.8 <= (len(slow.days) - 1) / (len(quick.days) - 1) <= 2.5


def test_cold_days_that_are_forecast_are_waited_for(garden: Garden) -> None:
    house, yard = garden.place("House", "glasshouse"), garden.place("Yard")
    tree = garden.tree(house)
    garden.see(tree, before(1), bbch=15)
    garden.read(yard, ON, 4.0, 18.0)
    garden.read(yard, before(-1), -1.5, 14.0)
    garden.read(yard, before(-2), 6.0)
    days = plan(tree=tree).days
    assert [day["held"] for day in days[:3]] == [True, False, False]
    assert days[0]["words"].startswith("−2 °C is forecast for the night.")


def test_without_a_question_only_those_places_are_planned_that_need_it(garden: Garden) -> None:
    house, yard, edge = (
        garden.place("House", "glasshouse"),
        garden.place("Yard"),
        garden.place("Edge", light_percent=95),
    )
    for place in (house, yard, edge, garden.place("Bed", "ground", light_percent=20), garden.place("Nook", None)):
        garden.tree(place)
    assert [item.place for item in hardening(ON).items] == ["House"]
    assert plan(place="Edge").days == []
    assert plan(place="Edge").why == ["Yard is no big step from Edge."]


def test_what_has_no_plan_says_why_and_what_to_do(garden: Garden) -> None:
    house, yard, nook = garden.place("House", "glasshouse"), garden.place("Yard"), garden.place("Nook", None)
    lost, dim, out = garden.tree(None), garden.tree(nook), garden.tree(yard)
    planted = garden.tree(garden.place("Bed", "ground"))
    asleep = garden.tree(house)
    garden.see(asleep, before(2), bbch=0, leaves=0)
    told = {tree: plan(tree=tree) for tree in (lost, dim, out, planted, asleep)}
    assert {tree: item.outcome for tree, item in told.items()} == {
        lost: "unknown",
        dim: "unknown",
        out: "there",
        planted: "ground",
        asleep: "go",
    }
    assert all(item.days == [] for item in told.values())
    assert told[lost].why == ["Where it stands is not known: note its place first."]
    assert told[dim].why == ["The light in Nook is not known: give it a cover, or its light in percent."]
    assert "no leaves now" in told[asleep].why[0]
    assert plan(place="Nook").why == told[dim].why


def test_pots_with_the_same_plan_make_one_line(garden: Garden) -> None:
    house, porch, yard = garden.place("House", "glasshouse"), garden.place("Porch", "porch"), garden.place("Yard")
    settled = [garden.tree(house) for _ in range(3)]
    lately = [garden.tree(porch) for _ in range(2)]
    for ago, tree in zip((3, 5), lately, strict=True):
        garden.move(tree, before(ago), house)
    out, unsent = garden.tree(yard), str(uuid.uuid4())
    items = hardening(ON, trees=[*settled, *lately, out, unsent, settled[0]]).items
    lines = {frozenset(each["tree"] for each in item.trees): item for item in items}
    assert set(lines) == {frozenset(settled), frozenset(lately), frozenset({out}), frozenset({unsent})}
    quick, slow = lines[frozenset(settled)], lines[frozenset(lately)]
    assert len(slow.days) > len(quick.days)
    assert slow.why[0] == "At least one of them was moved 3 days ago: all go at half the pace."
    assert lines[frozenset({unsent})].why == [NOT_HOME]
    assert quick.before and quick.after and quick.harm_c is not None
    assert (quick.before["percent"], quick.after["percent"]) == (75, 100)
    assert quick.before["mol"] == pytest.approx(0.75 * quick.after["mol"], abs=0.1)
    assert quick.days[-1]["light_mol"] == quick.after["mol"]
    assert quick.night_min_c == quick.harm_c + 2.0
    with pytest.raises(Refused, match="301 trees are too many"):
        hardening(ON, trees=[f"{n}" for n in range(TREES_MAX + 1)])
    with pytest.raises(BadTagCode):
        hardening(ON, trees=["no tag"])


def test_a_night_that_harms_only_some_parts_a_group(garden: Garden) -> None:
    """A fig in leaf and one in bud bear different cold; one night ahead lies between the two."""
    house, yard = garden.place("House", "glasshouse"), garden.place("Yard")
    leafy, budding = garden.tree(house), garden.tree(house)
    garden.see(leafy, before(1), bbch=15)
    garden.see(budding, before(1), bbch=7)
    harms = sorted(plan(tree=tree).harm_c or 0.0 for tree in (leafy, budding))
    assert harms[0] < harms[1]
    assert len(hardening(ON, trees=[leafy, budding]).items) == 1
    garden.read(yard, before(-3), sum(harms) / 2 + 2.0, 18.0)
    assert len(hardening(ON, trees=[leafy, budding]).items) == 2


def test_a_big_step_is_told_before_the_move(garden: Garden) -> None:
    room, yard, edge = garden.place("Room", "indoors"), garden.place("Yard"), garden.place("Edge", light_percent=92)
    tree = garden.tree(room)
    found = too_big_step(tree, "Yard", ON)
    assert found.step is not None
    assert (found.step["level"], found.step["ratio"]) == ("act", 10.0)
    assert found.words == "Too big a step from Room to Yard: harden it off first."
    assert any("shaded" in reason for reason in found.reasons)
    assert any("no wind" in reason for reason in found.reasons)
    garden.move(tree, before(30), edge)
    after = too_big_step(tree, yard, ON)
    assert (after.step["level"] if after.step else None, after.reasons) == (None, [])
    assert after.words == "Yard is no big step from Edge."
    assert too_big_step(tree, edge, ON).words == "It stands in Edge already."
    assert too_big_step(tree, edge, before(31)).from_place == "Room"


def test_two_moves_in_quick_succession_make_a_step_bigger(garden: Garden) -> None:
    house, tunnel, yard = garden.place("House", light_percent=60), garden.place("Tunnel", light_percent=70), "Yard"
    garden.place(yard)
    settled, lately = garden.tree(tunnel), garden.tree(house)
    garden.move(lately, before(2), tunnel)
    levels = [too_big_step(tree, yard, ON).step["level"] for tree in (settled, lately)]  # type: ignore[index]
    assert levels == ["watch", "act"]


def test_what_is_not_known_is_said(garden: Garden) -> None:
    nook, yard = garden.place("Nook", None), garden.place("Yard")
    assert "note its place first" in too_big_step(garden.tree(None), yard, ON).words
    assert "light in Nook is not known" in too_big_step(garden.tree(nook), yard, ON).words
    assert too_big_step(garden.tree(nook), yard, ON).step is None
    with pytest.raises(Refused, match="light in Nook is not known"):
        hardening(ON, to="Nook")
    with pytest.raises(NotFound, match="No place is called"):
        hardening(ON, place="Attic")


def test_without_a_place_outdoors_there_is_nowhere_to_go(garden: Garden) -> None:
    garden.tree(garden.place("House", "glasshouse"))
    with pytest.raises(NotFound, match="No place outdoors"):
        hardening(ON)


def test_the_sun_of_the_south_is_low_in_july(garden: Garden) -> None:
    room, _ = garden.place("Room", "indoors", latitude=-38.0), garden.place("Yard", latitude=-38.0)
    garden.tree(room)
    winter, summer = (hardening(date(2026, month, 1)).items[0].days[-1]["light_mol"] for month in (7, 1))
    assert winter < 0.5 * summer
