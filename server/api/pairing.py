"""Letting devices in: a one-time code against a token."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, current_app, request

from server.api.doors import gives, owners_only, takes
from server.api.limits import SlidingWindow
from server.api.shapes import PairIn, PairingIn, PairingOut, PairOut
from server.api.shown import moment_text
from server.records import devices, settings
from server.records.database import get_setting

# For one client, and for all together: who tries without end locks nobody else out at once.
TRIES_A_MINUTE, ALL_TRIES_A_MINUTE = 20, 200

pairing = Blueprint("pairing", __name__)


def pairing_window() -> SlidingWindow:
    """A fresh count of the tries at pairing; each app has its own."""
    return SlidingWindow(TRIES_A_MINUTE, ALL_TRIES_A_MINUTE, 60)


@pairing.post("/pair")
@takes(PairIn)
@gives(PairOut, 201)
def post_pair(body: dict[str, Any]) -> dict[str, Any]:
    """Trade a pairing code for a token."""
    current_app.extensions["leafwalk_pairing"].enter(request.remote_addr or "")
    device, token = devices.pair(body["code"], body["device_name"])
    return {
        "device": device.id,
        "token": token,
        "role": device.role,
        "collection": settings.read_settings().collection,
        "epoch": get_setting("epoch"),
    }


@pairing.post("/pairings")
@owners_only
@takes(PairingIn)
@gives(PairingOut, 201)
def post_pairing(body: dict[str, Any]) -> dict[str, Any]:
    """Make a pairing code for another device."""
    code, expires_ms = devices.new_pairing(body["role"])
    return {"code": code, "url": settings.pairing_url(code), "expires_at": moment_text(expires_ms)}
