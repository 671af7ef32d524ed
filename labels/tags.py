"""What a tag says, checked and cleaned, before it is laid out."""

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

from labels.errors import LabelError
from labels.fonts import draws

CODE_LETTERS_MAX = 12
TEXT_LETTERS_MAX = 200
LINES_MAX = 6


@dataclass(frozen=True)
class Tag:
    """One tag: its code (`ABCDEF`), the text in the square code (the code, or an address that ends in it), the variety
    (empty for a tag made in advance: it gets a line to write on) and the lines that the grower adds.

    Raises LabelError for a code that is not letters and digits, for more than six lines or a text over 200 characters.
    """

    code: str
    qr_text: str
    variety: str = ""
    lines: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Tidies the texts and checks all limits."""
        if not (self.code.isascii() and self.code.isalnum() and len(self.code) <= CODE_LETTERS_MAX):
            raise LabelError(f"A tag's code is up to {CODE_LETTERS_MAX} letters and digits, not {self.code!r}.")
        lines = tuple(line for line in map(_tidy, self.lines) if line)
        if len(lines) > LINES_MAX:
            raise LabelError(f"A tag has room for {LINES_MAX} added lines; {self.code} has {len(lines)}.")
        object.__setattr__(self, "lines", lines)
        object.__setattr__(self, "variety", _tidy(self.variety))

    @property
    def spaced_code(self) -> str:
        """The code as it is printed for the eye, in threes: `ABC DEF`."""
        return " ".join(self.code[start : start + 3] for start in range(0, len(self.code), 3))

    @property
    def printed_variety(self) -> str:
        """The variety, or nothing where the faces cannot draw it, so that it is written by hand."""
        return self.variety if draws(self.variety) else ""

    @property
    def printed_lines(self) -> tuple[str, ...]:
        """The added lines that the faces can draw."""
        return tuple(line for line in self.lines if draws(line))


def not_printed(tags: Iterable[Tag]) -> list[str]:
    """The texts that the faces cannot draw and that the tags leave out, each once, to tell the grower."""
    texts = (text for tag in tags for text in (tag.variety, *tag.lines))
    return list(dict.fromkeys(text for text in texts if not draws(text)))


def _tidy(text: str) -> str:
    """One line of composed characters without control characters; raises LabelError when it is too long."""
    spaced = "".join(" " if unicodedata.category(c) in ("Cc", "Zl", "Zp") else c for c in text)
    tidy = " ".join(unicodedata.normalize("NFC", spaced).split())
    if len(tidy) > TEXT_LETTERS_MAX:
        raise LabelError(f"A text on a tag has at most {TEXT_LETTERS_MAX} characters; this has {len(tidy)}: {tidy!r}.")
    return tidy
