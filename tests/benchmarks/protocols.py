"""What a device of each store does on the wire to bring its records home, and what a new one does to get them all.

Every device sends ids of its own making, looks at an outcome for each record, and may send everything twice without
harm. A new device ends with every record decoded. What is asked of each store:

- **ours**, as the phone does (`webclient/sync/run.js`): requests of 500 changes, whose answers also bring what is new
  since the cursor; a new device asks for pages of 2000 until there is no more. In one request is what the wire allows.
- **Kinto**, as its clients do: batches of 25 PUTs, its default; a new device asks for all records, which by default are
  one page. Nothing of it is on disk.
- **PouchDB**: CouchDB's replication protocol, in batches of 100 as PouchDB has by default: which revisions are missing,
  the documents under the device's own revisions, a checkpoint; a new device asks for a page of changes, their
  documents, and writes its checkpoint. `in_bulk` is the least that the server takes: one POST whose revisions the
  server makes (so a repeated one is a conflict, and nothing is known of what is there already), one GET of everything.
  No device that comes back syncs so; it is shown for comparison.

Sources: docs.kinto-storage.org (batch operations, pagination), docs.couchdb.org (replication protocol), pouchdb.com
(replication options).
"""

from __future__ import annotations

import base64
import hashlib
import uuid
from collections.abc import Iterator
from typing import Any

from server import ids
from tests.benchmarks.peers import Client
from tests.support.server import LiveServer

Row = dict[str, Any]
PHONE_CHANGES, PHONE_RECORDS = 500, 2000
KINTO_BATCH = 25
POUCHDB_BATCH = 100


def _parts(rows: list[Any], size: int) -> Iterator[list[Any]]:
    for at in range(0, len(rows), size):
        yield rows[at : at + size]


class Phone:
    """A device of ours on the real server, over HTTP."""

    def __init__(self, server: LiveServer) -> None:
        self.server = server
        paired = Client(server.url).call("POST", "/api/v1/pair", {"code": server.pair(), "device_name": "bench"})
        self.client = Client(server.url, {"Authorization": f"Bearer {paired['token']}"})
        self.n = 0
        self.epoch: str | None = None
        self.cursor: str | None = None

    def changes(self, kind: str, rows: list[Row]) -> list[Row]:
        """New records, as changes in the outbox."""
        made = []
        for row in rows:
            self.n += 1
            stamp = {"n": self.n, "kind": kind, "record": ids.new_id(), "edited_at": "2025-05-20T08:30:00+02:00"}
            made.append({"id": ids.new_id(), **stamp, "set": row})
        return made

    def exchange(self, changes: list[Row], limit: int = PHONE_RECORDS) -> tuple[int, bool]:
        """One request: every change must be stored; how many records came, and whether there are more."""
        body = {"protocol": 1, "epoch": self.epoch, "cursor": self.cursor, "limit": limit, "changes": changes}
        answer = self.client.call("POST", "/api/v1/sync", body)
        assert [each["id"] for each in answer["results"]] == [each["id"] for each in changes]
        assert all(each["outcome"] == "stored" for each in answer["results"])
        self.epoch, self.cursor = answer["epoch"], answer["cursor"]
        return len(answer["records"]), answer["more"]

    def push(self, changes: list[Row], size: int = PHONE_CHANGES) -> None:
        """Bring changes home, in requests of `size`."""
        for part in _parts(changes, size):
            self.exchange(part)

    def overview(self) -> None:
        """Get what home computed, as a phone does after each sync."""
        self.client.call("GET", "/api/v1/overview")

    def pull(self, limit: int = PHONE_RECORDS) -> int:
        """Get all there is, page by page; says how many records came."""
        count, more = 0, True
        while more:
            got, more = self.exchange([], limit)
            count += got
        return count


class KintoDevice:
    """A device of Kinto's."""

    def __init__(self, url: str) -> None:
        basic = "Basic " + base64.b64encode(b"bench:mark").decode()
        self.client = Client(url.removesuffix("/v1"), {"Authorization": basic})
        bucket = f"/buckets/b{uuid.uuid4().hex}"
        self.client.call("PUT", f"/v1{bucket}")
        self.client.call("PUT", f"/v1{bucket}/collections/o")
        self.place = f"{bucket}/collections/o/records"

    def push(self, rows: list[Row]) -> None:
        """Bring rows home."""
        for part in _parts(rows, KINTO_BATCH):
            requests = [{"path": f"{self.place}/{ids.new_id()}", "body": {"data": row}} for row in part]
            answer = self.client.call("POST", "/v1/batch", {"defaults": {"method": "PUT"}, "requests": requests})
            assert [each["status"] for each in answer["responses"]] == [201] * len(part)

    def pull(self) -> int:
        """Get all there is."""
        return len(self.client.call("GET", f"/v1{self.place}")["data"])


class PouchDevice:
    """A device that replicates with a fresh database behind express-pouchdb."""

    def __init__(self, url: str) -> None:
        self.client, self.name = Client(url), f"/o{uuid.uuid4().hex}"
        self.client.call("PUT", self.name)
        self.checkpoint = f"{self.name}/_local/{uuid.uuid4().hex}"
        self.checkpoint_rev: str | None = None

    def push(self, docs: list[Row]) -> None:
        """Bring documents home, as replication does."""
        self.checkpoint_rev = None
        for number, part in enumerate(_parts([_with_revision(doc) for doc in docs], POUCHDB_BATCH), 1):
            held = {doc["_id"]: [doc["_rev"]] for doc in part}
            missing = self.client.call("POST", f"{self.name}/_revs_diff", held)
            wanted = [doc for doc in part if doc["_id"] in missing]
            # Only failures are told of here: none is an acknowledgement of all.
            failed = self.client.call("POST", f"{self.name}/_bulk_docs", {"docs": wanted, "new_edits": False})
            assert failed == [] and len(wanted) == len(part)
            self._note(number * POUCHDB_BATCH)

    def pull(self) -> int:
        """Get all there is, as replication does."""
        since: Any = 0
        count = 0
        while True:
            asked = f"{self.name}/_changes?style=all_docs&since={since}&limit={POUCHDB_BATCH}"
            page = self.client.call("GET", asked)
            since = page["last_seq"]
            if not page["results"]:
                return count
            wanted = [{"id": each["id"], "rev": rev["rev"]} for each in page["results"] for rev in each["changes"]]
            got = self.client.call("POST", f"{self.name}/_bulk_get?revs=true&latest=true", {"docs": wanted})
            count += sum("ok" in doc for each in got["results"] for doc in each["docs"])
            self._note(since)

    def push_in_bulk(self, docs: list[Row]) -> None:
        """Bring documents home in one request, under revisions that the server makes."""
        answer = self.client.call("POST", f"{self.name}/_bulk_docs", {"docs": docs})
        assert len(answer) == len(docs) and all("rev" in each for each in answer)

    def pull_in_bulk(self) -> int:
        """Get all documents in one request."""
        return len(self.client.call("GET", f"{self.name}/_all_docs?include_docs=true")["rows"])

    def _note(self, seq: Any) -> None:
        body = {"last_seq": seq, **({"_rev": self.checkpoint_rev} if self.checkpoint_rev else {})}
        self.checkpoint_rev = self.client.call("PUT", self.checkpoint, body)["rev"]


def _with_revision(doc: Row) -> Row:
    """A document under its device's first revision."""
    digest = hashlib.md5(doc["_id"].encode(), usedforsecurity=False).hexdigest()
    return {**doc, "_rev": f"1-{digest}", "_revisions": {"start": 1, "ids": [digest]}}
