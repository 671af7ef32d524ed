"""What is wrong in the files, collected, so that one import tells everything that needs mending."""

from __future__ import annotations

from server.errors import FieldProblem, Refused
from server.wording.said import joined, say

SHOWN_MAX = 50


class Problems:
    """The first fifty problems, and how many there are."""

    def __init__(self) -> None:
        self.shown: list[FieldProblem] = []
        self.count = 0

    def add(self, file: str, line: int, column: str, message: str) -> None:
        """Note a problem; line 0 is the file as a whole, an empty column the line as a whole."""
        self.count += 1
        if len(self.shown) < SHOWN_MAX:
            in_line = [say("line {line}", line=line)] if line else []
            in_column = [say("column {column}", column=column)] if column else []
            self.shown.append(FieldProblem(joined([file, *in_line, *in_column], ", "), message))

    def refuse_if_any(self) -> None:
        """Raise Refused with all of them in its message."""
        if not self.count:
            return
        lines = [say("{where}: {message}", where=each.field, message=each.message) for each in self.shown]
        if self.count > len(lines):
            lines.append(say("and {count} more.", count=self.count - len(lines)))
        told = joined([say("Nothing was imported. Mend this, then import again:"), *lines], "\n")
        raise Refused(told, tuple(self.shown))
