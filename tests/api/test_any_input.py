"""Whatever JSON a device sends: the answer is an outcome or a problem, never a failure of the server."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server import ids
from server.app import create_app
from server.config import Config
from server.records.database import close_database
from server.sync.fields import KINDS
from tests.support.fuzz import JSON, SCALAR, TEXT
from tests.support.server import Visitor, visitor

MOMENTS = st.sampled_from(
    [
        "2025-05-03T08:30:00+02:00",
        "0001-01-01T00:00:00Z",
        "1900-01-01T00:00:00+23:59",
        "9999-12-31T23:59:59-12:00",
        "2025-02-30T00:00:00Z",
        "2025-05-03T08:30:00+99:99",
        "2025-05-03T08:30:60Z",
    ]
)
FIELD = st.sampled_from([*sorted({name for kind in KINDS.values() for name in kind.fields}), "voided"])
CHANGE = st.fixed_dictionaries(
    {
        "id": st.uuids().map(str) | TEXT,
        "n": st.integers(),
        "kind": st.sampled_from(sorted(KINDS)) | TEXT,
        "record": st.sampled_from([ids.new_id() for _ in range(4)]),
        "edited_at": MOMENTS | TEXT,
        "set": st.dictionaries(FIELD | TEXT, SCALAR | MOMENTS | st.lists(SCALAR, max_size=3), max_size=6),
    }
)


@pytest.fixture(scope="module")
def phone(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Visitor]:
    """One device for all examples: what earlier ones left behind is part of the test."""
    home: Path = tmp_path_factory.mktemp("home")
    yield visitor(create_app(Config(home)).test_client(), "owner")
    close_database()


def post(phone: Visitor, path: str, value: Any) -> tuple[int, Any]:
    """Send a value as JSON; half surrogate pairs travel as escapes, as browsers send them."""
    answer = phone.call("POST" if path != "/settings" else "PUT", path, data=json.dumps(value))
    return answer.status_code, answer.json


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(changes=st.lists(CHANGE | JSON, min_size=1, max_size=8))
def test_every_change_gets_an_outcome(phone: Visitor, changes: list[Any]) -> None:
    status, answer = post(phone, "/sync", {"protocol": 1, "changes": changes})
    # A number that is too long, or nesting that is too deep, spoils the JSON as a whole.
    assert status in (200, 400), answer
    if status == 200:
        assert len(answer["results"]) == len(changes)
        assert {each["outcome"] for each in answer["results"]} <= {"stored", "duplicate", "refused"}
        assert all(("problem" in each) == (each["outcome"] == "refused") for each in answer["results"])


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(path=st.sampled_from(["/sync", "/settings", "/pairings"]), value=JSON)
def test_no_envelope_makes_the_server_fail(phone: Visitor, path: str, value: Any) -> None:
    status, answer = post(phone, path, value)
    assert status < 500, answer


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(body=st.binary(max_size=200))
def test_no_bytes_make_the_server_fail(phone: Visitor, body: bytes) -> None:
    assert phone.call("POST", "/sync", data=body).status_code < 500
