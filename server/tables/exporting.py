"""The export: every kind as CSV in the import's own columns, and the photos; all of it from one moment."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from server.errors import LeafwalkError, NotFound, Refused, Unavailable
from server.records.database import execute, snapshot
from server.records.photo_files import PhotoStore
from server.records.writing import TRUTHS
from server.sync.fields import KINDS
from server.tables.cells import TAG_MARK, write_cell
from server.tables.columns import PHOTO_COLUMNS, PHOTOS_FILE, TABLES, Table

PHOTO_SUBFOLDER = "photos"
_PART = ".part"
# Waiting or making room helps against these; against any other, another folder does.
_DISK_ERRORS = (errno.ENOSPC, errno.EDQUOT, errno.EIO)


@dataclass(slots=True)
class Exported:
    """Rows written by file, photo files copied, and photos whose file has not arrived or is missing."""

    rows: dict[str, int] = field(default_factory=dict)
    photos: int = 0
    photos_missing: int = 0

    def lines(self) -> list[str]:
        """The summary in words, a line each."""
        lines = [f"{file}: {count} rows" for file, count in self.rows.items()]
        lines.append(f"{PHOTO_SUBFOLDER}: {self.photos} files")
        if self.photos_missing:
            lines.append(f"Photos listed without a file, since it has not arrived yet: {self.photos_missing}")
        return lines


# A card that was withdrawn is left out, unless a record in use names it: that record could not come in again.
# Facts of a withdrawn tree are left out with it.
_TREE = "JOIN tree t ON t.id = f.tree AND NOT t.voided"
# A parent or batch that was withdrawn is not named: only its descendants are there.
_PARENT = "LEFT JOIN tree q ON q.id = f.parent AND NOT q.voided"
_SOURCES: dict[str, str] = {
    "variety": "variety f WHERE NOT f.voided OR ({unnamed} AND f.id IN"
    " (SELECT variety FROM tree WHERE NOT voided AND variety IS NOT NULL"
    " UNION SELECT variety FROM batch WHERE NOT voided AND variety IS NOT NULL"
    " UNION SELECT variety FROM lesson WHERE NOT voided AND variety IS NOT NULL))",
    "place": "place f WHERE NOT f.voided OR ({unnamed} AND f.id IN"
    " (SELECT place FROM tree WHERE NOT voided AND place IS NOT NULL"
    " UNION SELECT m.to_place FROM move m JOIN tree t ON t.id = m.tree WHERE NOT m.voided AND NOT t.voided"
    " UNION SELECT place FROM reading WHERE NOT voided"
    " UNION SELECT place FROM job WHERE NOT voided AND place IS NOT NULL"
    " UNION SELECT to_place FROM job WHERE NOT voided AND to_place IS NOT NULL"
    " UNION SELECT place FROM lesson WHERE NOT voided AND place IS NOT NULL))",
    "tree": f"tree f LEFT JOIN variety v ON v.id = f.variety LEFT JOIN place p ON p.id = f.place {_PARENT}"
    " LEFT JOIN batch b ON b.id = f.batch AND NOT b.voided WHERE NOT f.voided",
    "batch": f"batch f LEFT JOIN variety v ON v.id = f.variety {_PARENT} WHERE NOT f.voided",
    "observation": f"observation f {_TREE} WHERE NOT f.voided",
    "move": f"move f {_TREE} JOIN place p ON p.id = f.to_place WHERE NOT f.voided",
    "work": f"work f {_TREE} WHERE NOT f.voided",
    "reading": "reading f JOIN place p ON p.id = f.place WHERE NOT f.voided",
    "harvest": f"harvest f {_TREE} WHERE NOT f.voided",
    "job": "job f LEFT JOIN tree t ON t.id = f.tree LEFT JOIN place p ON p.id = f.place"
    " LEFT JOIN place g ON g.id = f.to_place WHERE NOT f.voided AND (t.id IS NULL OR NOT t.voided)",
    "lesson": "lesson f LEFT JOIN tree t ON t.id = f.tree LEFT JOIN variety v ON v.id = f.variety"
    " LEFT JOIN place p ON p.id = f.place WHERE NOT f.voided AND (t.id IS NULL OR NOT t.voided)",
}
# Of withdrawn cards with one name, one is enough, and none where a card in use has it.
_UNNAMED = (
    "NOT EXISTS (SELECT 1 FROM {kind} o WHERE o.{kind} = f.{kind} AND (NOT o.voided OR (o.voided AND o.id < f.id)))"
)
_NAMES = {
    **{(kind, "variety"): "v.variety" for kind in ("tree", "batch", "lesson")},
    **{(kind, "place"): "p.place" for kind in ("tree", "reading", "job", "lesson")},
    **{(kind, "parent"): "q.tag" for kind in ("tree", "batch")},
    ("tree", "tag"): "f.tag",
    ("tree", "batch"): "b.batch",
    ("move", "to_place"): "p.place",
    ("job", "to_place"): "g.place",
}


def export_to(folder: Path, photos: PhotoStore, replace: bool = False) -> Exported:
    """Write all tables and photos into a folder; the CSV files appear together once all are written.

    Raises Refused when a file of an export is there already and `replace` is not set, or when the folder can't be
    written to; Unavailable when the disk fails or is full. The CSV files that were there stay as they were then.
    """
    _refuse_overwriting(folder, replace)
    done = Exported()
    with ExitStack() as parts, snapshot():
        try:
            folder.mkdir(parents=True, exist_ok=True)
            written = []
            for table in TABLES.values():
                written.append(_part(folder / table.file, parts))
                columns = _columns(table)
                done.rows[table.file] = _write(written[-1], columns, _rows(table, columns))
            written.append(_part(folder / PHOTOS_FILE, parts))
            done.rows[PHOTOS_FILE] = _write(written[-1], PHOTO_COLUMNS, _photo_rows(folder, photos, done))
            for part in written:
                part.replace(part.with_suffix(""))
        except OSError as error:
            raise _failed(folder, error) from error
    return done


def _refuse_overwriting(folder: Path, replace: bool) -> None:
    try:
        if folder.exists() and not folder.is_dir():
            raise Refused(f"{folder} is a file; name a folder to export to.")
        there = [name for name in (*TABLES, PHOTOS_FILE) if (folder / name).exists()]
    except OSError as error:
        raise Refused(f"{folder} can't be looked into ({error.strerror}); choose another folder.") from error
    if there and not replace:
        listed = ", ".join(there)
        raise Refused(f"{folder} holds {listed} already; choose an empty folder, or add --replace to overwrite them.")


def _failed(folder: Path, error: OSError) -> LeafwalkError:
    if error.errno in _DISK_ERRORS:
        return Unavailable(f"The export to {folder} failed ({error.strerror}); make room there, then export again.")
    where = error.filename or folder
    return Refused(f"{where} can't be written ({error.strerror}); choose another folder, or change who owns this one.")


def _part(target: Path, parts: ExitStack) -> Path:
    part = target.with_name(target.name + _PART)
    parts.callback(part.unlink, missing_ok=True)
    return part


def _write(path: Path, columns: tuple[str, ...], rows: Iterable[Iterable[Any]]) -> int:
    count = 0
    with path.open("w", encoding="utf-8", newline="") as file:
        file.write(",".join(columns) + "\n")
        for row in rows:
            file.write(",".join(map(write_cell, row)) + "\n")
            count += 1
        file.flush()
        os.fsync(file.fileno())
    return count


def _columns(table: Table) -> tuple[str, ...]:
    """The columns of a table's file: further ones only where a row fills them."""
    return table.columns + tuple(name for name in table.further if _is_filled(table, name))


def _is_filled(table: Table, column: str) -> bool:
    listed = f"SELECT {_column(table, column)} AS cell FROM {_source(table)}"  # noqa: S608 our own names
    return execute(f"SELECT 1 FROM ({listed}) listed WHERE cell IS NOT NULL LIMIT 1").fetchone() is not None  # noqa: S608


def _source(table: Table) -> str:
    return _SOURCES[table.kind].format(unnamed=_UNNAMED.format(kind=table.kind))


def _rows(table: Table, names: tuple[str, ...]) -> Iterator[Iterable[Any]]:
    """A table's rows, in an order that hangs on their contents alone, so that two equal collections export alike."""
    columns = [_column(table, name) for name in names]
    order = list(columns)
    if KINDS[table.kind].at:
        order.insert(1, "f.at_s")
    turned: dict[int, Callable[[Any], Any]] = {names.index(name): bool for name in TRUTHS.get(table.kind, ())}
    if "key" in names:
        turned[names.index("key")] = _KeyWriter()
    sql = f"SELECT {', '.join(columns)} FROM {_source(table)} ORDER BY {', '.join(order)}"  # noqa: S608 our own names
    cursor = execute(sql)
    rows: Iterable[Any] = cursor.fetchall() if "key" in names else cursor
    for row in rows:
        cells = list(row)
        for at, turn in turned.items():
            cells[at] = None if cells[at] is None else turn(cells[at])
        yield cells


class _KeyWriter:
    """Writes the name of a computed job with trees' tags in place of their ids, which hold in this home alone."""

    def __init__(self) -> None:
        self._tags = dict(execute("SELECT id, tag FROM tree WHERE NOT voided").fetchall())

    def __call__(self, key: str) -> str:
        parts = (f"{TAG_MARK}{self._tags[part]}" if part in self._tags else part for part in key.split(":"))
        return ":".join(parts)


def _column(table: Table, column: str) -> str:
    if (table.kind, column) in _NAMES:
        return _NAMES[table.kind, column]
    return "t.tag" if column == "tag" else f"f.{column}"


def _photo_rows(folder: Path, photos: PhotoStore, done: Exported) -> Iterator[Iterable[Any]]:
    cursor = execute(
        "SELECT t.tag, f.taken_at, f.sha256, f.note FROM photo f LEFT JOIN tree t ON t.id = f.tree"
        " WHERE NOT f.voided AND (t.id IS NULL OR NOT t.voided) ORDER BY t.tag, f.at_s, f.sha256, f.note"
    )
    copied: dict[str, str] = {}
    for tag, taken_at, sha256, note in cursor.fetchall():
        if sha256 not in copied:
            copied[sha256] = _copy(folder, photos, sha256)
            done.photos += bool(copied[sha256])
            done.photos_missing += not copied[sha256]
        yield tag, taken_at, sha256, copied[sha256], note


def _copy(folder: Path, photos: PhotoStore, sha256: str) -> str:
    """Copy a photo's file; its name within the export, or nothing where the file is not here."""
    try:
        data = photos.read(sha256)
    except NotFound:
        return ""
    name = f"{PHOTO_SUBFOLDER}/{sha256}.jpg"
    target = folder / name
    target.parent.mkdir(exist_ok=True)
    part = target.with_name(target.name + _PART)
    try:
        part.write_bytes(data)
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)
    return name
