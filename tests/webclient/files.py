"""Serves the web client's files as the real server does, for tests of single modules in a real browser."""

from __future__ import annotations

import http.server
import json
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

WEBCLIENT = Path(__file__).parents[2] / "webclient"
# The import map of index.html, without the app: a test imports the module that it looks at.
BENCH_PAGE = """<!doctype html><meta charset="utf-8"><title>bench</title><link rel="icon" href="data:,">
<script type="importmap">
{"imports":{"lit-html":"/vendor/lit-html/lit-html.js","lit-html/":"/vendor/lit-html/","idb":"/vendor/idb/index.js"}}
</script>
"""
MEDIA_TYPES = {
    ".js": "text/javascript",
    ".wasm": "application/wasm",
    ".css": "text/css",
    ".html": "text/html",
    ".svg": "image/svg+xml",
    ".webmanifest": "application/manifest+json",
    ".json": "application/json",
}


@dataclass
class Request:
    """One request to the API as it came in."""

    method: str
    path: str
    headers: dict[str, str]
    body: bytes

    @property
    def json(self) -> dict:
        return json.loads(self.body)


@dataclass
class Answer:
    """What the test's API says; `dropped` closes the connection instead, after the handler did its work."""

    status: int = 200
    body: bytes = b""
    headers: dict[str, str] = field(default_factory=dict)
    dropped: bool = False

    @classmethod
    def of(cls, data: object, status: int = 200, **headers: str) -> Answer:
        kind = "application/json" if status < 400 else "application/problem+json"
        return cls(status, json.dumps(data).encode(), {"Content-Type": kind, **headers})


class QuietServer(http.server.ThreadingHTTPServer):
    """Says nothing of clients that go away in the middle, as killed browsers do; other errors are printed."""

    daemon_threads = True

    def handle_error(self, request: object, client_address: object) -> None:
        if not isinstance(sys.exception(), ConnectionError):
            super().handle_error(request, client_address)


class FileServer:
    """Static files on 127.0.0.1, pages that a test adds, and an API that a test may put in."""

    def __init__(self) -> None:
        self.pages: dict[str, tuple[str, bytes]] = {"/bench": ("text/html", BENCH_PAGE.encode())}
        self.api: Callable[[Request], Answer] | None = None
        self.precache: dict[str, object] = {"version": "1", "files": {}}
        self.asked: list[str] = []
        self._server = QuietServer(("127.0.0.1", 0), self._handler())
        self.url = f"http://127.0.0.1:{self._server.server_port}"
        self._thread = threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.05})
        self._thread.start()

    def close(self) -> None:
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()

    def file(self, path: str) -> tuple[str, bytes] | None:
        """Media type and bytes of a page or file; the service worker gets its list put before it."""
        if path in self.pages:
            return self.pages[path]
        wanted = (WEBCLIENT / path.lstrip("/")).resolve()
        if not wanted.is_relative_to(WEBCLIENT) or not wanted.is_file():
            return None
        body = wanted.read_bytes()
        if path == "/sw.js":
            body = f"self.PRECACHE = {json.dumps(self.precache)};\n".encode() + body
        return MEDIA_TYPES.get(wanted.suffix, "application/octet-stream"), body

    def _handler(self) -> type[http.server.BaseHTTPRequestHandler]:
        files = self

        class Handler(http.server.BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def _serve(self) -> None:
                path = urlsplit(self.path).path
                body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
                files.asked.append(f"{self.command} {path}")
                if path.startswith("/api/") and files.api is not None:
                    self._send(files.api(Request(self.command, self.path, dict(self.headers), body)))
                    return
                found = files.file(path)
                if found is None:
                    self._send(Answer(404, b"not here", {"Content-Type": "text/plain"}))
                else:
                    self._send(Answer(200, found[1], {"Content-Type": found[0], "Cache-Control": "no-store"}))

            do_GET = do_POST = do_PUT = do_HEAD = do_DELETE = _serve  # noqa: N815 the library's names

            def _send(self, answer: Answer) -> None:
                if answer.dropped:
                    self.close_connection = True
                    return
                self.send_response(answer.status)
                for name, value in answer.headers.items():
                    self.send_header(name, value)
                self.send_header("Content-Length", str(len(answer.body)))
                self.end_headers()
                if self.command != "HEAD" and answer.status != 304:
                    self.wfile.write(answer.body)

            def log_message(self, *_: object) -> None:
                """Tests have their own words."""

        return Handler
