"""The real store and engine in a page, as a phone of the bad days: each tab has its own connection to one store."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

from playwright.sync_api import Page

FLEET = Path(__file__).with_name("fleet.js").read_text(encoding="utf-8")
MODULES = ("/store/open.js", "/sync/run.js", "/sync/home_error.js", "/core/shapes.js")


class BrowserPhone:
    """One phone of a page's fleet."""

    def __init__(self, page: Page, name: str, tabs: int) -> None:
        self._page, self._name, self._tabs = page, name, tabs
        imports = ", ".join(f"import('{module}')" for module in MODULES)
        page.evaluate(f"async () => {{ window.fleet ??= ({FLEET})(await Promise.all([{imports}])); }}")
        self.kill()

    def save(self, kind: str, record: str, values: dict[str, Any], edited_at: str) -> int:
        at_ms = int(datetime.fromisoformat(edited_at).timestamp() * 1000)
        return int(self._call("save", at_ms, kind, record, values))

    def start(self, tab: int) -> dict[str, Any] | None:
        return self._call("start", tab)

    def receive(self, tab: int, answer: dict[str, Any] | None) -> dict[str, Any] | None:
        return self._call("receive", tab, answer)

    def kill(self) -> None:
        """Both tabs are closed as they stand, and opened again."""
        self._call("open", self._tabs)

    def view(self) -> dict[str, tuple[str, dict[str, Any]]]:
        return {each["id"]: (each["kind"], each["fields"]) for each in self._call("view")}

    def pocket(self) -> tuple[int, list[int]]:
        unsent, parked = self._call("pocket")
        return unsent, sorted(parked)

    def _call(self, method: str, *arguments: Any) -> Any:
        return self._page.evaluate(f"(told) => fleet.{method}(...told)", [self._name, *arguments])
