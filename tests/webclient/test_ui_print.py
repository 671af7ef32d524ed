"""The browser's own printing: black on white, nothing to press, lists to their end, and no chart cut in two."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta

import pypdfium2
import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE, Walk, now, plant

TREES = 50
# Anything that only a finger can use, as long as it is seen.
PRESSABLE = """() => [...document.querySelectorAll(
  'button, input, select, textarea, form, nav, .key, .hang, .bench, .back, .slip')]
  .filter((one) => one.checkVisibility()).map((one) => one.outerHTML.slice(0, 90))"""
# Words and strokes that are not black, or grounds that are not white; grey rules and bands are meant.
COLOURED = """() => [...document.querySelectorAll('.head, .head *, main, main *')]
  .filter((one) => one.checkVisibility())
  .map((one) => [one, getComputedStyle(one)])
  .filter(([, style]) => style.color !== 'rgb(0, 0, 0)'
    || !['rgba(0, 0, 0, 0)', 'rgb(255, 255, 255)'].includes(style.backgroundColor))
  .map(([one, style]) => [one.outerHTML.slice(0, 80), style.color, style.backgroundColor])"""
FOLDED = "() => document.querySelectorAll('main details:not([open])').length"


@pytest.fixture
def walk(live_server: LiveServer, new_context: Callable[..., BrowserContext]) -> Walk:
    orchard = plant(live_server, TREES)
    tree, place = orchard.trees[0][1], orchard.places["South yard"]
    today = datetime.now().astimezone().date()
    changes = []
    for number, (_, one) in enumerate(orchard.trees[:6]):
        for days in (60, 50, 40, 30, 20, 10, 5, 1):
            counts = {"leaves": 40 + days % 7 + number, "shoot_cm": 20 - days / 5, "fruit_main": 3}
            changes.append(orchard.new("observation", tree=one, seen_at=now(days), **counts))
    changes.append(orchard.new("work", tree=tree, done_at=now(15), task="pot_up", amount=30))
    changes.append(orchard.new("harvest", tree=tree, picked_at=now(3), fruit="main", weight_g=80, quality=4))
    changes += [
        orchard.new("reading", place=place, date=(today - timedelta(days=days)).isoformat(), t_min_c=8, t_max_c=19)
        for days in range(9)
    ]
    due = (today + timedelta(days=2)).isoformat()
    changes += [orchard.new("job", job=f"Chore number {at}", task="other", due_on=due) for at in range(25)]
    orchard.sync(changes)
    # A grower who reads in the dark still prints on white paper.
    return Walk(new_context(AWAY, color_scheme="dark", **PHONE).new_page(), orchard).pair()


def papers(walk: Walk) -> Iterator[str]:
    """Shows each screen that is worth printing."""
    tree, place = walk.orchard.trees[0][1], walk.orchard.places["South yard"]
    for path in (f"tree/{tree}", f"tree/{tree}/life", "season", "jobs", f"place/{place}", f"place/{place}/walk"):
        walk.go(path)
        walk.page.wait_for_load_state("networkidle")
        expect(walk.page.get_by_text("Asking home")).to_have_count(0)
        walk.page.wait_for_timeout(300)
        yield path


def printed(page: Page, **paper: str) -> list[str]:
    """What stands on each sheet."""
    document = pypdfium2.PdfDocument(page.pdf(**(paper or {"format": "A4"})))
    return [sheet.get_textpage().get_text_bounded().replace("\r", "") for sheet in document]


def test_paper_is_black_on_white_with_nothing_to_press(walk: Walk) -> None:
    page = walk.page
    wrong = {}
    for path in papers(walk):
        before = page.locator("main").inner_text()
        page.emulate_media(media="print")
        page.evaluate("dispatchEvent(new Event('beforeprint'))")
        told = [*page.evaluate(PRESSABLE), *page.evaluate(COLOURED)]
        if told or page.evaluate(FOLDED):
            wrong[path] = told or "folded"
        expect(page.get_by_role("heading", level=1)).to_be_visible()
        assert len(page.locator("main").inner_text()) > 100, path
        page.evaluate("dispatchEvent(new Event('afterprint'))")
        page.emulate_media(media="screen")
        assert page.locator("main").inner_text() == before, "the screen is as it was"
    assert wrong == {}


def test_lists_go_on_to_their_end_on_paper_and_not_on_the_screen(walk: Walk) -> None:
    page = walk.page
    tags = [tag for at, (tag, _) in enumerate(walk.orchard.trees) if at % 2 == 0]
    place = walk.orchard.places["South yard"]
    for path, shown in ((f"place/{place}", 20), (f"place/{place}/walk", len(tags))):
        walk.go(path)
        expect(page.locator("main .plate")).to_have_count(shown)
        text = "\n".join(printed(page))
        assert [tag for tag in tags if f"{tag[:3]}" not in text] == []
        assert "http" not in text and "#/" not in text
        expect(page.locator("main .plate")).to_have_count(shown)
    assert re.search(rf"^{len(tags)}\.", text, re.MULTILINE), "the walking order is numbered"
    walk.go("jobs")
    expect(page.get_by_role("article").filter(has_text="Chore number")).to_have_count(10)
    text = "\n".join(printed(page))
    assert [at for at in range(25) if not re.search(rf"Chore number {at}\b", text)] == []
    expect(page.get_by_role("article").filter(has_text="Chore number")).to_have_count(10)


def test_no_chart_is_cut_whatever_the_paper(walk: Walk) -> None:
    page = walk.page
    walk.go(f"tree/{walk.orchard.trees[0][1]}/life")
    expect(page.get_by_role("heading", name="Health", exact=True)).to_be_visible()
    cut = {}
    for height_mm in range(110, 200, 5):
        sheets = printed(page, width="148mm", height=f"{height_mm}mm")
        # At a chart's top stands its unit, under it the last value in words.
        tops = [len(re.findall(r"^(?:leaves|cm|fruit|of 100)$", text, re.MULTILINE)) for text in sheets]
        foots = [len(re.findall(r"^[\d.]+ (?:leaves|cm|fruit|of 100) on \d", text, re.MULTILINE)) for text in sheets]
        assert (len(sheets) > 1, sum(tops), sum(foots)) == (True, 4, 4), sheets
        if tops != foots:
            cut[height_mm] = tops, foots
    assert cut == {}


def test_a_table_that_goes_on_repeats_its_head(walk: Walk) -> None:
    walk.go(f"place/{walk.orchard.places['South yard']}")
    expect(walk.page.locator("main table tbody tr")).to_have_count(7)
    # A sheet so low that seven rows never fit on one.
    sheets = printed(walk.page, width="148mm", height="70mm")
    # Spaces are guessed from gaps by whoever reads a PDF, so they don't count.
    with_rows = [text for sheet in sheets if "8°C19°C" in (text := re.sub(r"\s", "", sheet))]
    assert len(with_rows) > 1
    assert [text for text in with_rows if "DayLowestHighest" not in text] == []
