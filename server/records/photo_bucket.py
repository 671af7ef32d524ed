"""Photos in an S3-compatible bucket, through obstore: all waits are bounded, and a bucket that is down is told so."""

from __future__ import annotations

import logging
import os
import re
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from typing import TypeVar
from urllib.parse import urlsplit

from obstore.exceptions import BaseError
from obstore.store import S3Store

from server.errors import Refused, Unavailable
from server.records.photo_files import PhotoStore, SmallCopies, photo_name
from server.wording.said import say

Answer = TypeVar("Answer")
log = logging.getLogger("leafwalk")

CONNECT_TIMEOUT = timedelta(seconds=3)
# One try; a kept photo has about a megabyte.
TRY_TIMEOUT = timedelta(seconds=10)
RETRIES_MAX = 2
# No try begins later than this after the first.
RETRY_TIMEOUT = timedelta(seconds=10)
# So many threads of a server ask the bucket at once; a further one stays free for syncs while a bucket hangs.
AT_ONCE = 3
TURN_S_MAX = 1.0
# After a failure nobody waits for the bucket again for this long; a phone comes back after 20 s anyway.
REST_S = 10.0
# The rules of Amazon S3 for names of buckets, in short; the service itself judges the rest.
_BUCKET = re.compile(r"[a-z0-9][a-z0-9.-]{1,61}[a-z0-9]")
_PHOTO = re.compile(r"[0-9a-f]{2}/([0-9a-f]{64})\.jpg")
# Both names are the library's own.
_ENDPOINTS = ("AWS_ENDPOINT_URL", "AWS_ENDPOINT")
_NO_ENDPOINT = "AWS_ENDPOINT_URL holds no address; it is written https://host or https://host:port."
_NO_ADDRESS = (
    "The bucket's address is not understood. It is written s3://bucket or s3://bucket/folder; its server and keys are"
    " told by AWS_ENDPOINT_URL, AWS_REGION, AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY in the environment."
)


class PhotoBucket(PhotoStore):
    """Photos under `PREFIX/ab/abcd….jpg` of a bucket, as in a folder; small copies on this computer.

    Server and keys come from the library's own variables of the environment. What is stored there is signed with its
    SHA-256, so a photo that is cut short on its way is not taken.
    """

    def __init__(self, address: str, small: SmallCopies) -> None:
        super().__init__(small)
        self.where = address
        self._store = _opened(address)
        self._turns = threading.BoundedSemaphore(AT_ONCE)
        self._rests_until = 0.0

    def put(self, sha256: str, data: bytes) -> None:
        """Store a photo; it is there for good once this returns. Raises Unavailable when the bucket refuses."""
        self._ask(lambda: self._store.put(photo_name(sha256), data, use_multipart=False))

    def find(self, sha256: str) -> bytes | None:
        """A photo's bytes, None where the bucket has none. Raises Unavailable when the bucket doesn't answer."""
        try:
            return self._ask(lambda: self._store.get(photo_name(sha256)).bytes().to_bytes())
        except FileNotFoundError:
            return None

    def names(self) -> Iterator[str]:
        """The hashes under which photos lie. Raises Unavailable when the bucket doesn't answer."""
        pages = iter(self._store.list())
        while page := self._ask(lambda: next(pages, None)):
            for each in page:
                if found := _PHOTO.fullmatch(each["path"]):
                    yield found[1]

    def _ask(self, question: Callable[[], Answer]) -> Answer:
        """An answer of the bucket. Raises FileNotFoundError where it has no such photo, Unavailable for the rest."""
        with self._turn():
            try:
                return question()
            except (BaseError, FileNotFoundError) as error:
                if isinstance(error, FileNotFoundError) and "NoSuchBucket" not in str(error):
                    raise
                self._rests_until = time.monotonic() + REST_S
                log.warning("the bucket of the photos failed: %s", _why(error))
                raise Unavailable(_UNANSWERED) from error

    @contextmanager
    def _turn(self) -> Iterator[None]:
        if time.monotonic() < self._rests_until or not self._turns.acquire(timeout=TURN_S_MAX):
            raise Unavailable(_UNANSWERED)
        try:
            yield
        finally:
            self._turns.release()


_UNANSWERED = say(
    "The bucket of the photos does not answer, or not in time; the server's log says why. No photo was lost or kept;"
    " try again in a moment."
)


def _opened(address: str) -> S3Store:
    """The library's store; nothing is asked of the bucket yet."""
    bucket, prefix = bucket_and_prefix(address)
    try:
        return S3Store(
            bucket,
            prefix=prefix or None,
            client_options={
                **{"connect_timeout": CONNECT_TIMEOUT, "timeout": TRY_TIMEOUT},
                "allow_http": _endpoint().startswith("http://"),
            },
            retry_config={"max_retries": RETRIES_MAX, "retry_timeout": RETRY_TIMEOUT},
        )
    except (BaseError, ValueError) as error:
        raise Refused(f"The bucket can't be used ({_why(error)}). {_NO_ADDRESS}") from error


def bucket_and_prefix(address: str) -> tuple[str, str]:
    """The parts of an address `s3://bucket/prefix`. Raises Refused for one that is not understood."""
    parts = urlsplit(address)
    prefix = parts.path.strip("/")
    odd = parts.query or parts.fragment or {".", ".."} & set(prefix.split("/"))
    if parts.scheme != "s3" or odd or not _BUCKET.fullmatch(parts.netloc):
        raise Refused(_NO_ADDRESS)
    return parts.netloc, prefix


def _endpoint() -> str:
    """Where the environment says that the bucket's server is; looked at here, since the library would break off."""
    endpoint = next((os.environ[name] for name in _ENDPOINTS if os.environ.get(name)), "")
    if endpoint and not re.fullmatch(r"https?://[A-Za-z0-9.:\[\]-]+/?[\w./-]*", endpoint, re.ASCII):
        raise Refused(_NO_ENDPOINT)
    return endpoint


def _why(error: Exception) -> str:
    """The first sentence of the library's message, which goes on for pages; it names no key."""
    return " ".join(str(error).partition("Debug source")[0].split())[:300]
