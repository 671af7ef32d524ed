"""What is taken for JSON, and what is refused before a command sees it."""

import json
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from werkzeug.exceptions import BadRequest

from server.api.json_in import DEPTH_MAX, _read_strictly, read_json
from tests.support.server import Visitor

# What a strict reader refuses: RFC 8259 for form, RFC 7493 (I-JSON) for unique keys and exact numbers.
BAD = {
    "empty": b"",
    "cut off": b'{"protocol":1',
    "two values": b'{"protocol":1} {}',
    "not UTF-8": b'{"protocol":1,"epoch":"\xff"}',
    "UTF-16": '{"protocol":1}'.encode("utf-16"),
    "byte order mark": b'\xef\xbb\xbf{"protocol":1}',
    "NaN": b'{"protocol":NaN}',
    "Infinity": b'{"protocol":-Infinity}',
    "too large a number": b'{"protocol":1e999}',
    "a huge integer": b'{"protocol":' + b"9" * 5000 + b"}",
    "a long integer": b'{"protocol":' + b"9" * 30 + b"}",
    "a key twice": b'{"protocol":1,"protocol":1}',
    "a key twice, spaced": b'{"changes":[{"id" : 1, "id"\n:2}]}',
    "a key twice, once written with an escape": b'{"protocol":1,"proto\\u0063ol":1}',
    "a key twice beside escaped colons": b'{"a":1,"a":2,"b":"\\u003a\\u003A"}',
    "a key twice with members within": b'{"a":{"b":1,"c":":"},"a":":::"}',
    "deep lists": b"[" * 60_000,
    "deep closed lists": b"[" * 30_000 + b"]" * 30_000,
    "deep objects": b'{"a":' * 10_000 + b"1" + b"}" * 10_000,
    "rather deep": b"[" * 200 + b"]" * 200,
    "raw control character": b'{"epoch":"a\x00b"}',
    "single quotes": b"{'protocol':1}",
}


@pytest.mark.parametrize("body", BAD.values(), ids=BAD.keys())
def test_what_is_no_strict_json_is_refused(body: bytes) -> None:
    with pytest.raises(BadRequest) as caught:
        read_json(body)
    assert caught.value.description


def test_a_sender_of_bad_json_is_told_in_problem_details(owner: Visitor) -> None:
    for name, body in BAD.items():
        answer = owner.call("POST", "/sync", data=body, content_type="application/json")
        assert (answer.status_code, answer.mimetype) == (400, "application/problem+json"), name
        assert answer.json["detail"]


@pytest.mark.parametrize("value", [{}, [], "ü", 12, -1.5e-3, None, True, {"a": [{"b": [1]}]}, 2**53 - 1])
def test_what_json_can_say_is_read_as_the_standard_library_reads_it(value: object) -> None:
    assert read_json(json.dumps(value).encode()) == value


def test_depth_is_bounded_at_the_stated_number_of_levels() -> None:
    assert read_json(b"[" * DEPTH_MAX + b"]" * DEPTH_MAX)
    with pytest.raises(BadRequest):
        read_json(b"[" * (DEPTH_MAX + 1) + b"]" * (DEPTH_MAX + 1))


def test_json_of_the_wrong_shape_is_refused(owner: Visitor) -> None:
    for body in (b"[]", b"null", b'"text"', b"7", b'{"protocol":"1"}', b'{"protocol":true}', b"{}"):
        answer = owner.call("POST", "/sync", data=body)
        assert answer.status_code == 422, body
        assert answer.json["errors"], body


def test_half_a_surrogate_pair_is_refused_where_no_field_judges_it(owner: Visitor) -> None:
    answer = owner.call("PUT", "/settings", data=b'{"collection":"a\\ud800"}')
    assert answer.status_code == 422
    assert owner.call("PUT", "/settings", data=b'{"collection":"a\\u0000"}').status_code == 422
    assert owner.call("PUT", "/settings", data=b'{"collection":"\\ud83c\\udf43"}').json["collection"] == "🍃"


# Text as a careless or hostile sender may write it: keys twice, colons and escapes within text, numbers of any length.
_TEXTS = st.sampled_from(
    ['"a"', '"b"', '":"', '"\\u0061"', '"\\u003a"', '"\\u003A"', '"\\\\u003a"', '"\\\\"', '"\\":"', '"ü:"', '"\\ud800"']
)
_NUMBERS = st.sampled_from(
    ["0", "-0", "1.50", "1e3", "9" * 18, "9" * 20, "9" * 21, "0.30000000000000004", "1e999", "NaN"]
)
_SPACES = st.sampled_from(["", " ", "\n"])


def _containers(inner: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    members = st.lists(st.tuples(_TEXTS, _SPACES, inner), max_size=4)
    objects = members.map(lambda found: "{" + ",".join(f"{key}{space}:{value}" for key, space, value in found) + "}")
    return objects | st.lists(inner, max_size=4).map(lambda found: f"[{','.join(found)}]")


def _outcome(read: Callable[[bytes], object], body: bytes) -> tuple[str, str]:
    try:
        return "read", repr(read(body))
    except BadRequest as refused:
        return "refused", str(refused.description)


@settings(max_examples=1000)
@given(st.recursive(_TEXTS | _NUMBERS, _containers, max_leaves=12))
def test_the_quick_reader_says_what_the_strict_one_says(text: str) -> None:
    body = text.encode()
    assert _outcome(read_json, body) == _outcome(_read_strictly, body)
