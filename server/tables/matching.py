"""Which record a row is about, and what it would change there: rows that say nothing new change nothing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
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
    left = sorted(stored, key=lambda record: record.voided)
    steps: list[Step | None] = []
    for row in rows:
        agreeing = next((record for record in left if not differences(row, record, key, same)), None)
        if agreeing is not None:
            left.remove(agreeing)
            steps.append(Step(row, WITHDRAWN if agreeing.voided else UNCHANGED, agreeing.id, {}))
        else:
            steps.append(None)
    in_use = iter([record for record in left if not record.voided])
    return [step or _edit(row, next(in_use, None), key, same) for row, step in zip(rows, steps, strict=True)]


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
