"""Fixtures that every test may ask for."""

from tests.support.collection import collection, database_address, postgresql, sqlite_collection

__all__ = ["collection", "database_address", "postgresql", "sqlite_collection"]
