"""Artwork for tags and cards: knows codes, papers and millimetres, nothing of the database."""

from labels.errors import LabelError
from labels.papers import PAPER_DEFAULT, PAPERS, find_paper
from labels.pdf import sheet_pdf
from labels.png import label_png
from labels.printing import Printed, print_tags
from labels.tags import Tag, not_printed

__all__ = [
    "PAPERS",
    "PAPER_DEFAULT",
    "LabelError",
    "Printed",
    "Tag",
    "find_paper",
    "label_png",
    "not_printed",
    "print_tags",
    "sheet_pdf",
]
