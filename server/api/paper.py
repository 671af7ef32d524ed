"""What goes on paper: said in the asking phone's manner, and refused where paper can't hold it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace

from labels.booklet import LACKING, Block, Heading, Points, Table, Words, booklet_pdf
from labels.errors import LabelError
from labels.plots import PlotData
from server.api.doors import manner
from server.errors import Refused
from server.wording.manner import Manner
from server.wording.said import say

LACKING_NOTE = say("Where {box} stands, this typeface lacks a letter: it has Latin, Greek and Cyrillic.", box=LACKING)


@contextmanager
def on_paper(field: str | None = None) -> Iterator[None]:
    """What a printer of labels or pages can't do is refused with its reason, at the field that asked for it."""
    try:
        yield
    except LabelError as error:
        raise (Refused(str(error)) if field is None else Refused.of(field, str(error))) from error


def booklet(title: str, subtitle: str, blocks: Iterable[Block], paper: str) -> bytes:
    """A report of several pages as a PDF. Raises Refused for more than paper holds."""
    told = manner()
    with on_paper():
        shown = [_told(block, told) for block in blocks]
        return booklet_pdf(told.say(title), told.say(subtitle), shown, paper, told.language, told.say(LACKING_NOTE))


def _told(block: Block, manner: Manner) -> Block:
    """A block with all its words in a manner."""
    match block:
        case Heading() | Words():
            return replace(block, text=manner.say(block.text))
        case Points():
            return Points([manner.say(text) for text in block.texts])
        case Table():
            rows = [[manner.say(cell) for cell in row] for row in block.rows]
            return replace(block, head=[manner.say(cell) for cell in block.head], rows=rows)
        case PlotData():
            told = [replace(row, name=manner.say(row.name), figures=manner.say(row.figures)) for row in block.rows]
            return replace(block, rows=told, unit=manner.say(block.unit))
