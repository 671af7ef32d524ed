"""A home that speaks the wire for tests that need it to fail in chosen ways; the journeys use the real one."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from tests.webclient.files import Answer, FileServer, Request

REVOKED = {"type": "/problems/token-revoked", "title": "This device is not paired", "status": 401}


class FakeHome:
    """Keeps changes by id and records by kind and id; `fault` may answer in its place, before or after the work."""

    def __init__(self, files: FileServer) -> None:
        self.epoch = "first"
        self.changes: dict[str, dict[str, Any]] = {}
        self.log: list[dict[str, Any]] = []
        self.photos: dict[str, bytes] = {}
        self.requests: list[Request] = []
        self.refuse: Callable[[dict[str, Any]], str | None] = lambda change: None
        # Given a request: an answer instead of the work, or None. `after` gets the real answer and may replace it.
        self.before: Callable[[Request], Answer | None] = lambda request: None
        self.after: Callable[[Request, Answer], Answer] = lambda request, answer: answer
        self.overview = {"alerts": [], "trends": []}
        self.page_records_max = 10_000
        self._lock = threading.Lock()
        files.api = self.answer

    def answer(self, request: Request) -> Answer:
        with self._lock:
            self.requests.append(request)
        instead = self.before(request)
        if instead is not None:
            return instead
        with self._lock:
            answer = self._work(request)
        return self.after(request, answer)

    def sent(self) -> list[list[dict[str, Any]]]:
        """The changes of each sync request, in order of arrival."""
        return [request.json["changes"] for request in self.requests if request.path == "/api/v1/sync"]

    def _work(self, request: Request) -> Answer:
        path = request.path.removeprefix("/api/v1")
        if path == "/pair":
            told = {"device": "d1", "token": "secret", "role": "owner", "collection": "Test", "epoch": self.epoch}
            return Answer.of(told, 201)
        return self._for_paired(request, path)

    def _for_paired(self, request: Request, path: str) -> Answer:
        if request.headers.get("Authorization") != "Bearer secret":
            return Answer.of(REVOKED, 401)
        if path == "/sync":
            return Answer.of(self._sync(request.json))
        if path.startswith("/photos/"):
            return self._photo(request, path.rsplit("/", 1)[1])
        if path == "/overview":
            etag = f'"{len(self.log)}"'
            known = request.headers.get("If-None-Match") == etag
            return Answer(304) if known else Answer.of(self.overview, ETag=etag)
        return Answer.of({"type": "/problems/not-found", "title": "Not found", "status": 404}, 404)

    def _sync(self, body: dict[str, Any]) -> dict[str, Any]:
        results = [self._take(change) for change in body["changes"]]
        since = int(body["cursor"] or 0) if body["epoch"] == self.epoch else 0
        limit = min(body["limit"], self.page_records_max)
        page = self.log[since : since + limit]
        cursor = since + len(page)
        return {
            "epoch": self.epoch,
            "results": results,
            "records": page,
            "cursor": str(cursor),
            "more": cursor < len(self.log),
        }

    def _take(self, change: dict[str, Any]) -> dict[str, Any]:
        if change["id"] in self.changes:
            return {"id": change["id"], "outcome": "duplicate"}
        reason = self.refuse(change)
        if reason:
            problem = {"type": "about:blank", "title": reason, "status": 422, "errors": []}
            return {"id": change["id"], "outcome": "refused", "problem": problem}
        self.changes[change["id"]] = change
        self.log.append({"kind": change["kind"], "id": change["record"], "fields": change["set"]})
        return {"id": change["id"], "outcome": "stored"}

    def _photo(self, request: Request, sha256: str) -> Answer:
        if request.method == "HEAD":
            return Answer(200, headers={"ETag": f'"{sha256}"'}) if sha256 in self.photos else Answer(404)
        self.photos[sha256] = request.body
        return Answer(201)
