"""New trees, the barrow, and a round from its start to its summary."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, expect

from server import ids
from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE, Orchard, Walk, plant


@pytest.fixture
def orchard(live_server: LiveServer) -> Orchard:
    return plant(live_server, count=5)


@pytest.fixture
def walk(orchard: Orchard, new_context: Callable[..., BrowserContext]) -> Walk:
    return Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()


def test_a_misread_code_says_so_and_stays_at_the_scanner(walk: Walk) -> None:
    tag = walk.orchard.trees[0][0]
    wrong = tag[:-1] + ("2" if tag[-1] != "2" else "3")
    walk.type_code(wrong)
    expect(walk.page.locator("#scan-wrong")).to_contain_text("do not belong together")
    walk.type_code("AB")
    expect(walk.page.locator("#scan-wrong")).to_contain_text("six characters")
    walk.type_code(tag)
    expect(walk.page.locator("#visit")).to_be_visible()


def test_cuttings_of_one_variety_take_one_press_each_after_the_first(walk: Walk) -> None:
    page = walk.page
    first, second = ids.new_tag_code(), ids.new_tag_code()
    walk.type_code(first)
    expect(page.get_by_role("heading", level=1)).to_have_text("New tree on this tag")
    page.locator("#tree-variety").select_option("new")
    page.locator("#new-variety-variety").fill("Parlour Ghost")
    page.locator("#tree-place").select_option(label="Porch")
    page.locator("#tree-position").fill("B7")
    page.locator("#tree-pot_litres").fill("3,5")
    page.locator("#save-tree").click()
    expect(page.locator("#slip")).to_contain_text("saved")
    walk.type_code(second)
    expect(page.get_by_text("Filled in from the tree entered before.")).to_be_visible()
    expect(page.locator("#tree-position")).to_have_value("B8")
    page.locator("#save-tree").click()
    expect(page.locator("#typed-code")).to_be_visible()
    walk.sync()
    trees = {one["tag"]: one for one in walk.orchard.records("tree").values()}
    same = ("variety", "place", "pot_litres", "standing", "started_on")
    assert [trees[first][name] for name in same] == [trees[second][name] for name in same]
    assert trees[second]["pot_litres"] == 3.5
    names = [one["variety"] for one in walk.orchard.records("variety").values()]
    assert names.count("Parlour Ghost") == 1


def test_a_new_tag_replaces_the_old_one_which_still_finds_the_tree(walk: Walk) -> None:
    page = walk.page
    old = walk.open_tree(0)
    page.get_by_role("link", name="New tag").click()
    expect(page.locator("#typed-code")).to_be_visible()
    fresh = ids.new_tag_code()
    walk.type_code(fresh)
    expect(page.get_by_role("heading", level=1)).to_contain_text(" ".join(fresh))
    walk.sync()
    walk.type_code(old)
    expect(page.get_by_role("heading", level=1)).to_contain_text(" ".join(fresh))
    taken = walk.orchard.trees[1][0]
    page.get_by_role("link", name="New tag").click()
    expect(page.locator("#typed-code")).to_be_visible()
    walk.type_code(taken)
    expect(page.locator("#scan-wrong")).to_contain_text("already belongs to a tree")


def test_pots_on_the_barrow_are_moved_at_once(walk: Walk) -> None:
    page = walk.page
    walk.go("barrow")
    page.locator("#barrow-scan").click()
    expect(page.locator("#typed-code")).to_be_visible()
    for at, told in ((0, "loaded"), (1, "loaded"), (2, "loaded"), (1, "is on the barrow already")):
        walk.type_code(walk.orchard.trees[at][0])
        expect(page.locator("#scan-told")).to_contain_text(f"{walk.orchard.trees[at][0][3:]} {told}")
    expect(page.locator("#barrow-count")).to_have_text("3 pots on the barrow")
    page.get_by_role("link", name="Go on with 3 pots").click()
    page.locator("#barrow-move").click()
    expect(page.get_by_role("note")).to_contain_text("A watered pot weighs far more")
    page.locator("#save-deed").click()
    expect(page.get_by_role("alert")).to_have_text("Fill this in.")
    page.get_by_text("Porch", exact=True).click()
    page.locator("#save-deed").click()
    expect(page.locator("#slip")).to_contain_text("3 pots moved.")
    walk.sync()
    moves = list(walk.orchard.records("move").values())
    assert {move["tree"] for move in moves} == {tree for _, tree in walk.orchard.trees[:3]}
    assert {move["to_place"] for move in moves} == {walk.orchard.places["Porch"]}


def test_work_with_sap_shows_its_caution_and_undo_brings_the_barrow_back(walk: Walk) -> None:
    page = walk.page
    walk.load_barrow(2)
    walk.go("barrow/work")
    page.locator("#work-task").select_option("thin_breba")
    expect(page.get_by_role("note")).to_contain_text("Sap and sunlight together")
    page.locator("#work-amount").fill("3")
    page.locator("#save-deed").click()
    walk.undo()
    expect(page.get_by_text("2 trees", exact=True)).to_be_visible()
    walk.sync()
    work = list(walk.orchard.records("work").values())
    assert [one["amount"] for one in work] == [3, 3]
    assert all(one["voided"] for one in work)


def test_a_round_goes_in_walking_order_and_ends_with_what_changed(walk: Walk) -> None:
    page = walk.page
    orchard = walk.orchard
    walk.go("round")
    page.get_by_role("checkbox", name="South yard").check()
    page.locator("#start-round").click()
    expect(page.locator("#round-count")).to_have_text("0 of 3 seen")
    # The trees of the yard were planted at the positions 5, 3 and 1.
    order = [orchard.trees[at][0] for at in (4, 2, 0)]
    expect(page.get_by_role("region", name="Next in the walk")).to_contain_text(" ".join(order[0]))
    page.locator("#skip").click()
    expect(page.get_by_role("region", name="Next in the walk")).to_contain_text(" ".join(order[1]))
    page.get_by_role("region", name="Next in the walk").get_by_role("link", name="Open").click()
    page.locator("#count-leaves_fallen").fill("9")
    page.locator("#count-fruit_breba").fill("1")
    page.locator("#save-visit").click()
    expect(page.locator("#round-count")).to_have_text("1 of 3 seen")
    walk.type_code(order[2])
    walk.save(quick=True)
    walk.go("round")
    expect(page.locator("#round-count")).to_have_text("2 of 3 seen")
    page.get_by_role("button", name="Finish the round").click()
    page.get_by_role("button", name="Yes, finish").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("The round")
    expect(page.get_by_role("main")).to_contain_text("2 trees seen")
    expect(page.get_by_role("main")).to_contain_text("9 leaves fell.")
    expect(page.get_by_role("main")).to_contain_text("breba fruit 2 → 1")
    expect(page.get_by_role("main")).to_contain_text("1 tree not seen.")
    walk.sync()
    (round_id,) = orchard.records("round")
    assert [orchard.visits(tag)[-1].get("round") for tag in order] == [None, round_id, round_id]
    assert orchard.records("round")[round_id]["places"] == [orchard.places["South yard"]]


def test_a_reading_is_stored_in_celsius_and_a_second_one_of_the_day_corrects_it(walk: Walk) -> None:
    page = walk.page
    walk.go("settings")
    page.get_by_text("°F", exact=True).click()
    walk.go(f"place/{walk.orchard.places['Porch']}")
    page.get_by_label("Lowest (°F)").fill("41")
    page.get_by_label("Highest (°F)").fill("32")
    page.locator("#save-reading").click()
    expect(page.get_by_text("The highest temperature lies below the lowest; check both.")).to_be_visible()
    page.get_by_label("Highest (°F)").fill("77")
    page.locator("#save-reading").click()
    expect(page.locator("#slip")).to_contain_text("saved")
    page.get_by_label("Lowest (°F)").fill("50")
    page.get_by_label("Highest (°F)").fill("77")
    page.locator("#save-reading").click()
    expect(page.get_by_role("cell", name="50 °F")).to_be_visible()
    walk.sync()
    (reading,) = walk.orchard.records("reading").values()
    # 50 °F = 10 °C and 77 °F = 25 °C by the definition of the scales.
    assert (reading["t_min_c"], reading["t_max_c"]) == (10, 25)
