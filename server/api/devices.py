"""The paired devices: who they are, and shutting one out."""

from __future__ import annotations

import uuid
from typing import Any

from flask import Blueprint, Response

from server.api.doors import json_answer, owners_only
from server.api.times import moment_text
from server.records import devices as records
from server.records.devices import Device

devices = Blueprint("devices", __name__)


def device_json(device: Device) -> dict[str, Any]:
    """A device as the wire has it; times are RFC 3339."""
    return {
        "id": device.id,
        "name": device.name,
        "role": device.role,
        "paired_at": moment_text(device.paired_ms),
        "seen_at": moment_text(device.seen_ms),
        "revoked_at": moment_text(device.revoked_ms),
    }


@devices.get("/devices")
@owners_only
def get_devices() -> Response:
    """All devices, the newest first."""
    return json_answer({"devices": [device_json(device) for device in records.devices()]})


@devices.delete("/devices/<uuid:device>")
@owners_only
def delete_device(device: uuid.UUID) -> Response:
    """Shut a device out; what it holds stays on it."""
    return json_answer(device_json(records.revoke(str(device))))
