"""The papers that tags are printed on: sheets of labels, plain sheets to cut, and rolls of label printers."""

from dataclasses import dataclass
from difflib import get_close_matches

from labels.errors import LabelError

A4_MM = (210.0, 297.0)
LETTER_MM = (215.9, 279.4)
INCH_MM = 25.4
# A head of 203 dots an inch has in truth 8 dots a mm.
DOTS_PER_MM = {203: 8.0, 300: 300 / INCH_MM}


@dataclass(frozen=True)
class Sheet:
    """A sheet with `columns` x `rows` labels; sizes in mm as (width, height), margins from the top left.

    `foot_mm` of each label's lower end stay bare: the part of a stake that goes into the soil.
    `plain` paper has no labels on it, so lines to cut along are printed.
    """

    name: str
    page_mm: tuple[float, float]
    label_mm: tuple[float, float]
    columns: int
    rows: int
    margin_mm: tuple[float, float]
    pitch_mm: tuple[float, float]
    foot_mm: float = 0.0
    plain: bool = False

    @property
    def labels(self) -> int:
        """Labels on one sheet."""
        return self.columns * self.rows

    def corner_mm(self, position: int) -> tuple[float, float]:
        """Top left corner of a label, in mm from the page's; `position` counts from 0, row by row."""
        row, column = divmod(position, self.columns)
        return self.margin_mm[0] + column * self.pitch_mm[0], self.margin_mm[1] + row * self.pitch_mm[1]


@dataclass(frozen=True)
class Roll:
    """A label printer's roll: one label's (width, height) in mm as it is read, and the head's dots a mm."""

    name: str
    label_mm: tuple[float, float]
    dots_per_mm: float
    foot_mm: float = 0.0

    @property
    def dots(self) -> tuple[int, int]:
        """Whole dots of one label, (width, height)."""
        return int(self.label_mm[0] * self.dots_per_mm), int(self.label_mm[1] * self.dots_per_mm)


Paper = Sheet | Roll


def _sheet(
    name: str,
    page_mm: tuple[float, float],
    label_mm: tuple[float, float],
    grid: tuple[int, int],
    gap_mm: float = 0.0,
    foot_mm: float = 0.0,
    plain: bool = False,
) -> Sheet:
    """A sheet whose labels sit in the middle of the page, touching above and below, `gap_mm` apart sideways."""
    (width, height), (columns, rows) = label_mm, grid
    margin_mm = (
        (page_mm[0] - columns * width - (columns - 1) * gap_mm) / 2,
        (page_mm[1] - rows * height) / 2,
    )
    return Sheet(name, page_mm, label_mm, columns, rows, margin_mm, (width + gap_mm, height), foot_mm, plain)


# Sizes of the sheets sold everywhere (from memory; the inch sheets and 70 x 37 were checked against published tables
# of label sizes). "edge" sheets have labels up to the paper's edge; "cut" and "stake" are plain paper.
_SHEETS = (
    _sheet("a4-24", A4_MM, (63.5, 33.9), (3, 8), gap_mm=2.54),
    _sheet("a4-24-edge", A4_MM, (70.0, 37.0), (3, 8)),
    _sheet("a4-21", A4_MM, (63.5, 38.1), (3, 7), gap_mm=2.54),
    _sheet("a4-21-edge", A4_MM, (70.0, 42.3), (3, 7)),
    _sheet("a4-18", A4_MM, (63.5, 46.6), (3, 6), gap_mm=2.54),
    _sheet("a4-16", A4_MM, (99.1, 33.9), (2, 8), gap_mm=2.5),
    _sheet("a4-14", A4_MM, (99.1, 38.1), (2, 7), gap_mm=2.5),
    _sheet("a4-12", A4_MM, (63.5, 72.0), (3, 4), gap_mm=2.54),
    _sheet("a4-10", A4_MM, (99.1, 57.0), (2, 5), gap_mm=2.5),
    _sheet("a4-8", A4_MM, (99.1, 67.7), (2, 4), gap_mm=2.5),
    _sheet("a4-cut-24", A4_MM, (63.0, 34.0), (3, 8), plain=True),
    _sheet("a4-stake-18", A4_MM, (31.0, 94.0), (6, 3), foot_mm=36.0, plain=True),
    _sheet("letter-14", LETTER_MM, (101.6, 4 / 3 * INCH_MM), (2, 7), gap_mm=0.1875 * INCH_MM),
    _sheet("letter-12", LETTER_MM, (101.6, 1.5 * INCH_MM), (2, 6), gap_mm=0.125 * INCH_MM),
    _sheet("letter-10", LETTER_MM, (101.6, 2 * INCH_MM), (2, 5), gap_mm=0.1875 * INCH_MM),
    _sheet("letter-6", LETTER_MM, (101.6, 10 / 3 * INCH_MM), (2, 3), gap_mm=0.1875 * INCH_MM),
    _sheet("letter-cut-21", LETTER_MM, (65.0, 36.0), (3, 7), plain=True),
    _sheet("letter-stake-18", LETTER_MM, (31.0, 88.0), (6, 3), foot_mm=32.0, plain=True),
)

# Label sizes of common rolls in mm; the last stands upright.
_ROLL_SIZES_MM = ((50.0, 30.0), (57.0, 32.0), (60.0, 40.0), (76.0, 51.0), (102.0, 51.0), (32.0, 57.0))
_ROLLS = tuple(
    Roll(f"roll-{width:.0f}x{height:.0f}-{dpi}", (width, height), dots_per_mm)
    for width, height in _ROLL_SIZES_MM
    for dpi, dots_per_mm in DOTS_PER_MM.items()
)

_ALL: tuple[Paper, ...] = (*_SHEETS, *_ROLLS)
PAPERS = {paper.name: paper for paper in _ALL}
PAPER_DEFAULT = "a4-21"


def find_paper(name: str) -> Paper:
    """The paper called `name`; raises LabelError naming the nearest or all papers."""
    paper = PAPERS.get(name.strip().lower())
    if paper:
        return paper
    near = get_close_matches(name.lower(), PAPERS, n=3)
    hint = f"Did you mean {' or '.join(near)}?" if near else f"Known papers: {', '.join(PAPERS)}."
    raise LabelError(f"There is no paper {name!r}. {hint}")
