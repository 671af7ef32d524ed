"""Fixtures that every test may ask for."""

from hypothesis import HealthCheck, settings

from tests.support.browser_fixtures import (
    browser,
    found_browser,
    launch_browser,
    launch_profile,
    new_context,
    page_errors,
    playwright,
)
from tests.support.bucket import bucket, s3_server
from tests.support.collection import collection, database_address, postgresql, sqlite_collection
from tests.support.server import app, client, helper, home, launch_server, live_server, owner, stranger

__all__ = [
    "app",
    "browser",
    "bucket",
    "client",
    "collection",
    "database_address",
    "found_browser",
    "helper",
    "home",
    "launch_browser",
    "launch_profile",
    "launch_server",
    "live_server",
    "new_context",
    "owner",
    "page_errors",
    "playwright",
    "postgresql",
    "s3_server",
    "sqlite_collection",
    "stranger",
]


def pytest_configure() -> None:
    """Searches have no time limit of their own: on a busy machine it would fail what is right."""
    settings.register_profile("unhurried", deadline=None, suppress_health_check=[HealthCheck.too_slow])
    settings.load_profile("unhurried")
