"""What home computes as the screens show it: a tree's band and health, its crop, and the heat of a place."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE, Orchard, Walk, now, plant
from tests.webclient.test_ui_parts import call

# Every few days a count of all leaves; the last is a few more than the first.
COUNTS = ((24, 42), (19, 43), (14, 44), (9, 46), (4, 48), (1, 49))


@pytest.fixture
def orchard(live_server: LiveServer) -> Orchard:
    """Four trees that were counted six times, and the planted visit in between."""
    planted = plant(live_server)
    planted.sync(
        [
            planted.new("observation", tree=tree, seen_at=now(ago), leaves=leaves, damage_percent=10)
            for _, tree in planted.trees
            for ago, leaves in COUNTS
        ]
    )
    return planted


def opened(orchard: Orchard, page: Page) -> Page:
    """The page of a phone that is paired and stands on the first tree's card."""
    walk = Walk(page, orchard).pair()
    walk.go(f"tree/{orchard.trees[0][1]}")
    expect(page.locator("#visit")).to_be_visible()
    return page


def test_the_card_draws_homes_band_and_opens_health_into_its_parts(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    trend = orchard.ask("GET", f"/trees/{orchard.trees[0][1]}")["trend"]
    page = opened(orchard, new_context((), **PHONE).new_page())
    expect(page.locator("#leaf-chart path.band")).to_be_visible()
    # Out along the upper edge and back along the lower one: two corners a count.
    corners = (page.locator("#leaf-chart path.band").get_attribute("d") or "").count("L") + 1
    assert corners == 2 * len(trend["series"]) == 2 * (len(COUNTS) + 1)
    health = page.locator("#health")
    expect(health.locator("summary")).to_contain_text(f"{round(trend['health'])}")
    expect(health.get_by_text("Free of damage")).not_to_be_visible()
    health.locator("summary").click()
    for part in trend["health_parts"]:
        expect(health).to_contain_text(part["because"])
        expect(health).to_contain_text(f"counts for {round(100 * part['weight'])} %")
    assert len(trend["health_parts"]) == 3


def test_without_home_the_card_says_what_the_overview_left(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    context = new_context(AWAY, **PHONE)
    page = Walk(context.new_page(), orchard).pair().page
    context.set_offline(True)
    page.evaluate("(id) => { location.hash = `#/tree/${id}`; }", orchard.trees[0][1])
    expect(page.locator("#leaf-chart rect.band")).to_be_visible()
    expect(page.locator("#health summary")).to_contain_text("of 100")


@pytest.mark.parametrize(
    ("trend", "told"),
    [
        (
            {"direction": "falling", "change_low": -7.2, "change_high": -3.1},
            "Falling by between 3 and 7 % a week.",
        ),
        ({"direction": "rising", "change_low": 0.4, "change_high": 3.4}, "Growing by between 0.4 and 3 % a week."),
        ({"direction": "steady", "change_low": -2.2, "change_high": 3.0}, "Steady: \u22122 to +3 % a week."),
        (
            {"direction": "unknown", "change_low": -9.0, "change_high": 34.0},
            "Counted too seldom or too roughly to say whether its leaves grow or fall.",
        ),
    ],
)
def test_a_direction_is_told_with_its_interval(page: Page, trend: dict[str, object], told: str) -> None:
    assert call(page, "history", "trendText", trend) == told


@pytest.mark.parametrize(
    ("crop", "told"),
    [
        (
            {"breba": (4, 3, 5), "main": (12, 6, 14)},
            "Take off 4 brebas (between 3 and 5), then 12 main fruits (between 6 and 14), the smallest first.",
        ),
        ({"breba": (1, 1, 1), "main": (0, 0, 0)}, "Take off 1 breba, the smallest first."),
        ({"breba": (None,) * 3, "main": (2, None, None)}, "Take off 2 main fruits, the smallest first."),
        ({"breba": (0, 0, 0), "main": (0, 0, 3)}, ""),
    ],
)
def test_brebas_come_off_first_and_with_their_interval(page: Page, crop: dict[str, Any], told: str) -> None:
    item = {f"remove_{name}{end}": crop[name][at] for name in crop for at, end in enumerate(("", "_low", "_high"))}
    assert call(page, "crop", "takeText", item) == told


def test_the_card_says_how_many_fruits_to_take_and_warns_of_the_sap(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    """Forty-nine leaves feed about twelve fruits of four leaves each; a second tree's fruit was not counted."""
    burdened, uncounted = (tree for _, tree in orchard.trees[:2])
    orchard.add("observation", tree=burdened, seen_at=now(0.5), fruit_breba=8, fruit_main=30)
    orchard.add("harvest", tree=uncounted, picked_at=now(0.5), fruit="breba", weight_g=40, quality=3)
    items = {item["tree"]: item for item in orchard.ask("GET", "/overview")["crop"]}
    crop = items[burdened]
    assert crop["remove_breba"] == 8 and crop["remove_main"] > 0
    page = opened(orchard, new_context((), **PHONE).new_page())
    part = page.locator("#crop")
    expect(part).to_contain_text(f"Take off 8 brebas, then {crop['remove_main']} main fruits")
    expect(part).to_contain_text(f"(between {crop['remove_main_low']} and {crop['remove_main_high']})")
    expect(part.get_by_role("note")).to_contain_text("Sap and sunlight")
    page.evaluate("(id) => { location.hash = `#/tree/${id}`; }", uncounted)
    expect(part.locator("summary")).to_contain_text("not enough counted")
    part.locator("summary").click()
    for sentence in items[uncounted]["why"]:
        expect(part.get_by_text(sentence)).to_be_visible()
    expect(part).not_to_contain_text("Take off")


def test_an_owner_changes_a_figure_of_a_species_and_goes_back_to_the_tables(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    def figure() -> dict[str, Any]:
        told = orchard.ask("GET", "/settings/species")["figures"]
        return next(one for one in told if (one["species"], one["name"]) == ("fig", "leaves_per_fruit"))

    before = figure()
    assert before["is_setting"] and not before["own"]
    walk = Walk(new_context((), **PHONE).new_page(), orchard).pair()
    page = walk.page
    walk.go("species")
    page.get_by_label("Species").select_option("fig")
    box = page.get_by_label("Leaves that feed one fruit")
    expect(box).to_have_value(f"{before['value']:g}")
    box.fill(f"{before['most'] + 1:g}")
    box.press("Enter")
    expect(page.get_by_text(f"and {before['most']:g} leaves.")).to_be_visible()
    box.fill("5,5")
    # What is typed outlives a look at another screen.
    walk.go("settings")
    walk.go("species")
    expect(box).to_have_value("5,5")
    box.press("Enter")
    expect(page.get_by_text("Your own figure.")).to_be_visible()
    after = figure()
    assert (after["value"], after["own"]) == (5.5, True)
    page.get_by_role("button", name=f"Back to {before['value']:g} leaves").click()
    expect(box).to_have_value(f"{before['value']:g}")
    assert figure() == before


def test_a_helper_reads_the_figures_with_their_sources(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    figures = [one for one in orchard.ask("GET", "/settings/species")["figures"] if one["species"] == "fig"]
    published = next(one for one in figures if not one["is_setting"])
    walk = Walk(new_context((), **PHONE).new_page(), orchard).pair("helper")
    walk.go("species")
    walk.page.get_by_label("Species").select_option("fig")
    expect(walk.page.get_by_role("main")).to_contain_text(published["source"])
    expect(walk.page.get_by_role("main")).to_contain_text("no publication gives it")
    expect(walk.page.locator("main input")).to_have_count(0)


def test_bounds_and_values_of_figures_are_in_the_growers_unit(page: Page) -> None:
    """0 °C is 32 °F and -5 °C is 23 °F, by definition."""
    units = {"length": "in", "volume": "gal", "temperature": "F"}
    figure = {"unit": "°C", "least": -5, "most": 20}
    assert call(page, "figures", "readFigure", figure, "32", units) == {"value": 0}
    told = call(page, "figures", "readFigure", figure, "22", units)
    assert told == {"message": "Give a value between 23 °F and 68 °F."}
    assert "value" not in call(page, "figures", "readFigure", figure, "", units)


def test_a_place_tells_the_heat_that_home_summed(orchard: Orchard, new_context: Callable[..., BrowserContext]) -> None:
    porch = orchard.places["Porch"]
    days = [(datetime.now().astimezone() - timedelta(days=ago)).date().isoformat() for ago in range(10)]
    readings = [orchard.new("reading", place=porch, date=day, t_min_c=14, t_max_c=26) for day in days]
    orchard.sync(readings)
    (item,) = [one for one in orchard.ask("GET", "/reports/heat")["items"] if one["id"] == porch]
    assert item["degree_days"] > 0
    walk = Walk(new_context((), **PHONE).new_page(), orchard).pair()
    walk.go(f"place/{porch}")
    heat = walk.page.locator("#heat")
    expect(heat.locator("strong").first).to_have_text(f"{item['degree_days']:.0f}")
    expect(heat).to_contain_text(f"Over {item['days']} days.")
    # A degree Celsius is 1.8 degrees Fahrenheit, and a sum of degrees grows likewise.
    walk.go("settings")
    walk.page.get_by_text("°F", exact=True).click()
    walk.go(f"place/{porch}")
    expect(heat.locator("strong").first).to_have_text(f"{item['degree_days'] * 1.8:.0f}")


def test_one_cold_night_in_one_place_is_told_once_with_its_trees(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    tonight = datetime.now().astimezone().date()
    cold = {"place": orchard.places["South yard"], "t_min_c": -9, "t_max_c": 3}
    orchard.sync(
        [orchard.new("reading", date=(tonight + timedelta(days=ahead)).isoformat(), **cold) for ahead in (0, 1)]
        + [orchard.new("observation", tree=tree, seen_at=now(0.2), bbch=15) for _, tree in orchard.trees]
    )
    alerts = [one for one in orchard.ask("GET", "/overview")["alerts"] if one["kind"] == "cold"]
    threatened = {one["tag"] for one in alerts if one["place"] == "South yard"}
    assert threatened == {orchard.trees[at][0] for at in (0, 2)}
    walk = Walk(new_context((), **PHONE).new_page(), orchard).pair()
    finding = walk.page.get_by_role("article").filter(has_text="Cold ahead").filter(has_text="South yard")
    expect(finding).to_have_count(1)
    expect(finding).to_contain_text("South yard · 2 trees")
    expect(finding).to_contain_text("Lift with your legs")
    finding.get_by_text("Which 2 trees").click()
    finding.get_by_role("link", name=" ".join(orchard.trees[2][0])).click()
    expect(walk.page.get_by_role("heading", level=1)).to_contain_text(" ".join(orchard.trees[2][0]))
    expect(walk.page.get_by_role("region", name="Finding")).to_contain_text("in the night of")
