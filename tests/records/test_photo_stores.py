"""What every store of photos must do, in a folder and in a bucket; and what each does when it is disturbed."""

from __future__ import annotations

import hashlib
import os
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from datetime import timedelta
from pathlib import Path

import pytest

from server.errors import NotFound, Refused, Unavailable
from server.records import photo_bucket
from server.records.photo_bucket import PhotoBucket
from server.records.photo_files import PhotoFolder, PhotoStore, SmallCopies
from server.records.photo_stores import photos_at
from tests.support.server import run_leafwalk

DATA = b"a photo" * 1000
SHA256 = hashlib.sha256(DATA).hexdigest()
OTHER = hashlib.sha256(b"another").hexdigest()


@pytest.fixture(params=["home", "shared", "bucket"])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> str | None:
    """Where photos are kept: in the home, in a folder that servers share, in a bucket."""
    if request.param == "shared":
        (tmp_path / "shared").mkdir()
    return {"home": lambda: None, "shared": lambda: str(tmp_path / "shared")}.get(
        request.param, lambda: str(request.getfixturevalue("bucket"))
    )()


@pytest.fixture
def store(address: str | None, home: Path, sqlite_collection: str) -> PhotoStore:
    """An empty store."""
    return photos_at(address, home)


def test_what_was_kept_is_read_again_by_any_server(store: PhotoStore, address: str | None, home: Path) -> None:
    assert not store.has(SHA256)
    with pytest.raises(NotFound):
        store.read(SHA256)
    store.keep(SHA256, DATA, 4, 3)
    store.keep(SHA256, b"sent once more", 4, 3)
    for each in (store, photos_at(address, home)):
        assert each.has(SHA256)
        assert each.read(SHA256) == each.find(SHA256) == DATA
    assert store.find(OTHER) is None
    store.put(OTHER, b"no word in the database")
    assert not store.has(OTHER)
    assert sorted(store.names()) == sorted([SHA256, OTHER])


def test_a_smaller_copy_is_made_once_and_of_kept_photos_alone(store: PhotoStore) -> None:
    made: list[int] = []

    def make(data: bytes, width_px: int) -> bytes:
        made.append(width_px)
        return data[:width_px]

    with pytest.raises(NotFound):
        store.cached(SHA256, 7, make)
    store.keep(SHA256, DATA, 4, 3)
    assert [store.cached(SHA256, width, make) for width in (7, 7, 14, 7)] == [DATA[:7], DATA[:7], DATA[:14], DATA[:7]]
    assert made == [7, 14]
    assert list(store.names()) == [SHA256]


def test_a_photo_whose_bytes_are_gone_is_told_as_missing(store: PhotoStore, address: str | None, home: Path) -> None:
    store.keep(SHA256, DATA, 4, 3)
    if isinstance(store, PhotoFolder):
        (store.root / SHA256[:2] / f"{SHA256}.jpg").unlink()
    else:
        assert isinstance(store, PhotoBucket)
        store._store.delete(f"{SHA256[:2]}/{SHA256}.jpg")
    with pytest.raises(NotFound, match="restore it from a backup"):
        photos_at(address, home).read(SHA256)


def test_smaller_copies_leave_room_those_written_first_going_first(tmp_path: Path) -> None:
    small = SmallCopies(tmp_path, 1000)
    for number in range(10):
        small.put(f"{number}.jpg", b"x" * 100)
        os.utime(tmp_path / f"{number}.jpg", (number, number))
    assert len(list(tmp_path.iterdir())) == 10
    SmallCopies(tmp_path, 1000).put("10.jpg", b"x" * 100)
    assert {path.stem for path in tmp_path.iterdir()} == {str(number) for number in range(3, 11)}
    assert small.find("10.jpg") == b"x" * 100
    assert small.find("0.jpg") is None


def test_two_writers_and_a_reader_of_one_folder_see_whole_files_only(tmp_path: Path) -> None:
    one, two = PhotoFolder(tmp_path), PhotoFolder(tmp_path)
    versions = [bytes([number]) * 300_000 for number in range(2)]
    seen: set[bytes | None] = set()
    ended = threading.Event()

    def read() -> None:
        while not ended.is_set():
            seen.add(two.find(SHA256))

    def write(store: PhotoFolder, data: bytes) -> None:
        for _ in range(30):
            store.put(SHA256, data)

    reader = threading.Thread(target=read)
    writers = [threading.Thread(target=write, args=pair) for pair in zip((one, two), versions, strict=True)]
    for thread in (reader, *writers):
        thread.start()
    for thread in writers:
        thread.join()
    ended.set()
    reader.join()
    assert seen <= {None, *versions}
    assert len(seen) > 1
    assert list(one.names()) == [SHA256]
    assert not list(tmp_path.rglob(".arriving-*"))


def test_a_bucket_that_is_down_is_told_and_nothing_is_acknowledged(
    bucket: str, home: Path, sqlite_collection: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    with socket.socket() as unused:
        unused.bind(("127.0.0.1", 0))
        monkeypatch.setenv("AWS_ENDPOINT_URL", f"http://127.0.0.1:{unused.getsockname()[1]}")
        down = photos_at(bucket, home)
        with pytest.raises(Unavailable, match="does not answer"):
            down.keep(SHA256, DATA, 4, 3)
    assert not down.has(SHA256)
    began = time.monotonic()
    for call in (lambda: down.put(SHA256, DATA), lambda: down.find(SHA256), lambda: list(down.names())):
        with pytest.raises(Unavailable):
            call()
    assert time.monotonic() - began < 0.5


def test_a_bucket_that_does_not_exist_is_no_bucket_without_photos(bucket: str, home: Path) -> None:
    for call in (lambda gone: gone.find(SHA256), lambda gone: gone.put(SHA256, DATA), lambda gone: list(gone.names())):
        with pytest.raises(Unavailable):
            call(photos_at("s3://never-made", home))


@pytest.fixture
def silent_server() -> Iterator[str]:
    """A server that takes connections and never answers."""
    with socket.create_server(("127.0.0.1", 0)) as listening:
        taken: list[socket.socket] = []

        def take() -> None:
            with suppress(OSError):
                while True:
                    taken.append(listening.accept()[0])

        threading.Thread(target=take, daemon=True).start()
        yield f"http://127.0.0.1:{listening.getsockname()[1]}"
        listening.shutdown(socket.SHUT_RDWR)
        for each in taken:
            each.close()


def test_a_bucket_that_hangs_holds_few_threads_and_not_for_long(
    bucket: str, home: Path, silent_server: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("AWS_ENDPOINT_URL", silent_server)
    monkeypatch.setattr(photo_bucket, "TRY_TIMEOUT", timedelta(seconds=0.5))
    monkeypatch.setattr(photo_bucket, "RETRY_TIMEOUT", timedelta(seconds=0.5))
    monkeypatch.setattr(photo_bucket, "TURN_S_MAX", 0.1)
    hanging = photos_at(bucket, home)
    took: list[float] = []

    def ask() -> None:
        began = time.monotonic()
        with pytest.raises(Unavailable):
            hanging.find(SHA256)
        took.append(time.monotonic() - began)

    threads = [threading.Thread(target=ask) for _ in range(photo_bucket.AT_ONCE + 2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(10)
    assert len(took) == len(threads)
    # Those that found no turn were sent away at once; the others waited for the bucket, a bounded time.
    assert sum(seconds < 0.4 for seconds in took) == 2
    assert max(took) < 5


@pytest.mark.parametrize(
    "wrong", ["s3://", "s3://Photos", "s3://a", "s3://photos?x=1", "s3://photos/../x", "s3://u:p@b"]
)
def test_a_wrong_address_is_refused(wrong: str, bucket: str, home: Path) -> None:
    with pytest.raises(Refused, match="s3://bucket or s3://bucket/folder"):
        photos_at(wrong, home)


def test_a_wrong_server_and_a_folder_that_is_not_mounted_are_refused(
    bucket: str, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("AWS_ENDPOINT_URL", "nonsense")
    with pytest.raises(Refused, match="AWS_ENDPOINT_URL holds no address"):
        photos_at(bucket, home)
    with pytest.raises(Refused, match="mount or make it first"):
        photos_at(str(home / "nowhere"), home)


def test_without_the_library_the_message_says_what_to_install(home: Path) -> None:
    assert run_leafwalk(home, "devices").returncode == 0  # which makes the collection
    script = (
        "import sys; sys.modules['obstore'] = sys.modules['obstore.exceptions'] = None; from server.cli import main;"
        f" main(['--home', {str(home)!r}, '--photos', 's3://photos', 'check'])"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "pip install 'obstore" in done.stderr
