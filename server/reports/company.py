"""Which trees were moved together, and what became of each: all trees' moves and alarms, exchanged tree by tree."""

from __future__ import annotations

from dataclasses import dataclass, field

from server.records.queries import MoveRow
from server.reports.judge import Judged
from server.reports.load import DAY_S, Collection

COMPANION_DAYS = 21

Group = tuple[str, str]
"""Day and place of a move."""


@dataclass
class Company:
    """`together`: the trees of each day's move to a place; `latest`: where each tree was judged last, and its row."""

    together: dict[Group, set[str]] = field(default_factory=dict)
    latest: dict[str, tuple[Judged, int]] = field(default_factory=dict)

    @classmethod
    def of(cls, judged: Judged) -> Company:
        """That of all trees."""
        company = cls()
        company.put(judged)
        return company

    def put(self, judged: Judged) -> None:
        """Take trees in as they were judged now, in the place of what was known of them."""
        for row, tree in enumerate(judged.collection.trees):
            if tree.id in self.latest:
                for move in self.latest[tree.id][0].collection.moves.get(tree.id, []):
                    self.together[_group(judged.collection, move)].discard(tree.id)
            self.latest[tree.id] = judged, row
            for move in judged.collection.moves.get(tree.id, []):
                self.together.setdefault(_group(judged.collection, move), set()).add(tree.id)

    def after(self, move: MoveRow) -> tuple[int, int]:
        """How many others of a move were seen within COMPANION_DAYS after it, and how many of those dropped."""
        moved_day = move.at_s / DAY_S
        seen = dropping = 0
        for other in self.together[_group(self.latest[move.tree][0].collection, move)] - {move.tree}:
            judged, row = self.latest[other]
            day = judged.visits.day[row]
            after = (day > moved_day) & (day <= moved_day + COMPANION_DAYS)
            seen += bool(after.any())
            dropping += bool(judged.drops.alarms[row, after].any())
        return seen, dropping


def _group(collection: Collection, move: MoveRow) -> Group:
    return collection.day_of(move.at_s / DAY_S).isoformat(), move.to_place
