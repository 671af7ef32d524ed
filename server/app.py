"""The composition root: a configuration in, the server's WSGI application out."""

from __future__ import annotations

from pathlib import Path

import peewee
from flask import Flask, Response

import server
from server.api.devices import devices
from server.api.exchange import exchange
from server.api.health import health
from server.api.openapi import openapi
from server.api.packing import pack
from server.api.pairing import pairing, pairing_window
from server.api.photos import photos
from server.api.plans import feed, feed_window, plans
from server.api.problems import API_ROOT, log, on_purpose, show_problems
from server.api.reports import reports
from server.api.settings import settings
from server.api.sync import sync
from server.api.tags import tags
from server.collection import open_collection
from server.config import Config
from server.errors import Unavailable
from server.pages import SAFE_HEADERS, make_pages
from server.records.database import close_database
from server.records.photo_stores import photos_at
from server.wording.said import say

BLUEPRINTS = (health, pairing, devices, sync, photos, settings, tags, reports, plans, exchange, openapi)
API_POLICY = "default-src 'none'; frame-ancestors 'none'"


def create_app(config: Config) -> Flask:
    """The application that serves the collection of `config`; opens (and where needed makes) its database."""
    open_collection(config)
    app = Flask(__name__, static_folder=None)
    app.extensions["leafwalk_photos"] = photos_at(config.photos_url, config.home)
    app.extensions["leafwalk_pairing"] = pairing_window()
    for blueprint in BLUEPRINTS:
        app.register_blueprint(blueprint, url_prefix=API_ROOT)
    app.extensions["leafwalk_feed"] = feed_window()
    app.register_blueprint(feed)
    app.register_blueprint(make_pages(webclient_folder()))
    show_problems(app)
    app.register_error_handler(Unavailable, _reconnect)
    app.register_error_handler(peewee.OperationalError, _database_failed)
    app.register_error_handler(peewee.InterfaceError, _database_failed)
    app.after_request(_add_safe_headers)
    app.after_request(pack)
    return app


def webclient_folder() -> Path:
    """Where the web client's files were installed."""
    return Path(str(server.__file__)).parent.parent / "webclient"


def _database_failed(_error: Exception) -> Response:
    log.warning("the database failed", exc_info=True)
    return _reconnect(Unavailable(say("The database of the server does not answer now; send this again in a moment.")))


def _reconnect(error: Unavailable) -> Response:
    """Tell of the failure, and drop this thread's connection: the next request makes a new one."""
    close_database()
    return on_purpose(error)


def _add_safe_headers(answer: Response) -> Response:
    for name, value in SAFE_HEADERS.items():
        answer.headers.setdefault(name, value)
    answer.headers.setdefault("Content-Security-Policy", API_POLICY)
    answer.headers.setdefault("Cache-Control", "no-store")
    return answer
