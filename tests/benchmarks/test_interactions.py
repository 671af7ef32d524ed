"""How long the phone takes from each press to the picture that answers it: interaction to next paint.

Measured by the browser itself, through the Event Timing API (W3C, Event Timing); below 200 ms counts as good at the
98th percentile of interactions (web.dev, Interaction to Next Paint, from memory). Here the worst of each step
must stay below it.
"""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.benchmarks.conftest import ROUNDS, SLOWED_TIMES, TREES
from tests.support.server import LiveServer

INP_MS_MAX = 200
# The machine is shared, so the same is done several times; all are printed.
WALKS = 4
BARROW = 30
JOBS = 60

WATCH = """() => {
  window.steps = [];
  window.interactions = new Map();
  window.longTasks = [];
  new PerformanceObserver((list) => list.getEntries().filter((one) => one.interactionId).forEach((one) => {
    const known = interactions.get(one.interactionId);
    if (known && known.ms >= one.duration) return;
    interactions.set(one.interactionId, { at: one.startTime, name: one.name, ms: one.duration,
      waits: one.processingStart - one.startTime, works: one.processingEnd - one.processingStart });
  })).observe({ type: 'event', durationThreshold: 16, buffered: false });
  new PerformanceObserver((list) => list.getEntries().forEach((one) => longTasks.push([one.startTime, one.duration])))
    .observe({ type: 'longtask', buffered: false });
}"""
STEP = "(name) => { steps.push([performance.now(), name]); }"
# Entries come behind the frame that they tell of.
TOLD = """() => new Promise((done) => setTimeout(() => {
  const stepAt = (at) => steps.findLast(([began]) => began <= at)?.[1] ?? '';
  const found = [...interactions.values()].map((one) => ({ ...one, step: stepAt(one.at) }));
  const tasks = longTasks.map(([at, ms]) => [stepAt(at), Math.round(ms)]);
  interactions.clear();
  longTasks.length = 0;
  steps.length = 0;
  done([found, tasks]);
}, 400))"""
# Jobs of the grower's own, and pots on the barrow.
PREPARE = """async ([jobs, pots]) => {
  const { openStore } = await import('/store/open.js');
  const store = await openStore();
  const trees = await store.records.list('tree');
  await store.records.saveAll(Array.from({ length: jobs }, (_, at) => (
    { kind: 'job', record: null, set: { job: `Chore ${at}`, task: 'prune', tree: trees[at].id } })));
  await store.drafts.put('barrow', trees.slice(0, pots).map((tree) => tree.id));
  store.close();
}"""
FILL_BARROW = """async (pots) => {
  const { openStore } = await import('/store/open.js');
  const store = await openStore();
  const trees = await store.records.list('tree');
  await store.drafts.put('barrow', trees.slice(0, pots).map((tree) => tree.id));
  store.close();
}"""


class Hand:
    """What a thumb does on the screens, each step under its name."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def step(self, name: str) -> None:
        self.page.wait_for_timeout(250)  # A thumb comes to rest, and so does the screen before.
        self.page.evaluate(STEP, name)

    def tap(self, name: str, selector: str, awaited: str) -> None:
        self.step(name)
        self.page.locator(selector).first.tap()
        self.page.locator(awaited).first.wait_for()

    def to_index(self) -> None:
        self.tap("open the index", ".to-index", "main .rows.index")


def walk(hand: Hand, tag: str) -> None:
    """One after the other what a round asks for."""
    page = hand.page
    hand.to_index()
    hand.tap("open the list of trees", "main a[href='#/trees']", "#find-tree")
    hand.step("filter the trees by typing")
    page.locator("#find-tree").press_sequentially("variety 17", delay=90)
    hand.step("empty the filter")
    for _ in range(10):
        page.keyboard.press("Backspace")
        page.wait_for_timeout(90)
    hand.tap("more trees", "main > .key", "main .rows li:nth-child(80)")
    hand.tap("open a tree", "main .rows a[href*='#/tree/']", "#visit")
    for _ in range(5):
        hand.tap("count a leaf", ".count .key >> nth=1", "#save-visit")
    hand.step("type a count")
    page.locator("#count-leaves").press_sequentially("123", delay=90)
    hand.tap("save the visit", "#save-visit", "#find-tree")
    hand.tap("open the scanner", "#scan-key", "#typed-code")
    hand.step("type a code")
    page.locator("#typed-code").press_sequentially(tag, delay=60)
    hand.tap("open a tree by its code", "#open-code", "#visit")
    hand.tap("nothing fallen, as last time", "#as-last-time", "#typed-code")
    for screen, awaited in (("places", "main .rows"), ("round", "#start-round"), ("pocket", "#unsent-count")):
        hand.to_index()
        hand.tap(f"switch to {screen}", f"main a[href='#/{screen}']", awaited)
    hand.to_index()
    hand.tap("switch to now", "main a[href='#/now']", "main .figure, main p")
    hand.to_index()
    hand.tap("open the jobs", "main a[href='#/jobs']", "#job-count")
    for name, key in (("tick a job", "Done"), ("put a job off", "In three days")):
        hand.step(name)
        page.get_by_role("button", name=key, exact=True).first.tap()
        expect(page.locator("#slip")).to_contain_text({"Done": "Done.", "In three days": "Put off"}[key])
    move(hand)
    life(hand, tag)


def move(hand: Hand) -> None:
    """The barrow's pots go to another place."""
    page = hand.page
    page.evaluate(FILL_BARROW, BARROW)
    hand.to_index()
    hand.tap("open the barrow", "main a[href='#/barrow']", "a[href='#/barrow/move']")
    hand.tap("begin to move the pots", "a[href='#/barrow/move']", "#save-deed")
    hand.step("choose the place")
    page.locator("main label.key").first.tap()
    hand.tap(f"move {BARROW} pots", "#save-deed", "#undo")


def life(hand: Hand, tag: str) -> None:
    """A tree's whole life: its page, a touch on a chart, and arrow keys on it."""
    page = hand.page
    page.locator("#scan-key").tap()
    page.locator("#typed-code").fill(tag)
    page.evaluate("location.hash = '#/scan/barrow'")  # A code that was just dealt with is not opened again at once.
    tree = page.evaluate(
        """async (tag) => { const { openStore } = await import('/store/open.js');
      const store = await openStore(); const found = await store.records.treeByTag(tag); store.close();
      return found.tree.id; }""",
        tag,
    )
    page.evaluate("(id) => { location.hash = `#/tree/${id}`; }", tree)
    page.locator("#visit").wait_for()
    hand.tap("open a whole life", f"a[href='#/tree/{tree}/life']", "svg.chart")
    hand.step("touch a chart")
    page.mouse.wheel(0, 400)
    chart = page.locator("svg.chart").first
    chart.scroll_into_view_if_needed()
    for share in (0.3, 0.6, 0.8):
        box = chart.bounding_box()
        assert box
        page.touchscreen.tap(box["x"] + share * box["width"], box["y"] + box["height"] / 2)
        page.wait_for_timeout(120)
    hand.step("step through a chart by keys")
    chart.focus()
    for key in ("Home", "ArrowRight", "ArrowRight", "End"):
        page.keyboard.press(key)
        page.wait_for_timeout(90)


def nth_percentile(values: list[float], percent: float) -> float:
    """The smallest value that so many percent do not exceed."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(len(ordered) * percent / 100))]


def summary(found: list[dict[str, Any]], tasks: list[list[Any]]) -> str:
    """A walk in words, its worst interactions first."""
    worst = sorted(found, key=lambda one: -one["ms"])
    told = [
        f"{one['step']} ({one['name']}) {one['ms']:.0f} ms: {one['waits']:.0f} waiting, {one['works']:.0f} working"
        for one in worst[:6]
    ]
    durations = [one["ms"] for one in found]
    long = sorted(tasks, key=lambda one: -one[1])
    return (
        f"{len(found)} interactions of 16 ms and more: worst {max(durations):.0f} ms,"
        f" 98th percentile {nth_percentile(durations, 98):.0f} ms, middle {nth_percentile(durations, 50):.0f} ms\n    "
        + "\n    ".join(told)
        + f"\n    {len(long)} long tasks: {', '.join(f'{name} {ms} ms' for name, ms in long[:6])}"
    )


@pytest.mark.benchmark
def test_every_press_is_answered_within_200_ms(phone: tuple[Page, LiveServer, list[str]]) -> None:
    page, _, tags = phone
    page.evaluate(PREPARE, [JOBS, BARROW])
    page.evaluate(WATCH)
    hand = Hand(page)
    print(f"\n{TREES} trees, {ROUNDS} rounds, slowed {SLOWED_TIMES} times")
    walks: list[list[dict[str, Any]]] = []
    for number in range(WALKS):
        walk(hand, tags[100 + number])
        found, tasks = page.evaluate(TOLD)
        print(f"  walk {number + 1}: {summary(found, tasks)}")
        walks.append(found)
    # What other programs take only ever adds, so of each step its quietest walk is what the phone itself needs.
    steps = {one["step"] for found in walks for one in found if one["step"]}
    quietest = {step: min(worst_of(found, step) for found in walks) for step in steps}
    slowest = sorted(quietest.items(), key=lambda one: -one[1])
    print(f"  each step in its quietest walk: {', '.join(f'{step} {ms:.0f}' for step, ms in slowest[:8])} ms")
    assert len(steps) > 20, sorted(steps)
    assert slowest[0][1] < INP_MS_MAX


def worst_of(found: list[dict[str, Any]], step: str) -> float:
    """The longest interaction of one step of a walk; below the API's threshold nothing is told."""
    return max((float(one["ms"]) for one in found if one["step"] == step), default=0.0)
