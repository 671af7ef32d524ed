"""The heads of requests and answers, read strictly (RFC 9112), so that relay and server can't read one differently."""

from __future__ import annotations

import re
from dataclasses import dataclass

HEAD_BYTES_MAX = 32 * 1024
HEADERS_MAX = 100
END_OF_HEAD = b"\r\n\r\n"
_REQUEST_LINE = re.compile(rb"([A-Z]{1,20}) (/[\x21-\x7e]{0,8000}) HTTP/(1\.[01])")
_STATUS_LINE = re.compile(rb"HTTP/1\.[01] ([1-5]\d\d)(?: .*)?")
_HEADER = re.compile(rb"([!#$%&'*+.^_`|~0-9A-Za-z-]{1,100}):[ \t]*([\t\x20-\x7e\x80-\xff]*)")
_LENGTH = re.compile(rb"\d{1,15}")
# These belong to one connection, or say who asks, which only the relay may say.
_DROPPED = frozenset(
    (
        *(b"connection", b"keep-alive", b"proxy-connection", b"proxy-authorization", b"te", b"trailer", b"upgrade"),
        *(b"forwarded", b"x-real-ip"),
    )
)
_DROPPED_START = b"x-forwarded-"

Headers = tuple[tuple[bytes, bytes], ...]


class Malformed(Exception):
    """What came is no HTTP that we take; `status` tells how to refuse it."""

    def __init__(self, reason: str, status: int = 400) -> None:
        super().__init__(reason)
        self.status = status


@dataclass(frozen=True, slots=True)
class Body:
    """How long a body is: so many bytes, or chunked, or (both missing) until the connection closes."""

    length: int | None = None
    chunked: bool = False

    @property
    def is_empty(self) -> bool:
        """Whether nothing follows the head."""
        return self.length == 0


@dataclass(frozen=True, slots=True)
class RequestHead:
    """A request's first line and headers; `keep` is whether its connection may serve another."""

    method: bytes
    target: bytes
    version: bytes
    headers: Headers
    body: Body
    keep: bool

    def forwarded(self, client: str) -> bytes:
        """The head as the server gets it, with the client's address in the one place that the server believes."""
        lines = [b"%s %s HTTP/%s" % (self.method, self.target, self.version)]
        lines += [b"%s: %s" % header for header in self.headers if not _is_dropped(header[0])]
        lines.append(b"X-Forwarded-For: " + client.encode("ascii"))
        lines.append(b"Connection: " + (b"keep-alive" if self.keep else b"close"))
        return b"\r\n".join(lines) + END_OF_HEAD


@dataclass(frozen=True, slots=True)
class AnswerHead:
    """An answer's head as it came, and how it goes on."""

    data: bytes
    status: int
    body: Body
    keep: bool


def read_request(data: bytes) -> RequestHead:
    """Parse a request's head with the empty line at its end. Raises Malformed."""
    first, headers = _split(data)
    match = _REQUEST_LINE.fullmatch(first)
    if match is None:
        raise Malformed("The request line is none.")
    method, target, version = match.groups()
    if len(_values(headers, b"host")) != 1:
        raise Malformed("A request names its host once.")
    body = _body(headers, version)
    tokens = _tokens(headers)
    keep = b"close" not in tokens if version == b"1.1" else False
    return RequestHead(method, target, version, headers, body or Body(length=0), keep)


def read_answer(data: bytes, method: bytes) -> AnswerHead:
    """Parse the head of an answer to a request with `method`. Raises Malformed."""
    first, headers = _split(data)
    match = _STATUS_LINE.fullmatch(first)
    if match is None:
        raise Malformed("The answer has no status.", 502)
    status = int(match.group(1))
    if method == b"HEAD" or status < 200 or status in (204, 304):
        body = Body(length=0)
    else:
        body = _body(headers, b"1.1") or Body()
    closes = b"close" in _tokens(headers) or (body.length is None and not body.chunked)
    return AnswerHead(data, status, body, not closes)


def _split(data: bytes) -> tuple[bytes, Headers]:
    first, *lines = data.removesuffix(END_OF_HEAD).split(b"\r\n")
    if len(lines) > HEADERS_MAX:
        raise Malformed(f"A head has at most {HEADERS_MAX} lines.", 431)
    headers = []
    for line in lines:
        match = _HEADER.fullmatch(line)
        if match is None:
            raise Malformed("A header line is none.")
        headers.append((match.group(1), match.group(2).strip(b" \t")))
    return first, tuple(headers)


def _body(headers: Headers, version: bytes) -> Body | None:
    """The body's length as the headers tell it; None when they say nothing."""
    lengths, codings = _values(headers, b"content-length"), _values(headers, b"transfer-encoding")
    if codings:
        if lengths or version != b"1.1" or len(codings) > 1:
            raise Malformed("The length of the body is told in two ways.")
        if codings[0].lower() != b"chunked":
            raise Malformed("Only the transfer coding “chunked” is known.", 501)
        return Body(chunked=True)
    if not lengths:
        return None
    if len(lengths) > 1 or not _LENGTH.fullmatch(lengths[0]):
        raise Malformed("The length of the body is no number.")
    return Body(length=int(lengths[0]))


def _values(headers: Headers, name: bytes) -> list[bytes]:
    return [value for each, value in headers if each.lower() == name]


def _tokens(headers: Headers) -> set[bytes]:
    return {token.strip().lower() for value in _values(headers, b"connection") for token in value.split(b",")}


def _is_dropped(name: bytes) -> bool:
    # An underscore reads like a hyphen once the server has made a variable of the name.
    lowered = name.lower().replace(b"_", b"-")
    return lowered in _DROPPED or lowered.startswith(_DROPPED_START) or b"_" in name
