"""The measuring card: four codes that tell its size and perspective, greys, a ruler, and room for leaves."""

from dataclasses import dataclass
from io import BytesIO

from reportlab.pdfgen.canvas import Canvas

from labels.codes import make_code
from labels.errors import LabelError
from labels.fonts import pdf_font, type_width_mm
from labels.papers import A4_MM, LETTER_MM
from labels.pdf import POINT_MM

# The text of a corner's code: family, edition of the layout, paper, corner. Fifteen characters stay in the smallest
# version, whose modules are the largest.
CODE_TEXT = "LW-CARD-1-{paper}-{corner}"
CORNERS = ("NW", "NE", "SE", "SW")
CODE_MM = 20.0
# From the paper's edge to the ink of a code: printers leave up to 6.4 mm bare (common practice), and the code's own
# white border is 3.8 mm.
EDGE_MM = 12.0
# The greys, as the share of white that a screen shows; white itself is the paper in a thin frame.
GREYS = (1.0, 0.8, 0.6, 0.4, 0.2)
PATCH_MM = (16.0, 9.0)
# White that stays around everything printed, so that nothing is taken for a part of a leaf.
CLEAR_MM = 6.0
RULER_MM = 100
TYPE_MM, SMALL_MM = 3.4, 2.8
HAIR_MM = 0.2
SENTENCES = (
    "Lay leaves flat in the middle, none on a code or on another; photograph from above with all four codes in view.",
    "Print at 100 %, not fitted to the page. Hold a ruler to the line: it must be 100 mm long.",
)
PAPER_DEFAULT = "a4"

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class CardPlan:
    """Where everything stands on a card, in mm from the sheet's top left corner; boxes are (x, y, width, height).

    `codes` is by the text that a code holds; `greys` is (box, share of white); `blank` is the room for leaves.
    """

    name: str
    page_mm: tuple[float, float]
    codes: dict[str, Box]
    greys: tuple[tuple[Box, float], ...]
    ruler: Box
    blank: Box

    @property
    def patterns(self) -> dict[str, tuple[tuple[bool, ...], ...]]:
        """Rows of each code's modules by its text; True is dark."""
        return {text: make_code(text).rows for text in self.codes}


def _plan(name: str, short: str, page_mm: tuple[float, float]) -> CardPlan:
    width, height = page_mm
    right, low = width - EDGE_MM - CODE_MM, height - EDGE_MM - CODE_MM
    corners = dict(zip(CORNERS, ((EDGE_MM, EDGE_MM), (right, EDGE_MM), (right, low), (EDGE_MM, low)), strict=True))
    codes = {CODE_TEXT.format(paper=short, corner=name): (*xy, CODE_MM, CODE_MM) for name, xy in corners.items()}
    step = (right - EDGE_MM - CODE_MM - 2 * CLEAR_MM - PATCH_MM[0]) / (len(GREYS) - 1)
    lefts = [EDGE_MM + CODE_MM + CLEAR_MM + n * step for n in range(len(GREYS))]
    top_y, low_y = EDGE_MM + CODE_MM - PATCH_MM[1], low
    # The rows run in opposite order: light that falls off to one side is then told from a printer's greys.
    rows = [(top_y, lefts), (low_y, lefts[::-1])]
    greys = tuple(((x, y, *PATCH_MM), grey) for y, xs in rows for x, grey in zip(xs, GREYS, strict=True))
    ruler = ((width - RULER_MM) / 2, low + PATCH_MM[1] + 2.5, float(RULER_MM), 4.0)
    first = EDGE_MM + CODE_MM + CLEAR_MM
    blank = (EDGE_MM, first, width - 2 * EDGE_MM, height - 2 * first)
    return CardPlan(name, page_mm, codes, greys, ruler, blank)


CARDS = {plan.name: plan for plan in (_plan("a4", "A4", A4_MM), _plan("letter", "LT", LETTER_MM))}


def find_card(paper: str) -> CardPlan:
    """The card for a paper, by its name; raises LabelError naming those that there are."""
    plan = CARDS.get(paper.strip().lower())
    if plan is None:
        raise LabelError(f"There is no measuring card for paper {paper!r}. Known papers: {', '.join(CARDS)}.")
    return plan


def card_pdf(paper: str = PAPER_DEFAULT) -> bytes:
    """The card as a PDF of one page, drawn as shapes; the same bytes every time. Raises LabelError, see `find_card`."""
    plan = find_card(paper)
    out = BytesIO()
    width_mm, height_mm = plan.page_mm
    canvas = Canvas(out, pagesize=(width_mm / POINT_MM, height_mm / POINT_MM), invariant=1, pageCompression=1)
    canvas.setTitle("Measuring card")
    # A viewer that knows this wish offers no scaling in its print dialogue (ISO 32000-1, 12.2).
    canvas.setViewerPreference("PrintScaling", "None")
    canvas.translate(0, height_mm / POINT_MM)
    canvas.scale(1 / POINT_MM, 1 / POINT_MM)
    for text, box in plan.codes.items():
        _draw_code(canvas, text, box)
    _draw_greys(canvas, plan)
    _draw_ruler(canvas, plan.ruler)
    _draw_words(canvas, plan)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _draw_code(canvas: Canvas, text: str, box: Box) -> None:
    code = make_code(text)
    module_mm = box[2] / code.modules
    path = canvas.beginPath()
    for x, y, width, height in code.rectangles():
        bottom_mm = box[1] + (y + height) * module_mm
        path.rect(box[0] + x * module_mm, -bottom_mm, width * module_mm, height * module_mm)
    canvas.setFillGray(0)
    canvas.drawPath(path, stroke=0, fill=1)


def _draw_greys(canvas: Canvas, plan: CardPlan) -> None:
    canvas.setStrokeGray(0.5)
    canvas.setLineWidth(HAIR_MM)
    for (x, y, width, height), grey in plan.greys:
        canvas.setFillGray(grey)
        canvas.rect(x, -y - height, width, height, stroke=int(grey == 1), fill=1)


def _draw_ruler(canvas: Canvas, box: Box) -> None:
    """A line of whole millimetres: long strokes at tens, named at its ends and middle."""
    left, top, length, height = box
    canvas.setStrokeGray(0)
    canvas.setFillGray(0)
    canvas.setLineWidth(HAIR_MM)
    canvas.line(left, -top, left + length, -top)
    for mm in range(round(length) + 1):
        stroke = height if mm % 10 == 0 else height * (0.7 if mm % 5 == 0 else 0.45)
        canvas.line(left + mm, -top, left + mm, -top - stroke)
    canvas.setFont(pdf_font("plain"), SMALL_MM)
    for mm in (0, 50, 100):
        canvas.drawCentredString(left + mm, -top - height - 0.9 * SMALL_MM, f"{mm} mm" if mm == RULER_MM else str(mm))


def _draw_words(canvas: Canvas, plan: CardPlan) -> None:
    """The sentences between the codes: what to do above, the check of the printer below."""
    middle_mm = plan.page_mm[0] / 2
    room_mm = plan.page_mm[0] - 2 * (EDGE_MM + CODE_MM + CLEAR_MM)
    canvas.setFillGray(0)
    tops_mm = (EDGE_MM + TYPE_MM + 1.5, plan.page_mm[1] - EDGE_MM + SMALL_MM)
    for text, y_mm in zip(SENTENCES, tops_mm, strict=True):
        size_mm = min(TYPE_MM, room_mm / type_width_mm(text, "plain", 1.0))
        canvas.setFont(pdf_font("plain"), size_mm)
        canvas.drawCentredString(middle_mm, -y_mm, text)
