"""Where a collection lives on disk: the home folder and what is in it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import platformdirs


@dataclass(frozen=True, slots=True)
class Config:
    """One collection's home folder and its database address (None: SQLite in the home folder)."""

    home: Path
    database_url: str | None = None

    @property
    def database_address(self) -> str:
        """What `open_database` takes."""
        return self.database_url or str(self.home / "leafwalk.db")

    @property
    def photo_folder(self) -> Path:
        """The folder of the photo files."""
        return self.home / "photos"


def default_home() -> Path:
    """The platform's folder for user data."""
    return Path(platformdirs.user_data_dir("leafwalk", appauthor=False))
