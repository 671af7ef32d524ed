"""The collection's settings."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Response

from server.api.doors import json_answer, owners_only, paired, takes
from server.api.shapes import SettingsIn
from server.records.settings import save_settings, settings_json

settings = Blueprint("settings", __name__)


@settings.get("/settings")
@paired
def get_settings() -> Response:
    """The settings as they are."""
    return json_answer(settings_json())


@settings.put("/settings")
@owners_only
@takes(SettingsIn)
def put_settings(body: dict[str, Any]) -> Response:
    """Keep the settings that are named."""
    save_settings(body)
    return json_answer(settings_json())
