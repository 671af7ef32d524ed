"""Bringing out: the days of a plan, why and what to watch; begun plans keep their days; what has no plan says why."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from server import ids
from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE, Orchard, Walk, plant
from tests.webclient.test_ui_look import (
    BEYOND,
    CLOSE_KEYS,
    GAP_PX_MIN,
    KEY_PX_MIN,
    SMALL_KEYS,
    SMALL_TEXT,
    TEXT_PX_MIN,
    complaints,
)
from tests.webclient.test_ui_parts import call


@pytest.fixture
def orchard(live_server: LiveServer) -> Orchard:
    """Trees in the yard and on the porch, one under glass, and one in a place of which no light is known.

    So far south that the sun of any month makes a step.
    """
    planted = plant(live_server, 3)
    for name, fields in (("Glass", {"cover": "glasshouse", "latitude": 15}), ("Nook", {})):
        place = planted.new("place", place=name, **fields)
        tree = planted.new("tree", tag=ids.new_tag_code(), place=place["record"])
        planted.places[name] = place["record"]
        planted.trees.append((tree["set"]["tag"], tree["record"]))
        planted.sync([place, tree])
    return planted


def test_a_trees_plan_shows_its_days_and_once_begun_keeps_them_offline(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    """Nothing lies between porch and yard, so each day is carried out and back in."""
    _, tree = orchard.trees[1]
    (item,) = orchard.ask("GET", f"/reports/hardening?tree={tree}")["items"]
    assert (item["place"], item["target"], item["outcome"], item["shaded"]) == ("Porch", "South yard", "harden", True)
    context = new_context(AWAY, reduced_motion="reduce", **PHONE)
    walk = Walk(context.new_page(), orchard).pair()
    page = walk.page
    walk.go(f"tree/{tree}")
    page.get_by_role("link", name="Bring out").click()
    expect(page.get_by_role("heading", name="From Porch to South yard")).to_be_visible()
    days = page.locator(".days li")
    expect(days).to_have_count(len(item["days"]))
    first = item["days"][0]
    assert (first["place"], first["sun_hours"]) == ("Porch", 1.0)
    expect(page.get_by_text("Today: Porch, with 1 hour of morning sun in South yard.")).to_be_visible()
    expect(days.first).to_contain_text("Today")
    expect(days.first).to_contain_text("1 h sun")
    expect(days.last).to_contain_text("South yard, for good")
    main = page.get_by_role("main")
    for sentence in item["why"]:
        expect(main).to_contain_text(sentence)
    assert any("carrying out and back in" in sentence for sentence in item["why"])
    for light in (item["before"], item["after"]):
        expect(main).to_contain_text(f"{light['mol']:.0f} mol/m² a day, {light['percent']} % of the open sky")
    expect(main).to_contain_text(f"nights below {item['night_min_c']:.0f} °C".replace("-", "\u2212"))
    expect(page.get_by_role("note")).to_contain_text("Lift with your legs")
    assert complaints(page) == []
    small = [
        *page.evaluate(SMALL_KEYS, KEY_PX_MIN),
        *page.evaluate(CLOSE_KEYS, GAP_PX_MIN),
        *page.evaluate(SMALL_TEXT, TEXT_PX_MIN),
    ]
    assert small == []
    page.locator("#begin-out").click()
    expect(page.get_by_text("Begun on")).to_be_visible()
    context.set_offline(True)
    walk.go("now")
    page.get_by_role("link", name="Being brought out: 1 tree").click()
    expect(days).to_have_count(len(item["days"]))
    page.clock.set_fixed_time(datetime.now().astimezone() + timedelta(days=3))
    walk.go(f"tree/{tree}/out")
    fourth = item["days"][3]
    assert (fourth["place"], fourth["sun_hours"]) == ("Porch", 2.5)
    expect(page.get_by_text("Today: Porch, with 2½ hours of morning sun in South yard.")).to_be_visible()
    expect(page.get_by_text("Days gone by (3)")).to_be_visible()
    expect(days).to_have_count(len(item["days"]))
    expect(page.get_by_text("Home cannot be reached now")).to_be_visible()
    page.evaluate("document.documentElement.style.fontSize = '200%'")
    assert page.evaluate(BEYOND) == []
    expect(page.get_by_role("button", name="Give up this plan")).to_be_visible()
    page.clock.set_fixed_time(datetime.now().astimezone() + timedelta(days=len(item["days"]) + 1))
    walk.go("out")
    page.get_by_role("button", name="Put this plan away").click()
    page.get_by_role("button", name="Yes, end it").click()
    expect(page.get_by_text("No plan has been begun on this phone.")).to_be_visible()
    walk.go(f"tree/{tree}/out")
    expect(page.locator("#out-to")).to_be_visible()
    # What is left is the plan as it was asked for weeks ago: too old to begin.
    expect(page.get_by_text("Home cannot be reached now")).to_be_visible()
    expect(page.locator("#begin-out")).to_have_count(0)
    expect(page.get_by_text("Begun on")).to_have_count(0)


def test_the_barrows_pots_are_parted_by_their_plans_and_a_place_has_its_own(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    walk = Walk(new_context((), **PHONE).new_page(), orchard).pair()
    page = walk.page
    walk.go("scan/barrow")
    for at, (tag, _) in enumerate(orchard.trees):
        page.locator("#typed-code").fill(tag)
        page.locator("#open-code").click()
        expect(page.locator("#barrow-count")).to_have_text(f"{at + 1} {'pot' if at == 0 else 'pots'} on the barrow")
    walk.go("barrow")
    page.locator("#barrow-out").click()
    lines = page.get_by_role("article")
    expect(lines).to_have_count(4)
    out = lines.filter(has_text="Out already")
    for at in (0, 2):
        expect(out).to_contain_text(" ".join((orchard.trees[at][0][:3], orchard.trees[at][0][3:])))
    expect(lines.filter(has_text="No plan yet")).to_contain_text(
        "The light in Nook is not known: give it a cover, or its light in percent."
    )
    quick, slow = (lines.filter(has_text=f"From {name} to South yard") for name in ("Glass", "Porch"))
    expect(slow.locator(".days li").nth(12)).to_be_visible()
    expect(quick.locator(".days li").nth(12)).to_have_count(0)
    # To the porch it is a step out of the glass, but no step up in light; the others are not asked to go there.
    page.locator("#out-to").select_option(label="Porch")
    expect(lines.filter(has_text="From Glass to Porch")).to_be_visible()
    walk.go(f"place/{orchard.places['Porch']}")
    page.get_by_role("link", name="Bring out").click()
    expect(page.get_by_role("heading", name="From Porch to South yard")).to_be_visible()
    expect(lines).to_have_count(1)


def test_trees_that_began_together_are_asked_for_together(page: Page) -> None:
    begun = {
        "b": {"on": "2026-05-02", "to": None},
        "c": {"on": "2026-05-02", "to": None},
        "d": {"on": "2026-04-30", "to": "p"},
    }
    lots: list[dict[str, Any]] = call(page, "begun", "lotsOf", ["a", "b", "d"], begun, "q")
    assert lots == [
        {"on": None, "to": "q", "trees": ["a"], "shown": ["a"]},
        {"on": "2026-04-30", "to": "p", "trees": ["d"], "shown": ["d"]},
        {"on": "2026-05-02", "to": None, "trees": ["b", "c"], "shown": ["b"]},
    ]
    assert call(page, "begun", "planPath", lots[1]) == "/reports/hardening?trees=d&to=p&on=2026-04-30"
    many = {"on": None, "to": None, "trees": [str(n) for n in range(301)]}
    assert call(page, "begun", "planPath", many, "p1") == "/reports/hardening?place=p1"


def test_a_day_is_told_in_words(page: Page) -> None:
    """-2 °C are 28 °F, by definition."""
    base = {"on": "2026-05-02", "place": "Porch", "sun_place": None, "sun_hours": 0, "held": False}
    sun = {"sun_place": "Yard"}
    days: list[tuple[dict[str, Any], str, str]] = [
        ({**sun, "sun_hours": 2.5}, "C", "Porch, with 2½ hours of morning sun in Yard"),
        ({**sun, "sun_hours": 0.5}, "C", "Porch, with half an hour of morning sun in Yard"),
        ({"on": "2026-05-09"}, "C", "Porch, for good"),
        ({}, "C", "Porch, all day"),
        ({"held": True, "cold_c": -2.0, "cold_night": True}, "F", "Keep in Porch: 28 °F forecast for the night"),
        ({"held": True, "cold_c": 7.2}, "C", "Keep in Porch: no more than 7 °C forecast"),
    ]
    for day, unit, told in days:
        units = {"length": "cm", "volume": "l", "temperature": unit}
        assert call(page, "outplan", "dayText", {**base, **day}, {"arrives_on": "2026-05-09"}, units) == told
