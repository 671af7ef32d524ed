"""Tags as black and white pictures at a label printer's own dots, so that it scales nothing."""

from io import BytesIO

from PIL import Image, ImageDraw

from labels.codes import Code
from labels.errors import LabelError
from labels.fonts import dot_font, type_width_mm
from labels.layout import Artwork
from labels.papers import INCH_MM, Paper, Roll
from labels.press import CODE_MM, check_order, dots_per_module, lay_out
from labels.tags import Tag

WHITE, BLACK = 1, 0


def label_png(tag: Tag, paper: Paper, code_mm: float = CODE_MM) -> bytes:
    """One tag as a PNG of one bit a dot, every module of the code the same whole number of dots.

    The code is as near to `code_mm` as whole dots allow; `press.true_code_mm` says how wide it gets.
    Raises LabelError when the paper is not a label printer's roll, or the code does not fit it.
    """
    check_order([tag], code_mm)
    if not isinstance(paper, Roll):
        raise LabelError(f"{paper.name} is a sheet, which is printed as a PDF. For a PNG choose a roll.")
    code, artwork = lay_out(tag, paper, code_mm)
    image = Image.new("1", paper.dots, WHITE)
    draw = ImageDraw.Draw(image)
    draw.fontmode = "1"
    _draw_code(draw, code, artwork, dots_per_module(code, paper, code_mm), paper.dots_per_mm)
    _draw_type(draw, artwork, paper.dots_per_mm)
    out = BytesIO()
    dpi = paper.dots_per_mm * INCH_MM
    image.save(out, "PNG", dpi=(dpi, dpi), optimize=True)
    return out.getvalue()


def _draw_code(draw: ImageDraw.ImageDraw, code: Code, artwork: Artwork, module: int, dots_per_mm: float) -> None:
    left, top = round(artwork.code_x_mm * dots_per_mm), round(artwork.code_y_mm * dots_per_mm)
    for x, y, width, height in code.rectangles():
        corner = (left + x * module, top + y * module)
        draw.rectangle((*corner, corner[0] + width * module - 1, corner[1] + height * module - 1), fill=BLACK)


def _draw_type(draw: ImageDraw.ImageDraw, artwork: Artwork, dots_per_mm: float) -> None:
    for text in artwork.texts:
        font = dot_font(text.face, round(text.size_mm * dots_per_mm))
        baseline = round(text.y_mm * dots_per_mm)
        # Each letter stands where paper would have it: the font's own steps in whole dots would widen the line.
        for n, letter in enumerate(text.text):
            x_mm = text.x_mm + type_width_mm(text.text[:n], text.face, text.size_mm)
            draw.text((round(x_mm * dots_per_mm), baseline), letter, fill=BLACK, font=font, anchor="ls")
    for rule in artwork.rules:
        left, top = round(rule.x_mm * dots_per_mm), round(rule.y_mm * dots_per_mm)
        weight = max(1, round(rule.weight_mm * dots_per_mm))
        draw.rectangle((left, top, left + round(rule.length_mm * dots_per_mm) - 1, top + weight - 1), fill=BLACK)
