"""Every route under requests made from the API's own description: an answer or a problem, never a failure."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from server import ids
from server.app import create_app
from server.config import Config
from server.records.database import close_database, execute
from tests.support.fuzz import Request, requests_of
from tests.support.server import Visitor, visitor

EASY = settings(
    deadline=None,
    database=None,
    phases=[Phase.generate, Phase.shrink],
    suppress_health_check=list(HealthCheck),
)


@pytest.fixture(scope="module")
def phone(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Visitor]:
    """An owner's device on a small collection; what earlier examples left behind is part of the test."""
    home: Path = tmp_path_factory.mktemp("home")
    made = visitor(create_app(Config(home)).test_client(), "owner")
    place, variety = made.change("place", place="Yard", cover="open"), made.change("variety", variety="Brass Moon")
    made.stored(place, variety)
    for _ in range(3):
        tree = made.tree(place=place["record"], variety=variety["record"])
        made.stored(made.change("observation", tree=tree, seen_at=ids.now().isoformat(), leaves=40))
    yield made
    close_database()


def requests_to(phone: Visitor) -> st.SearchStrategy[Request]:
    document = phone.call("GET", "/openapi.json").json
    # A device that shuts itself out, or the one that prints thousands of tags, ends or slows the trial.
    del document["paths"]["/devices/{device}"]["delete"]
    known = {
        field: [row[0] for row in execute(f"SELECT id FROM {kind}")]
        for field, kind in {"tree": "tree", "variety": "variety", "place": "place", "to_place": "place"}.items()
    }
    return requests_of(document, known)


def never_fails(phone: Visitor, examples: int) -> None:
    """Send that many requests; each is answered, a problem as one, and a request that was refused left nothing."""

    @settings(EASY, max_examples=examples)
    @given(request=requests_to(phone))
    def send(request: Request) -> None:
        before = execute("SELECT count(*) FROM change_log").fetchone()[0]
        answer = phone.call(request.method, request.path, query_string=request.query, data=request.body)
        assert answer.status_code < 500, (request, answer.text)
        assert "Traceback" not in answer.text if answer.mimetype.startswith("text/") else True
        if answer.status_code >= 400:
            assert answer.mimetype == "application/problem+json", request
            assert request.method == "HEAD" or answer.json["detail"], request
            assert execute("SELECT count(*) FROM change_log").fetchone()[0] == before, request

    send()


def test_no_request_makes_the_server_fail(phone: Visitor) -> None:
    never_fails(phone, 400)


@pytest.mark.benchmark
def test_ten_thousand_requests(phone: Visitor) -> None:
    never_fails(phone, 10_000)
