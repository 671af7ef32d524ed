"""The web client as it is served: its files held in memory, a strict content policy, and the worker's list of them."""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
import posixpath
import re
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from flask import Blueprint, Response, request

from server.compacting import compacted

# Only files of these kinds leave the folder; everything else in it is for builders.
MIME_TYPES = {
    ".css": "text/css; charset=utf-8",
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".png": "image/png",
    ".svg": "image/svg+xml",
    ".wasm": "application/wasm",
    ".webmanifest": "application/manifest+json",
    ".woff2": "font/woff2",
}
INDEX, SERVICE_WORKER, VENDOR = "index.html", "sw.js", "vendor"
# Small files gain nothing, pictures and fonts are packed already.
GZIP_BYTES_MIN = 1024
PACKED = frozenset({".png", ".woff2"})
ENTRY = "app.js"
_ENTRY_SCRIPT = f'<script type="module" src="/{ENTRY}">'
_IMPORT_MAP = re.compile(r'<script type="importmap">(.*?)</script>', re.DOTALL)
# An import that is followed at once; one in brackets waits until it is asked for.
_IMPORTED = re.compile(r"""^(?:import|export)\b[^'"();]*?["']([^'"]+)["']""", re.MULTILINE)
_INLINE_SCRIPT = re.compile(r"<script(?![^>]*\ssrc=)[^>]*>(.*?)</script>", re.DOTALL)

SAFE_HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Permissions-Policy": "camera=(self), microphone=(), geolocation=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


@dataclass(frozen=True)
class ServedFile:
    """One file's bytes, as they were when the server started."""

    path: str
    data: bytes
    etag: str = field(init=False)

    def __post_init__(self) -> None:
        """The bytes' own hash is the tag that a browser compares."""
        object.__setattr__(self, "etag", hashlib.sha256(self.data).hexdigest()[:32])

    @property
    def integrity(self) -> str:
        """The bytes' hash as a browser compares it before it takes them in (W3C Subresource Integrity)."""
        return f"sha256-{base64.b64encode(hashlib.sha256(self.data).digest()).decode()}"

    @property
    def suffix(self) -> str:
        """The kind of file, with its dot."""
        return Path(self.path).suffix

    @cached_property
    def packed(self) -> bytes | None:
        """The bytes for a browser that takes gzip, where that is worth it."""
        if self.suffix in PACKED or len(self.data) < GZIP_BYTES_MIN:
            return None
        return gzip.compress(self.data, 6, mtime=0)


def read_files(folder: Path) -> dict[str, ServedFile]:
    """Every file of the web client that browsers may have, by its path below `folder`.

    A file is found by name in this table, never by joining a path, so that no address reaches outside.
    """
    files = {}
    for file in sorted(folder.rglob("*")):
        relative = file.relative_to(folder)
        hidden = any(part.startswith(".") or part == "node_modules" for part in relative.parts)
        if file.suffix in MIME_TYPES and not hidden and file.is_file():
            data = file.read_bytes()
            ours = relative.parts[0] != VENDOR
            files[relative.as_posix()] = ServedFile(relative.as_posix(), compacted(file.suffix, data) if ours else data)
    return files


def content_policy(index: str) -> str:
    """The Content-Security-Policy of the pages: our own files, and the inline import map by its hash."""
    hashes = [
        f"'sha256-{base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()}'"
        for script in _INLINE_SCRIPT.findall(index)
    ]
    return "; ".join(
        (
            "default-src 'none'",
            " ".join(["script-src 'self' 'wasm-unsafe-eval'", *hashes]),
            "style-src 'self'",
            "img-src 'self' blob: data:",
            "media-src 'self' blob:",
            "font-src 'self'",
            "connect-src 'self'",
            "worker-src 'self'",
            "manifest-src 'self'",
            "base-uri 'none'",
            "form-action 'self'",
            "frame-ancestors 'none'",
        )
    )


def page_with_preloads(files: dict[str, ServedFile], folder: Path) -> ServedFile:
    """The page, led by links to every script that the app begins with: they are fetched at once, not one by one."""
    page = files[INDEX].data.decode("utf-8")
    names: dict[str, str] = json.loads(_IMPORT_MAP.findall(page)[0])["imports"]
    needed: dict[str, None] = {}
    waiting = [ENTRY]
    while waiting:
        path = waiting.pop(0)
        if path not in needed and path in files:
            needed[path] = None
            found = _IMPORTED.findall((folder / path).read_text(encoding="utf-8"))
            waiting += [_resolved(each, path, names) for each in found]
    links = "".join(f'<link rel="modulepreload" href="/{path}">\n  ' for path in needed if path != ENTRY)
    return ServedFile(INDEX, page.replace(_ENTRY_SCRIPT, links + _ENTRY_SCRIPT).encode())


def _resolved(name: str, importer: str, names: dict[str, str]) -> str:
    """The path below the folder that an import means."""
    if name.startswith("."):
        return posixpath.normpath(posixpath.join(posixpath.dirname(importer), name))
    if name in names:
        return names[name].lstrip("/")
    head, _, rest = name.partition("/")
    return f"{names.get(head + '/', '')}{rest}".lstrip("/")


def worker_with_list(files: dict[str, ServedFile]) -> ServedFile:
    """The service worker, led by what it keeps for offline, with hashes, and a version that any change changes."""
    kept = {
        "/" if path == INDEX else f"/{path}": file.integrity for path, file in files.items() if path != SERVICE_WORKER
    }
    sums = "\n".join(f"{file.path} {file.etag}" for file in files.values())
    version = hashlib.sha256(sums.encode()).hexdigest()[:16]
    head = f"self.PRECACHE = {json.dumps({'version': version, 'files': kept})};\n"
    return ServedFile(SERVICE_WORKER, head.encode() + files[SERVICE_WORKER].data)


def make_pages(folder: Path) -> Blueprint:
    """The routes of the web client in `folder`."""
    files = read_files(folder)
    files[INDEX] = page_with_preloads(files, folder)
    policy = content_policy(files[INDEX].data.decode("utf-8"))
    pages = Blueprint("pages", __name__)

    def add(rule: str, file: ServedFile) -> None:
        def send(code: str = "") -> Response:  # a tag's code is read by the page itself
            return _answer(file, policy)

        pages.add_url_rule(rule, endpoint=rule.strip("/").replace(".", "_") or "index", view_func=send)

    for rule in ("/", "/t/<code>", "/T/<code>"):
        add(rule, files[INDEX])
    for path, file in files.items():
        if path == SERVICE_WORKER:
            add(f"/{path}", worker_with_list(files))
        elif path != INDEX:
            add(f"/{path}", file)
    return pages


def _answer(file: ServedFile, policy: str) -> Response:
    packed = file.packed if request.accept_encodings["gzip"] else None
    answer = Response(packed or file.data, content_type=MIME_TYPES[file.suffix])
    if packed:
        answer.headers["Content-Encoding"] = "gzip"
    answer.headers["Vary"] = "Accept-Encoding"
    # A worker is held to the policy of its own file, so every file carries it.
    answer.headers["Content-Security-Policy"] = policy
    # The service worker keeps copies for offline, by their hash, so nobody on the way may alter them; the browser's own
    # cache asks each time whether they still hold.
    answer.headers["Cache-Control"] = "no-cache, no-transform"
    answer.set_etag(f"{file.etag}-gz" if packed else file.etag)
    answer.make_conditional(request)
    return answer
