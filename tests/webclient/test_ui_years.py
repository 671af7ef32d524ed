"""Shelters compared and the season's review on the screens: against home's own figures, by touch, and without home."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Locator, Page, expect

from server import ids
from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE, Orchard, Walk
from tests.webclient.test_ui_look import complaints
from tests.webclient.test_ui_parts import call

YEAR = datetime.now(UTC).year - 1
SI = {"length": "cm", "volume": "l", "temperature": "C"}
US = {"length": "in", "volume": "gal", "temperature": "F"}
MINUS = "\u2212"


@pytest.fixture
def trial(live_server: LiveServer) -> Orchard:
    """Two varieties, five trees each under glass and in the open, one in a porch, through the whole of last year.

    Under glass they carry 60 leaves more and grow 8 cm less; in the porch one has 15 leaves more, the other 15 fewer.
    Lanternfoot gives 300 g more than Mossbell.
    """
    orchard, chance = Orchard(live_server), random.Random(11)
    orchard.pair()
    changes = []
    for name in ("glasshouse", "open", "porch"):
        changes.append(orchard.new("place", place=name.title(), cover=name, latitude=48.0))
        orchard.places[name] = changes[-1]["record"]
    for variety, base, grams in (("Lanternfoot", 100, 700), ("Mossbell", 180, 400)):
        kind = orchard.new("variety", variety=variety, species="fig")
        changes.append(kind)
        porch = 15 if variety == "Lanternfoot" else -15
        for cover, count, more_leaves, more_cm in (
            ("glasshouse", 5, 60, -8),
            ("open", 5, 0, 0),
            ("porch", 1, porch, 0),
        ):
            for _ in range(count):
                card = {"tag": ids.new_tag_code(), "variety": kind["record"], "place": orchard.places[cover]}
                tree = orchard.new("tree", **card, started_on=f"{YEAR}-01-10")
                leaves, cm = base + more_leaves + chance.gauss(0, 5), 35 + more_cm + chance.gauss(0, 0.8)
                changes += [tree, *_year(orchard, tree["record"], leaves, cm, grams + chance.gauss(0, 30))]
    orchard.sync(changes)
    return orchard


def _year(orchard: Orchard, tree: str, leaves: float, cm: float, grams: float) -> list[dict[str, Any]]:
    counts = [
        orchard.new("observation", tree=tree, seen_at=f"{YEAR}-0{month}-12T09:00:00Z", leaves=round(leaves * share))
        for month, share in ((4, 0.1), (6, 0.7), (8, 1.0))
    ]
    counts[-1]["set"]["shoot_cm"] = round(cm, 1)
    picked = {"fruit": "main", "weight_g": round(grams), "quality": 4}
    return [*counts, orchard.new("harvest", tree=tree, picked_at=f"{YEAR}-09-02T09:00:00Z", **picked)]


def centre_x(part: Locator) -> float:
    box = part.bounding_box()
    assert box
    return box["x"] + box["width"] / 2


def test_one_look_tells_what_a_shelter_did_and_a_touch_tells_the_rest(
    trial: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    report = trial.ask("GET", "/reports/compare")
    together = {(one["shelter"], one["against"]): one for one in report["overall"] if one["measure"] == "leaves"}
    glass = together["glasshouse", "open"]
    assert glass["told"] == "more" and together["porch", "open"]["told"] == "unknown"
    context = new_context(AWAY, **PHONE)
    walk = Walk(context.new_page(), trial).pair()
    page = walk.page
    page.get_by_role("link", name="What shelters did").click()
    page.get_by_label("What").select_option("Leaves")
    expect(page.get_by_label("Variety")).to_have_value("fig|")
    headline = page.locator("#headline")
    expect(headline).to_contain_text(f"In a glasshouse: {glass['difference']:.0f} more leaves than in the open.")
    expect(headline).to_contain_text(f"Between {glass['low']:.0f} and {glass['high']:.0f} more.")
    rows = page.locator("#pairs li")
    expect(rows).to_have_count(len(together))
    told, unsure = rows.first, rows.filter(has_text="Porch against open")
    expect(told).to_contain_text("10 trees against 10")
    expect(unsure).to_contain_text("Can’t tell yet")
    # What is surely more lies right of nought with all its band, what can't be told lies across it.
    for row, across in ((told, False), (unsure, True)):
        band, zero = row.locator(".band").bounding_box(), centre_x(row.locator(".zero"))
        assert band and (band["x"] < zero) == across and band["x"] + band["width"] > zero
    # The same in a table for who can't see the plot.
    line = page.locator("#pairs table tr").filter(has_text="Glasshouse against open")
    expect(line).to_contain_text(f"+{glass['low']:g}".replace("-", MINUS))
    page.get_by_label("Variety").select_option("Mossbell")
    asked = {"variety": "Mossbell", "measure": "leaves", "shelter": "porch", "against": "open"}
    (single,) = [one for one in report["items"] if asked.items() <= one.items()]
    row = rows.filter(has_text="Porch against open")
    row.get_by_role("button").click()
    expect(row).to_contain_text("Fewer than 2 trees stand on one side.")
    seen = call(page, "differences", "amountText", "leaves", single["seen"], SI)
    expect(row).to_contain_text(f"These trees alone, not leaning on other varieties: {seen}.")
    expect(page.locator("#varieties li")).to_have_count(2)
    assert complaints(page) == []
    # What was asked for is still there without home, and says how old it is.
    context.set_offline(True)
    walk.go("places")
    walk.go("shelters")
    expect(page.locator("#pairs li").filter(has_text="Porch against open")).to_contain_text("Fewer than 2 trees")
    expect(page.get_by_role("status").filter(has_text="This is what home said last.")).to_contain_text("From home")


def test_the_verdict_is_the_largest_thing_and_opens_into_its_reasons(
    trial: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    report = trial.ask("GET", f"/reports/season?year={YEAR}")
    count = {verdict: sum(one["verdict"] == verdict for one in report["items"]) for verdict in ("keep", "let go")}
    assert count["keep"] and count["let go"]
    walk = Walk(new_context((), **PHONE).new_page(), trial).pair()
    page = walk.page
    walk.go("season")
    # Nothing was noted in the year that is going on: the screen says what to note.
    expect(page.get_by_text("Weigh what you pick and judge it")).to_be_visible()
    page.locator("label.key", has_text=str(YEAR)).click()
    rows = page.locator(".kinds li")
    expect(rows).to_have_count(len(report["items"]))
    keep = page.locator("#headline").get_by_role("button", name="Keep")
    expect(keep).to_contain_text(str(count["keep"]))
    best = next(one for one in report["items"] if one["rank"] == 1)
    expect(rows.first).to_contain_text(best["variety"])
    place = re.compile(rf"{best['rank_low']}st( and {best['rank_high']}\w\w)? of {best['of']}")
    expect(rows.first).to_contain_text(place)
    sizes = rows.first.locator("summary *").evaluate_all(
        """(all) => all.filter((one) => !one.closest('svg'))
          .map((one) => [one.className, parseFloat(getComputedStyle(one).fontSize)])"""
    )
    assert max(sizes, key=lambda one: one[1])[0].startswith("verdict")
    rows.first.locator("summary").click()
    for sentence in best["reasons"]:
        expect(rows.first).to_contain_text(sentence)
    expect(rows.first).to_contain_text(f"{best['yield_g']:.0f} g a tree")
    assert complaints(page) == []
    page.locator("#headline").get_by_role("button", name="Let go").click()
    expect(rows).to_have_count(count["let go"])
    worst = next(one for one in report["items"] if one["verdict"] == "let go")
    rows.first.locator("summary").click()
    rows.first.get_by_role("link", name="What shelters did for").click()
    expect(page.get_by_label("Variety")).to_have_value(f"fig|{worst['variety']}")
    walk.go("shelters/Elsewhere")
    expect(page.get_by_text("Elsewhere has stood under one shelter only")).to_be_visible()


def test_any_two_groups_are_chosen_and_held_against_each_other(
    trial: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    walk = Walk(new_context((), **PHONE).new_page(), trial).pair()
    page = walk.page
    page.get_by_role("link", name="Two groups compared").click()
    page.get_by_label("What").select_option("Leaves")
    page.get_by_label("Grouped by").select_option("shelter")
    headline = page.locator("#headline")
    expect(headline).to_contain_text("than one in")
    page.get_by_label("The one").select_option(value="glasshouse")
    page.get_by_label("The other").select_option(value="open")
    expect(headline).to_contain_text("A tree in a glasshouse carries")
    told = trial.ask("GET", "/reports/groups?measure=leaves&by=shelter&a=glasshouse&b=open")
    expect(headline).to_have_text(told["say"])
    expect(page.locator("svg .dot")).to_have_count(sum(map(len, told["dots"])))
    page.locator("summary", has_text="How far to trust this").press("Enter")
    for limit in told["limits"]:
        expect(page.get_by_text(limit)).to_be_visible()
    assert complaints(page) == []


def test_a_decision_is_taken_on_the_review_and_becomes_a_job_that_retires_the_trees(
    trial: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    walk = Walk(new_context((), **PHONE).new_page(), trial).pair()
    page = walk.page
    walk.go("season")
    page.locator("label.key", has_text=str(YEAR)).click()
    row = page.locator(".kinds li").filter(has_text="Mossbell").first
    row.locator("summary").click()
    row.get_by_text("give away", exact=True).click()
    expect(page.locator("#slip")).to_contain_text("give away")
    with page.expect_download() as caught:
        page.locator("#season-paper").click()
    assert Path(caught.value.path()).read_bytes().startswith(b"%PDF")
    walk.sync()
    decided = [one for one in trial.records("tree").values() if one.get("decision") == "give_away"]
    assert decided and all(one["decided_on"] for one in decided)
    walk.go("jobs")
    job = page.get_by_role("article").filter(has_text="Give away: Mossbell")
    job.get_by_role("button", name="Done").click()
    expect(job).to_have_count(0)
    walk.sync()
    decided = [one for one in trial.records("tree").values() if one.get("decision") == "give_away"]
    assert {one["standing"] for one in decided} == {"retired"}


def test_an_empty_collection_is_told_what_to_note_and_its_owner_says_what_counts(
    live_server: LiveServer, new_context: Callable[..., BrowserContext]
) -> None:
    orchard = Orchard(live_server)
    orchard.pair()
    walk = Walk(new_context((), **PHONE).new_page(), orchard).pair()
    page = walk.page
    for screen in ("now", "trees", "round"):
        walk.go(screen)
        steps = page.locator("#beginning").get_by_role("link")
        expect(steps).to_have_count(3)
        ways = [each.get_attribute("href") for each in steps.all()]
        assert ways == ["#/places", "#/tags", "#/scan"]
    walk.go("tags")
    with page.expect_response("**/tags.pdf?*") as sheet:
        page.get_by_role("button", name="Make the sheets").click()
    assert sheet.value.ok and "blank=21" in sheet.value.url
    walk.go("places")
    expect(page.get_by_text("A place is where pots stand together")).to_be_visible()
    walk.go("shelters")
    expect(page.get_by_text("Nothing to compare yet")).to_be_visible()
    expect(page.get_by_text("two or more trees of one variety under each of two shelters")).to_be_visible()
    walk.go("season")
    expect(page.get_by_text(f"Nothing was seen or picked in {YEAR + 1}")).to_be_visible()
    walk.go("season/weights")
    box = page.get_by_label("How little work it asks for")
    expect(box).to_have_value("10")
    box.fill("101")
    box.press("Enter")
    expect(page.get_by_text("Give a value between 0 parts and 100 parts.")).to_be_visible()
    box.fill("60")
    box.press("Enter")
    # 60 of 40 + 25 + 15 + 10 + 60 parts.
    expect(page.get_by_text("Your own figure. That is 40 % of the whole.")).to_be_visible()
    assert orchard.ask("GET", "/reports/season")["weights"]["care"] == 0.4
    page.get_by_role("button", name="Back to 10 parts").click()
    expect(box).to_have_value("10")
    helper = Walk(new_context((), **PHONE).new_page(), orchard).pair("helper")
    helper.go("season/weights")
    expect(helper.page.get_by_role("main")).to_contain_text("A grower’s setting: no publication gives it.")
    expect(helper.page.locator("main input")).to_have_count(0)
    helper.go("now")
    expect(helper.page.get_by_text("The owner adds places and trees")).to_be_visible()


# A measure, its difference, the interval, the units, and both as they are said.
SAID = (
    ("growth_cm", 12.4, (8.2, 15.1), SI, "12 cm more", "between 8.2 and 15 cm more"),
    # 2.54 cm are an inch.
    ("growth_cm", -25.4, (-50.8, 2.54), US, "10 in less", "between 20 in less and 1 in more"),
    ("leaves", -41.0, (-71.0, -11.0), SI, "41 fewer leaves", "between 11 and 71 fewer"),
    ("fruit", 1.9, (-0.4, 4.0), SI, "1.9 more fruits", "between 0.4 fewer and 4 more"),
    ("yield_g", 300.4, (250.0, 351.0), SI, "300 g more", "between 250 and 351 g more"),
    ("days_to_ripeness", -20.2, (-23.0, -17.5), SI, "20 days earlier", "between 18 and 23 days earlier"),
    ("days_to_ripeness", 0.01, (-1.0, 1.0), SI, "no difference", "between 1 day earlier and 1 day later"),
)


def test_a_difference_is_said_with_its_direction_and_the_growers_unit(page: Page) -> None:
    for measure, difference, span, units, amount, bounds in SAID:
        assert call(page, "differences", "amountText", measure, difference, units) == amount
        assert call(page, "differences", "boundsText", measure, *span, units) == bounds
    early = {"shelter": "head start", "against": "no head start", "head_start_days": 30}
    assert call(page, "differences", "pairText", early) == "Head start of 30 days against none"
    ripens = {**early, "measure": "days_to_ripeness", "difference": -12.0}
    assert call(page, "differences", "saying", ripens, SI) == (
        "With a head start of 30 days: ripe 12 days earlier than without"
    )


def test_the_axis_holds_nought_and_every_band_between_round_values(page: Page) -> None:
    for spans in [(-12, 8)], [(3, 9), (40, 71)], [(-0.02, -0.01)], [(0, 0)], [(-967, 494), (-5, 2)], [(-1, 3.9)]:
        scale = call(page, "spans", "differenceScale", [{"low": low, "high": high} for low, high in spans])
        assert scale["from"] <= min(0, *(low for low, _ in spans)), spans
        assert scale["to"] >= max(0, *(high for _, high in spans)), spans
        assert 0 in scale["ticks"] and 2 <= len(scale["ticks"]) <= 5, spans
        steps = {f"{after - before:.1e}"[:3] for before, after in pairwise(scale["ticks"])}
        assert len(steps) == 1 and steps <= {"1.0", "2.0", "5.0"}, spans


def test_a_long_comparison_is_shortened_to_what_a_phone_keeps(page: Page) -> None:
    item = {
        "variety": "V",
        "species": "fig",
        "shelter": "open",
        "against": "porch",
        "measure": "leaves",
        "difference": 1,
    }
    item |= {"low": 0, "high": 2, "trees": 9, "told": "unknown", "seen": 1, "head_start_days": None, "say": "x" * 300}
    items = [{**item, "trees_shelter": 1 + at % 7, "trees_against": 3} for at in range(3000)]
    kept = call(page, "screens/shelters", "shorten", {"on": "2026-01-01", "items": items, "overall": [item]})
    assert len(kept["items"]) == 1500 and "say" not in kept["items"][0] and "say" not in kept["overall"][0]
    assert min(one["trees_shelter"] for one in kept["items"]) == 3
