"""A sheet of jobs for the shed door: a box to tick, what to do, and the tags as they stand on the pots."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from xml.sax.saxutils import escape

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import KeepTogether, Paragraph, SimpleDocTemplate, Spacer, Table

from labels.fonts import pdf_font
from labels.pages import PAGE_DEFAULT, page_size

JOBS_MAX = 400
TAGS_SHOWN_MAX = 60
MARGIN = 15 * mm
BOX = 6 * mm


@dataclass(frozen=True)
class SheetJob:
    """One line of the sheet; `due` in words, `note` what to do and why."""

    title: str
    due: str
    note: str
    tags: Sequence[str]


@dataclass(frozen=True)
class SheetNotes:
    """What stands on a sheet without jobs, and under one from which some were left out."""

    nothing: str = "Nothing needs you."
    left_out: str = "Further jobs, due later, are left out: print again when these are done."


def sheet_pdf(
    title: str,
    jobs: Sequence[SheetJob],
    cautions: Sequence[str],
    paper: str = PAGE_DEFAULT,
    notes: SheetNotes | None = None,
) -> bytes:
    """A PDF of the jobs in their order, the cautions at its end; the same input gives the same bytes.

    Of more than JOBS_MAX jobs the first are printed, and a line says that others are left out.
    Raises LabelError for a paper that is not known.
    """
    notes = notes or SheetNotes()
    size = page_size(paper)
    text, bold, code = pdf_font("plain"), pdf_font("name"), pdf_font("code")
    plain = ParagraphStyle("plain", fontName=text, fontSize=10, leading=13)
    head = ParagraphStyle("head", fontName=bold, fontSize=16, leading=22)
    job_head = ParagraphStyle("job", fontName=bold, fontSize=12, leading=15)
    tags = ParagraphStyle("tags", fontName=code, fontSize=12, leading=17)
    story: list[object] = [Paragraph(escape(title), head), Spacer(0, 4 * mm)]
    for job in jobs[:JOBS_MAX] or [SheetJob(notes.nothing, "", "", ())]:
        shown = ["\u00a0".join((tag[:3], tag[3:])) for tag in job.tags[:TAGS_SHOWN_MAX]]
        more = len(job.tags) - len(shown)
        lines = [Paragraph(escape(" · ".join(filter(None, (job.title, job.due)))), job_head)]
        if job.note:
            lines.append(Paragraph(escape(job.note), plain))
        if shown:
            lines.append(Paragraph(escape(" \u00a0\u00a0 ".join(shown)) + (f" … {more}" if more > 0 else ""), tags))
        box = Table([[""]], colWidths=BOX, rowHeights=BOX, style=[("BOX", (0, 0), (-1, -1), 1, "black")])
        row = Table([[box, lines]], colWidths=[BOX + 4 * mm, None], style=[("VALIGN", (0, 0), (-1, -1), "TOP")])
        story += [KeepTogether(row), Spacer(0, 3 * mm)]
    if len(jobs) > JOBS_MAX:
        story.append(Paragraph(escape(notes.left_out), plain))
    story += [Paragraph(escape(each), plain) for each in cautions]
    out = BytesIO()
    page = SimpleDocTemplate(
        out, pagesize=size, title=title, invariant=1,
        leftMargin=MARGIN, rightMargin=MARGIN, topMargin=MARGIN, bottomMargin=MARGIN,
    )  # fmt: skip
    page.build(story)
    return out.getvalue()
