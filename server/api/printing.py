"""From the collection to printed tags: which trees, what each tag says, and remembering what was printed."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from labels.papers import PAPER_DEFAULT
from labels.press import CODE_MM, TAGS_MAX
from labels.printing import Printed, print_tags
from labels.tags import Tag, not_printed
from server import ids
from server.api.paper import on_paper
from server.errors import NotFound, Refused
from server.records import queries
from server.records.database import write
from server.records.queries import TreeRow
from server.records.settings import read_settings, tag_address
from server.records.writing import note_printed
from server.wording.said import say

NOTE_LETTERS_MAX = 60


@dataclass(frozen=True, slots=True)
class Order:
    """Tags to print: the trees of a place, named trees, all trees where neither is given; and tags in advance."""

    place: str | None = None
    trees: tuple[str, ...] = ()
    blank: int = 0
    paper: str = PAPER_DEFAULT
    code_mm: float = CODE_MM
    suffix: str = ".pdf"


@dataclass(frozen=True, slots=True)
class PrintedTags:
    """The files, what is on them, and the texts that the typefaces can't draw."""

    printed: Printed
    tags: tuple[Tag, ...]
    left_out: tuple[str, ...]


def print_order(order: Order) -> PrintedTags:
    """Print an order; nothing is remembered yet, see `remember`.

    Raises NotFound for an unknown place or tree, Refused for what can't be printed.
    """
    if not 0 <= order.blank <= TAGS_MAX:
        raise Refused.of("blank", say("Between 0 and {most} blank tags can be printed at once.", most=TAGS_MAX))
    blanks = [Tag(code, tag_address(code)) for code in queries.free_tag_codes(order.blank)]
    with on_paper():
        tags = (*_tags_of_trees(order), *blanks)
        printed = print_tags(tags, order.paper, order.suffix, order.code_mm)
    return PrintedTags(printed, tags, tuple(not_printed(tags)))


def remember(printed: Printed) -> None:
    """Keep which codes were printed and how wide, so that none is given twice and a photo of one is a ruler."""
    codes_by_mm = defaultdict(list)
    for code, code_mm in printed.code_mm.items():
        codes_by_mm[code_mm].append(code)
    with write():
        for code_mm, codes in codes_by_mm.items():
            note_printed(codes, ids.now_ms(), code_mm)


def _tags_of_trees(order: Order) -> list[Tag]:
    rows = queries.trees()
    extra = read_settings().tag_extra
    names = {each.id: each.place for each in queries.places()}
    now_in = _places_now(rows)
    if order.place is not None and order.place not in names:
        raise NotFound(say("This place is not in the collection; choose one that is."))
    unknown = set(order.trees) - {row.id for row in rows}
    if unknown:
        told = say("{count} of the trees are not in the collection, or are retired; choose again.")
        raise NotFound(told.filled(count=len(unknown)))
    if order.trees or order.place is not None:
        rows = [row for row in rows if row.id in order.trees or (order.place and now_in.get(row.id) == order.place)]
    elif order.blank:
        rows = []
    return [
        Tag(row.tag, tag_address(row.tag), row.variety or "", _lines(row, names.get(now_in.get(row.id) or ""), extra))
        for row in rows
    ]


def _places_now(rows: list[TreeRow]) -> dict[str, str | None]:
    """Where each tree stands: where it was last carried, or where it started."""
    now_in = {row.id: row.place for row in rows}
    now_in |= {move.tree: move.to_place for move in queries.moves(ids.now_ms() // 1000)}
    return now_in


def _lines(row: TreeRow, place: str | None, extra: list[str]) -> tuple[str, ...]:
    texts = {
        "species": row.species,
        "source": row.source,
        "started_on": row.started_on and f"since {row.started_on}",
        "pot_litres": row.pot_litres and f"{row.pot_litres:g} l",
        "place": place,
        "position": row.position,
        "standing": row.standing,
        "note": row.note and row.note[:NOTE_LETTERS_MAX],
    }
    return tuple(text for text in (texts[word] for word in extra) if text)
