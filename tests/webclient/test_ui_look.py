"""How every screen stands on a phone and on a desk: for eyes, thumbs, large text and screen readers."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, Page, expect

from server import ids
from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, DESK, PHONE, Orchard, Walk, now, plant

# Keys for a gloved thumb, and the room between them, in CSS px.
KEY_PX_MIN = 56
GAP_PX_MIN = 8
TEXT_PX_MIN = 17

PUT_FINDINGS = """async (tags) => {
  const { openStore } = await import('/store/open.js');
  const store = await openStore();
  const alerts = tags.map((tag, at) => ({
    tag, kind: at ? 'unvisited' : 'leaf_drop', level: at ? 'watch' : 'act', since: '2026-05-03',
    why: ['Lost 14 of 62 leaves in 6 days, usual here is 1 or 2.'], advice: 'Move it back under shade for a week.',
    likely_causes: [{ cause: 'move', weight: 0.8, evidence: 'moved two days before' }],
  }));
  const document = { on: '2026-05-09', alerts, trends: [] };
  await store.settings.set({ overview: { etag: null, fetched_at_ms: Date.now(), document } });
  store.close();
}"""
# On a phone the layout grows with what is too wide, so that the visible width is the measure.
BEYOND = """() => document.documentElement.scrollWidth <= visualViewport.width + 0.5 ? []
  : [...document.querySelectorAll('body *')].filter((one) => !one.closest('.aside')
      && one.getBoundingClientRect().right > visualViewport.width + 1)
    .slice(0, 3).map((one) => ['too wide', one.outerHTML.slice(0, 120)])"""
SMALL_KEYS = """(least) => [
  ...document.querySelectorAll('button, a.key, a.hang, label.key, summary, .row, input, select, textarea')]
  .filter((one) => one.checkVisibility() && !one.closest('.aside') && !one.matches('.key input, .tick input'))
  .map((one) => [one.outerHTML.slice(0, 90), one.getBoundingClientRect()])
  .filter(([, box]) => box.height < least - 0.5 || box.width < least - 0.5)
  .map(([text, box]) => `${text} ${box.width} x ${box.height}`)"""
CLOSE_KEYS = """(gap) => {
  const keys = [...document.querySelectorAll('.key, .hang')].filter((one) => one.checkVisibility());
  const boxes = keys.map((one) => one.getBoundingClientRect());
  const near = [];
  for (let a = 0; a < keys.length; a += 1) for (let b = a + 1; b < keys.length; b += 1) {
    // The keys at the bottom stay while the page moves under them.
    if (keys[a].closest('.bench') !== keys[b].closest('.bench')) continue;
    const across = Math.max(boxes[a].left, boxes[b].left) - Math.min(boxes[a].right, boxes[b].right);
    const down = Math.max(boxes[a].top, boxes[b].top) - Math.min(boxes[a].bottom, boxes[b].bottom);
    if (Math.max(across, down) < gap - 0.5) near.push(`${keys[a].textContent.trim()} | ${keys[b].textContent.trim()}`);
  }
  return near;
}"""
SMALL_TEXT = """(least) => [...document.querySelectorAll('body *')]
  .filter((one) => one.checkVisibility() && !one.closest('.aside, svg'))
  .filter((one) => [...one.childNodes].some((node) => node.nodeType === 3 && node.data.trim()))
  .filter((one) => parseFloat(getComputedStyle(one).fontSize) < least - 0.1).map((one) => one.outerHTML.slice(0, 90))"""
# Luminance and contrast by their formulas in WCAG 2.2. Every text is opaque and stands on an opaque ground of a named
# colour; what a clipped shape paints behind a key, axe can't see, so the names are measured.
CONTRASTS = """() => {
  const style = getComputedStyle(document.documentElement);
  const part = (hex, at) => parseInt(hex.slice(at, at + 2), 16) / 255;
  const linear = (c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
  const light = (name) => {
    const hex = style.getPropertyValue(`--${name}`).trim().slice(1);
    return 0.2126 * linear(part(hex, 0)) + 0.7152 * linear(part(hex, 2)) + 0.0722 * linear(part(hex, 4));
  };
  const contrast = (pair) => {
    const [low, high] = pair.map(light).sort((x, y) => x - y);
    return (high + 0.05) / (low + 0.05);
  };
  const inks = ['ink', 'soft', 'green', 'ochre', 'brick'];
  const pairs = [...inks.flatMap((ink) => [[ink, 'paper'], [ink, 'sheet']]), ['on-leaf', 'leaf']];
  return Object.fromEntries(pairs.map((pair) => [pair.join(' on '), contrast(pair)]));
}"""


@pytest.fixture
def orchard(live_server: LiveServer) -> Orchard:
    return plant(live_server)


def screens(walk: Walk) -> Iterator[str]:
    """Shows one screen after the other and names it."""
    page, orchard = walk.page, walk.orchard
    page.evaluate(PUT_FINDINGS, [tag for tag, _ in orchard.trees[:2]])
    tree, place = orchard.trees[0][1], orchard.places["Porch"]
    plain = (
        "now",
        "index",
        "scan",
        "scan/barrow",
        "trees",
        "places",
        "varieties",
        "pocket",
        "settings",
        "home",
        "species",
        "tags",
        "shelters",
        "season",
        "season/weights",
        "groups",
        "jobs",
        "lessons",
        "cuttings",
        "calendar",
    )
    cards = (
        f"tree/{tree}",
        f"tree/{tree}/move",
        f"tree/{tree}/work",
        f"tree/{tree}/harvest",
        f"tree/{tree}/history",
        f"tree/{tree}/life",
    )
    more = (
        f"place/{place}",
        f"place/{place}/walk",
        f"edit/tree/{tree}",
        f"edit/place/{place}",
        f"new/{ids.new_tag_code()}",
        "barrow",
        "pair",
    )
    for path in (*plain, *cards, *more, "round"):
        walk.go(path)
        walk.settle()
        yield path
    page.locator("#start-round").click()
    expect(page.locator("#round-count")).to_be_visible()
    yield "round, going on"
    page.get_by_role("button", name="Finish the round").click()
    page.get_by_role("button", name="Finish with").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("The round")
    yield "round, finished"


def complaints(page: Page) -> list[Any]:
    """What axe finds wrong on the page, and whether it is wider than its window."""
    found = Axe().run(page).response["violations"]
    told: list[Any] = [(one["id"], [node["target"] for node in one["nodes"]]) for one in found]
    return told + page.evaluate(BEYOND)


@pytest.mark.parametrize(
    ("device", "scheme"), [(PHONE, "light"), (PHONE, "dark"), (DESK, "light")], ids=["phone", "phone dark", "desk"]
)
def test_axe_finds_nothing_and_nothing_is_cut_off(
    orchard: Orchard, new_context: Callable[..., BrowserContext], device: dict[str, Any], scheme: str
) -> None:
    walk = Walk(new_context(AWAY, color_scheme=scheme, **device).new_page(), orchard).pair()
    wrong = {path: told for path in screens(walk) if (told := complaints(walk.page))}
    assert wrong == {}


def test_keys_fit_a_gloved_thumb_and_text_is_never_small(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    # A slip on its way to its place is no key yet; without motion it is there at once.
    walk = Walk(new_context(AWAY, reduced_motion="reduce", **PHONE).new_page(), orchard).pair()
    page = walk.page
    wrong = {}
    for path in screens(walk):
        told = [
            *page.evaluate(SMALL_KEYS, KEY_PX_MIN),
            *page.evaluate(CLOSE_KEYS, GAP_PX_MIN),
            *page.evaluate(SMALL_TEXT, TEXT_PX_MIN),
        ]
        if told:
            wrong[path] = told
    assert wrong == {}


def test_text_at_twice_its_size_still_fits_the_phone(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    walk = Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()
    walk.page.evaluate("document.documentElement.style.fontSize = '200%'")
    wrong = {path: by for path in screens(walk) if (by := walk.page.evaluate(BEYOND))}
    assert wrong == {}


# A page that is left at once may take its last write along; so wait until the choice is really kept.
KEPT_THEME = """
(theme) => new Promise((done) => {
  const opening = indexedDB.open('leafwalk');
  opening.onsuccess = () => {
    const asked = opening.result.transaction('settings').objectStore('settings').get('theme');
    asked.onsuccess = () => { opening.result.close(); done(asked.result === theme); };
  };
})
"""


@pytest.mark.parametrize(("theme", "least"), [("Light", 7), ("Dark", 4.5)])
def test_every_ink_stands_out_from_its_ground(
    orchard: Orchard, new_context: Callable[..., BrowserContext], theme: str, least: float
) -> None:
    walk = Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()
    walk.go("settings")
    walk.page.get_by_text(theme, exact=True).click()
    walk.page.wait_for_function(KEPT_THEME, arg=theme.lower())
    walk.page.reload()
    expect(walk.page.get_by_role("radio", name=theme)).to_be_checked()
    faint = {pair: value for pair, value in walk.page.evaluate(CONTRASTS).items() if value < least}
    assert faint == {}


def test_a_new_screen_is_told_to_a_screen_reader(orchard: Orchard, new_context: Callable[..., BrowserContext]) -> None:
    walk = Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()
    page = walk.page
    page.get_by_role("link", name="Index").click()
    page.get_by_role("main").get_by_role("link", name="Trees").click()
    expect(page.get_by_role("heading", level=1, name="Trees")).to_be_focused()
    expect(page).to_have_title("Trees · Leafwalk")
    walk.open_tree(0)
    walk.save(quick=True)
    expect(page.get_by_role("status").filter(has_text="saved")).to_be_visible()


def test_a_finding_says_what_home_found_and_opens_its_tree(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    """One of the trees drops a quarter of its leaves while its companions keep theirs."""
    changes = []
    for at, (_, tree) in enumerate(orchard.trees):
        for days_ago, leaves, fallen in ((24, 42, 0), (19, 43, 0), (14, 44, 0), (9, 44, 1), (2, 44, 0), (1, 44, 0)):
            lost = 11 if at == 0 and days_ago < 9 else 0
            counts = {"leaves": leaves - lost * (3 - days_ago), "leaves_fallen": fallen + lost}
            changes.append(orchard.new("observation", tree=tree, seen_at=now(days_ago), **counts))
    orchard.sync(changes)
    (alert,) = [one for one in orchard.ask("GET", "/overview")["alerts"] if one["kind"] == "leaf_drop"]
    tag = orchard.trees[0][0]
    assert alert["tag"] == tag
    page = Walk(new_context((), **PHONE).new_page(), orchard).pair().page
    finding = page.get_by_role("article").filter(has_text=" ".join(tag))
    for told in ({"act": "Act", "watch": "Watch"}[alert["level"]], "Losing leaves", *alert["why"], alert["advice"]):
        expect(finding).to_contain_text(told)
    # Six counts, and the sampled shoots of the visit that was planted.
    expect(finding.locator("circle.dot")).to_have_count(7)
    expect(finding.get_by_role("link", name="Open the card")).to_be_visible()
    finding.get_by_role("link", name="Open the card").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(" ".join(tag))
    expect(page.get_by_role("region", name="Finding")).to_contain_text(alert["advice"])
