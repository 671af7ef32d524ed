"""The composition root: a configuration in, the server's WSGI application out."""

from __future__ import annotations

from pathlib import Path

from flask import Flask, Response

import server
from server.api.devices import devices
from server.api.health import health
from server.api.packing import pack
from server.api.pairing import pairing, pairing_window
from server.api.photos import photos
from server.api.problems import API_PREFIX, show_problems
from server.api.settings import settings
from server.api.sync import sync
from server.api.tags import tags
from server.collection import open_collection
from server.config import Config
from server.pages import SAFE_HEADERS, make_pages
from server.records.photo_files import PhotoFolder

API_ROOT = f"{API_PREFIX}v1"
BLUEPRINTS = (health, pairing, devices, sync, photos, settings, tags)
API_POLICY = "default-src 'none'; frame-ancestors 'none'"


def create_app(config: Config) -> Flask:
    """The application that serves the collection of `config`; opens (and where needed makes) its database."""
    open_collection(config)
    app = Flask(__name__, static_folder=None)
    app.extensions["leafwalk_photos"] = PhotoFolder(config.photo_folder)
    app.extensions["leafwalk_pairing"] = pairing_window()
    for blueprint in BLUEPRINTS:
        app.register_blueprint(blueprint, url_prefix=API_ROOT)
    app.register_blueprint(make_pages(webclient_folder()))
    show_problems(app)
    app.after_request(_add_safe_headers)
    app.after_request(pack)
    return app


def webclient_folder() -> Path:
    """Where the web client's files were installed."""
    return Path(str(server.__file__)).parent.parent / "webclient"


def _add_safe_headers(answer: Response) -> Response:
    for name, value in SAFE_HEADERS.items():
        answer.headers.setdefault(name, value)
    answer.headers.setdefault("Content-Security-Policy", API_POLICY)
    answer.headers.setdefault("Cache-Control", "no-store")
    return answer
