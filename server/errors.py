"""Every error that Leafwalk raises on purpose.

LeafwalkError
├── Refused            the input is at fault; the message says what to do; nothing was changed
│   ├── BadTagCode     the text is no tag code, or its check character is wrong
│   ├── TooLarge       more than the stated limit
│   ├── Unclear        a file leaves a question open; `choices` are its answers
│   ├── Unmeasurable   a photo that can't be measured; `reason` names why in a word or two
│   └── WrongCode      a pairing code that is wrong, used or expired
├── NotFound           what was asked for is not in the collection
├── NotAllowed         this device's role may not do that
├── Unauthorised       no token, or one that is unknown or was revoked
├── TooManyTries       asked too often; try again later
└── Unavailable        the server cannot keep it now (disk full, database busy): retry, nothing was kept
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self


@dataclass(frozen=True, slots=True)
class FieldProblem:
    """What is wrong with one field, in words for the person who typed it."""

    field: str
    message: str


class LeafwalkError(Exception):
    """Root of all; `problems` names the fields at fault, where there are any."""

    def __init__(self, message: str, problems: tuple[FieldProblem, ...] = ()) -> None:
        super().__init__(message)
        self.message = message
        self.problems = problems


class Refused(LeafwalkError):
    """The input is at fault; the message says what to do; nothing was changed."""

    @classmethod
    def of(cls, field: str, message: str) -> Self:
        """A refusal for what is wrong with one field, of which there is no more to say."""
        return cls(message, (FieldProblem(field, message),))


class BadTagCode(Refused):
    """The text is no tag code, or its check character is wrong."""


class TooLarge(Refused):
    """More than the stated limit."""


class Unclear(Refused):
    """A file leaves a question open: `problems` names it, `choices` are its answers as (value, words)."""

    def __init__(self, question: str, message: str, choices: tuple[tuple[str, str], ...]) -> None:
        super().__init__(message, (FieldProblem(question, message),))
        self.choices = choices


class Unmeasurable(Refused):
    """A photo that can't be measured; `reason` names why, the message says how to take a better one."""

    def __init__(self, reason: str, message: str) -> None:
        super().__init__(message, (FieldProblem("photo", message),))
        self.reason = reason


class WrongCode(Refused):
    """A pairing code that is wrong, used or expired."""


class NotFound(LeafwalkError):
    """What was asked for is not in the collection."""


class NotAllowed(LeafwalkError):
    """This device's role may not do that."""


class Unauthorised(LeafwalkError):
    """No token, or one that is unknown or was revoked."""


class TooManyTries(LeafwalkError):
    """Asked too often; try again later."""


class Unavailable(LeafwalkError):
    """The server cannot keep it now: retrying helps, and nothing was kept."""
