"""The warning before a move: the phone judges steps in light as home does, and the move form says so and lets go on."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from datetime import date
from itertools import product
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from server.analysis.hardening import stood_shaded
from server.analysis.light import COVERS, INDOOR_COVERS, light_percent, light_step, place_light
from server.reports.daylight import LATITUDE_ELSE
from tests.support.server import LiveServer
from tests.webclient.orchard import PHONE, Orchard, Walk, now, plant

DAYS = ("2026-01-15", "2026-03-20", "2026-05-10", "2026-06-21", "2024-12-31")
LATITUDES = (-38.0, 0.0, 40.0, 64.5, 78.0)
BESIDE_COVERS: tuple[dict[str, Any], ...] = (
    {"cover": "shade", "light_percent": 52},
    {"cover": "glasshouse", "light_percent": 49.5},
    {"light_percent": 0},
    {"cover": "open", "light_percent": 65},
)
PLACES = (*({"cover": cover} for cover in COVERS), *BESIDE_COVERS)
MOVED_DAYS_AGO = (None, 0, 14, 15)


def by_home(case: dict[str, Any]) -> dict[str, Any]:
    """What home's own analysis says of one case."""
    before, after = case["before"], case["after"]
    day = date.fromisoformat(case["date"]).timetuple().tm_yday
    percents = [light_percent(place.get("cover"), place.get("light_percent")) for place in (before, after)]
    lights = [place_light(case["latitude"], day, percent) for percent in percents if percent is not None]
    leaves_cover = before.get("cover") in INDOOR_COVERS and after.get("cover") not in INDOOR_COVERS
    ago = case["moved_days_ago"]
    step = light_step(*lights, shaded=stood_shaded(percents[0]), moved_days_ago=ago, leaves_cover=leaves_cover)
    return {"verdict": [step.level, len(step.why)], "light": [step.before_mol, step.after_mol]}


def test_the_phone_judges_every_step_as_home_does(page: Page) -> None:
    """Covers and odd places by pairs, over days, latitudes and moves before: 12 x 12 x 5 x 5 x 4 cases."""
    cases = [
        {"before": before, "after": after, "date": on, "latitude": latitude, "moved_days_ago": ago}
        for before, after, on, latitude, ago in product(PLACES, PLACES, DAYS, LATITUDES, MOVED_DAYS_AGO)
    ]
    found = page.evaluate(
        """async (cases) => {
          const { stepBetween } = await import('/core/light.js');
          return cases.map((one) => {
            const step = stepBetween(one.before, one.after, one);
            const why = step.level ? 1 + step.shaded + step.lately + step.leaves_cover : 0;
            return { verdict: [step.level, why], light: [step.before_mol, step.after_mol] };
          });
        }""",
        cases,
    )
    expected = [by_home(case) for case in cases]
    assert len(found) == len(expected) == 14400
    assert {one["verdict"][0] for one in expected} == {None, "watch", "act"}
    for case, ours, homes in zip(cases, found, expected, strict=True):
        assert ours["verdict"] == homes["verdict"], case
        assert ours["light"] == pytest.approx(homes["light"], rel=1e-9, abs=1e-9), case


def test_what_is_not_known_is_judged_by_nobody_and_the_middle_latitude_stands_in(page: Page) -> None:
    told = page.evaluate(
        """async () => {
          const { stepBetween, middleLatitude, LATITUDE_ELSE } = await import('/core/light.js');
          const day = { date: '2026-06-01' };
          return [stepBetween({}, { cover: 'open' }, day), stepBetween({ cover: 'porch' }, { cover: 'cellar' }, day),
            middleLatitude([]), middleLatitude([50, undefined, 40, 47]), middleLatitude([50, 40]), LATITUDE_ELSE];
        }"""
    )
    assert told == [None, None, LATITUDE_ELSE, 47, 45, LATITUDE_ELSE]


@pytest.fixture
def orchard(live_server: LiveServer) -> Orchard:
    """Places near the equator, where no season makes a step small, and trees half in the porch, half in the yard."""
    planted = plant(live_server)
    changes = [planted.new("place", place="Lath shade", light_percent=43, cover="shade")]
    for place in planted.places.values():
        changes.append({**planted.new("place", latitude=2), "record": place})
    planted.sync(changes)
    return planted


def test_a_step_that_is_too_big_is_told_with_a_gentler_place_and_the_move_goes_on(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    walk = Walk(new_context((), **PHONE).new_page(), orchard).pair()
    page = walk.page
    tree = orchard.trees[1][1]
    step = orchard.ask("GET", f"/trees/{tree}/step?to={orchard.places['South yard']}")["step"]
    assert step["level"] == "act"
    walk.go(f"tree/{tree}/move")
    warning = page.locator("#big-step")
    page.get_by_text("Lath shade", exact=True).click()
    expect(warning).to_have_count(0)
    expect(page.locator("#save-deed")).to_have_text("Move 1 pot")
    page.get_by_text("South yard", exact=True).click()
    expect(warning).to_contain_text("Act")
    # The answer's figures have one place, so the whole number that the screen makes of what it knows is one of two.
    after, before = (
        "|".join(str(math.floor(step[key] + 0.5 + off)) for off in (-0.05, 0.05)) for key in ("after_mol", "before_mol")
    )
    expect(warning).to_contain_text(re.compile(rf"\b({after}) instead of ({before}) mol/m² a day"))
    expect(warning).to_contain_text("It stood shaded")
    expect(page.locator("#save-deed")).to_have_text("Move 1 pot all the same")
    expect(warning.get_by_role("link", name="Plan the way")).to_have_attribute("href", f"#/tree/{tree}/out")
    warning.get_by_role("button", name="Lath shade first").click()
    expect(page.get_by_role("radio", name="Lath shade")).to_be_checked()
    expect(warning).to_have_count(0)
    page.get_by_text("South yard", exact=True).click()
    page.locator("#save-deed").click()
    expect(page.get_by_role("status").filter(has_text="moved")).to_be_visible()
    walk.sync()
    (move,) = orchard.records("move").values()
    assert (move["tree"], move["to_place"]) == (tree, orchard.places["South yard"])


def test_of_a_barrow_it_is_told_how_many_the_step_is_too_big_for(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    orchard.add("move", tree=orchard.trees[3][1], moved_at=now(2), to_place=orchard.places["South yard"])
    walk = Walk(new_context((), **PHONE).new_page(), orchard).pair()
    page = walk.page
    walk.load_barrow(4)
    walk.go("barrow/move")
    page.get_by_text("South yard", exact=True).click()
    # Two of the four stand in the yard from the start, a third was carried there.
    expect(page.locator("#big-step")).to_contain_text("for 1 of 4")
