"""A helper's phone: every screen walked, every key pressed, and nothing that it is offered is refused."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime

import pytest
from playwright.sync_api import BrowserContext, Page, Response, expect

from server.sync.fields import HELPER_KINDS
from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE, Orchard, Walk, now, plant

SCREENS_MAX = 120
# What is left alone: shutting the phone out of home, and starting it anew in another language, end the walk.
LEFT_ALONE = re.compile(r"Unpair|Yes, unpair|Pair\b|Sync now|Deutsch|English")
SAVES = re.compile(r"Save|Note|Move")
OWNERS_WORDS = re.compile(r"owner’s phone|edited on an owner|not saved|Not saved")
OWNERS_ADDRESSES = re.compile(
    r"^(edit/(tree|place|variety|lesson|batch)\b|new/|scan/(retag|walk)|place/[^/]+/walk|(home|tags|calendar)$"
    r"|(varieties|species|season/weights)$)"
)
HREFS = """() => [...new Set([...document.querySelectorAll('a[href*="#/"]')].filter((one) => one.checkVisibility())
  .map((one) => one.getAttribute('href').replace(/^.*#\\//, '')))]"""
# Opens what is folded, and writes something that fits into every empty box of a form.
FILL = """() => {
  document.querySelectorAll('details').forEach((one) => { one.open = true; });
  const tell = (one, value) => {
    one.value = value;
    one.dispatchEvent(new Event('input', { bubbles: true }));
    one.dispatchEvent(new Event('change', { bubbles: true }));
  };
  for (const one of document.querySelectorAll('main input, main select, main textarea')) {
    if (one.value || !one.checkVisibility() || ['checkbox', 'radio', 'file', 'search'].includes(one.type)) continue;
    if (one.tagName === 'SELECT') tell(one, one.options[1]?.value ?? '');
    else if (one.type === 'date') tell(one, '__TODAY__');
    else if (one.type === 'text' || one.tagName === 'TEXTAREA') tell(one, '5');
  }
}"""
# Keys as a finger finds them: what can be seen and pressed, but for the choice of a file.
FIND_KEYS = """[...document.querySelectorAll('main button, .dock button, main label.key, .slip #undo')]
  .filter((one) => one.checkVisibility() && !one.disabled
    && !one.matches('button.aside') && !one.querySelector('[type=file]'))"""
KEYS = f"""() => {FIND_KEYS}
  .map((one) => (one.getAttribute('aria-label') ?? '') + one.textContent.trim().replace(/\\s+/g, ' '))"""
PRESS = f"(at) => {FIND_KEYS}[at]?.click()"


@pytest.fixture
def orchard(live_server: LiveServer) -> Orchard:
    """A collection with all that an owner may have left for a helper to see: lessons, cuttings, decisions, jobs."""
    orchard = plant(live_server, 3)
    tree, leaving = orchard.trees[0][1], orchard.trees[1][1]
    today = datetime.now().astimezone().date()
    changes = [
        orchard.new("observation", tree=tree, seen_at=now(days), leaves=40, fruit_breba=0, fruit_main=60)
        for days in (2, 1, 0.1)
    ]
    changes += [
        orchard.new("lesson", lesson="Brebas off before the move out", on_day=today.strftime("%m-%d")),
        orchard.new("batch", batch="February wood", taken=10, rooted=7, parent=tree),
        orchard.new("job", job="Mend the hose", task="other", due_on=today.isoformat()),
        orchard.new("job", job="Sweep the porch", task="other", place=orchard.places["Porch"]),
        orchard.new("round", started_at=now(9), finished_at=now(8.9), places=[orchard.places["Porch"]]),
    ]
    decided = orchard.new("tree", decision="give_away", decided_on=today.isoformat())
    changes.append({**decided, "record": leaving})
    orchard.sync(changes)
    return orchard


def shape(path: str) -> str:
    """An address without the ids in it."""
    return re.sub(r"[0-9a-f]{8}-[0-9a-f-]{27}", "ID", path)


class Crawl:
    """All screens that are reached from Now and the index, and what pressing every key on them led to."""

    def __init__(self, walk: Walk) -> None:
        self.walk, self.page = walk, walk.page
        self.forbidden: list[str] = []
        self.pressed: set[tuple[str, str]] = set()
        self.complaints: list[tuple[str, str]] = []
        self.visited: dict[str, str] = {}
        self.page.on("response", self.hear)

    def hear(self, answer: Response) -> None:
        if answer.status == 403:
            self.forbidden.append(f"{answer.request.method} {answer.url}")

    def screens(self) -> None:
        """Visit one address of each shape, and note each address that a screen links to."""
        waiting = ["now", "index", "jobs", "out", f"tree/{self.walk.orchard.trees[2][1]}/history"]
        while waiting and len(self.visited) < SCREENS_MAX:
            path = waiting.pop(0)
            if shape(path) in self.visited:
                continue
            self.visited[shape(path)] = path
            self.show(path)
            waiting += self.page.evaluate(HREFS)

    def show(self, path: str) -> None:
        self.page.evaluate("(path) => { location.hash = `#/${path === 'now' ? 'index' : 'now'}`; }", path)
        self.walk.go(path)
        self.walk.settle()

    def keys(self) -> None:
        """On each screen press each key that was not pressed there yet, twice where it asks."""
        for name, path in self.visited.items():
            if OWNERS_ADDRESSES.search(path):
                continue  # What the links lead to is judged by their addresses.
            for filled in (False, True):
                # Keys are pressed on as long as the screen stands, then on the screen opened anew, until none is left.
                stands = False
                for _ in range(120):
                    if not stands:
                        self.show(path)
                    pressed = self.press_next(name, filled)
                    if not pressed and not stands:
                        break
                    stands = pressed and self.page.evaluate("location.hash") == f"#/{path}"

    def press_next(self, name: str, filled: bool) -> bool:
        if filled:
            self.page.evaluate(FILL.replace("__TODAY__", datetime.now().astimezone().date().isoformat()))
            self.page.wait_for_timeout(40)
        for at, label in enumerate(self.page.evaluate(KEYS)):
            # What saves is pressed with an empty form too, which must say what is missing.
            plain = re.sub(r"\d+", "0", label) + (", filled" if filled and SAVES.match(label) else "")
            if (name, plain) in self.pressed or LEFT_ALONE.search(label):
                continue
            self.pressed.add((name, plain))
            self.page.evaluate(PRESS, at)
            self.page.wait_for_timeout(60)
            after = self.page.evaluate(KEYS)
            # A key that asks first has another word now and stands where it stood.
            if at < len(after) and after[at] != label and after[at].startswith("Yes"):
                self.page.evaluate(PRESS, at)
            self.walk.settle()
            told = " ".join(self.page.locator("main, #slip").all_inner_texts())
            if OWNERS_WORDS.search(told):
                self.complaints.append((name, label))
            return True
        return False


def crawled(orchard: Orchard, page: Page, role: str) -> Crawl:
    crawl = Crawl(Walk(page, orchard).pair(role))
    crawl.screens()
    return crawl


def test_a_helper_is_offered_nothing_that_is_refused(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    context = new_context(AWAY, reduced_motion="reduce", accept_downloads=True, **PHONE)
    crawl = crawled(orchard, context.new_page(), "helper")
    assert len(crawl.visited) > 25, sorted(crawl.visited)
    assert [path for path in crawl.visited if OWNERS_ADDRESSES.search(path)] == []
    crawl.keys()
    assert len(crawl.pressed) > 80, sorted(crawl.pressed)
    crawl.walk.sync()
    expect(crawl.page.get_by_text("Refused")).to_have_count(0)
    parked = crawl.page.evaluate(
        "async () => { const { openStore } = await import('/store/open.js'); const store = await openStore();"
        " const parked = await store.outbox.parked(50); store.close();"
        " return parked.map((one) => [one.change.kind, one.change.set, one.problem.detail]); }"
    )
    assert (crawl.forbidden, crawl.complaints, parked) == ([], [], [])
    written = {kind for kind in HELPER_KINDS if orchard.records(kind)}
    assert written >= {"observation", "move", "work", "harvest", "reading", "job", "round"}
    jobs = orchard.records("job").values()
    assert [job for job in jobs if job.get("key", "").startswith(("give_away", "retire", "reprint"))] == []


def test_an_owner_is_offered_what_a_helper_is_not(orchard: Orchard, new_context: Callable[..., BrowserContext]) -> None:
    crawl = crawled(orchard, new_context(AWAY, **PHONE).new_page(), "owner")
    found = {shape(path) for path in crawl.visited if OWNERS_ADDRESSES.search(path)}
    assert found >= {
        "edit/tree/ID", "edit/place/ID", "edit/lesson/ID", "edit/batch/ID", "edit/lesson/new", "edit/batch/new/ID",
        "scan/retag/ID", "home", "tags", "calendar", "varieties", "species",
    }  # fmt: skip
    crawl.show("jobs")
    expect(crawl.page.get_by_role("article").filter(has_text="Give away")).to_be_visible()


def test_an_address_for_owners_shows_a_helper_the_index_also_after_a_reload(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    walk = Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair("helper")
    page, tree = walk.page, orchard.trees[0][1]
    for path in ("home", "tags", "calendar", "varieties", f"scan/retag/{tree}", f"trees/{orchard.trees[0][0]}"):
        page.goto("about:blank")
        page.goto(f"{orchard.server.url.rstrip('/')}/#/{path}")
        expect(page).to_have_url(re.compile(r"#/(index|trees)$"))


def test_a_helper_keeps_its_own_settings_and_can_unpair(
    orchard: Orchard, new_context: Callable[..., BrowserContext]
) -> None:
    walk = Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair("helper")
    page = walk.page
    walk.go("settings")
    expect(page.get_by_role("link", name="Print tags")).to_have_count(0)
    page.get_by_text("gallons", exact=True).click()
    expect(page.get_by_role("radio", name="gallons")).to_be_checked()
    page.get_by_text("Deutsch", exact=True).click()
    expect(page.get_by_role("heading", level=1, name="Einstellungen")).to_be_visible()
    page.get_by_text("English", exact=True).click()
    expect(page.get_by_role("heading", level=1, name="Settings")).to_be_visible()
    page.context.set_offline(True)
    walk.open_tree(0)
    walk.save(quick=True)
    page.context.set_offline(False)
    walk.go("pair")
    page.get_by_role("button", name="Unpair this phone").click()
    page.get_by_role("button", name="Yes, unpair it").click()
    expect(page.locator("#slip")).to_contain_text("Unpaired.")
    walk.go("pocket")
    expect(page.get_by_role("link", name="Pair this phone")).to_be_visible()
    walk.open_tree(1)
    expect(page.get_by_role("link", name="Edit card")).to_have_count(0)
