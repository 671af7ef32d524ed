"""Records as programs outside see them."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from server.records.devices import Device


def moment_text(moment_ms: int | None) -> str | None:
    """Milliseconds since 1970 as an RFC 3339 time in UTC, to the second; None stays None."""
    if moment_ms is None:
        return None
    return datetime.fromtimestamp(moment_ms // 1000, UTC).isoformat().replace("+00:00", "Z")


def device_json(device: Device) -> dict[str, Any]:
    """A device, its times as RFC 3339."""
    return {
        "id": device.id,
        "name": device.name,
        "role": device.role,
        "paired_at": moment_text(device.paired_ms),
        "seen_at": moment_text(device.seen_ms),
        "revoked_at": moment_text(device.revoked_ms),
    }
