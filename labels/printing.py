"""From tags and a paper's name to files: what the command and the server call."""

from collections.abc import Sequence
from dataclasses import dataclass

from labels.codes import make_code
from labels.errors import LabelError
from labels.papers import PAPERS, Roll, find_paper
from labels.pdf import sheet_pdf
from labels.png import label_png
from labels.press import CODE_MM, check_order, true_code_mm
from labels.tags import Tag


@dataclass(frozen=True)
class Printed:
    """The files as (name, bytes), and how wide each tag's code really is, in mm by the tag's code.

    A PDF is one file `tags.pdf`. PNG are one file a tag, `CODE.png`, as label printers take one label a picture.
    """

    files: tuple[tuple[str, bytes], ...]
    code_mm: dict[str, float]


def print_tags(
    tags: Sequence[Tag],
    paper: str,
    suffix: str = ".pdf",
    code_mm: float = CODE_MM,
    start: int = 0,
    cut_marks: bool | None = None,
) -> Printed:
    """Prints tags on the paper called `paper` to `.pdf` (every paper) or `.png` (rolls only).

    `start` and `cut_marks` are those of `sheet_pdf`. Whole dots make a roll's code a little wider or narrower than
    asked, in either form: remember `Printed.code_mm` with the tags, so that a photo of one is measured rightly.
    Raises LabelError, with what to do, before anything is made.
    """
    chosen = find_paper(paper)
    check_order(tags, code_mm)
    kind = suffix.lower().removeprefix(".")
    if kind == "pdf":
        files = [("tags.pdf", sheet_pdf(tags, chosen, code_mm, start, cut_marks))]
    elif kind == "png" and isinstance(chosen, Roll):
        files = [(f"{tag.code}.png", label_png(tag, chosen, code_mm)) for tag in tags]
    else:
        raise LabelError(_wrong_form(kind, chosen.name))
    return Printed(tuple(files), {tag.code: true_code_mm(make_code(tag.qr_text), chosen, code_mm) for tag in tags})


def _wrong_form(kind: str, paper: str) -> str:
    rolls = ", ".join(name for name, other in PAPERS.items() if isinstance(other, Roll))
    if kind == "png":
        return f"{paper} is a sheet, which is printed as a PDF. For PNG choose a roll: {rolls}."
    return f"Tags are printed to a file ending in .pdf, or .png for rolls, not .{kind}."
