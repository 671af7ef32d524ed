"""Milliseconds as RFC 3339 times, for people and programs outside."""

from __future__ import annotations

from datetime import UTC, datetime


def moment_text(moment_ms: int | None) -> str | None:
    """Milliseconds since 1970 as a time in UTC to the second; None stays None."""
    if moment_ms is None:
        return None
    return datetime.fromtimestamp(moment_ms // 1000, UTC).isoformat().replace("+00:00", "Z")
