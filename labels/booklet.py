"""A report of several pages: headings, paragraphs, lists, tables and plots, black on white, for A4 and Letter."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO
from xml.sax.saxutils import escape

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, CondPageBreak, Flowable, Frame, PageTemplate, Paragraph, Spacer
from reportlab.platypus import Table as Grid

from labels.errors import LabelError
from labels.fonts import draws, pdf_font
from labels.pages import PAGE_DEFAULT, page_size
from labels.plots import Plot, PlotData

MARGIN = 18 * mm
FOOT = 10 * mm
BLOCKS_MAX, ROWS_MAX = 2000, 10_000
LEAD = 40 * mm
"""A heading stays with so much of what it heads."""
LACKING = "□"
LACKING_NOTE = f"Where {LACKING} stands, this typeface lacks a letter: it has Latin, Greek and Cyrillic."


@dataclass(frozen=True)
class Heading:
    """The head of a chapter (level 1) or of a part of one (level 2)."""

    text: str
    level: int = 1


@dataclass(frozen=True)
class Words:
    """A paragraph."""

    text: str


@dataclass(frozen=True)
class Points:
    """Sentences one under the other, each with a dash before it."""

    texts: Sequence[str]


@dataclass(frozen=True)
class Table:
    """Cells of text under a head that stands on every page; `widths` are shares of the page's width."""

    head: Sequence[str]
    rows: Sequence[Sequence[str]]
    widths: Sequence[float]


Block = Heading | Words | Points | Table | PlotData


def booklet_pdf(
    title: str,
    subtitle: str,
    blocks: Sequence[Block],
    paper: str = PAGE_DEFAULT,
    language: str = "en",
    lacking_note: str = LACKING_NOTE,
) -> bytes:
    """A PDF of the blocks in their order, page numbers at the foot, headings as its outline; same input, same bytes.

    Letters that the typeface lacks are shown as a box, and `lacking_note` at the end says so.
    Raises LabelError for a paper that is not known, or more than BLOCKS_MAX blocks or ROWS_MAX rows.
    """
    size = page_size(paper)
    rows = sum(len(block.rows) for block in blocks if isinstance(block, Table | PlotData))
    if len(blocks) > BLOCKS_MAX or rows > ROWS_MAX:
        raise LabelError(f"{len(blocks)} parts with {rows} rows are too many; at most {BLOCKS_MAX} with {ROWS_MAX}.")
    out = BytesIO()
    pages = _Pages(out, title, size, language)
    story: list[Flowable] = [_said(title, "title"), _said(subtitle, "plain"), Spacer(0, 4 * mm)]
    for block in blocks:
        story += _flow(block, pages.width)
    if any(LACKING in _drawable(text) and LACKING not in text for text in _texts(title, subtitle, blocks)):
        story.append(_said(lacking_note, "small"))
    pages.build(story)
    return out.getvalue()


class _Pages(BaseDocTemplate):  # type: ignore[misc]  # reportlab has no types
    """Pages with a foot, and an outline made of the headings."""

    def __init__(self, out: BytesIO, title: str, page: tuple[float, float], language: str) -> None:
        super().__init__(
            out, pagesize=page, title=title, invariant=1, lang=language, pageCompression=1,
            leftMargin=MARGIN, rightMargin=MARGIN, topMargin=MARGIN, bottomMargin=MARGIN,
        )  # fmt: skip
        frame = Frame(
            MARGIN, MARGIN, self.width, self.height, leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0
        )
        self.addPageTemplates(PageTemplate(frames=[frame], onPage=self._foot))
        self._heading = 0

    def _foot(self, canvas: Canvas, _template: object) -> None:
        canvas.saveState()
        canvas.setFont(pdf_font("plain"), 8)
        canvas.drawString(MARGIN, FOOT, _drawable(self.title))
        canvas.drawRightString(MARGIN + self.width, FOOT, str(canvas.getPageNumber()))
        canvas.restoreState()

    def afterFlowable(self, flowable: Flowable) -> None:  # noqa: N802 reportlab's name
        """Note a heading in the outline."""
        level = getattr(flowable, "outline_level", None)
        if level is not None:
            self._heading += 1
            key = f"part{self._heading}"
            self.canv.bookmarkPage(key)
            self.canv.addOutlineEntry(flowable.getPlainText(), key, level - 1)


def _flow(block: Block, width_pt: float) -> list[Flowable]:
    if isinstance(block, Heading):
        head = _said(block.text, f"head{block.level}")
        head.outline_level = block.level
        return [CondPageBreak(LEAD), head]
    if isinstance(block, Words):
        return [_said(block.text, "plain")]
    if isinstance(block, Points):
        return [Paragraph(escape(_drawable(text)), _style("point"), bulletText="–") for text in block.texts]
    if isinstance(block, Table):
        return [_grid(block, width_pt), Spacer(0, 3 * mm)]
    return [Plot(_drawable_plot(block)), Spacer(0, 3 * mm)]


def _grid(table: Table, width_pt: float) -> Grid:
    if any(len(row) != len(table.head) for row in table.rows) or len(table.widths) != len(table.head):
        raise LabelError("Each row of a table needs a cell for each word of its head.")
    whole = sum(table.widths)
    cells = [[_said(text, "cellhead") for text in table.head]]
    cells += [[_said(text, "cell") for text in row] for row in table.rows]
    lines = [
        ("LINEBELOW", (0, 0), (-1, 0), 0.8, "black"),
        ("LINEBELOW", (0, 1), (-1, -1), 0.25, "grey"),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 4),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
    ]
    widths = [width_pt * share / whole for share in table.widths]
    return Grid(cells, colWidths=widths, repeatRows=1, style=lines, hAlign="LEFT")


def _said(text: str, style: str) -> Paragraph:
    return Paragraph(escape(_drawable(text)), _style(style))


@lru_cache
def _style(name: str) -> ParagraphStyle:
    text, bold = pdf_font("plain"), pdf_font("name")
    return {
        "title": ParagraphStyle("title", fontName=bold, fontSize=19, leading=25, spaceAfter=3),
        "head1": ParagraphStyle("head1", fontName=bold, fontSize=14, leading=19, spaceBefore=12, spaceAfter=5),
        "head2": ParagraphStyle("head2", fontName=bold, fontSize=11, leading=15, spaceBefore=8, spaceAfter=3),
        "plain": ParagraphStyle("plain", fontName=text, fontSize=10, leading=14, spaceAfter=5),
        "point": ParagraphStyle(
            "point", fontName=text, fontSize=10, leading=14, leftIndent=12, bulletFontName=text, spaceAfter=2
        ),
        "cellhead": ParagraphStyle("cellhead", fontName=bold, fontSize=8, leading=10),
        "cell": ParagraphStyle("cell", fontName=text, fontSize=8, leading=10.5),
        "small": ParagraphStyle("small", fontName=text, fontSize=8, leading=11, spaceBefore=8),
    }[name]


def _drawable(text: str) -> str:
    return text if draws(text) else "".join(each if draws(each) else LACKING for each in text)


def _drawable_plot(data: PlotData) -> PlotData:
    rows = [type(row)(_drawable(row.name), row.middle, row.low, row.high, _drawable(row.figures)) for row in data.rows]
    return PlotData(rows, _drawable(data.unit), data.zero, data.whole)


def _texts(title: str, subtitle: str, blocks: Sequence[Block]) -> Iterator[str]:
    yield from (title, subtitle)
    for block in blocks:
        if isinstance(block, Heading | Words):
            yield block.text
        elif isinstance(block, Points):
            yield from block.texts
        elif isinstance(block, Table):
            yield from (cell for row in (block.head, *block.rows) for cell in row)
        else:
            yield from (text for row in block.rows for text in (row.name, row.figures))
