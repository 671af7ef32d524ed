"""Which record a row is about, and what it would change there: rows that say nothing new change nothing."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from server import ids
from server.tables.cards import Stored
from server.tables.problems import Problems
from server.tables.rows import Row
from server.wording.said import say

# (field, stored value, row's value) -> whether they say the same.
Same = Callable[[str, Any, Any], bool]

NEW, CHANGED, UNCHANGED, WITHDRAWN = "new", "changed", "unchanged", "withdrawn"


@dataclass(slots=True)
class Step:
    """What is to be done about one row: `record` is the stored record's id (None: a new one), `set` what changes."""

    row: Row
    outcome: str
    record: str | None
    set: dict[str, Any]

    def name_new_record(self) -> None:
        """Give a new record its id."""
        self.record = ids.new_id()


def match(rows: Sequence[Row], stored: Sequence[Stored], key: tuple[str, ...], same: Same) -> list[Step]:
    """Pair rows and records of one key, in the order of the rows; each record is used once.

    A row that a record already agrees with leaves it alone, withdrawn ones included: an import brings nothing back.
    The others change the remaining records in use, one by one; what is left over is new.
    An empty cell says nothing, so it agrees with any value.
    """
    paired = _pair(rows, stored, key, same)
    taken = {record.id for record in paired.values()}
    in_use = iter([record for record in stored if not record.voided and record.id not in taken])
    steps = []
    for at, row in enumerate(rows):
        if (agreeing := paired.get(at)) is not None:
            steps.append(Step(row, WITHDRAWN if agreeing.voided else UNCHANGED, agreeing.id, {}))
        else:
            steps.append(_edit(row, next(in_use, None), key, same))
    return steps


def _pair(rows: Sequence[Row], stored: Sequence[Stored], key: tuple[str, ...], same: Same) -> dict[int, Stored]:
    """A record that agrees with it for each row, by its index: for as many rows as can have one.

    The row that says most chooses first, and takes the record that says least beside it; so what came from a row goes
    to that row again.
    """
    records = sorted(stored, key=lambda record: (record.voided, sum(v is not None for v in record.fields.values())))
    free, paired = list(records), dict[int, Stored]()

    def agrees(at: int, record: Stored) -> bool:
        return not differences(rows[at], record, key, same)

    chosen = sorted(range(len(rows)), key=lambda at: -len(rows[at].values))
    for at in chosen:
        if (agreeing := next((record for record in free if agrees(at, record)), None)) is not None:
            free.remove(agreeing)
            paired[at] = agreeing
    if free:
        _make_room([at for at in chosen if at not in paired], records, paired, agrees)
    return paired


def _make_room(
    without: Iterable[int], records: Sequence[Stored], paired: dict[int, Stored], agrees: Callable[[int, Stored], bool]
) -> None:
    """Let rows move on to other records that they agree with, where that leaves one for a row without (Berge 1957)."""
    holder = {record.id: at for at, record in paired.items()}
    no_way: set[str] = set()
    for start in without:
        reached: dict[str, int] = {}
        waiting = deque([start])
        while waiting:
            at = waiting.popleft()
            for record in records:
                if record.id in no_way or record.id in reached or not agrees(at, record):
                    continue
                reached[record.id] = at
                if record.id in holder:
                    waiting.append(holder[record.id])
                    continue
                _move_on(record, reached, paired, holder)
                reached.clear()
                waiting.clear()
                break
        # What led nowhere once leads nowhere later.
        no_way |= reached.keys()


def _move_on(record: Stored, reached: dict[str, int], paired: dict[int, Stored], holder: dict[str, int]) -> None:
    """Give a free record to the row that reached it, that row's own one to the row before it, and so on."""
    given: Stored | None = record
    while given is not None:
        at = reached[given.id]
        holder[given.id] = at
        left = paired.get(at)
        paired[at] = given
        given = left


def _edit(row: Row, record: Stored | None, key: tuple[str, ...], same: Same) -> Step:
    if record is None:
        return Step(row, NEW, None, row.values)
    return Step(row, CHANGED, record.id, differences(row, record, key, same))


def differences(row: Row, record: Stored, key: tuple[str, ...], same: Same) -> dict[str, Any]:
    """The row's values that the record does not have; key fields, by which it was found, are not compared."""
    return {
        name: value
        for name, value in row.values.items()
        if name not in key and not same(name, record.fields.get(name), value)
    }


def join(rows: Sequence[Row], key: tuple[str, ...], problems: Problems) -> Row:
    """Several rows about one card as one; a contradiction between them is a problem of the later row."""
    first = rows[0]
    values = dict(first.values)
    for row in rows[1:]:
        for name, value in row.values.items():
            if name not in key and values.setdefault(name, value) != value:
                twice = say(
                    "The same {key} stands in {file}, line {line}, with another {name}; keep one of the two, or give"
                    " them different names."
                )
                told = twice.filled(key=key[0], file=first.file, line=first.line, name=name)
                problems.add(row.file, row.line, name, told)
    return Row(first.file, first.line, values)
