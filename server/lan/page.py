"""The page that walks a phone's owner through trusting our authority, and the little server that hands it out.

It is plain HTTP, since a phone that does not trust us yet can open nothing else; so it serves the page and the
certificate, which are both public, and nothing more.
"""

from __future__ import annotations

import asyncio
import base64
import hashlib
import socket
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from html import escape
from pathlib import Path

from qrcode import QRCode

from server.lan.accepting import LOST, accept_all
from server.lan.gate import Gate, Visit
from server.lan.heads import END_OF_HEAD, HEAD_BYTES_MAX, Malformed, read_request

CERTIFICATE_PATH = "/leafwalk-authority.crt"
# Phones offer to install what comes under this type.
CERTIFICATE_TYPE = "application/x-x509-ca-cert"
CONNECTIONS_MAX, CONNECTIONS_PER_CLIENT_MAX = 32, 8
REQUEST_S_MAX, ANSWER_S_MAX = 5, 30
REASONS = {200: "OK", 404: "Not Found", 405: "Method Not Allowed"}


@dataclass(frozen=True, slots=True)
class Handout:
    """One thing to hand out: its type and bytes, and its policy where it is a page."""

    kind: str
    data: bytes
    policy: str = "default-src 'none'"


def installation_page(page_url: str, addresses: Sequence[str], fingerprint: str) -> Handout:
    """The page for a server at `addresses` (the best first), whose authority has this fingerprint."""
    folder = Path(__file__).parent
    style = (folder / "page.css").read_text(encoding="utf-8")
    pairs = fingerprint.split(":")
    lines = [" ".join(pairs[start : start + 8]) for start in range(0, len(pairs), 8)]
    links = "\n".join(f'<li><a href="{escape(url)}/">{escape(url)}</a></li>' for url in addresses)
    html = (folder / "page.html").read_text(encoding="utf-8")
    for mark, value in (
        ("STYLE", style),
        ("CERTIFICATE", CERTIFICATE_PATH),
        ("FINGERPRINT", "<br>".join(map(escape, lines))),
        ("ADDRESSES", links),
        ("PAGE_URL", escape(page_url)),
        ("QR_CODE", qr_svg(page_url)),
    ):
        html = html.replace(f"[[{mark}]]", value)
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    return Handout("text/html; charset=utf-8", html.encode(), f"{policy}; frame-ancestors 'none'")


def qr_svg(text: str) -> str:
    """A square code as an SVG drawing with its quiet zone, dark on white whatever the page's colours."""
    code = QRCode(border=4)
    code.add_data(text)
    rows = code.get_matrix()
    dark = "".join(f"M{x} {y}h1v1h-1z" for y, row in enumerate(rows) for x, is_dark in enumerate(row) if is_dark)
    size = len(rows)
    return (
        f'<svg viewBox="0 0 {size} {size}" role="img" aria-label="Square code with the address of this page">'
        f'<path fill="#fff" d="M0 0h{size}v{size}h-{size}z"/><path fill="#000" d="{dark}"/></svg>'
    )


class PageServer:
    """Hands out what `handouts` names, by path."""

    def __init__(self) -> None:
        self.handouts: dict[str, Handout] = {}

    async def serve(self, listening: socket.socket) -> None:
        """Take connections until cancelled; each gets one answer."""
        await accept_all(listening, Gate(CONNECTIONS_MAX, CONNECTIONS_PER_CLIENT_MAX), self._serve_one)

    async def _serve_one(self, connection: socket.socket, _visit: Visit) -> None:
        try:
            reader, writer = await asyncio.open_connection(sock=connection, limit=HEAD_BYTES_MAX)
        except BaseException:
            connection.close()
            raise
        try:
            async with asyncio.timeout(REQUEST_S_MAX):
                head = read_request(await reader.readuntil(END_OF_HEAD))
            async with asyncio.timeout(ANSWER_S_MAX):
                writer.write(self._answer(head.method, head.target.decode("ascii")))
                await writer.drain()
                writer.write_eof()
                # The client closes when it has read all; then nothing that it wrote is left unread.
                await reader.read(HEAD_BYTES_MAX)
        except (Malformed, asyncio.LimitOverrunError):
            writer.write(b"HTTP/1.1 400 Bad Request\r\nContent-Length: 0\r\nConnection: close\r\n\r\n")
        finally:
            writer.close()
            with suppress(*LOST):
                await writer.wait_closed()

    def _answer(self, method: bytes, target: str) -> bytes:
        handout = self.handouts.get(target.partition("?")[0])
        status = 404 if handout is None else 200
        if method not in (b"GET", b"HEAD"):
            status, handout = 405, None
        shown = handout or Handout("text/plain; charset=utf-8", f"{REASONS[status]}\n".encode())
        headers = {
            "Content-Type": shown.kind,
            "Content-Length": str(len(shown.data)),
            "Content-Security-Policy": shown.policy,
            "X-Content-Type-Options": "nosniff",
            "Referrer-Policy": "no-referrer",
            "Cache-Control": "no-store",
            "Connection": "close",
        }
        if status == 405:
            headers["Allow"] = "GET, HEAD"
        lines = [f"HTTP/1.1 {status} {REASONS[status]}", *(f"{name}: {value}" for name, value in headers.items())]
        return "\r\n".join(lines).encode() + END_OF_HEAD + (b"" if method == b"HEAD" else shown.data)
