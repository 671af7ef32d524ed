"""A server on loopback that speaks the S3 protocol (moto's, in a thread), and a bucket of it for the tests."""

from __future__ import annotations

import logging
import urllib.request
import uuid
from collections.abc import Iterator

import pytest

KEYS = {"AWS_ACCESS_KEY_ID": "grower", "AWS_SECRET_ACCESS_KEY": "hush-hush", "AWS_REGION": "us-east-1"}


@pytest.fixture(scope="session")
def s3_server() -> Iterator[str]:
    """The address of the server."""
    from moto.server import ThreadedMotoServer

    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    host, port = server.get_host_and_port()
    yield f"http://{host}:{port}"
    server.stop()


@pytest.fixture
def bucket(s3_server: str, monkeypatch: pytest.MonkeyPatch) -> str:
    """The address of a folder in an empty bucket, whose server and keys stand in the environment."""
    for name, value in {**KEYS, "AWS_ENDPOINT_URL": s3_server}.items():
        monkeypatch.setenv(name, value)
    name = f"photos-{uuid.uuid4().hex}"
    with urllib.request.urlopen(urllib.request.Request(f"{s3_server}/{name}", b"", method="PUT"), timeout=10) as answer:
        assert answer.status == 200
    return f"s3://{name}/our/trees"
