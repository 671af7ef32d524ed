"""Estimates drawn as dots with their bands, one a row over a common axis: what is seen and how sure it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import floor, isfinite, log10

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from labels.errors import LabelError
from labels.fonts import pdf_font, type_width_mm
from labels.typeset import ellipsis_at

ROW_MM, HEAD_MM, FOOT_MM = 5.4, 1.5, 10.0
TYPE_MM, SMALL_MM = 3.1, 2.7
NAME_SHARE, FIGURES_SHARE = 0.33, 0.21
"""Parts of the width for the names on the left and the figures on the right."""
DOT_MM, BAND_MM, CAP_MM, HAIR_MM = 0.95, 0.5, 1.6, 0.1
GREY = 0.75
"""Of the lines that guide the eye; all that says something is black."""
TICKS_MAX = 6
SPAN_LEAST = 1e-6
"""Of the values' size; what differs by less stands at one place."""
ROWS_TOGETHER_MIN = 3
"""A page takes so many rows of a plot or none: an axis alone says nothing."""


@dataclass(frozen=True)
class PlotRow:
    """One estimate: `middle` with its band `low` to `high`, all None where nothing is known; `figures` in words.

    Without a band the dot is drawn hollow: a plain mean that nothing bounds.
    """

    name: str
    middle: float | None
    low: float | None
    high: float | None
    figures: str = ""


@dataclass(frozen=True)
class PlotData:
    """Rows over one axis, whose `unit` stands under it; `zero` is drawn through where it means no difference."""

    rows: Sequence[PlotRow]
    unit: str
    zero: bool = False
    whole: bool = False


def ticks(low: float, high: float, whole: bool = False) -> list[float]:
    """Round values from `low` or below to `high` or above, few enough: steps of 1, 2 or 5 times a power of ten."""
    if not (isfinite(low) and isfinite(high) and low <= high):
        raise LabelError("An axis needs two finite ends, the lower first.")
    least = SPAN_LEAST * max(abs(low), abs(high), 1.0)
    span = max(high - low, least)
    power = 10.0 ** floor(log10(span / (TICKS_MAX - 1)))
    step = next((factor * power for factor in (1, 2, 5) if span / (factor * power) <= TICKS_MAX - 1), 10 * power)
    step = max(step, 1.0) if whole else step
    first = floor(low / step)
    last = first
    while last * step < high - 1e-9 * step:
        last += 1
    return [round(n * step, 12) for n in range(first, max(last, first + 1) + 1)]


class Plot(Flowable):  # type: ignore[misc]  # reportlab has no types
    """A plot as wide as the page's frame; a long one goes on over the page with the same axis."""

    def __init__(self, data: PlotData, ends: tuple[float, float] | None = None) -> None:
        super().__init__()
        told = [v for row in data.rows for v in (row.low, row.middle, row.high) if v is not None]
        self.data = data
        self.ends = ends or (
            min([*told, *([0.0] if data.zero else [])], default=0.0),
            max([*told, *([0.0] if data.zero else [])], default=1.0),
        )

    def wrap(self, width_pt: float, _height_pt: float) -> tuple[float, float]:
        """The room that it takes, in points."""
        self.width = width_pt
        self.height = (HEAD_MM + ROW_MM * len(self.data.rows) + FOOT_MM) * mm
        return width_pt, self.height

    def split(self, _width_pt: float, height_pt: float) -> list[Flowable]:
        """Two plots on one axis, the first of the height that is left; none where that is too little."""
        fit = int((height_pt / mm - HEAD_MM - FOOT_MM) // ROW_MM)
        fit = min(fit, len(self.data.rows) - ROWS_TOGETHER_MIN)
        if fit < ROWS_TOGETHER_MIN:
            return []
        parts = self.data.rows[:fit], self.data.rows[fit:]
        return [Plot(replace(self.data, rows=rows), self.ends) for rows in parts]

    def draw(self) -> None:
        """Draw it, in millimetres from its lower left corner."""
        canvas: Canvas = self.canv
        canvas.saveState()
        canvas.scale(mm, mm)
        width_mm, height_mm = self.width / mm, self.height / mm
        left_mm, right_mm = NAME_SHARE * width_mm, (1 - FIGURES_SHARE) * width_mm
        marks = ticks(*self.ends, self.data.whole)
        scale = _Scale(marks[0], marks[-1], left_mm, right_mm)
        self._axis(canvas, marks, scale, height_mm)
        for n, row in enumerate(self.data.rows):
            y_mm = height_mm - HEAD_MM - ROW_MM * (n + 0.5)
            _row(canvas, row, scale, y_mm, width_mm)
        canvas.restoreState()

    def _axis(self, canvas: Canvas, marks: Sequence[float], scale: _Scale, height_mm: float) -> None:
        canvas.setFillGray(0)
        canvas.setFont(pdf_font("plain"), SMALL_MM)
        decimals = max((len(f"{mark:g}".partition(".")[2]) for mark in marks), default=0)
        for mark in marks:
            x_mm = scale.at(mark)
            canvas.setStrokeGray(GREY)
            canvas.setLineWidth(HAIR_MM)
            canvas.line(x_mm, FOOT_MM, x_mm, height_mm)
            canvas.drawCentredString(x_mm, FOOT_MM - 3.6, f"{mark:.{decimals}f}".replace("-", "−"))
        canvas.setStrokeGray(0)
        canvas.setLineWidth(2 * HAIR_MM)
        canvas.line(scale.left_mm, FOOT_MM, scale.right_mm, FOOT_MM)
        if self.data.zero and marks[0] < 0 < marks[-1]:
            canvas.setDash(1, 0.8)
            canvas.line(scale.at(0), FOOT_MM, scale.at(0), height_mm)
            canvas.setDash()
        canvas.drawCentredString((scale.left_mm + scale.right_mm) / 2, FOOT_MM - 7.4, self.data.unit)


@dataclass(frozen=True)
class _Scale:
    """Where a value stands between two ends of an axis."""

    low: float
    high: float
    left_mm: float
    right_mm: float

    def at(self, value: float) -> float:
        return self.left_mm + (value - self.low) / (self.high - self.low) * (self.right_mm - self.left_mm)


def _row(canvas: Canvas, row: PlotRow, scale: _Scale, y_mm: float, width_mm: float) -> None:
    base_mm = y_mm - 0.36 * TYPE_MM
    canvas.setFillGray(0)
    canvas.setStrokeGray(0)
    canvas.setFont(pdf_font("plain"), TYPE_MM)
    canvas.drawString(0, base_mm, ellipsis_at(row.name, "plain", TYPE_MM, scale.left_mm - 3.0))
    canvas.setFont(pdf_font("plain"), SMALL_MM)
    room_mm = width_mm - scale.right_mm - 3.0
    canvas.drawRightString(width_mm, base_mm, ellipsis_at(row.figures, "plain", SMALL_MM, room_mm))
    if row.middle is None:
        words = "not known"
        canvas.setFillGray(1)
        canvas.rect(scale.left_mm + 1, base_mm - 0.6, type_width_mm(words, "plain", SMALL_MM) + 1, TYPE_MM, 0, 1)
        canvas.setFillGray(0)
        canvas.drawString(scale.left_mm + 1.5, base_mm, words)
        return
    x_mm = scale.at(row.middle)
    if row.low is None or row.high is None:
        canvas.setFillGray(1)
        canvas.setLineWidth(BAND_MM * 0.7)
        canvas.circle(x_mm, y_mm, DOT_MM, 1, 1)
        return
    canvas.setLineWidth(BAND_MM)
    canvas.line(scale.at(row.low), y_mm, scale.at(row.high), y_mm)
    for end in (row.low, row.high):
        canvas.line(scale.at(end), y_mm - CAP_MM / 2, scale.at(end), y_mm + CAP_MM / 2)
    canvas.circle(x_mm, y_mm, DOT_MM, 0, 1)
