"""What the rows of cards would make or change, before anything is taken in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from server.errors import TooLarge
from server.sync.fields import KINDS
from server.tables.cards import Cards, Stored
from server.tables.columns import Table
from server.tables.matching import CHANGED, UNCHANGED, WITHDRAWN, Same, Step, differences, join, match
from server.tables.problems import Problems
from server.tables.rows import Row, plan_key
from server.wording.said import say

CARD_ROWS_MAX = 100_000


def plan_cards(table: Table, rows: Iterator[Row], cards: Cards, problems: Problems) -> list[Step]:
    """Steps for varieties, places or trees; new cards can be found by name from here on."""
    name = table.key[0]
    groups: dict[tuple[str | None, str], list[Row]] = {}
    for count, row in enumerate(rows, 1):
        if count > CARD_ROWS_MAX:
            told = say("More than {most:,} rows for {table}; split the import into several.")
            raise TooLarge(told.filled(most=CARD_ROWS_MAX, table=table.file))
        identity = cards.find(table.kind, row.values[name])
        groups.setdefault((identity, "" if identity else row.values[name]), []).append(row)
    same = same_by(table, cards)
    steps: list[Step] = []
    for (identity, _), group in groups.items():
        stored = cards.candidates(table.kind, identity) if identity else []
        steps += _plan_namesakes(table, group, stored, same, problems)
    for step in steps:
        if step.record is None:
            step.name_new_record()
            cards.add(table.kind, str(step.record), step.set[name])
    return steps


def _plan_namesakes(table: Table, group: list[Row], stored: list[Stored], same: Same, problems: Problems) -> list[Step]:
    """Steps for the rows of one name: those that say nothing new, and one for what the others say together."""
    steps: list[Step] = []
    rest: list[Step] = []
    for row in group:
        [step] = match([row], stored, table.key, same)
        (steps if step.outcome in (UNCHANGED, WITHDRAWN) else rest).append(step)
    if not rest:
        return steps
    agreed = [step for step in steps if step.outcome == UNCHANGED]
    free = [card for card in stored if card.id not in {step.record for step in agreed}]
    if agreed and all(card.voided for card in free):
        # Every card of the name has its row already: the others are about these too, and must not contradict them.
        rest, free = [*agreed, *rest], stored
    return steps + match([join([step.row for step in rest], table.key, problems)], free, table.key, same)


def plan_many(table: Table, rows: Iterator[Row], cards: Cards) -> list[Step]:
    """Steps for cards of which several may have one name; new batches can be found by name from here on."""
    groups: dict[tuple[Any, ...], list[Row]] = {}
    for count, row in enumerate(rows, 1):
        if count > CARD_ROWS_MAX:
            told = say("More than {most:,} rows for {table}; split the import into several.")
            raise TooLarge(told.filled(most=CARD_ROWS_MAX, table=table.file))
        groups.setdefault(plan_key(table, row.values, cards), []).append(row)
    stored: dict[tuple[Any, ...], list[Stored]] = {}
    for record in cards.stored[table.kind].values():
        stored.setdefault(plan_key(table, record.fields, cards), []).append(record)
    same = same_by(table, cards)
    steps = [step for key, of_key in groups.items() for step in match(of_key, stored.get(key, ()), table.key, same)]
    for step in steps:
        if step.record is None:
            step.name_new_record()
            if table.kind in cards.names:
                cards.add(table.kind, str(step.record), step.set[table.key[0]])
    return steps


def plan_late(rows: Iterable[tuple[Table, Row]], cards: Cards, problems: Problems) -> Iterator[tuple[Table, Step]]:
    """What the rows of trees say of other trees and of batches, where that is new; withdrawn trees are left alone."""
    groups: dict[str, list[tuple[Table, Row]]] = {}
    for table, row in rows:
        groups.setdefault(str(cards.find(table.kind, row.values[table.key[0]])), []).append((table, row))
    for identity, of_one in groups.items():
        table = of_one[0][0]
        stored = cards.stored[table.kind].get(identity)
        row = join([row for _, row in of_one], table.key, problems)
        if stored is None:
            yield table, Step(row, CHANGED, identity, {k: v for k, v in row.values.items() if k not in table.key})
        elif not stored.voided and (changed := differences(row, stored, table.key, same_by(table, cards))):
            yield table, Step(row, CHANGED, identity, changed)


def same_by(table: Table, cards: Cards) -> Same:
    """How a stored value and a row's are compared: two cards of one name are the same."""
    refers = KINDS[table.kind].refers

    def same(name: str, stored: Any, value: Any) -> bool:
        if stored is not None and refers.get(name) in cards.names:
            return cards.same(refers[name], stored, value)
        return bool(stored == value)

    return same
