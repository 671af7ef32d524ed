"""Which store of photos an address names: a folder, or a bucket."""

from __future__ import annotations

from pathlib import Path

from server.errors import Refused
from server.records.photo_files import PhotoFolder, PhotoStore, SmallCopies

BUCKET_SCHEME = "s3://"
_NO_LIBRARY = (
    "Photos in a bucket need a library that is not installed here; beside Leafwalk: pip install 'obstore>=0.8,<1'"
)


def photos_at(address: str | None, home: Path) -> PhotoStore:
    """The store at `address`: s3://bucket/prefix, or a folder; None means the one in the home.

    A bucket's small copies are kept in the home. Raises Refused for an address that is not understood, for a bucket
    without its library, and for a folder that is not there: a share that is not mounted must not be filled beside it.
    """
    if address is None:
        return PhotoFolder(home / "photos")
    if address.startswith(BUCKET_SCHEME):
        try:
            from server.records.photo_bucket import PhotoBucket  # noqa: PLC0415 its library is an extra
        except ImportError as error:
            raise Refused(_NO_LIBRARY) from error
        return PhotoBucket(address, SmallCopies(home / "small"))
    folder = Path(address)
    if not folder.is_dir():
        raise Refused(f"The folder {folder} for photos is not there; mount or make it first.")
    return PhotoFolder(folder, f"the folder {folder}")
