"""What is wrong in the files, collected, so that one import tells everything that needs mending."""

from __future__ import annotations

from server.errors import FieldProblem, Refused

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
            where = ", ".join([file, *([f"line {line}"] if line else []), *([f"column {column}"] if column else [])])
            self.shown.append(FieldProblem(where, message))

    def refuse_if_any(self) -> None:
        """Raise Refused with all of them in its message."""
        if not self.count:
            return
        lines = [f"{each.field}: {each.message}" for each in self.shown]
        if self.count > len(lines):
            lines.append(f"and {self.count - len(lines)} more.")
        raise Refused("\n".join(["Nothing was imported. Mend this, then import again:", *lines]), tuple(self.shown))
