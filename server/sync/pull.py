"""Handing records out: everything that changed since a cursor, in commit order, page by page."""

from __future__ import annotations

import heapq
import threading
from dataclasses import dataclass
from functools import cache
from itertools import islice
from typing import Any

import orjson

from server.errors import Refused
from server.records.database import database, execute, get_setting, read_counter, select_in
from server.records.models import RECORD_MODELS
from server.records.writing import LISTS, TRUTHS, field_names
from server.sync.recent import Found, Stretch
from server.wording.said import say

LIMIT_MAX = 5000


@dataclass(frozen=True, slots=True)
class Page:
    """Records in the order of the change that last touched them, each as JSON text, and where to go on."""

    texts: list[str]
    cursor: str
    more: bool

    @property
    def records(self) -> list[dict[str, Any]]:
        """The records as values: `kind`, `id`, `fields`."""
        return [orjson.loads(text) for text in self.texts]


class _Memory:
    """What all threads of this process remember of the log of one database: one reads on, the others wait for it."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._source: tuple[Any, str] | None = None  # the database and its epoch
        self._stretch = Stretch(0)

    def page(self, since: int, limit: int) -> Page:
        """What follows the change number `since`."""
        with self._lock:
            source, newest = (database.obj, get_setting("epoch")), read_counter()
            if since > newest:
                since = 0  # a cursor of a database that was since restored: offer everything again
            if since == newest:
                return Page([], str(newest), False)
            stretch = self._stretch
            if source != self._source or stretch.end > newest or not stretch.covers(since):
                self._source, self._stretch = source, (stretch := Stretch(since))
            found = stretch.after(since, limit + 1)
            if len(found) <= limit and stretch.end < newest:
                stretch.extend(*read_log(stretch.end, newest, limit + 1))
                found = stretch.after(since, limit + 1)
                stretch.trim()
            end = stretch.end
        cut = len(found) > limit
        texts = [text for _, text in found[:limit]]
        return Page(texts, str(found[limit - 1][0] if cut else end), cut or end < newest)


@cache
def _memory() -> _Memory:
    return _Memory()


def pull(cursor: str | None, limit: int) -> Page:
    """The records changed after `cursor` (None: all), at most `limit` of them; never within a transaction.

    Raises Refused for a cursor that we never gave.
    """
    return pull_since(read_cursor(cursor), limit)


def pull_since(since: int, limit: int) -> Page:
    """The same, after the change number that a cursor stands for.

    The counter is read first and bounds the page: a record that another writer touches meanwhile gets a higher
    number and comes with the next page.
    """
    return _memory().page(since, max(1, min(limit, LIMIT_MAX)))


def read_log(since: int, newest: int, limit: int) -> tuple[list[Found], int]:
    """At most `limit` of the records changed after `since` and up to `newest`, and up to which number that is all."""
    found = heapq.merge(*(_of_kind(kind, since, newest, limit + 1) for kind in RECORD_MODELS))
    page = list(islice(found, limit + 1))
    return page[:limit], page[limit - 1][0] if len(page) > limit else newest


def read_cursor(cursor: str | None) -> int:
    """The change number that a cursor stands for. Raises Refused for one that we never gave."""
    if cursor is None:
        return 0
    if not (cursor.isascii() and cursor.isdigit() and len(cursor) < 19):
        raise Refused.of("cursor", say("Not a cursor of this server; send null to start afresh."))
    return int(cursor)


def _of_kind(kind: str, since: int, newest: int, limit: int) -> list[Found]:
    """(seq, id, record as JSON text): mostly as the log has it, which is what a phone sent and costs least."""
    rows = execute(
        f"SELECT r.seq, r.id, l.set_json FROM {kind} r LEFT JOIN change_log l ON l.seq = r.seq AND l.whole"  # noqa: S608
        " WHERE r.seq > ? AND r.seq <= ? ORDER BY r.seq LIMIT ?",
        (since, newest, limit),
    ).fetchall()
    former = _former_tags([identity for _, identity, _ in rows]) if kind == "tree" else {}
    folded = _fields_of(kind, [identity for _, identity, text in rows if text is None or identity in former])
    for tree, codes in former.items():
        folded[tree]["former_tags"] = codes
    found = []
    for seq, identity, text in rows:
        fields = orjson.dumps(folded[identity]).decode() if identity in folded else text
        found.append((seq, identity, f'{{"kind":"{kind}","id":"{identity}","fields":{fields}}}'))
    return found


def _fields_of(kind: str, records: list[str]) -> dict[str, dict[str, Any]]:
    """The fields of some records of a kind, as their rows have them."""
    names = field_names(kind)
    sql = f"SELECT id, voided, {', '.join(names)} FROM {kind} WHERE id IN"  # noqa: S608 our own names
    found = {}
    for identity, voided, *values in select_in(sql, records):
        fields = {name: value for name, value in zip(names, values, strict=True) if value is not None}
        for of_kind, as_on_wire in ((TRUTHS, bool), (LISTS, orjson.loads)):
            for name in of_kind.get(kind, ()):
                if name in fields:
                    fields[name] = as_on_wire(fields[name])
        if voided:
            fields["voided"] = True
        found[identity] = fields
    return found


def _former_tags(trees: list[str]) -> dict[str, list[str]]:
    """The codes that trees in use had before, of those that had any; those of a withdrawn one may go to another."""
    former: dict[str, list[str]] = {}
    sql = (
        "SELECT g.tree, g.code FROM tag g JOIN tree t ON t.id = g.tree"
        " WHERE g.code <> t.tag AND NOT t.voided AND g.tree IN"
    )
    for tree, code in select_in(sql, trees):
        former.setdefault(tree, []).append(code)
    return former
