"""Where everything stands on one tag, in millimetres from the label's top left corner, for paper and for dots alike."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from labels.codes import Code
from labels.errors import LabelError
from labels.tags import Tag

Measure = Callable[[str, str, float], float]

# Text keeps this far from the label's edge, and this far from the white border of the code.
EDGE_MM = 2.0
CLEAR_MM = 0.6
# The white border itself stays this far inside the label where there is room, for sheets that are fed a little off.
SLACK_MM = 1.5
# The least room in which a code can still be set legibly.
ROOM_MM = (12.0, 8.0)
# Sizes of type (its em) in mm: the smallest is still read at arm's length, the largest keeps the tag calm.
CODE_MAX_MM, NAME_MAX_MM, PLAIN_MAX_MM = 9.0, 7.5, 3.8
NAME_MIN_MM, PLAIN_MIN_MM = 2.6, 1.9
SHRINK_STEPS = 16
# Parts of the em, as the faces have them: height of capitals, depth below the baseline.
CAPITAL, DEPTH = 0.73, 0.24
NAME_PITCH, PLAIN_PITCH = 1.16, 1.32
# A writing line leaves this much height for a pencil.
PENCIL_MM = 7.0
NAME_LINES_MAX = 3


@dataclass(frozen=True)
class Text:
    """One line of type: left end of its baseline, size of its em, and the face by its part on the tag."""

    x_mm: float
    y_mm: float
    size_mm: float
    face: str
    text: str


@dataclass(frozen=True)
class Rule:
    """A thin horizontal line from its left end."""

    x_mm: float
    y_mm: float
    length_mm: float
    weight_mm: float = 0.25


@dataclass(frozen=True)
class Artwork:
    """A laid out tag: top left corner and width of the code without its white border, then type and lines."""

    code_x_mm: float
    code_y_mm: float
    code_mm: float
    texts: tuple[Text, ...]
    rules: tuple[Rule, ...]


@dataclass(frozen=True)
class _Block:
    """Lines of type from the top left corner of their room at (0, 0), and the height that they take."""

    texts: tuple[Text, ...]
    rules: tuple[Rule, ...]
    height_mm: float

    def at(self, x_mm: float, y_mm: float) -> tuple[tuple[Text, ...], tuple[Rule, ...]]:
        texts = tuple(replace(t, x_mm=t.x_mm + x_mm, y_mm=t.y_mm + y_mm) for t in self.texts)
        return texts, tuple(replace(r, x_mm=r.x_mm + x_mm, y_mm=r.y_mm + y_mm) for r in self.rules)


def arrange(
    tag: Tag, code: Code, code_mm: float, label_mm: tuple[float, float], measure: Measure, foot_mm: float = 0.0
) -> Artwork:
    """Lays out one tag on a label of (width, height) mm whose lower `foot_mm` stay bare.

    `measure(text, face, size_mm)` is the width in mm of a text. Type shrinks and is then cut short with an ellipsis.
    Raises LabelError when code, white border and type do not fit the label.
    """
    quiet_mm = code.quiet_mm(code_mm)
    face_mm = (label_mm[0], label_mm[1] - foot_mm)
    upright = face_mm[1] > 1.1 * face_mm[0]
    for place in (_below, _beside) if upright else (_beside, _below):
        artwork = place(tag, code_mm, quiet_mm, face_mm, measure)
        if artwork:
            return artwork
    raise LabelError(
        f"A code of {code_mm:.1f} mm with its white border ({code_mm + 2 * quiet_mm:.1f} mm) and its letters "
        f"does not fit a label of {label_mm[0]:.1f} x {label_mm[1]:.1f} mm."
    )


def _beside(
    tag: Tag, code_mm: float, quiet_mm: float, face_mm: tuple[float, float], measure: Measure
) -> Artwork | None:
    """Code on the left, type on its right, their tops level."""
    spare_mm = face_mm[1] - code_mm - 2 * quiet_mm
    x_mm = quiet_mm + min(spare_mm / 2, SLACK_MM)
    type_x_mm = x_mm + code_mm + quiet_mm + CLEAR_MM
    width_mm = face_mm[0] - EDGE_MM - type_x_mm
    if spare_mm < 0 or width_mm < ROOM_MM[0]:
        return None
    tall_mm = face_mm[1] - 2 * EDGE_MM
    block = _compose(tag, width_mm, max(code_mm, 0.7 * face_mm[1]), tall_mm, measure)
    top_mm = (face_mm[1] - max(code_mm, block.height_mm)) / 2
    code_y_mm = min(max(top_mm, quiet_mm), face_mm[1] - quiet_mm - code_mm)
    return Artwork(x_mm, code_y_mm, code_mm, *block.at(type_x_mm, top_mm))


def _below(tag: Tag, code_mm: float, quiet_mm: float, face_mm: tuple[float, float], measure: Measure) -> Artwork | None:
    """Code on top, type beneath it, their left sides in line."""
    spare_mm = face_mm[0] - code_mm - 2 * quiet_mm
    start_mm = quiet_mm + min(spare_mm / 2, SLACK_MM)
    type_y_mm = start_mm + code_mm + quiet_mm + CLEAR_MM
    height_mm = face_mm[1] - EDGE_MM - type_y_mm
    if spare_mm < 0 or height_mm < ROOM_MM[1]:
        return None
    block = _compose(tag, face_mm[0] - EDGE_MM - start_mm, height_mm, height_mm, measure)
    return Artwork(start_mm, start_mm, code_mm, *block.at(start_mm, type_y_mm))


def _compose(tag: Tag, width_mm: float, calm_mm: float, tall_mm: float, measure: Measure) -> _Block:
    """The code, a rule, the variety (or a line to write on) and the added lines.

    They are set within `calm_mm` of height where the type stays well legible, else within `tall_mm`.
    """
    head = _head(tag, width_mm, calm_mm, measure)
    body = _written(tag, width_mm, calm_mm) if not tag.printed_variety else _Block((), (), 0.0)
    used_mm = head.height_mm + body.height_mm
    for limit_mm in (calm_mm, tall_mm):
        for step in range(SHRINK_STEPS):
            scale = 1 - 0.6 * step / (SHRINK_STEPS - 1)
            words = _words(tag, width_mm, calm_mm, scale, measure)
            if words and used_mm + words.height_mm <= limit_mm:
                return _stack(head, body, words)
    return _stack(head, body, _cut_short(tag, width_mm, tall_mm - used_mm, measure))


def _stack(*blocks: _Block) -> _Block:
    texts: tuple[Text, ...] = ()
    rules: tuple[Rule, ...] = ()
    height_mm = 0.0
    for block in blocks:
        more_texts, more_rules = block.at(0.0, height_mm)
        texts, rules = texts + more_texts, rules + more_rules
        height_mm += block.height_mm
    return _Block(texts, rules, height_mm)


def _head(tag: Tag, width_mm: float, height_mm: float, measure: Measure) -> _Block:
    """The code for the eye over a rule of the room's whole width."""
    size_mm = min(CODE_MAX_MM, 0.3 * height_mm)
    size_mm *= min(1.0, width_mm / measure(tag.spaced_code, "code", size_mm))
    capital_mm = CAPITAL * size_mm
    rule_mm = capital_mm + 0.3 * size_mm
    return _Block(
        (Text(0.0, capital_mm, size_mm, "code", tag.spaced_code),),
        (Rule(0.0, rule_mm, width_mm),),
        rule_mm + 0.1 * size_mm,
    )


def _written(tag: Tag, width_mm: float, height_mm: float) -> _Block:
    """One line to write a variety on, two where no added line needs the room."""
    lines = 1 if tag.printed_lines or height_mm < 3 * PENCIL_MM else 2
    rules = tuple(Rule(0.0, PENCIL_MM * (n + 1), width_mm) for n in range(lines))
    return _Block((), rules, PENCIL_MM * lines + 0.3)


def _words(tag: Tag, width_mm: float, height_mm: float, scale: float, measure: Measure) -> _Block | None:
    """Variety and added lines at one scale, or None where a word is wider than the room or the type too small."""
    name_mm = scale * min(NAME_MAX_MM, 0.25 * height_mm)
    plain_mm = scale * min(PLAIN_MAX_MM, 0.15 * height_mm)
    names = _wrap(tag.printed_variety, width_mm, lambda text: measure(text, "name", name_mm))
    wide = any(measure(line, "plain", plain_mm) > width_mm for line in tag.printed_lines)
    small = (names and name_mm < NAME_MIN_MM) or (tag.printed_lines and plain_mm < PLAIN_MIN_MM)
    if names is None or wide or small or len(names) > NAME_LINES_MAX:
        return None
    return _set(names, name_mm, tag.printed_lines, plain_mm)


def _cut_short(tag: Tag, width_mm: float, height_mm: float, measure: Measure) -> _Block:
    """Variety and added lines at their smallest, cut short with an ellipsis where even that is too much."""
    rows = int((height_mm - NAME_PITCH * NAME_MIN_MM) / (PLAIN_PITCH * PLAIN_MIN_MM))
    plain = tag.printed_lines[: max(rows, 0)]
    room = int((height_mm - len(plain) * PLAIN_PITCH * PLAIN_MIN_MM) / (NAME_PITCH * NAME_MIN_MM))

    def fits(text: str, face: str, size_mm: float) -> str:
        return _ellipsis(text, width_mm, lambda part: measure(part, face, size_mm))

    names = _lines(tag.printed_variety, width_mm, lambda text: measure(text, "name", NAME_MIN_MM))
    if len(names) > max(1, min(room, NAME_LINES_MAX)):
        kept = max(1, min(room, NAME_LINES_MAX))
        names = [*names[: kept - 1], " ".join(names[kept - 1 :])]
    names = [fits(name, "name", NAME_MIN_MM) for name in names]
    return _set(names, NAME_MIN_MM, tuple(fits(line, "plain", PLAIN_MIN_MM) for line in plain), PLAIN_MIN_MM)


def _set(names: list[str], name_mm: float, plain: tuple[str, ...], plain_mm: float) -> _Block:
    """Variety lines over added lines; the height reaches to the last baseline's depth."""
    texts = []
    y_mm = 0.0
    for face, size_mm, pitch, lines in (("name", name_mm, NAME_PITCH, names), ("plain", plain_mm, PLAIN_PITCH, plain)):
        for line in lines:
            y_mm += pitch * size_mm
            texts.append(Text(0.0, y_mm - DEPTH * size_mm, size_mm, face, line))
    return _Block(tuple(texts), (), y_mm)


def _wrap(text: str, width_mm: float, width_of: Callable[[str], float]) -> list[str] | None:
    """The text in lines broken between words, or None where one word is wider than the room."""
    lines = _lines(text, width_mm, width_of)
    return None if any(width_of(line) > width_mm for line in lines) else lines


def _lines(text: str, width_mm: float, width_of: Callable[[str], float]) -> list[str]:
    lines: list[str] = []
    for word in text.split():
        if lines and width_of(f"{lines[-1]} {word}") <= width_mm:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def _ellipsis(text: str, width_mm: float, width_of: Callable[[str], float]) -> str:
    if width_of(text) <= width_mm:
        return text
    while text and width_of(f"{text}…") > width_mm:
        text = text[:-1].rstrip()
    return f"{text}…"
