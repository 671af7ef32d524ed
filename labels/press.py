"""Brings tags and paper together: limits, the code's true size on this paper, and what fits where."""

from collections.abc import Sequence
from dataclasses import replace
from math import isfinite

from labels.codes import Code, make_code
from labels.errors import LabelError
from labels.layout import Artwork, arrange
from labels.papers import PAPERS, Paper, Roll
from labels.tags import Tag

TAGS_MAX = 2000
CODE_MM = 20.0
CODE_MM_MIN, CODE_MM_MAX = 10.0, 80.0


def check_order(tags: Sequence[Tag], code_mm: float) -> None:
    """Raises LabelError when there is nothing or too much to print, or the code's width is out of bounds."""
    if not tags:
        raise LabelError("There is no tag to print. Choose trees or a place, or a number of blank tags.")
    if len(tags) > TAGS_MAX:
        raise LabelError(f"{len(tags)} tags are more than the {TAGS_MAX} of one document. Print them in parts.")
    if not (isfinite(code_mm) and CODE_MM_MIN <= code_mm <= CODE_MM_MAX):
        raise LabelError(f"A code can be {CODE_MM_MIN:.0f} to {CODE_MM_MAX:.0f} mm wide, not {code_mm:g} mm.")


def true_code_mm(code: Code, paper: Paper, code_mm: float) -> float:
    """Width in mm that the code gets: as asked on sheets, the nearest whole number of dots a module on rolls."""
    if not isinstance(paper, Roll):
        return code_mm
    return dots_per_module(code, paper, code_mm) * code.modules / paper.dots_per_mm


def dots_per_module(code: Code, roll: Roll, code_mm: float) -> int:
    """Whole dots a module on a label printer, at least one, nearest to a code of `code_mm`."""
    return max(1, round(code_mm * roll.dots_per_mm / code.modules))


def face_mm(paper: Paper) -> tuple[float, float]:
    """(width, height) in mm of one label, on rolls cut to whole dots."""
    if not isinstance(paper, Roll):
        return paper.label_mm
    return paper.dots[0] / paper.dots_per_mm, paper.dots[1] / paper.dots_per_mm


def lay_out(tag: Tag, paper: Paper, code_mm: float) -> tuple[Code, Artwork]:
    """The code and the laid out label of one tag; on rolls the code stands on whole dots.

    Raises LabelError that says which papers or which width would fit.
    """
    code = make_code(tag.qr_text)
    try:
        artwork = _arrange(tag, code, paper, code_mm)
    except LabelError as error:
        raise LabelError(f"{error} {_advice(code, paper, code_mm)}") from None
    if isinstance(paper, Roll):
        dots = paper.dots_per_mm
        x_mm, y_mm = round(artwork.code_x_mm * dots) / dots, round(artwork.code_y_mm * dots) / dots
        artwork = replace(artwork, code_x_mm=x_mm, code_y_mm=y_mm)
    return code, artwork


def _arrange(tag: Tag, code: Code, paper: Paper, code_mm: float) -> Artwork:
    return arrange(tag, code, true_code_mm(code, paper, code_mm), face_mm(paper), paper.foot_mm)


def _fits(code: Code, paper: Paper, code_mm: float) -> bool:
    try:
        _arrange(Tag("0", "0"), code, paper, code_mm)
    except LabelError:
        return False
    return True


def _advice(code: Code, paper: Paper, code_mm: float) -> str:
    widths_mm = [mm for mm in range(int(code_mm), int(CODE_MM_MIN) - 1, -1) if _fits(code, paper, mm)]
    papers = [name for name, other in PAPERS.items() if _fits(code, other, code_mm)]
    hints = [f"take a code of {widths_mm[0]} mm"] if widths_mm else []
    hints += [f"choose one of these papers: {', '.join(papers)}"] if papers else []
    return f"You can {' or '.join(hints)}." if hints else "No paper fits such a code; take a smaller one."
