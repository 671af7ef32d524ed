"""The pace on a tree's card: what was expected and what was seen, why, drawn, and still there without a network."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from server import ids
from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE, Orchard, Walk, now, plant
from tests.webclient.test_ui_parts import call

SI = {"length": "cm", "volume": "l", "temperature": "C"}
US = {"length": "in", "volume": "gal", "temperature": "F"}
WOKE_DAYS_AGO = 30
BEHIND = {
    "pace": "behind",
    "further_on": 0.97,
    "woke": "2026-05-02",
    "woke_seen": True,
    "evergreen": False,
    "heat": 200,
    "guessed_days": 3,
    "rests_on": {"own_seasons": 2, "variety_trees": 5, "species_trees": 31},
    "leaves_per_shoot": {"seen": 3.1, "low": 5.2, "middle": 6, "high": 7.4, "on": "2026-06-03"},
    "shoot_cm": {"seen": 25.4, "low": 12.7, "middle": 20, "high": 30.48, "on": "2026-06-03"},
}


@pytest.fixture
def orchard(live_server: LiveServer) -> Orchard:
    """Ten trees in even warmth that make a leaf in 45 degree-days, and one whose growth nobody counted."""
    planted = plant(live_server, 10)
    changes = [
        planted.new("reading", place=place, date=day.date().isoformat(), t_min_c=15, t_max_c=21)
        for place in planted.places.values()
        for day in (datetime.now().astimezone() - timedelta(days=ago) for ago in range(WOKE_DAYS_AGO + 2))
    ]
    for at, (_, tree) in enumerate(planted.trees):
        changes.append(planted.new("observation", tree=tree, seen_at=now(WOKE_DAYS_AGO), bbch=9))
        for ago in range(WOKE_DAYS_AGO - 3, 0, -4):
            leaves = (1 + 0.02 * (at - 5)) * 10 * (WOKE_DAYS_AGO - ago) / 45
            counts = {"leaves_per_shoot": round(leaves, 1), "shoot_cm": round(2.5 * leaves, 1)}
            changes.append(planted.new("observation", tree=tree, seen_at=now(ago), shoots=8, **counts))
    bare = planted.new("tree", tag=ids.new_tag_code(), place=planted.places["Porch"])
    planted.trees.append((bare["set"]["tag"], bare["record"]))
    planted.sync([*changes, bare, planted.new("observation", tree=bare["record"], seen_at=now(9), bbch=9)])
    return planted


def told(page: Page, item: dict[str, Any], units: dict[str, str], on: str | None = None) -> list[str]:
    return call(page, "pace", "paceTexts", item, units, on)


def test_what_was_expected_and_seen_is_told_in_the_growers_units(page: Page) -> None:
    """25.4 cm are 10 in (NIST SP 811)."""
    assert told(page, BEHIND, SI, "2026-06-03") == [
        "5.2 to 7.4 leaves a shoot expected by now, 3.1 seen.",
        "13 to 30 cm of shoot growth expected by now, 25 measured.",
    ]
    assert told(page, BEHIND, US, "2026-06-05")[1].startswith("5 to 12 in of shoot growth expected by Jun 3, 10")
    counted = {**BEHIND, "shoot_cm": {}, "leaves_per_shoot": {"seen": 9.6, "low": 10.4, "high": 14.2}}
    # Rounded to whole leaves it would seem to lie within.
    assert told(page, counted, SI) == ["10.4 to 14.2 leaves a shoot expected by now, 9.6 seen."]


def test_the_reasons_are_heat_what_it_rests_on_and_how_sure(page: Page) -> None:
    """A degree Celsius is 1.8 degrees Fahrenheit, so that 200 degree-days are 360."""
    woke, guessed, rests, sure = call(page, "pace", "paceReasons", BEHIND, US)
    assert woke == "It woke about May 2 and has had 360 degree-days (°F) since."
    assert guessed.startswith("No thermometer was read on 3 of those days")
    assert rests == (
        "What is expected rests on its own 2 earlier years, 5 other trees of its variety and 26 more of its species."
    )
    assert sure == "Of a hundred trees like it, about 97 would be further on."
    alone = {**BEHIND, "guessed_days": 0, "rests_on": {"own_seasons": 0, "variety_trees": 0, "species_trees": 0}}
    assert call(page, "pace", "paceReasons", alone, SI)[1].startswith("No other tree like it was counted")


def test_the_card_draws_a_tree_against_its_band_also_offline_and_says_what_to_count(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    paces = {item["tree"]: item for item in orchard.ask("GET", "/overview")["pace"]}
    (_, seen), (_, unseen) = orchard.trees[0], orchard.trees[10]
    context = new_context(AWAY, **PHONE)
    walk = Walk(context.new_page(), orchard).pair()
    part = walk.page.locator("#pace")
    walk.go(f"tree/{seen}")
    leaves = part.locator("figure").first
    expect(leaves.locator("path.band")).to_be_visible()
    stand = paces[seen]["leaves_per_shoot"]
    expect(part).to_contain_text(f"{stand['seen']:g} seen.")
    drawing = orchard.ask("GET", f"/trees/{seen}")["pace"]["drawing"]["leaves_per_shoot"]
    expect(leaves.locator("circle.dot")).to_have_count(len(drawing["counts"]))
    rows = leaves.get_by_role("row")
    expect(rows).to_have_count(len(drawing["counts"]) + 1)
    expect(rows.last).to_contain_text(f"{stand['low']:g} to {stand['high']:g}")
    # A touch at the chart's left shows the first count and what was expected then.
    leaves.locator("svg").tap(position={"x": 30, "y": 60})
    first = drawing["counts"][0]
    expect(leaves.locator("figcaption")).to_contain_text(f"Between {first['low']:g} and {first['high']:g} expected.")
    context.set_offline(True)
    walk.go(f"tree/{unseen}")
    for sentence in paces[unseen]["why"]:
        expect(part.get_by_text(sentence)).to_be_visible()
    walk.go(f"tree/{seen}")
    expect(leaves.locator("path.band")).to_be_visible()
    expect(part).to_contain_text(f"{stand['seen']:g} seen.")
