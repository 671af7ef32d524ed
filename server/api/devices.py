"""The paired devices: who they are, and shutting one out."""

from __future__ import annotations

import uuid

from flask import Blueprint, Response

from server.api.doors import json_answer, owners_only, sends
from server.api.shown import device_json
from server.records import devices as records

devices = Blueprint("devices", __name__)


@devices.get("/devices")
@owners_only
def get_devices() -> Response:
    """All devices, the newest first."""
    return json_answer({"devices": [device_json(device) for device in records.devices()]})


@devices.delete("/devices/<uuid:device>")
@owners_only
@sends(None, 204)
def delete_device(device: uuid.UUID) -> Response:
    """Shut a device out; what it holds stays on it."""
    records.revoke(str(device))
    return Response(status=204)
