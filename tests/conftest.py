"""Fixtures that every test may ask for."""

from tests.support.browser_fixtures import (
    browser,
    found_browser,
    launch_browser,
    launch_profile,
    new_context,
    page_errors,
    playwright,
)
from tests.support.collection import collection, database_address, postgresql, sqlite_collection

__all__ = [
    "browser",
    "collection",
    "database_address",
    "found_browser",
    "launch_browser",
    "launch_profile",
    "new_context",
    "page_errors",
    "playwright",
    "postgresql",
    "sqlite_collection",
]
