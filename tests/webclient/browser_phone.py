"""The real store and engine in a page, as a phone of the bad days: each tab has its own connection to one store."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from playwright.sync_api import Page

FLEET = """async () => {
  const [{ openStore }, { runOnce }, { HomeError }, { KINDS }] = await Promise.all([
    import('/store/open.js'), import('/sync/run.js'), import('/sync/home_error.js'), import('/core/shapes.js')]);
  const phones = new Map();
  let now_ms = 0;

  class Tab {
    constructor(store) {
      Object.assign(this, { store, awaited: null, running: false, wake: () => {} });
    }

    /** The request of the run once it makes one, or null once the run is over. */
    next() {
      return new Promise((resolve) => {
        this.wake = () => resolve(this.awaited?.request ?? null);
        if (this.awaited || !this.running) this.wake();
      });
    }

    start() {
      if (this.running) return null;
      this.running = true;
      const transport = {
        sync: (request) => new Promise((resolve, reject) => {
          this.awaited = { request, resolve, reject };
          this.wake();
        }),
        overview: async () => null,
      };
      runOnce({ store: this.store, transport, clock: { now: () => now_ms }, onProgress() {} }).then((outcome) => {
        this.running = false;
        this.outcome = outcome;
        this.wake();
      });
      return this.next();
    }

    receive(answer) {
      const { resolve, reject } = this.awaited;
      this.awaited = null;
      if (answer) resolve(answer);
      else reject(new HomeError('offline', 'no answer'));
      return this.next();
    }
  }

  window.fleet = {
    async open(name, tabs) {
      phones.get(name)?.forEach(({ store }) => store.close());
      phones.set(name, await Promise.all(Array.from({ length: tabs }, async () => (
        new Tab(await openStore({ name, now: () => now_ms }))))));
    },
    async save(name, at_ms, kind, record, set) {
      now_ms = at_ms;
      return (await phones.get(name)[0].store.records.save(kind, record, set)).n;
    },
    start: (name, tab) => phones.get(name)[tab].start(),
    async receive(name, tab, answer) {
      const request = await phones.get(name)[tab].receive(answer);
      const { outcome, running } = phones.get(name)[tab];
      if (!running && !['idle', 'offline'].includes(outcome.phase)) throw new Error(JSON.stringify(outcome));
      return request;
    },
    async view(name) {
      const { records } = phones.get(name)[0].store;
      return (await Promise.all(Object.keys(KINDS).map((kind) => records.list(kind, { voided: true })))).flat();
    },
    async pocket(name) {
      const { outbox } = phones.get(name)[0].store;
      return [(await outbox.summary()).unsent, (await outbox.parked()).map(({ change }) => change.n)];
    },
  };
}"""


class BrowserPhone:
    """One phone of a page's fleet."""

    def __init__(self, page: Page, name: str, tabs: int) -> None:
        self._page, self._name, self._tabs = page, name, tabs
        page.evaluate(f"window.fleet ? null : ({FLEET})()")
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
