"""Tags as a PDF: the code drawn as shapes, not as a picture, so that it is sharp on every printer."""

from collections.abc import Iterator, Sequence
from io import BytesIO

from reportlab.pdfgen.canvas import Canvas

from labels.codes import Code
from labels.errors import LabelError
from labels.fonts import pdf_font
from labels.layout import Artwork
from labels.papers import INCH_MM, Paper, Roll, Sheet
from labels.press import CODE_MM, check_order, face_mm, lay_out
from labels.tags import Tag

POINT_MM = INCH_MM / 72
CUT_GREY = 0.6
CUT_WEIGHT_MM = 0.1
# A stake's tip is as long as half its width: steep enough for soil, blunt enough not to bend.
TIP_PART = 0.5


def sheet_pdf(
    tags: Sequence[Tag], paper: Paper, code_mm: float = CODE_MM, start: int = 0, cut_marks: bool | None = None
) -> bytes:
    """A PDF of the tags in their order, as many pages as they need; one label a page on rolls.

    `start` labels of the first sheet are left out, because they are used up. `cut_marks` draws thin lines to cut along;
    None draws them on plain paper only. The same input gives the same bytes.
    Raises LabelError when the order is empty or too large, or the code does not fit the paper's labels.
    """
    check_order(tags, code_mm)
    if isinstance(paper, Roll) and start:
        raise LabelError("A roll has no used labels to leave out. Leave out the start.")
    if isinstance(paper, Sheet) and not 0 <= start < paper.labels:
        raise LabelError(f"A sheet of {paper.name} has {paper.labels} labels: 0 to {paper.labels - 1} can be used up.")
    page_mm = paper.page_mm if isinstance(paper, Sheet) else face_mm(paper)
    cut = cut_marks if cut_marks is not None else isinstance(paper, Sheet) and paper.plain
    out = BytesIO()
    canvas = Canvas(out, pagesize=(page_mm[0] / POINT_MM, page_mm[1] / POINT_MM), invariant=1, pageCompression=1)
    canvas.setTitle("Tags")
    for page in _pages(tags, paper, start):
        # Millimetres from the page's top left corner, as the layout counts them.
        canvas.translate(0, page_mm[1] / POINT_MM)
        canvas.scale(1 / POINT_MM, 1 / POINT_MM)
        for (x_mm, y_mm), tag in page:
            canvas.saveState()
            canvas.translate(x_mm, -y_mm)
            _draw(canvas, *lay_out(tag, paper, code_mm))
            if cut:
                _draw_outline(canvas, face_mm(paper), paper.foot_mm)
            canvas.restoreState()
        canvas.showPage()
    canvas.save()
    return out.getvalue()


Page = list[tuple[tuple[float, float], Tag]]


def _pages(tags: Sequence[Tag], paper: Paper, start: int) -> Iterator[Page]:
    """The tags page by page, each with its label's top left corner in mm."""
    if isinstance(paper, Roll):
        yield from ([((0.0, 0.0), tag)] for tag in tags)
        return
    for first in range(-start, len(tags), paper.labels):
        places = range(max(first, 0), min(first + paper.labels, len(tags)))
        yield [(paper.corner_mm(n - first), tags[n]) for n in places]


def _draw(canvas: Canvas, code: Code, artwork: Artwork) -> None:
    module_mm = artwork.code_mm / code.modules
    # All modules are one path: renderers would leave hairlines between shapes that are filled one by one.
    path = canvas.beginPath()
    for x, y, width, height in code.rectangles():
        left_mm, bottom_mm = artwork.code_x_mm + x * module_mm, artwork.code_y_mm + (y + height) * module_mm
        path.rect(left_mm, -bottom_mm, width * module_mm, height * module_mm)
    canvas.setFillGray(0)
    canvas.drawPath(path, stroke=0, fill=1)
    for text in artwork.texts:
        canvas.setFont(pdf_font(text.face), text.size_mm)
        canvas.drawString(text.x_mm, -text.y_mm, text.text)
    canvas.setStrokeGray(0)
    for rule in artwork.rules:
        canvas.setLineWidth(rule.weight_mm)
        canvas.line(rule.x_mm, -rule.y_mm, rule.x_mm + rule.length_mm, -rule.y_mm)


def _draw_outline(canvas: Canvas, label_mm: tuple[float, float], foot_mm: float) -> None:
    """The line to cut along: a rectangle, or a stake with its tip."""
    width_mm, height_mm = label_mm
    shoulder_mm = height_mm - (TIP_PART * width_mm if foot_mm else 0.0)
    path = canvas.beginPath()
    path.moveTo(0, 0)
    path.lineTo(width_mm, 0)
    path.lineTo(width_mm, -shoulder_mm)
    path.lineTo(width_mm / 2, -height_mm)
    path.lineTo(0, -shoulder_mm)
    path.close()
    canvas.setStrokeGray(CUT_GREY)
    canvas.setLineWidth(CUT_WEIGHT_MM)
    canvas.drawPath(path, stroke=1, fill=0)
