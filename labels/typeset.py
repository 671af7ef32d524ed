"""The type of one tag: code for the eye, variety or lines to write on, added lines, set to fit a room."""

from dataclasses import dataclass, replace

from labels.fonts import type_width_mm
from labels.tags import Tag

# Sizes of type (its em) in mm: the smallest is still read at arm's length, the largest keeps the tag calm; between
# them, parts of the room's height.
CODE_MAX_MM, NAME_MAX_MM, PLAIN_MAX_MM = 8.0, 7.5, 3.8
CODE_PART, NAME_PART, PLAIN_PART = 0.25, 0.25, 0.14
NAME_MIN_MM, PLAIN_MIN_MM = 2.6, 1.9
SHRINK_STEPS, SHRINK_LEAST = 16, 0.3
# Rather than break a line, its type shrinks to this part.
UNBROKEN_LEAST = 0.75
# Type fitted to a width stays this little under it, so that rounding does not break the line after all.
ROUNDING = 0.999
# Height of capitals, white under the variety and distance of baselines as parts of the em.
CAPITAL = 0.73
LEAD = 0.25
PITCH = {"name": 1.16, "plain": 1.36}
NAME_PITCH_MM, PLAIN_PITCH_MM = PITCH["name"] * NAME_MIN_MM, PITCH["plain"] * PLAIN_MIN_MM
# A line to write on leaves this much height for a pencil.
PENCIL_MM = 7.0
HEAD_RULE_MM, WRITING_RULE_MM = 0.4, 0.2


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
    weight_mm: float


@dataclass(frozen=True)
class Block:
    """Lines of type from the top left corner of their room at (0, 0), and the height that they take."""

    texts: tuple[Text, ...]
    rules: tuple[Rule, ...]
    height_mm: float

    def at(self, x_mm: float, y_mm: float) -> tuple[tuple[Text, ...], tuple[Rule, ...]]:
        """The lines as they stand when the block's corner is at (x, y)."""
        texts = tuple(replace(t, x_mm=t.x_mm + x_mm, y_mm=t.y_mm + y_mm) for t in self.texts)
        return texts, tuple(replace(r, x_mm=r.x_mm + x_mm, y_mm=r.y_mm + y_mm) for r in self.rules)


def compose(tag: Tag, width_mm: float, heights_mm: tuple[float, float], least_mm: float = 0.0) -> Block:
    """The code, a rule, the variety (or lines to write on) and, down to `least_mm` at the foot, the added lines.

    Type shrinks to stay within the first of the two heights, then within the second, and is cut short in the end.
    """
    calm_mm, tall_mm = heights_mm
    head = _head(tag, width_mm, calm_mm)
    written = _written(tag, width_mm, calm_mm - head.height_mm)
    fixed_mm = head.height_mm + written.height_mm
    for limit_mm in (calm_mm, tall_mm):
        for step in range(SHRINK_STEPS):
            scale = 1 - (1 - SHRINK_LEAST) * step / (SHRINK_STEPS - 1)
            name, plain = _words(tag, width_mm, calm_mm, scale)
            lead = _lead(name, plain)
            needed_mm = fixed_mm + name.height_mm + lead.height_mm + plain.height_mm
            if needed_mm <= limit_mm:
                return _stack(head, written, name, lead, Block((), (), max(0.0, least_mm - needed_mm)), plain)
    name, plain = _cut_short(name, plain, width_mm, tall_mm - fixed_mm - lead.height_mm)
    return _stack(head, written, name, _lead(name, plain), plain)


def _lead(name: Block, plain: Block) -> Block:
    """The white between the variety and the added lines."""
    return Block((), (), LEAD * name.texts[0].size_mm if name.texts and plain.texts else 0.0)


def _stack(*blocks: Block) -> Block:
    texts: tuple[Text, ...] = ()
    rules: tuple[Rule, ...] = ()
    height_mm = 0.0
    for block in blocks:
        more_texts, more_rules = block.at(0.0, height_mm)
        texts, rules = texts + more_texts, rules + more_rules
        height_mm += block.height_mm
    return Block(texts, rules, height_mm)


def _head(tag: Tag, width_mm: float, height_mm: float) -> Block:
    """The code for the eye over a rule of the room's whole width."""
    size_mm = min(CODE_MAX_MM, CODE_PART * height_mm)
    size_mm *= min(1.0, width_mm / type_width_mm(tag.spaced_code, "code", size_mm))
    capital_mm = CAPITAL * size_mm
    rule_mm = capital_mm + 0.28 * size_mm
    return Block(
        (Text(0.0, capital_mm, size_mm, "code", tag.spaced_code),),
        (Rule(0.0, rule_mm, width_mm, HEAD_RULE_MM),),
        rule_mm + 0.15 * size_mm,
    )


def _written(tag: Tag, width_mm: float, height_mm: float) -> Block:
    """Nothing where there is a variety; else a line to write one on, two where no added line needs the room."""
    if tag.printed_variety:
        return Block((), (), 0.0)
    lines = 2 if not tag.printed_lines and height_mm >= 2 * PENCIL_MM else 1
    rules = tuple(Rule(0.0, PENCIL_MM * (n + 1), width_mm, WRITING_RULE_MM) for n in range(lines))
    return Block((), rules, PENCIL_MM * lines + WRITING_RULE_MM)


def _words(tag: Tag, width_mm: float, height_mm: float, scale: float) -> tuple[Block, Block]:
    """Variety and added lines at one scale, broken between words; a long word makes its own kind smaller."""
    name_mm = max(NAME_MIN_MM, scale * min(NAME_MAX_MM, NAME_PART * height_mm))
    plain_mm = max(PLAIN_MIN_MM, scale * min(PLAIN_MAX_MM, PLAIN_PART * height_mm))
    name = _paragraph((tag.printed_variety,), "name", (NAME_MIN_MM, name_mm), width_mm)
    plain = _paragraph(tag.printed_lines, "plain", (PLAIN_MIN_MM, plain_mm), width_mm)
    return name, plain


def _paragraph(texts: tuple[str, ...], face: str, sizes_mm: tuple[float, float], width_mm: float) -> Block:
    """Texts one under the other at the wanted size, the second, or so much smaller that every word fits the width.

    A word that is too wide even at the least size, the first, is cut short.
    """
    least_mm, size_mm = sizes_mm
    words = [[ellipsis_at(word, face, least_mm, width_mm) for word in text.split()] for text in texts]
    widest = max((type_width_mm(word, face, 1.0) for text in words for word in text), default=0.0)
    longest = max((type_width_mm(" ".join(text), face, 1.0) for text in words), default=0.0)
    size_mm = min(size_mm, max(least_mm, ROUNDING * width_mm / widest)) if widest else size_mm
    if longest * max(least_mm, UNBROKEN_LEAST * size_mm) <= width_mm < longest * size_mm:
        size_mm = ROUNDING * width_mm / longest
    lines: list[str] = []
    for text in words:
        lines += _wrap(text, face, size_mm, width_mm)
    return _lines(lines, face, size_mm)


def _wrap(words: list[str], face: str, size_mm: float, width_mm: float) -> list[str]:
    lines: list[str] = []
    for word in words:
        if lines and type_width_mm(f"{lines[-1]} {word}", face, size_mm) <= width_mm:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def _lines(lines: list[str], face: str, size_mm: float) -> Block:
    """Lines set one under the other; the block ends at the last baseline, so that it can stand level with the code."""
    pitch_mm = PITCH[face] * size_mm
    return Block(
        tuple(Text(0.0, pitch_mm * (n + 1), size_mm, face, line) for n, line in enumerate(lines)),
        (),
        pitch_mm * len(lines),
    )


def _cut_short(name: Block, plain: Block, width_mm: float, height_mm: float) -> tuple[Block, Block]:
    """Smallest type, still too high, cut to the height: first the added lines; the variety keeps its first."""
    name_rows = len(name.texts)
    plain_rows = len(plain.texts)
    while plain_rows + name_rows > 1 and name_rows * NAME_PITCH_MM + plain_rows * PLAIN_PITCH_MM > height_mm:
        if plain_rows > min(1, len(plain.texts)) or name_rows == 1:
            plain_rows -= 1
        else:
            name_rows -= 1
    return _keep(name, name_rows, width_mm), _keep(plain, plain_rows, width_mm)


def _keep(block: Block, rows: int, width_mm: float) -> Block:
    """The first rows of a block; where some are dropped, the last one kept ends in an ellipsis."""
    if rows in (0, len(block.texts)):
        return block if rows else Block((), (), 0.0)
    last = block.texts[rows - 1]
    lines = [text.text for text in block.texts[:rows]]
    lines[-1] = ellipsis_at(f"{last.text} {block.texts[rows].text}…", last.face, last.size_mm, width_mm)
    return _lines(lines, last.face, last.size_mm)


def ellipsis_at(text: str, face: str, size_mm: float, width_mm: float) -> str:
    """The text, or as much of it as the width in mm takes, then with an ellipsis."""
    if type_width_mm(text, face, size_mm) <= width_mm:
        return text
    while text and type_width_mm(f"{text}…", face, size_mm) > width_mm:
        text = text[:-1].rstrip()
    return f"{text}…"
