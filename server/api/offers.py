"""The list to share as a file: on paper, or as a table."""

from __future__ import annotations

from collections.abc import Iterator

from labels.booklet import Block, Heading, Table, Words, booklet_pdf
from labels.errors import LabelError
from server.errors import Refused
from server.reports.offers import Offers, offers
from server.tables.cells import write_cell

COLUMNS = ("offer", "species", "variety", "what", "plants", "since", "tag", "origin_country")
CAUTION = (
    "Plants and wood that change hands may need a plant passport or a permit: local plant health rules decide. The sap"
    " of figs and sunlight together can blister skin."
)


def offers_pdf(paper: str) -> bytes:
    """The list to share as a PDF. Raises Refused for more than paper holds."""
    found = offers()
    try:
        return booklet_pdf("Plants to share", f"As of {found.on.isoformat()}.", list(_blocks(found)), paper)
    except LabelError as error:
        raise Refused(str(error)) from error


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
    yield Heading("Plants to give")
    if found.plants:
        rows = [
            (each.variety, each.species, str(each.plants), each.what, each.since, each.tag) for each in found.plants
        ]
        yield Table(("Variety", "Species", "Plants", "What", "Since", "Tag"), rows, (28, 22, 9, 19, 12, 10))
    else:
        yield Words("Nothing at present.")
    yield Heading("Varieties grown, of which wood may be asked for")
    if found.grown:
        told = [(each.variety, each.species or "", each.origin_country or "", str(each.trees)) for each in found.grown]
        yield Table(("Variety", "Species", "Origin", "Trees"), told, (40, 36, 12, 12))
    else:
        yield Words("None yet.")
    yield Words(CAUTION)
