"""A list to share: what can be given to others. It says nothing of places and persons."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from server.records.offers import GrownVariety, rooted_batches, trees_to_give, varieties_grown
from server.reports.load import today

MADE_WORDS = {"cutting": "cutting", "layer": "layer", "graft": "graft", "seed": "seedling", "division": "division"}


@dataclass(frozen=True, slots=True)
class Offer:
    """So many plants of one variety: rooted ones of a batch, or one tree, which its tag names."""

    variety: str
    species: str
    what: str
    plants: int
    since: str
    tag: str


@dataclass(frozen=True, slots=True)
class Offers:
    """What can be given as of a day, and what is grown, so that wood of it may be asked for."""

    on: date
    plants: list[Offer]
    grown: list[GrownVariety]


def offers() -> Offers:
    """Rooted plants that have no tag yet, trees to give away, and the varieties grown."""
    found = [
        Offer(
            row.variety or row.batch, row.species or "", f"rooted {MADE_WORDS.get(row.method or '', 'plant')}",
            row.rooted - row.planted, row.taken_on or "", "",
        )
        for row in rooted_batches()
        if row.rooted > row.planted
    ]  # fmt: skip
    found += [
        Offer(row.variety or "unnamed", row.species or "", "tree in its pot", 1, row.started_on or "", row.tag)
        for row in trees_to_give()
    ]
    return Offers(today(), sorted(found, key=lambda each: (each.species, each.variety, each.tag)), varieties_grown())
