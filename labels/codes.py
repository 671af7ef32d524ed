"""The square code of a tag: its modules, its white border and the rectangles that draw it."""

import re
from dataclasses import dataclass
from functools import lru_cache

from qrcode import QRCode
from qrcode.constants import ERROR_CORRECT_H, ERROR_CORRECT_Q
from qrcode.util import MODE_ALPHA_NUM, QRData

from labels.errors import LabelError

# ISO/IEC 18004: the white border is four modules wide, version v has 17 + 4 v modules a side.
QUIET_MODULES = 4
# What version 6 holds at level Q (ISO/IEC 18004). A finer grid than its 41 modules, 0.5 mm each in a code of 20 mm, is
# read only from very near.
LETTERS_MAX = 108
# The 45 characters of the alphanumeric mode, ISO/IEC 18004.
ALPHANUMERIC = re.compile(r"[0-9A-Z $%*+\-./:]+")
Rectangle = tuple[int, int, int, int]


@dataclass(frozen=True)
class Code:
    """One code: `rows[y][x]` is True where the module is dark; `level` is the error correction, Q or H."""

    text: str
    version: int
    level: str
    rows: tuple[tuple[bool, ...], ...]

    @property
    def modules(self) -> int:
        """Modules a side, without the white border."""
        return len(self.rows)

    def quiet_mm(self, code_mm: float) -> float:
        """Width in mm of the white border around a code that is `code_mm` wide without it."""
        return QUIET_MODULES * code_mm / self.modules

    def rectangles(self) -> list[Rectangle]:
        """The dark modules as few non-overlapping rectangles (x, y, width, height), in modules from the top left."""
        grown: dict[tuple[int, int], Rectangle] = {}
        done: list[Rectangle] = []
        for y, row in enumerate(self.rows):
            current = {}
            for x, width in _runs(row):
                above = grown.pop((x, width), None)
                current[x, width] = (x, above[1], width, above[3] + 1) if above else (x, y, width, 1)
            done.extend(grown.values())
            grown = current
        return [*done, *grown.values()]


@lru_cache(maxsize=4096)
def make_code(text: str) -> Code:
    """The code for `text`: the smallest version at level Q, then level H where that costs no larger version.

    Large modules are read wet, bent and from afar, so the version counts before the level.
    Raises LabelError when `text` has characters outside the alphanumeric mode, or is too long to be read on a tag.
    """
    if len(text) > LETTERS_MAX:
        raise LabelError(
            f"A text of {len(text)} characters makes a code too fine to read on a tag. "
            f"Use a shorter address: {LETTERS_MAX} characters at most, the tag's code included."
        )
    if not ALPHANUMERIC.fullmatch(text):
        raise LabelError(
            f"A code can hold capital letters, digits and $ % * + - . / : only, not {text!r}. "
            "Write the address in capital letters and leave out other characters."
        )
    at_q, at_h = _filled(text, ERROR_CORRECT_Q), _filled(text, ERROR_CORRECT_H)
    code, level = (at_h, "H") if at_h.version == at_q.version else (at_q, "Q")
    code.make(fit=False)
    return Code(text, code.version, level, tuple(tuple(bool(dark) for dark in row) for row in code.modules))


def rows_of(text: str) -> tuple[tuple[bool, ...], ...] | None:
    """Rows of the modules that are printed for a text, True is dark; None for a text that no tag of ours holds."""
    try:
        return make_code(text).rows
    except LabelError:
        return None


def _filled(text: str, correction: int) -> QRCode:
    """A code that holds `text`, at its smallest version, its modules not yet made."""
    code = QRCode(error_correction=correction, border=0)
    code.add_data(QRData(text, mode=MODE_ALPHA_NUM))
    code.best_fit()
    return code


def _runs(row: tuple[bool, ...]) -> list[tuple[int, int]]:
    """Start and length of every unbroken stretch of dark modules in one row."""
    edges = [x for x in range(len(row) + 1) if (x < len(row) and row[x]) != (x > 0 and row[x - 1])]
    return [(start, end - start) for start, end in zip(edges[::2], edges[1::2], strict=True)]
