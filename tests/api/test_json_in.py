"""What is taken for JSON, and what is refused before a command sees it."""

import json

import pytest
from werkzeug.exceptions import BadRequest

from server.api.json_in import DEPTH_MAX, read_json
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
