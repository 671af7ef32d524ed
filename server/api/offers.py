"""The list to share as a file: on paper, or as a table."""

from __future__ import annotations

from collections.abc import Iterator

from labels.booklet import Block, Heading, Table, Words
from server.api.paper import booklet
from server.reports.offers import Offers, offers
from server.tables.cells import write_cell
from server.wording.said import Day, say

COLUMNS = ("offer", "species", "variety", "what", "plants", "since", "tag", "origin_country")
CAUTION = say(
    "Plants and wood that change hands may need a plant passport or a permit: local plant health rules decide. The sap"
    " of figs and sunlight together can blister skin."
)


def offers_pdf(paper: str) -> bytes:
    """The list to share as a PDF. Raises Refused for more than paper holds."""
    found = offers()
    return booklet(say("Plants to share"), say("As of {on}.", on=Day(found.on, with_year=True)), _blocks(found), paper)


def offers_csv() -> bytes:
    """The list to share as a table: `offer` is a plant to give, or wood of a variety that may be asked for; UTF-8."""
    found = offers()
    rows = [COLUMNS]
    for offer in found.plants:
        plants = str(offer.plants)
        rows.append(("plant", offer.species, offer.variety, offer.what, plants, offer.since, offer.tag, ""))
    for grown in found.grown:
        rows.append(("wood", grown.species or "", grown.variety, "", "", "", "", grown.origin_country or ""))
    return "".join(f"{','.join(write_cell(cell) for cell in row)}\n" for row in rows).encode()


def _blocks(found: Offers) -> Iterator[Block]:
    yield Heading(say("Plants to give"))
    if found.plants:
        rows = [
            (each.variety, each.species, str(each.plants), each.what, each.since, each.tag) for each in found.plants
        ]
        yield Table(
            (say("Variety"), say("Species"), say("Plants"), say("What"), say("Since"), say("Tag")),
            rows,
            (28, 22, 9, 19, 12, 10),
        )
    else:
        yield Words(say("Nothing at present."))
    yield Heading(say("Varieties grown, of which wood may be asked for"))
    if found.grown:
        told = [(each.variety, each.species or "", each.origin_country or "", str(each.trees)) for each in found.grown]
        yield Table((say("Variety"), say("Species"), say("Origin"), say("Trees")), told, (40, 36, 12, 12))
    else:
        yield Words(say("None yet."))
    yield Words(CAUTION)
