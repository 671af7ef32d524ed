"""The book of cuttings: batches from over five years, the trees that came of one, and a tree that is to be given away.

No dice are thrown here, and all of it is entered after everything else: the rest of the story stays as it was.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from demo_db.cards import Cards, started_on
from demo_db.notebook import OWNER, Notebook
from demo_db.orchard import PlannedTree
from demo_db.scenario import AUNT_SIB
from demo_db.season import Season

# On the last evening the owner copies the paper book into the phone.
COPYING_MINUTE, MINUTES_A_LINE = 20 * 60.0, 0.7
# A plant gets a pot and a tag of its own within so many days.
POTTED_WITHIN_DAYS = 365
GIVEN_AWAY = ("tunnel", 7)


@dataclass(frozen=True, slots=True)
class PlannedBatch:
    """One line of the book: the story's day and how many years before; `parent` the tree's group and number there.

    `rooted` and `failed` are empty while it is too early to tell; a `source` is that of the trees that came of it.
    """

    name: str
    variety: str
    method: str
    taken_on: tuple[int, int]
    years_before: int
    taken: int
    rooted: int | None
    failed: int | None
    note: str
    parent: tuple[str, int] | None = None
    source: str | None = None


# Dormant wood is cut in late winter, this year on the day of the work `take_cuttings`; layers and buds are for summer.
BATCHES = (
    PlannedBatch(
        *("Aunt Sib’s Halden Amber", "Halden Amber", "cutting", (3, 6), 4, 9, 4, 5),
        "Wood of Aunt Sib’s old tree. Those not kept still share a tub.",
        source=AUNT_SIB,
    ),
    PlannedBatch(
        *("Inkpot Sister pegged down", "Inkpot Sister", "layer", (6, 28), 1, 4, 3, 1),
        "Low shoots pegged into pots beside it; cut free when its leaves fell.",
        ("porch to terrace", 4),
    ),
    PlannedBatch(
        *("Dunlow Thinskin buds", "Dunlow Thinskin", "graft", (8, 9), 1, 10, 1, 9),
        "On Candlewick Sour seedlings; nearly all buds dried in the hot week after.",
        ("lemons indoors", 2),
    ),
    PlannedBatch(
        *("Brammelow Dusk from the cloches", "Brammelow Dusk", "cutting", (3, 3), 0, 14, 9, 5),
        "Pencil-thick wood in damp grit on the Kiln bench; the failed ones were the tips.",
        ("cloche", 1),
    ),
    PlannedBatch(
        *("Tallow Lantern air layers", "Tallow Lantern", "layer", (6, 8), 0, 4, None, None),
        "Moss in foil; not to be opened before the end of summer.",
        ("porch", 0),
    ),
)


def copy_book(notebook: Notebook, season: Season, trees: list[PlannedTree], cards: Cards) -> None:
    """Enter the batches, tie the trees that came of them, and decide on a tree to give away."""
    by_key = {tree.key: tree for tree in trees}
    last, minute = season.days[-1], COPYING_MINUTE
    for batch in BATCHES:
        minute += MINUTES_A_LINE
        card = _batch_card(batch, season, cards, by_key)
        record = notebook.new(season.at(last, minute), OWNER, "batch", card)
        for tree in came_of(batch, season, trees):
            minute += MINUTES_A_LINE
            notebook.edit(season.at(last, minute), OWNER, "tree", tree.id, {"batch": record})
    change = {
        "decision": "give_away",
        "decided_on": last.isoformat(),
        "note": "More of these than we eat; this one may go.",
    }
    notebook.edit(season.at(last, minute + MINUTES_A_LINE), OWNER, "tree", by_key[GIVEN_AWAY].id, change)


def came_of(batch: PlannedBatch, season: Season, trees: list[PlannedTree]) -> list[PlannedTree]:
    """The trees that a batch's rooted plants became: of its variety and source, potted in the year after it."""
    first = _taken_on(batch, season)
    last = first + timedelta(days=POTTED_WITHIN_DAYS)
    found = [
        tree
        for tree in trees
        if (tree.source, tree.variety.name) == (batch.source, batch.variety)
        and first < started_on(tree, season) <= last
    ]
    return found[: batch.rooted or 0]


def _batch_card(
    batch: PlannedBatch, season: Season, cards: Cards, by_key: dict[tuple[str, int], PlannedTree]
) -> dict[str, object]:
    return {
        "batch": batch.name,
        "variety": cards.varieties[batch.variety],
        "parent": by_key[batch.parent].id if batch.parent else None,
        "method": batch.method,
        "taken_on": _taken_on(batch, season).isoformat(),
        "taken": batch.taken,
        "rooted": batch.rooted,
        "failed": batch.failed,
        "note": batch.note,
    }


def _taken_on(batch: PlannedBatch, season: Season) -> date:
    return season.on(*batch.taken_on, batch.years_before)
