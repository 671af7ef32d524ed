"""Reading heads: what two readers could take for two things is refused, and waitress reads on as the relay does."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from waitress.adjustments import Adjustments
from waitress.parser import HTTPRequestParser

from server.lan.heads import HEADERS_MAX, Body, Malformed, read_answer, read_request


def head(*lines: str, first: str = "POST /api/v1/sync HTTP/1.1") -> bytes:
    return "\r\n".join([first, "Host: leafwalk.local", *lines, "", ""]).encode("latin-1")


@pytest.mark.parametrize(
    ("lines", "status"),
    [
        (("Content-Length: 5", "Transfer-Encoding: chunked"), 400),
        (("Content-Length: 5", "Content-Length: 6"), 400),
        (("Content-Length: 5", "Content-Length: 5"), 400),
        (("Content-Length: +5",), 400),
        (("Content-Length: 0x5",), 400),
        (("Content-Length: 5, 5",), 400),
        (("Content-Length: -1",), 400),
        (("Content-Length: ",), 400),
        (("Content-Length : 5",), 400),
        (("Transfer-Encoding: chunked, chunked",), 501),
        (("Transfer-Encoding: gzip, chunked",), 501),
        (("Transfer-Encoding: identity",), 501),
        (("Transfer-Encoding: xchunked",), 501),
        (("Transfer-Encoding: chunked", "Transfer-Encoding: chunked"), 400),
        (("Transfer-Encoding:\x0bchunked",), 400),
        (("X: a\nX-Forwarded-For: 1.2.3.4",), 400),
        (("X: a\rX-Forwarded-For: 1.2.3.4",), 400),
        (("X: a", " folded: b"), 400),
        (("no colon",), 400),
        ((": no name",), 400),
        (("Na me: x",), 400),
        (("X: \x00",), 400),
        (("Host: another",), 400),
        (tuple(f"X-{n}: y" for n in range(HEADERS_MAX)), 431),
    ],
)
def test_a_head_that_could_be_read_in_two_ways_is_refused(lines: tuple[str, ...], status: int) -> None:
    # The list follows RFC 9112, 6.3 and 11.2 (request smuggling), and 5.1 and 5.2 (names and folding).
    with pytest.raises(Malformed) as caught:
        read_request(head(*lines))
    assert caught.value.status == status


@pytest.mark.parametrize(
    "first",
    [
        *("GET / HTTP/2.0", "GET / HTTP/0.9", "GET /", "get / HTTP/1.1", "GET  / HTTP/1.1", "GET /a b HTTP/1.1"),
        *("GET http://elsewhere/ HTTP/1.1", "CONNECT elsewhere:443 HTTP/1.1", "GET * HTTP/1.1", "GET /\x7f HTTP/1.1"),
        "GET /" + "a" * 9000 + " HTTP/1.1",
    ],
)
def test_a_first_line_that_is_none_is_refused(first: str) -> None:
    with pytest.raises(Malformed):
        read_request(head(first=first))


def test_a_request_names_its_host() -> None:
    with pytest.raises(Malformed):
        read_request(b"GET / HTTP/1.1\r\n\r\n")


@pytest.mark.parametrize(
    "name",
    [
        *("X-Forwarded-For", "x-forwarded-for", "X_Forwarded_For", "X-Forwarded_For", "X-Forwarded-Proto"),
        *("X-Forwarded-Host", "X-Forwarded-Port", "X-Forwarded-By", "Forwarded", "X-Real-IP", "Upgrade", "TE"),
    ],
)
def test_only_the_relay_says_who_asks(name: str) -> None:
    sent = read_request(head(f"{name}: 9.9.9.9", "Accept: */*")).forwarded("10.0.0.7")
    assert b"9.9.9.9" not in sent
    assert sent.count(b"10.0.0.7") == 1
    assert b"\r\nAccept: */*\r\n" in sent


token = st.text("abcdefghXYZ-_0123456789", min_size=1, max_size=12)
value = st.text(st.characters(min_codepoint=0x20, max_codepoint=0xFF, blacklist_characters="\x7f"), max_size=20)
lines = st.lists(
    st.one_of(
        st.tuples(token, value),
        st.tuples(
            st.sampled_from(["Content-Length", "content-length", "Content_Length", "Transfer-Encoding", "Connection"]),
            st.sampled_from(["5", "05", "0", "chunked", "Chunked", " 7 ", "close", "keep-alive", "x, close"]),
        ),
        st.tuples(st.sampled_from(["X-Forwarded-For", "Forwarded", "X_FORWARDED_FOR"]), st.just("9.9.9.9")),
    ),
    max_size=8,
)


@given(lines=lines, version=st.sampled_from(["1.0", "1.1"]))
def test_waitress_reads_what_the_relay_sends_as_the_relay_has_read_it(
    lines: list[tuple[str, str]], version: str
) -> None:
    data = head(*(f"{name}: {text}" for name, text in lines), first=f"POST /x HTTP/{version}")
    try:
        read = read_request(data)
    except Malformed:
        return
    parser = HTTPRequestParser(Adjustments())
    sent = read.forwarded("10.0.0.7")
    assert parser.received(sent) == len(sent)
    assert parser.error is None
    assert parser.headers["X_FORWARDED_FOR"] == "10.0.0.7"
    assert "FORWARDED" not in parser.headers
    assert (parser.chunked, parser.content_length) == (read.body.chunked, read.body.length or 0)
    assert parser.connection_close == (not read.keep)
    assert parser.completed == read.body.is_empty


@pytest.mark.parametrize(
    ("lines", "method", "body", "keep"),
    [
        ("HTTP/1.1 200 OK\r\nContent-Length: 3", b"GET", Body(3), True),
        ("HTTP/1.1 200 OK\r\nContent-Length: 3", b"HEAD", Body(0), True),
        ("HTTP/1.1 304 Not Modified\r\nContent-Length: 3", b"GET", Body(0), True),
        ("HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked", b"GET", Body(None, True), True),
        ("HTTP/1.1 200 OK\r\nConnection: close\r\nContent-Length: 3", b"GET", Body(3), False),
        ("HTTP/1.0 200 OK", b"GET", Body(), False),
        ("HTTP/1.1 100 Continue", b"PUT", Body(0), True),
    ],
)
def test_the_length_of_an_answer(lines: str, method: bytes, body: Body, keep: bool) -> None:
    # RFC 9112, 6.3.
    answer = read_answer(f"{lines}\r\n\r\n".encode(), method)
    assert (answer.body, answer.keep) == (body, keep)
