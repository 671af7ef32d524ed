"""A list to share: what can be given to others. It says nothing of places and persons."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from server.records.offers import GrownVariety, rooted_batches, trees_to_give, varieties_grown
from server.reports.load import today
from server.wording.said import say

ROOTED = {
    "cutting": say("rooted cutting"),
    "layer": say("rooted layer"),
    "graft": say("rooted graft"),
    "seed": say("rooted seedling"),
    "division": say("rooted division"),
    "": say("rooted plant"),
}


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
            row.variety or row.batch, row.species or "", ROOTED.get(row.method or "", ROOTED[""]),
            row.rooted - row.planted, row.taken_on or "", "",
        )
        for row in rooted_batches()
        if row.rooted > row.planted
    ]  # fmt: skip
    found += [
        Offer(
            row.variety or say("unnamed"), row.species or "", say("tree in its pot"), 1, row.started_on or "", row.tag
        )
        for row in trees_to_give()
    ]
    return Offers(today(), sorted(found, key=lambda each: (each.species, each.variety, each.tag)), varieties_grown())
