"""A phone for tests: a page with the real store opened in it, and short words for what is done to it."""

from __future__ import annotations

import uuid
from typing import Any

from playwright.sync_api import Page

TIME = "2026-05-03T09:14:00+02:00"
OPEN = """async ([name, now]) => {
  const { openStore } = await import('/store/open.js');
  window.clockMs = now;
  window.store = await openStore({ name, ...(now === null ? {} : { now: () => window.clockMs }) });
  window.heard = [];
  store.subscribe((event) => heard.push(event));
}"""


class Phone:
    """The store of one page."""

    def __init__(self, page: Page, name: str = "leafwalk", now_ms: int | None = None) -> None:
        self.page = page
        page.evaluate(OPEN, [name, now_ms])

    def run(self, code: str, argument: Any = None) -> Any:
        """Evaluate an expression in which `store` is the store and `a` the argument; a StoreError comes as a dict."""
        return self.page.evaluate(
            """async ([code, a]) => {
              const work = new Function('a', `return (async () => (${code}))()`);
              return work(a).catch((error) => ({ error: error.kind ?? error.name, message: error.message,
                problems: error.problems ?? null }));
            }""",
            [code, argument],
        )

    def save(
        self, kind: str, fields: dict[str, Any], record: str | None = None, photos: list[str] | None = None
    ) -> Any:
        return self.run(
            "store.records.save(a.kind, a.record, a.fields, { photos: a.photos })",
            {"kind": kind, "record": record, "fields": fields, "photos": photos or []},
        )

    def fields(self, kind: str, record: str) -> dict[str, Any] | None:
        return self.run("(await store.records.get(a[0], a[1]))?.fields ?? null", [kind, record])

    def summary(self) -> dict[str, Any]:
        return self.run("store.outbox.summary()")

    def waiting(self) -> list[dict[str, Any]]:
        return self.run("store.outbox.list()")

    def take(
        self,
        records: list[dict[str, Any]] = (),
        results: list[dict[str, Any]] = (),
        cursor: str = "1",
        epoch: str = "first",
        more: bool = False,
    ) -> Any:
        """Let the store take in an answer to a request made from where it stands now, holding all that waits."""
        answer = {"records": list(records), "results": list(results), "cursor": cursor, "epoch": epoch, "more": more}
        return self.run(
            """store.outbox.applyAnswer(a, { epoch: await store.settings.get('epoch'),
              cursor: await store.settings.get('cursor'), changes: await store.outbox.next(5000, 1e9) })""",
            answer,
        )

    def hold_photo(self, text: str = "a leaf") -> str:
        """Keep bytes as a photo of a form that is not saved yet; their fingerprint."""
        return self.run(
            """(async () => {
              const bytes = new TextEncoder().encode(a).buffer;
              const digest = new Uint8Array(await crypto.subtle.digest('SHA-256', bytes));
              const sha256 = Array.from(digest, (byte) => byte.toString(16).padStart(2, '0')).join('');
              await store.photos.hold({ bytes, sha256, type: 'image/jpeg', taken_at: '2026-05-03T09:14:00+02:00' });
              return sha256;
            })()""",
            text,
        )


def new_id() -> str:
    return str(uuid.uuid4())


def record(kind: str, fields: dict[str, Any], identity: str | None = None) -> dict[str, Any]:
    """A record as a pulled page has it."""
    return {"kind": kind, "id": identity or new_id(), "fields": fields}


def stored(*change_ids: str) -> list[dict[str, Any]]:
    return [{"id": change, "outcome": "stored"} for change in change_ids]


def refused(change: str, field: str, message: str) -> dict[str, Any]:
    errors = [{"field": field, "message": message}]
    return {"id": change, "outcome": "refused", "problem": {"title": "Refused", "status": 422, "errors": errors}}
