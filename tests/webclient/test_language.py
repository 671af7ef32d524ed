"""The screens in another language: chosen on the phone, complete, and English where nothing else is known."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.support.server import LiveServer
from tests.webclient.orchard import PHONE, Walk, plant

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
    walk.go("settings")
    page.get_by_label("English").check(force=True)
    expect(page.get_by_role("heading", level=1, name="Settings")).to_be_visible()
    expect(page.locator("html")).to_have_attribute("lang", "en")
    walk.open_tree(0)
    expect(page.get_by_text("5.5").first).to_be_visible()
