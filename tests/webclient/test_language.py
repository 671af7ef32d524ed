"""The screens in another language: chosen on the phone, complete, and English where nothing else is known."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE, Walk, now, plant
from tests.webclient.test_ui_look import BEYOND

# Every word and sentence of a catalogue by its path, with its kind and how many things it is told.
PATHS = """async ([module, name]) => {
  const found = {};
  const walk = (value, path) => {
    if (Array.isArray(value)) found[path] = `list of ${value.length}`;
    else if (value && typeof value === 'object') Object.keys(value).map((key) => walk(value[key], `${path}.${key}`));
    else found[path] = typeof value === 'function' ? `function of ${value.length}` : typeof value;
  };
  walk((await import(module))[name], name);
  return found;
}"""
CATALOGUES = (("/ui/text.js", "words"), ("/core/sayings.js", "sayings"))


def paths(page: Page, module: str, name: str) -> dict[str, str]:
    """What a catalogue holds, by path."""
    found: dict[str, str] = page.evaluate(PATHS, [module, name])
    return found


@pytest.mark.parametrize(("module", "name"), CATALOGUES)
def test_german_says_all_that_english_says_and_nothing_else(page: Page, module: str, name: str) -> None:
    english, german = paths(page, module, name), paths(page, "/ui/text_de.js", name)
    assert sorted(set(english) - set(german)) == [], "German lacks these"
    assert sorted(set(german) - set(english)) == [], "English has no such words"
    assert {path: kind for path, kind in german.items() if english[path].split()[0] != kind.split()[0]} == {}


def test_german_knows_every_choice(page: Page) -> None:
    lacking = page.evaluate(
        """async () => {
          const { choices } = await import('/ui/text_de.js');
          const vocabularies = await import('/core/vocabularies.js');
          return Object.entries(vocabularies).filter(([, of]) => Array.isArray(of)).flatMap(([name, of]) =>
            of.filter(({ value }) => !choices[name]?.[value]).map(({ value }) => `${name}.${value}`));
        }"""
    )
    assert lacking == []


def test_a_phone_speaks_its_own_language_until_another_is_chosen(
    live_server: LiveServer, new_context: Callable[..., BrowserContext]
) -> None:
    # Decimal sign and order of a date in German: Unicode CLDR, locale de.
    options: dict[str, Any] = {**PHONE, "locale": "de-DE"}
    walk = Walk(new_context(**options).new_page(), plant(live_server, 1))
    page = walk.page
    page.goto(f"{live_server.url}/#/pair/{live_server.pair()}")
    page.locator("#pair-code").press("Enter")
    expect(page.get_by_role("heading", level=1, name="Jetzt")).to_be_visible()
    expect(page.locator("html")).to_have_attribute("lang", "de")
    walk.open_tree(0)
    expect(page.get_by_text("5,5").first).to_be_visible()
    walk.settle()
    # What home says comes in the same language, and anew in another.
    expect(page.locator("main")).to_contain_text("2 Brebas an 44 Blättern: 22,0 Blätter für jede")
    walk.go("settings")
    page.get_by_label("English").check(force=True)
    expect(page.get_by_role("heading", level=1, name="Settings")).to_be_visible()
    expect(page.locator("html")).to_have_attribute("lang", "en")
    walk.open_tree(0)
    expect(page.get_by_text("5.5").first).to_be_visible()
    expect(page.locator("main")).to_contain_text("2 brebas on 44 leaves: 22.0 leaves for each")


# What is told in the strip at the bottom, where it is cut off by its neighbour or the strip takes a second row.
CROWDED = """() => {
  const strip = document.querySelector('.strip');
  const told = strip.querySelector('.pocket');
  const scan = strip.querySelector('#scan-key').getBoundingClientRect();
  const right = Math.max(...[...told.children].map((one) => one.getBoundingClientRect().right));
  const below = scan.top >= told.getBoundingClientRect().bottom;
  return below || right > scan.left ? [told.textContent.trim(), right, scan.left] : [];
}"""


def test_german_screens_fit_and_hold_no_stored_word(
    live_server: LiveServer, new_context: Callable[..., BrowserContext]
) -> None:
    orchard = plant(live_server, 2)
    tree, place = orchard.trees[0][1], orchard.places["Porch"]
    seen = {"leaves": 1, "shoot_cm": 12.5, "soil": "moist", "causes": "handling;cold"}
    orchard.sync(
        [
            orchard.new("observation", tree=tree, seen_at=now(2), **seen),
            orchard.new("work", tree=tree, done_at=now(1), task="feed"),
        ]
    )
    walk = Walk(new_context(AWAY, **{**PHONE, "locale": "de-DE"}).new_page(), orchard)
    page = walk.page
    page.goto(f"{live_server.url}/#/pair/{live_server.pair()}")
    page.locator("#pair-code").press("Enter")
    expect(page.get_by_role("heading", level=1, name="Jetzt")).to_be_visible()
    wrong = []
    paths = (
        "now index jobs round barrow trees places shelters season pocket settings scan scan/barrow groups lessons"
        f" cuttings calendar home species tags varieties tree/{tree} tree/{tree}/move"
        f" tree/{tree}/work tree/{tree}/harvest"
        f" tree/{tree}/history tree/{tree}/life place/{place} place/{place}/walk edit/tree/{tree} edit/job/new"
    )
    for path in paths.split():
        walk.go(path)
        walk.settle()
        text = page.locator("body").inner_text()
        stored = [word for word in ("moist", "handling", "cold", "Weiter mit 2 Töpfe\n", "..") if word in text]
        wrong += [(path, told) for told in (stored, page.evaluate(BEYOND), page.evaluate(CROWDED)) if told]
    assert wrong == []
    walk.go(f"tree/{tree}/history")
    entry = page.locator(".entry").filter(has_text="1 Blatt")
    expect(entry).to_contain_text("Anfassen, Kälte")
    expect(entry).to_contain_text("Erde feucht")
    entry.get_by_role("link", name="Berichtigen").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Besuch, ")
    walk.go(f"tree/{tree}/life")
    grown = page.get_by_role("slider", name="Triebwachstum")
    expect(grown.locator(".last")).to_have_text("12,5")
    expect(grown).to_have_attribute("aria-valuetext", re.compile(r"^12,5 cm am [^.]*\. \S+\. Gestrichelt: düngen"))
    # What waits in the pocket is told in the same room.
    page.context.set_offline(True)
    walk.open_tree(1)
    page.locator("#as-last-time").click()
    expect(page.locator("#pocket-line")).to_contain_text("1 offen")
    assert page.evaluate(CROWDED) == []
