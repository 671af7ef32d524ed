"""The integrity check: the database, the log against the records it folds to, the counters, and the photos."""

from __future__ import annotations

import hashlib
import json
import re
from collections import deque
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from typing import Any

from server.config import Config
from server.records.copying import TABLES, read_rows
from server.records.database import DAMAGE, cause_of, execute, on_sqlite, select_in, snapshot
from server.records.models import RECORD_MODELS
from server.records.pedigree import tags_of_loops
from server.records.photo_files import PhotoStore
from server.records.photo_stores import photos_at
from server.records.writing import AT_FIELDS, LISTS, TRUTHS, field_names, seconds
from server.sync.merge import LoggedChange, fold

PAGE_RECORDS = 1000
# More of one sort than this helps nobody; the number says the rest.
NAMED_MAX = 5
RESTORE = "Restore the last good backup: leafwalk restore FILE"
REFETCH = "Take the file of that name out of a backup, which is a zip, into {}."
RETAG = "Give the tree a new tag; or restore the last good backup: leafwalk restore FILE"
UNBLOCK = "The disk fails, or may not be used: make room there or mend that, then check again."
MEND_PARENT = "Open one tree of each on a phone, and correct its parent or its batch."
_EPOCH = re.compile(r'"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}"')
# Tables whose rows no other question reads whole.
READ_THROUGH = ("device", "pairing", "parked_change")


@dataclass(frozen=True, slots=True)
class Fault:
    """Something that is not as it must be: what, how often, a few by name, and what to do."""

    sort: str
    message: str
    count: int
    named: list[str]
    advice: str


@dataclass(slots=True)
class Checked:
    """What was looked at, what is wrong with it, and what is worth knowing though nothing is wrong."""

    changes: int = 0
    records: int = 0
    photos: int = 0
    faults: list[Fault] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)

    def document(self) -> dict[str, Any]:
        """One JSON object; `ok` says that nothing is wrong."""
        return {"ok": not self.faults, **asdict(self)}

    def lines(self) -> list[str]:
        """The result in words, a line each."""
        lines = [f"{self.changes} changes fold to {self.records} records; {self.photos} photos were read."]
        for fault in self.faults:
            lines.append(f"WRONG  {fault.message}: {fault.count} ({', '.join(fault.named)})")
            lines.append(f"       → {fault.advice}")
        return [*lines, *self.remarks, *([] if self.faults else ["Nothing is wrong."])]


def check(config: Config) -> Checked:
    """Look at the open collection, all of it as of one moment, while others go on; changes nothing."""
    done = Checked()
    photos = photos_at(config.photos_url, config.home)
    # Asked first: a photo that arrives meanwhile would else lie there before the tables, as of one moment, know it.
    lying = set(photos.names())
    try:
        with snapshot():
            if on_sqlite():
                _check_file(done)
            else:
                _note(done, "reference", "A row names another that is missing", _without_device(), RESTORE)
            _check_counters(done)
            _check_settings(done)
            for kind in RECORD_MODELS:
                _note(done, "log", f"A {kind} is not what its changes fold to", _unlike_log(kind, done), RESTORE)
            _note(done, "log", "Changes whose record is missing", _without_record(), RESTORE)
            _note(done, "tag", "A tag does not lead to the tree that was given it", _stray_tags(), RETAG)
            _note(done, "parent", "Trees descend from themselves", _rings(), MEND_PARENT)
            _check_photos(done, photos, lying)
            for table in READ_THROUGH:
                deque(read_rows(table), maxlen=0)
    except DAMAGE as error:
        # What could not be read was not looked at, so this stands beside what was found before.
        advice = UNBLOCK if cause_of(error) else RESTORE
        _note(done, "file", "The database can't be read through", iter([str(error)]), advice)
    return done


def _note(done: Checked, sort: str, message: str, found: Iterator[str], advice: str) -> None:
    named, count = [], 0
    for name in found:
        count += 1
        if count <= NAMED_MAX:
            named.append(name)
    if count:
        done.faults.append(Fault(sort, message, count, named, advice))


def _check_file(done: Checked) -> None:
    """SQLite's own checks of its file and of the references."""
    broken = (row[0] for row in execute("PRAGMA integrity_check").fetchall() if row[0] != "ok")
    _note(done, "file", "The database file is damaged", broken, RESTORE)
    foreign = (f"{row[0]} row {row[1]}" for row in execute("PRAGMA foreign_key_check").fetchall())
    _note(done, "reference", "A row names another that is missing", foreign, RESTORE)


def _check_counters(done: Checked) -> None:
    count, newest = execute("SELECT count(*), coalesce(max(seq), 0) FROM change_log").fetchone()
    done.changes = count
    (counter,) = execute("SELECT value FROM counter WHERE name = 'seq'").fetchone() or ("gone",)
    if not count == newest == counter:
        text = f"counter {counter}, newest change {newest}, changes {count}"
        _note(done, "counter", "Counter and log disagree", iter([text]), RESTORE)
    behind = execute(
        "SELECT device.id FROM device JOIN change_log ON change_log.device = device.id GROUP BY device.id,"
        " device.last_n, device.last_effective_ms HAVING max(change_log.n) > device.last_n"
        " OR max(change_log.effective_ms) > device.last_effective_ms"
    )
    _note(done, "counter", "A device is behind its own changes", (row[0] for row in behind.fetchall()), RESTORE)


def _check_settings(done: Checked) -> None:
    told = dict(execute("SELECT name, value FROM setting").fetchall())
    epoch = told.pop("epoch", "none")
    if not _EPOCH.fullmatch(epoch):
        _note(done, "epoch", "The database has no identity", iter([epoch]), RESTORE)
    unread = (name for name, text in told.items() if not _is_json(text))
    _note(done, "setting", "A setting can't be read", unread, RESTORE)


def _is_json(text: str) -> bool:
    try:
        json.loads(text)
    except ValueError:
        return False
    return True


def _without_device() -> Iterator[str]:
    """What SQLite's own check of references finds, on PostgreSQL."""
    for table in ("change_log", "parked_change"):
        sql = f"SELECT DISTINCT device FROM {table} WHERE device NOT IN (SELECT id FROM device)"  # noqa: S608 our names
        yield from (f"{table} device {row[0]}" for row in execute(sql).fetchall())


def _unlike_log(kind: str, done: Checked) -> Iterator[str]:
    """Records of a kind whose row is not what their logged changes fold to."""
    names = ("id", "seq", "voided", *(("at_s",) if kind in AT_FIELDS else ()), *field_names(kind))
    head, last = f"SELECT {', '.join(names)} FROM {kind}", ""  # noqa: S608 our own names
    while rows := execute(f"{head} WHERE id > ? ORDER BY id LIMIT ?", (last, PAGE_RECORDS)).fetchall():
        last = rows[-1][0]
        done.records += len(rows)
        logs = _logs([row[0] for row in rows])
        yield from (row[0] for row in rows if not _agrees(kind, names, row, logs.get(row[0], [])))


def _logs(records: list[str]) -> dict[str, list[tuple[Any, ...]]]:
    """The log's entries by record."""
    logs: dict[str, list[tuple[Any, ...]]] = {}
    sql = "SELECT record, seq, kind, effective_ms, device, n, set_json, whole FROM change_log WHERE record IN"
    for record, *entry in select_in(sql, records):
        logs.setdefault(record, []).append(tuple(entry))
    return logs


def _agrees(kind: str, names: tuple[str, ...], row: tuple[Any, ...], entries: list[tuple[Any, ...]]) -> bool:
    """Whether a row is what its entries fold to; damage may have left text that is no JSON, or no time."""
    try:
        return bool(entries) and _expected(kind, names, entries) == _found(kind, names, row)
    except (ValueError, KeyError, TypeError, AttributeError):
        return False


def _expected(kind: str, names: tuple[str, ...], entries: list[tuple[Any, ...]]) -> dict[str, Any] | None:
    if any(entry[1] != kind for entry in entries):
        return None
    fields = fold([LoggedChange(when, device, n, json.loads(text)) for _, _, when, device, n, text, _ in entries])
    *_, text, whole = max(entries)
    if whole and json.loads(text) != fields:
        return None  # phones would be handed something else than the row
    at = AT_FIELDS.get(kind)
    row = {name: fields.get(name) for name in names if name != "id"}
    newest = max(entry[0] for entry in entries)
    return {**row, "seq": newest, "voided": "voided" in fields, **({"at_s": seconds(fields[at])} if at else {})}


def _found(kind: str, names: tuple[str, ...], row: tuple[Any, ...]) -> dict[str, Any]:
    found = dict(zip(names[1:], row[1:], strict=True))
    found["voided"] = bool(found["voided"])
    for names_of_sort, as_on_wire in ((TRUTHS, bool), (LISTS, json.loads)):
        for name in names_of_sort.get(kind, ()):
            if found[name] is not None:
                found[name] = as_on_wire(found[name])
    return found


def _without_record() -> Iterator[str]:
    rows = " UNION ALL ".join(f"SELECT id FROM {kind}" for kind in RECORD_MODELS)  # noqa: S608 our own names
    sql = f"SELECT DISTINCT record FROM change_log WHERE record NOT IN ({rows})"  # noqa: S608 our own names
    return (row[0] for row in execute(sql).fetchall())


def _stray_tags() -> Iterator[str]:
    """Codes, replaced ones too, that lead elsewhere than the log says; blanks lead nowhere in both."""
    told, found = _given_tags(), dict(execute("SELECT code, tree FROM tag").fetchall())
    wrong = {code for code in told.keys() | found.keys() if told.get(code) != found.get(code)}
    for tag, tree in execute("SELECT tag, id FROM tree WHERE NOT voided").fetchall():
        if found.get(tag) != tree:
            wrong.add(tag)
    return iter(sorted(wrong))


def _given_tags() -> dict[str, str]:
    """The tree that each code was given to last, by the log: as `sync/push.py` binds them, change by change."""
    given: dict[str, str] = {}
    states: dict[str, dict[str, tuple[Any, ...]]] = {}
    sql = "SELECT record, effective_ms, device, n, set_json FROM change_log WHERE kind = 'tree' ORDER BY seq"
    for tree, *order, text in execute(sql).fetchall():
        fields, state = _read_fields(text), states.setdefault(tree, {})
        for name in ("tag", "voided"):
            if name in fields:
                state[name] = max(state.get(name, ()), (*order, fields[name]))
        if fields.get("tag"):
            given[fields["tag"]] = tree
        if "tag" in state and not ("voided" in state and state["voided"][-1]):
            given[state["tag"][-1]] = tree
    return given


def _read_fields(text: str) -> dict[str, Any]:
    """What a change sets; nothing where damage left no JSON, which the comparison with the records tells."""
    try:
        fields = json.loads(text)
    except ValueError:
        return {}
    return fields if isinstance(fields, dict) else {}


def _rings() -> Iterator[str]:
    """Chains of parents that lead back to where they began, each once."""
    rings = (tags for tags in tags_of_loops().values() if tags[0] == min(tags))
    return (" from ".join([*tags, tags[0]]) for tags in rings)


def _check_photos(done: Checked, photos: PhotoStore, lying: set[str]) -> None:
    missing, damaged, known = [], [], set[str]()
    columns = [each.column_name for each in TABLES["photo_file"]._meta.sorted_fields]
    for row in read_rows("photo_file"):
        told = dict(zip(columns, row, strict=True))
        known.add(told["sha256"])
        data = photos.find(told["sha256"])
        if data is None:
            missing.append(told["sha256"])
        elif len(data) != told["size_bytes"] or hashlib.sha256(data).hexdigest() != told["stored_sha256"]:
            damaged.append(told["sha256"])
        done.photos += 1
    refetch = REFETCH.format(photos.where or "the folder “photos” of the home")
    _note(done, "photo", "A photo's file is missing", iter(missing), refetch)
    _note(done, "photo", "A photo's file is damaged", iter(damaged), refetch)
    if photos.where:
        done.remarks.append(f"The photos were read from {photos.where}.")
    noted = {row[0] for row in execute("SELECT DISTINCT sha256 FROM photo WHERE NOT voided").fetchall()} - known
    stray = lying - known
    if stray & noted:
        # A power cut between file and row leaves this too, and then the phone still has the photo to send.
        done.remarks.append(
            f"Photos whose file is here, but that the database does not know as here: {len(stray & noted)}."
            " Their phones send them again; if one does not, restore a backup with photos"
        )
    if stray - noted:
        done.remarks.append(
            "Photo files that nothing names, left by a sync that broke off; harmless, they come again:"
            f" {len(stray - noted)}"
        )
    if noted - stray:
        done.remarks.append(f"Photos that are noted but still on a phone: {len(noted - stray)}")
