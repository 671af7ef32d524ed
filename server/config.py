"""Where a collection lives on disk: the home folder and what is in it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import platformdirs


@dataclass(frozen=True, slots=True)
class Config:
    """One collection's home folder, its database and its photos (None: SQLite, and a folder, in the home)."""

    home: Path
    database_url: str | None = None
    photos_url: str | None = None

    @property
    def database_address(self) -> str:
        """What `open_database` takes."""
        return self.database_url or str(self.home / "leafwalk.db")

    @property
    def photo_folder(self) -> Path:
        """The folder of the photo files, unless they are kept elsewhere."""
        return self.home / "photos"


def default_home() -> Path:
    """The platform's folder for user data."""
    return Path(platformdirs.user_data_dir("leafwalk", appauthor=False))
