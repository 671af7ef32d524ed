"""A small collection on the real server, and a walk through the real screens, for tests of the screens."""

from __future__ import annotations

import json
import urllib.request
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from playwright.sync_api import Page, Request, expect

from server import ids
from tests.support.server import LiveServer

# What a page may report: home is away, or does not have a photo yet that it was asked for before sending.
AWAY = (r"ERR_INTERNET_DISCONNECTED", r"404 .*/photos/")
SETTLE_MS_MAX = 4000
# A tap on the spot of the one before counts again this long after what that one saved is told.
SECOND_TAP_MS = 650
PHONE = {"viewport": {"width": 390, "height": 844}, "locale": "en-GB", "has_touch": True, "is_mobile": True}
DESK = {"viewport": {"width": 1280, "height": 800}, "locale": "en-GB"}


def now(days_ago: float = 0) -> str:
    """A moment with offset, so many days ago."""
    return (datetime.now().astimezone() - timedelta(days=days_ago)).isoformat(timespec="seconds")


@dataclass
class Orchard:
    """Home as another device sees it: writes records over the wire and reads them back."""

    server: LiveServer
    token: str = ""
    n: int = 0
    trees: list[tuple[str, str]] = field(default_factory=list)
    places: dict[str, str] = field(default_factory=dict)

    def pair(self) -> None:
        """Pair this device as owner."""
        body = {"code": self.server.pair(), "device_name": "bench"}
        self.token = self.ask("POST", "/pair", body)["token"]

    def ask(self, method: str, path: str, body: Any = None) -> Any:
        """One request to the API, answered with JSON or nothing."""
        headers = {"Content-Type": "application/json"}
        if self.token:
            headers["Authorization"] = f"Bearer {self.token}"
        data = None if body is None else json.dumps(body).encode()
        url = f"{self.server.url.rstrip('/')}/api/v1{path}"
        request = urllib.request.Request(url, data, headers, method=method)
        with urllib.request.urlopen(request, timeout=20) as answer:
            told = answer.read()
        return json.loads(told) if told else None

    def sync(self, changes: list[dict[str, Any]]) -> dict[str, Any]:
        """One sync from the beginning; every change must be stored."""
        body = {"protocol": 1, "epoch": None, "cursor": None, "limit": 5000, "changes": changes}
        answer: dict[str, Any] = self.ask("POST", "/sync", body)
        assert [each["outcome"] for each in answer["results"]] == ["stored"] * len(changes), answer["results"]
        return answer

    def new(self, kind: str, **fields: Any) -> dict[str, Any]:
        """A change that makes one new record."""
        self.n += 1
        head = {"id": ids.new_id(), "n": self.n, "kind": kind, "record": ids.new_id(), "edited_at": now()}
        return {**head, "set": fields}

    def add(self, kind: str, **fields: Any) -> str:
        """One new record, sent home; its id."""
        change = self.new(kind, **fields)
        self.sync([change])
        return str(change["record"])

    def records(self, kind: str) -> dict[str, dict[str, Any]]:
        """The fields of all records of a kind that home has, by id."""
        return {one["id"]: one["fields"] for one in self.sync([])["records"] if one["kind"] == kind}

    def visits(self, tag: str) -> list[dict[str, Any]]:
        """The visits to a tree that home has and that were not withdrawn, oldest first."""
        tree = dict(self.trees)[tag]
        found = [one for one in self.records("observation").values() if one["tree"] == tree and not one.get("voided")]
        return sorted(found, key=lambda one: datetime.fromisoformat(one["seen_at"]))


def plant(server: LiveServer, count: int = 4) -> Orchard:
    """A collection of `count` trees in two places, each seen three days ago with 8 shoots of 5.5 leaves."""
    orchard = Orchard(server)
    orchard.pair()
    fig = orchard.new("variety", variety="Amber Lantern", species="fig")
    yard = orchard.new("place", place="South yard", cover="open")
    porch = orchard.new("place", place="Porch", cover="porch")
    orchard.places = {"South yard": yard["record"], "Porch": porch["record"]}
    changes = [fig, yard, porch]
    for at in range(count):
        tag, place = ids.new_tag_code(), (yard, porch)[at % 2]["record"]
        card = {"variety": fig["record"], "place": place, "pot_litres": 19, "standing": "trial"}
        tree = orchard.new("tree", tag=tag, position=str(count - at), **card)
        orchard.trees.append((tag, tree["record"]))
        counts = {"shoots": 8, "leaves_per_shoot": 5.5, "fruit_breba": 2, "soil": "wet", "note": "only that day"}
        changes += [tree, orchard.new("observation", tree=tree["record"], seen_at=now(3), **counts)]
    orchard.sync(changes)
    return orchard


class Walk:
    """A phone in the grower's hand: what is pressed and what is read on its screens."""

    def __init__(self, page: Page, orchard: Orchard) -> None:
        self.page = page
        self.orchard = orchard
        self.under_way: set[Request] = set()
        page.on("request", self.ask)
        page.on("requestfinished", self.hear)
        page.on("requestfailed", self.hear)

    def ask(self, request: Request) -> None:
        """A request of the page began."""
        self.under_way.add(request)

    def hear(self, request: Request) -> None:
        """A request of the page ended."""
        self.under_way.discard(request)

    def pair(self, role: str = "owner") -> Walk:
        """Open Leafwalk for the first time and pair it."""
        self.page.goto(self.orchard.server.url)
        self.page.get_by_label("Pairing code").fill(self.orchard.server.pair(role))
        self.page.get_by_role("button", name="Pair", exact=True).click()
        self.page.get_by_role("heading", level=1, name="Now").wait_for(timeout=20_000)
        return self

    def go(self, path: str) -> None:
        """Go to a screen by its address."""
        self.page.evaluate("(path) => { location.hash = `#/${path}`; }", path)
        self.page.wait_for_function("(path) => document.title && location.hash === `#/${path}`", arg=path)

    def settle(self) -> None:
        """Wait until the screen has all that it asked for and is drawn."""
        for _ in range(SETTLE_MS_MAX // 20):
            self.page.wait_for_timeout(20)
            if not self.under_way:
                break
        self.page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")

    def type_code(self, code: str) -> None:
        """Write a code on the scanner, as one whose camera is broken."""
        if self.page.locator("#typed-code").count() == 0:
            self.page.locator("#scan-key").click()
        self.page.locator("#typed-code").fill(code)
        self.page.locator("#open-code").click()

    def load_barrow(self, count: int) -> None:
        """Scan the first planted trees onto the barrow, one after the other."""
        self.go("scan/barrow")
        for at in range(count):
            self.type_code(self.orchard.trees[at][0])
            expect(self.page.locator("#barrow-count")).to_have_text(f"{at + 1} pot{'s' if at else ''} on the barrow")

    def open_tree(self, at: int) -> str:
        """Open the card of a planted tree by its code; returns the code."""
        tag = self.orchard.trees[at][0]
        self.type_code(f"{tag[:3]} {tag[3:]}".lower())
        self.page.locator("#visit").wait_for()
        return tag

    def save(self, quick: bool = False) -> None:
        """Save the visit, with `quick` by the one press for a tree that is fine, and be back at the scanner."""
        self.page.locator("#as-last-time" if quick else "#save-visit").click()
        self.page.locator("#typed-code").wait_for()

    def pause(self) -> None:
        """Let so much time pass after a save that a press at its spot is no second tap of a double one."""
        self.page.wait_for_timeout(SECOND_TAP_MS)

    def undo(self) -> None:
        """Press Undo on the slip, which may stand where the saving key stood."""
        self.pause()
        self.page.locator("#undo").click()

    def save_card(self) -> None:
        """Save the card whose form is open, and be gone from the form."""
        form = self.page.url
        self.page.locator("#save-card").click()
        self.page.wait_for_url(lambda url: url != form)

    def sync(self) -> None:
        """Go to the pocket, press Sync now, and wait until home has answered and the answer is kept."""
        self.go("pocket")
        key = self.page.locator("#sync-now")
        with self.page.expect_response("**/api/v1/sync"):
            key.click()
        expect(key).to_be_enabled(timeout=20_000)
        expect(self.page.locator("#unsent-count")).not_to_contain_text("unsent")
