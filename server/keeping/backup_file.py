"""The backup's file format: a zip with one list of rows a table, the files, and a manifest of every member's SHA-256.

`tables/NAME.jsonl` has a JSON array a row, in the order of the manifest's columns; `photos/` and `certificates/` are as
in the home; `manifest.json` comes last and names format, version, schema, moment, and bytes and SHA-256 of each member.
"""

from __future__ import annotations

import hashlib
import json
import re
import zipfile
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from server.errors import Refused, Unavailable
from server.keeping.whole_file import whole_file
from server.records.copying import TABLES

FORMAT, VERSION = "leafwalk-backup", 1
MANIFEST = "manifest.json"
# A manifest has about 150 bytes a photo; this bounds what a made-up one may take of the memory.
MANIFEST_BYTES_MAX = 256_000_000
# One row is at most a request's largest change, twice over.
ROW_BYTES_MAX = 32_000_000
CHUNK_BYTES = 1 << 20
_COLUMN = re.compile(r"[a-z][a-z0-9_]{0,40}")
_NAMES = re.compile(
    r"tables/(?P<table>[a-z_]+)\.jsonl|photos/[0-9a-f]{2}/(?P<photo>[0-9a-f]{64})\.jpg"
    r"|certificates/(?P<certificate>[a-z][a-z0-9-]{0,40}\.(?:pem|crt))"
)


class BackupWriter:
    """Writes members one after the other, each hashed on its way; `finish` adds the manifest."""

    def __init__(self, file: IO[bytes]) -> None:
        self._zip = zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=6)
        self._members: dict[str, dict[str, Any]] = {}
        self._tables: dict[str, dict[str, Any]] = {}

    def add(self, name: str, chunks: Iterable[bytes], packed: bool = False) -> None:
        """One member; `packed` means that it is compressed already."""
        info = zipfile.ZipInfo(name)
        info.compress_type = zipfile.ZIP_STORED if packed else zipfile.ZIP_DEFLATED
        info.external_attr = 0o600 << 16
        digest, size = hashlib.sha256(), 0
        with self._zip.open(info, "w", force_zip64=True) as member:
            for chunk in chunks:
                digest.update(chunk)
                size += len(chunk)
                member.write(chunk)
        self._members[name] = {"bytes": size, "sha256": digest.hexdigest()}

    def add_table(self, table: str, columns: tuple[str, ...], rows: Iterable[tuple[Any, ...]]) -> int:
        """A table's rows; returns how many they were."""
        count = 0

        def lines() -> Iterator[bytes]:
            nonlocal count
            for row in rows:
                count += 1
                yield json.dumps(row, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"

        self.add(f"tables/{table}.jsonl", lines())
        self._tables[table] = {"columns": list(columns), "rows": count}
        return count

    def finish(self, **facts: Any) -> None:
        """Add the manifest, with `facts` in it, and close the zip."""
        manifest = {"format": FORMAT, "version": VERSION, **facts, "tables": self._tables, "members": self._members}
        self._zip.writestr(MANIFEST, json.dumps(manifest, indent=1))
        self._zip.close()

    def close(self) -> None:
        """Let go of the file, which is no backup unless `finish` came before."""
        self._zip.close()


@contextmanager
def written_whole(path: Path, replace: bool) -> Iterator[IO[bytes]]:
    """A file that only its owner reads, which stands under its name only once it is whole and on disk.

    Raises Refused where something has that name and `replace` is not set, or where the folder can't be written to;
    Unavailable when the disk fails or is full. Nothing is left then, and what had the name stays.
    """
    if path.exists() and not replace:
        raise Refused(f"{path} exists; give another name, or add --replace.")
    with ExitStack() as opened:
        try:
            file = opened.enter_context(whole_file(path, 0o600))
        except OSError as error:
            raise Refused(f"{path.parent} can't be written to ({error.strerror}); give another folder.") from error
        try:
            yield file
            opened.close()
        except OSError as error:
            told = f"{path} can't be written ({error.strerror}). Nothing was kept; make room there."
            raise Unavailable(told) from error


@dataclass(frozen=True, slots=True)
class Backup:
    """A backup that was opened and found whole."""

    path: Path
    manifest: dict[str, Any]
    _zip: zipfile.ZipFile

    @property
    def tables(self) -> dict[str, dict[str, Any]]:
        """Columns and number of rows of each table."""
        return dict(self.manifest["tables"])

    @property
    def photos(self) -> dict[str, str]:
        """Member by the hash that its photo was sent under."""
        return self._named("photo")

    @property
    def certificates(self) -> dict[str, str]:
        """Member by file name."""
        return self._named("certificate")

    def rows(self, table: str) -> Iterator[list[Any]]:
        """A table's rows; never more than one in memory."""
        with self._zip.open(f"tables/{table}.jsonl") as member:
            while line := member.readline(ROW_BYTES_MAX):
                yield json.loads(line)

    def read(self, member: str) -> bytes:
        """A member's bytes, whole."""
        return self._zip.read(member)

    def _named(self, group: str) -> dict[str, str]:
        found = ((_NAMES.fullmatch(member), member) for member in self.manifest["members"])
        return {match.group(group): member for match, member in found if match and match.group(group)}


def told_by(path: Path) -> dict[str, Any]:
    """What a backup's manifest says of it, its other members unread; nothing where it can't be read."""
    try:
        with zipfile.ZipFile(path) as opened:
            return dict(json.loads(opened.read(MANIFEST)))
    except Exception:  # whatever a damaged file makes zipfile, zlib and json raise
        return {}


@contextmanager
def opened_backup(path: Path, schema_max: int) -> Iterator[Backup]:
    """A backup of which every member was read and has the size and hash that the manifest names.

    Raises Refused with the reason where the file is no backup, is damaged, or is of a newer Leafwalk.
    """
    try:
        opened = zipfile.ZipFile(path)
    except OSError as error:
        raise Refused(f"{path} can't be read ({error.strerror}); give another file.") from error
    except (zipfile.BadZipFile, ValueError, NotImplementedError) as error:
        raise _damaged(path, str(error)) from error
    with opened:
        try:
            backup = Backup(path, _manifest(path, opened, schema_max), opened)
            _check_members(path, opened, backup.manifest["members"])
            _check_rows(backup)
        except Refused:
            raise
        except Exception as error:  # whatever a damaged stream makes zipfile, zlib and json raise
            raise _damaged(path, str(error)) from error
        yield backup


def _manifest(path: Path, opened: zipfile.ZipFile, schema_max: int) -> dict[str, Any]:
    foreign = Refused(f"{path} is no backup that leafwalk made; nothing was changed.")
    names = opened.namelist()
    if MANIFEST not in names or opened.getinfo(MANIFEST).file_size > MANIFEST_BYTES_MAX:
        raise foreign
    manifest = json.loads(opened.read(MANIFEST))
    if not isinstance(manifest, dict) or manifest.get("format") != FORMAT:
        raise foreign
    version, schema, members = int(manifest["version"]), int(manifest["schema"]), set(manifest["members"])
    if version > VERSION or schema > schema_max:
        raise Refused(f"{path} is of a newer Leafwalk; update this one first. Nothing was changed.")
    strange = [name for name in members if not _is_known(name)]
    if strange or len(names) != len(set(names)) or set(names) != {*members, MANIFEST}:
        raise _damaged(path, "its list of members is not that of its manifest")
    if {f"tables/{table}.jsonl" for table in manifest["tables"]} != {m for m in members if m.startswith("tables/")}:
        raise _damaged(path, "a table is missing")
    return dict(manifest)


def _is_known(name: str) -> bool:
    match = _NAMES.fullmatch(name)
    return match is not None and (match.group("table") is None or match.group("table") in TABLES)


def _check_members(path: Path, opened: zipfile.ZipFile, members: dict[str, Any]) -> None:
    for name, told in members.items():
        if opened.getinfo(name).file_size != told["bytes"]:
            raise _damaged(path, f"{name} has another size than was written")
        digest = hashlib.sha256()
        with opened.open(name) as member:
            while chunk := member.read(CHUNK_BYTES):
                digest.update(chunk)
        if digest.hexdigest() != told["sha256"]:
            raise _damaged(path, f"{name} is not what was written")


def _check_rows(backup: Backup) -> None:
    for table, told in backup.tables.items():
        columns, count = told["columns"], 0
        try:
            for row in backup.rows(table):
                if not isinstance(row, list) or len(row) != len(columns):
                    raise ValueError
                count += 1
        except ValueError as error:
            raise _damaged(backup.path, f"row {count + 1} of {table} can't be read") from error
        # The names go into statements as they are.
        if count != told["rows"] or not all(_COLUMN.fullmatch(column) for column in columns):
            raise _damaged(backup.path, f"{table} has not the rows that its manifest names")


def _damaged(path: Path, why: str) -> Refused:
    return Refused(f"{path} is damaged ({why}); nothing was changed. Take another backup.")
