"""Merging: a record's state is its changes folded in one agreed order, field by field. Pure.

The order is the time of the edit as the server could believe it: never later than when the change arrived, and
never running backwards for one device. A phone with a wrong clock can therefore lose an argument, but not rule it.
"""

from __future__ import annotations

from typing import Any, NamedTuple


class LoggedChange(NamedTuple):
    """What merging needs of a stored change."""

    effective_ms: int
    device: str
    n: int
    set: dict[str, Any]

    @property
    def order(self) -> tuple[int, str, int]:
        """Its place among all changes to the record; the device's id breaks ties the same way for everyone."""
        return (self.effective_ms, self.device, self.n)


def effective_ms(edited_ms: int, received_ms: int, former_ms: int, later_ms: int | None = None) -> int:
    """When an edit counts as made, from the phone's clock, the server's, and the device's edits before and after it.

    One after it is here already where an edit comes late: offered again to a restored home, or sent again.
    """
    effective = max(min(edited_ms, received_ms), former_ms)
    return effective if later_ms is None else min(effective, later_ms)


def fold(changes: list[LoggedChange]) -> dict[str, Any]:
    """A record's fields: each as the last change that names it left it; fields set to None are left out."""
    if len(changes) == 1:
        fields = changes[0].set
    else:
        fields = {}
        for change in sorted(changes, key=lambda change: change.order):
            fields.update(change.set)
    kept = {field: value for field, value in fields.items() if value is not None}
    if not kept.get("voided", True):
        del kept["voided"]
    return kept
