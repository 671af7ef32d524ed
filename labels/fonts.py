"""The three typefaces of a tag, how wide they set a text, and what they cannot draw."""

import unicodedata
from functools import cache, lru_cache
from importlib.resources import files
from pathlib import Path

from PIL import ImageFont
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from labels.errors import LabelError

# Each face by its part on the tag.
FACES = {"code": "DejaVuSansMono-Bold.ttf", "name": "DejaVuSans-Bold.ttf", "plain": "DejaVuSans.ttf"}


def font_path(face: str) -> Path:
    """The file of a face; raises LabelError when the installation lacks it."""
    path = Path(str(files("labels"))) / "fonts" / FACES[face]
    if not path.is_file():
        raise LabelError(f"The font {FACES[face]} is missing. Install the program again with pip.")
    return path


@cache
def pdf_font(face: str) -> str:
    """The name under which a PDF knows the face, registered at first use."""
    name = f"tag-{face}"
    pdfmetrics.registerFont(TTFont(name, str(font_path(face))))
    return name


@cache
def dot_font(face: str, size_dots: int) -> ImageFont.FreeTypeFont:
    """The face at a size in whole dots, for label printers."""
    return ImageFont.truetype(str(font_path(face)), size_dots, layout_engine=ImageFont.Layout.BASIC)


def type_width_mm(text: str, face: str, size_mm: float) -> float:
    """Width in mm of `text` in type whose em is `size_mm`."""
    return _width_ems(text, face) * size_mm


@lru_cache(maxsize=65536)
def _width_ems(text: str, face: str) -> float:
    return float(pdfmetrics.stringWidth(text, pdf_font(face), 1))


@lru_cache(maxsize=65536)
def draws(text: str) -> bool:
    """Whether the faces can set all of `text`, left to right.

    Scripts that run from right to left or need shaping are not set, as they would come out wrong.
    """
    glyphs = pdfmetrics.getFont(pdf_font("plain")).face.charToGlyph
    return all(ord(c) in glyphs and unicodedata.bidirectional(c) not in ("R", "AL", "AN") for c in text)
