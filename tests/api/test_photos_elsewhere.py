"""Photos over HTTP that are kept in a bucket: what phones are told of it, and what backup, check and export do."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner
from flask import Flask
from PIL import Image

from server import home_lock
from server.api.photos import store
from server.app import create_app
from server.cli import main
from server.collection import open_collection
from server.config import Config
from server.keeping.backup import back_up
from server.keeping.checking import check
from server.keeping.restore import restore
from server.records import photo_bucket
from server.records.database import close_database
from server.records.photo_bucket import PhotoBucket
from server.records.photo_stores import photos_at
from server.tables.exporting import export_to
from tests.api.test_photos import jpeg, path_of
from tests.support.server import LiveServer, run_leafwalk, visitor

SEEN = "2026-05-03T08:30:00+02:00"


@pytest.fixture
def config(home: Path, bucket: str) -> Iterator[Config]:
    """A collection whose photos are in a bucket."""
    yield Config(home, None, bucket)
    close_database()
    home_lock.leave()


@pytest.fixture
def app(config: Config) -> Flask:
    """The application on it."""
    return create_app(config)


def test_a_photo_is_taken_once_the_bucket_has_it_and_not_before(
    app: Flask, config: Config, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(photo_bucket, "REST_S", 0.0)
    phone = visitor(app.test_client(), "helper")
    data = jpeg()
    path = path_of(data)
    with app.app_context():
        kept = store()
    assert isinstance(kept, PhotoBucket)
    up, down = kept._store, photos_at("s3://never-made", config.home)
    assert isinstance(down, PhotoBucket)
    kept._store = down._store
    refused = phone.call("PUT", path, data=data)
    assert (refused.status_code, refused.mimetype) == (503, "application/problem+json")
    assert int(refused.headers["Retry-After"]) > 0
    assert "bucket" in refused.json["detail"]
    assert phone.call("HEAD", path).status_code == 404
    # Counts don't wait for it.
    phone.stored(phone.change("photo", sha256=path.rpartition("/")[2], taken_at=SEEN))
    kept._store = up
    assert [phone.call("PUT", path, data=data).status_code for _ in range(2)] == [201, 200]
    assert Image.open(io.BytesIO(phone.call("GET", path).data)).size == (1200, 900)
    small = phone.call("GET", f"{path}?width=300").data
    assert not (config.home / "photos").exists()
    kept._store = down._store
    assert phone.call("GET", path).status_code == 503
    assert phone.call("GET", f"{path}?width=300").data == small


def test_backup_check_export_and_restore_know_the_bucket(config: Config, bucket: str, tmp_path: Path) -> None:
    phone = visitor(create_app(config).test_client(), "owner")
    photos = [jpeg(width) for width in (400, 410, 420)]
    for data in photos:
        assert phone.call("PUT", path_of(data), data=data).status_code == 201
        phone.stored(phone.change("photo", sha256=hashlib.sha256(data).hexdigest(), taken_at=SEEN))
    done = back_up(config, tmp_path / "whole.zip")
    assert done.photos == 3
    assert f"Its photos were read from {bucket}." in done.lines()
    assert check(config).lines()[-2:] == [f"The photos were read from {bucket}.", "Nothing is wrong."]
    exported = export_to(tmp_path / "lists", photos_at(bucket, config.home))
    assert (exported.photos, exported.photos_missing) == (3, 0)
    with (tmp_path / "lists" / "photos.csv").open() as file:
        assert {row["sha256"] for row in csv.DictReader(file)} == {hashlib.sha256(data).hexdigest() for data in photos}

    kept = photos_at(bucket, config.home)
    assert isinstance(kept, PhotoBucket)
    gone, bad = sorted(kept.names())[:2]
    kept._store.delete(f"{gone[:2]}/{gone}.jpg")
    kept.put(bad, b"damaged")
    assert [(fault.message, fault.named) for fault in check(config).faults] == [
        ("A photo's file is missing", [gone]),
        ("A photo's file is damaged", [bad]),
    ]
    assert bucket in check(config).faults[0].advice
    home_lock.leave()
    assert restore(config, tmp_path / "whole.zip").photos == 3
    open_collection(config)
    assert check(config).faults == []


def test_a_bucket_that_is_down_is_no_bucket_whose_photos_are_missing(
    app: Flask, config: Config, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    phone, data = visitor(app.test_client(), "owner"), jpeg()
    assert phone.call("PUT", path_of(data), data=data).status_code == 201
    monkeypatch.setenv("AWS_ENDPOINT_URL", "http://127.0.0.1:9")
    for command in (("check",), ("backup", str(tmp_path / "b.zip"))):
        done = CliRunner().invoke(main, ["--home", str(config.home), "--photos", str(config.photos_url), *command])
        assert (done.exit_code, done.stdout) == (1, ""), command
        assert "The bucket of the photos does not answer" in done.stderr
    assert list(tmp_path.glob("b*")) == []


def test_the_command_serves_with_a_bucket_that_its_environment_names(
    home: Path, bucket: str, monkeypatch: pytest.MonkeyPatch, launch_server: Callable[..., LiveServer]
) -> None:
    monkeypatch.setenv("LEAFWALK_PHOTOS", bucket)
    server, data = launch_server(home), jpeg()

    def send(method: str, path: str, body: bytes, token: str = "") -> bytes:
        headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}
        request = urllib.request.Request(f"{server.url}/api/v1{path}", body, headers, method=method)
        with urllib.request.urlopen(request, timeout=20) as answer:
            return bytes(answer.read())

    token = json.loads(send("POST", "/pair", json.dumps({"code": server.pair(), "device_name": "phone"}).encode()))[
        "token"
    ]
    send("PUT", path_of(data), data, token)
    assert list(photos_at(bucket, home).names()) == [hashlib.sha256(data).hexdigest()]
    assert not (home / "photos").exists()


@pytest.mark.parametrize(
    ("arguments", "status", "told"),
    [
        (("--photos", "ftp://here/photos", "devices"), 2, "it is a folder, or written s3://bucket/folder"),
        (("--photos", "s3://Our_Photos", "check"), 1, "The bucket's address is not understood"),
        (("--photos", "/no/such/folder", "check"), 1, "mount or make it first"),
        (("--photos", "s3://photos", "demo", "--no-serve"), 2, "leave --photos out"),
    ],
    ids=["scheme", "bucket", "folder", "demo"],
)
def test_a_wrong_place_for_photos_is_refused(home: Path, arguments: tuple[str, ...], status: int, told: str) -> None:
    open_collection(Config(home))
    done = CliRunner().invoke(main, ["--home", str(home), *arguments])
    close_database()
    home_lock.leave()
    assert (done.exit_code, done.stdout) == (status, "")
    assert told in done.stderr


def test_serve_takes_the_place_of_photos_behind_its_name(home: Path) -> None:
    done = run_leafwalk(home, "serve", "--port", "0", "--photos", "/no/such/folder")
    assert (done.returncode, done.stdout) == (1, "")
    assert "mount or make it first" in done.stderr
