"""Where everything stands on one tag, in millimetres from the label's top left corner, for paper and for dots alike."""

from dataclasses import dataclass

from labels.codes import Code
from labels.errors import LabelError
from labels.tags import Tag
from labels.typeset import Rule, Text, compose

# Text keeps this far from the label's edge, and this far from the white border of the code.
EDGE_MM = 2.0
CLEAR_MM = 0.6
# The white border itself stays this far inside the label where there is room, for sheets that are fed a little off.
SLACK_MM = 1.5
# The least room in which a code can still be set legibly.
ROOM_MM = (12.0, 8.0)
# Type beside the code first tries to stay within this part of the label's height, which leaves calm white around it.
CALM_PART = 0.7


@dataclass(frozen=True)
class Artwork:
    """A laid out tag: top left corner and width of the code without its white border, then type and lines."""

    code_x_mm: float
    code_y_mm: float
    code_mm: float
    texts: tuple[Text, ...]
    rules: tuple[Rule, ...]


def arrange(tag: Tag, code: Code, code_mm: float, label_mm: tuple[float, float], foot_mm: float = 0.0) -> Artwork:
    """Lays out one tag on a label of (width, height) mm whose lower `foot_mm` stay bare.

    Type shrinks and is then cut short with an ellipsis.
    Raises LabelError when code, white border and type do not fit the label.
    """
    quiet_mm = code.quiet_mm(code_mm)
    face_mm = (label_mm[0], label_mm[1] - foot_mm)
    upright = face_mm[1] > 1.1 * face_mm[0]
    for place in (_below, _beside) if upright else (_beside, _below):
        artwork = place(tag, code_mm, quiet_mm, face_mm)
        if artwork:
            return artwork
    raise LabelError(
        f"A code of {code_mm:.1f} mm with its white border ({code_mm + 2 * quiet_mm:.1f} mm) and its letters "
        f"does not fit a label of {label_mm[0]:.1f} x {label_mm[1]:.1f} mm."
    )


def _beside(tag: Tag, code_mm: float, quiet_mm: float, face_mm: tuple[float, float]) -> Artwork | None:
    """Code on the left, half-way up; type on its right, from the code's top to its bottom or further."""
    spare_mm = face_mm[1] - code_mm - 2 * quiet_mm
    x_mm = quiet_mm + min(spare_mm / 2, SLACK_MM)
    type_x_mm = x_mm + code_mm + quiet_mm + CLEAR_MM
    width_mm = face_mm[0] - EDGE_MM - type_x_mm
    if spare_mm < 0 or width_mm < ROOM_MM[0]:
        return None
    heights_mm = (max(code_mm, CALM_PART * face_mm[1]), face_mm[1] - 2 * EDGE_MM)
    block = compose(tag, width_mm, heights_mm, code_mm)
    top_mm = (face_mm[1] - block.height_mm) / 2
    return Artwork(x_mm, (face_mm[1] - code_mm) / 2, code_mm, *block.at(type_x_mm, top_mm))


def _below(tag: Tag, code_mm: float, quiet_mm: float, face_mm: tuple[float, float]) -> Artwork | None:
    """Code on top, type beneath it, their left sides in line."""
    spare_mm = face_mm[0] - code_mm - 2 * quiet_mm
    start_mm = quiet_mm + min(spare_mm / 2, SLACK_MM)
    type_y_mm = start_mm + code_mm + quiet_mm + CLEAR_MM
    height_mm = face_mm[1] - EDGE_MM - type_y_mm
    if spare_mm < 0 or height_mm < ROOM_MM[1]:
        return None
    block = compose(tag, face_mm[0] - EDGE_MM - start_mm, (height_mm, height_mm))
    return Artwork(start_mm, start_mm, code_mm, *block.at(start_mm, type_y_mm))
