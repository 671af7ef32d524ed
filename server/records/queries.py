"""Questions to the records, answered as plain dataclasses; withdrawn records are left out everywhere."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

import tzlocal

from server import ids
from server.errors import NotFound, Refused
from server.records.database import execute, get_setting, on_sqlite, select_in
from server.wording.said import say

ROWS_AT_ONCE, TREES_AT_ONCE = 20_000, 500
# What was counted on a branch or a side says nothing of the whole tree.
WHOLE_TREE = "part IS NULL"


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """A place's card."""

    id: str
    place: str
    cover: str | None
    light_percent: float | None
    heated: bool | None
    latitude: float | None
    note: str | None


@dataclass(frozen=True, slots=True)
class TreeRow:
    """A tree's card with its variety's name; `place` and `pot_litres` are those it started with."""

    id: str
    tag: str
    variety: str | None
    species: str | None
    place: str | None
    pot_litres: float | None
    source: str | None
    started_on: str | None
    standing: str | None
    position: str | None
    note: str | None


@dataclass(frozen=True, slots=True)
class ObservationRow:
    """One visit to a tree; `at_s` in seconds since 1970."""

    id: str
    tree: str
    at_s: int
    seen_at: str
    shoots: int | None
    leaves_per_shoot: float | None
    leaves: int | None
    leaves_fallen: int | None
    shoot_cm: float | None
    fruit_breba: int | None
    fruit_main: int | None
    damage_percent: float | None
    causes: str | None
    bbch: int | None
    soil: str | None
    note: str | None


@dataclass(frozen=True, slots=True)
class MoveRow:
    """A tree carried to a place."""

    id: str
    tree: str
    at_s: int
    moved_at: str
    to_place: str


@dataclass(frozen=True, slots=True)
class WorkRow:
    """A task done on a tree."""

    id: str
    tree: str
    at_s: int
    done_at: str
    task: str
    amount: float | None
    note: str | None


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """A day's temperatures in a place."""

    id: str
    place: str
    date: str
    t_min_c: float | None
    t_max_c: float | None


@dataclass(frozen=True, slots=True)
class HarvestRow:
    """Fruit picked from a tree."""

    id: str
    tree: str
    at_s: int
    picked_at: str
    fruit: str | None
    weight_g: float | None
    quality: int | None


@dataclass(frozen=True, slots=True)
class PhotoRow:
    """A photo's entry; `arrived` says whether its file is here."""

    id: str
    tree: str | None
    observation: str | None
    at_s: int
    taken_at: str
    sha256: str
    note: str | None
    arrived: bool


def time_zone() -> ZoneInfo:
    """The collection's time zone: a setting; the machine's own where none is set."""
    return ZoneInfo(get_setting("time_zone") or tzlocal.get_localzone_name())


def places() -> list[PlaceRow]:
    """All places, in the order of their names."""
    sql = (
        "SELECT id, place, cover, light_percent, heated, latitude, note FROM place WHERE NOT voided ORDER BY place, id"
    )
    rows = execute(sql).fetchall()
    return [PlaceRow(a, b, c, d, None if e is None else bool(e), f, g) for a, b, c, d, e, f, g in rows]


def place_called(name: str) -> str:
    """The id of the place of that name or id. Raises NotFound or Refused."""
    known = places()
    found = [each.id for each in known if each.id == name] or [each.id for each in known if each.place == name]
    if not found:
        names = ", ".join(each.place for each in known[:20]) or say("none yet")
        raise NotFound(say("No place is called “{name}”. Places: {names}.", name=name, names=names))
    if len(found) > 1:
        told = say("{count} places are called “{name}”; rename one, or give the id.")
        raise Refused(told.filled(count=len(found), name=name))
    return found[0]


def trees(include_retired: bool = False, only: Sequence[str] | None = None) -> list[TreeRow]:
    """All trees, or those of some ids, in the order of their tags."""
    sql = (
        "SELECT t.id, t.tag, v.variety, v.species, t.place, t.pot_litres, t.source, t.started_on, t.standing,"
        " t.position, t.note FROM tree t LEFT JOIN variety v ON v.id = t.variety WHERE NOT t.voided"
    )
    if only is None:
        rows = execute(f"{sql} ORDER BY t.tag").fetchall()
    else:
        rows = sorted(select_in(f"{sql} AND t.id IN", list(only)), key=lambda row: str(row[1]))
    return [TreeRow(*row) for row in rows if include_retired or row[8] != "retired"]


def tree_by_tag(code: str) -> str:
    """The id of the tree that has or had this canonical code. Raises NotFound."""
    row = execute(
        "SELECT t.id FROM tag g JOIN tree t ON t.id = g.tree WHERE g.code = ? AND NOT t.voided", (code,)
    ).fetchone()
    if row is None:
        raise NotFound(say("No tree has the tag {code}. Check the code, or make a tree on this tag.", code=code))
    return str(row[0])


def observations(until_s: int, trees: Sequence[str] | None = None) -> list[ObservationRow]:
    """Visits to whole trees before `until_s`, of all or of some, by tree and time."""
    sql = (
        "SELECT id, tree, at_s, seen_at, shoots, leaves_per_shoot, leaves, leaves_fallen, shoot_cm, fruit_breba,"
        " fruit_main, damage_percent, causes, bbch, soil, note FROM observation"
    )
    return [ObservationRow(*row) for row in _facts(sql, until_s, trees, WHOLE_TREE)]


def visit_numbers(
    until_s: int, columns: tuple[str, ...], trees: Sequence[str] | None = None
) -> Iterator[tuple[Any, ...]]:
    """(tree, at_s, the named numbers …) of each visit to a whole tree before `until_s`, by tree and time.

    Quicker than whole rows.
    """
    sql = f"SELECT tree, at_s, {', '.join(columns)} FROM observation"  # noqa: S608 our own names
    return _facts(sql, until_s, trees, WHOLE_TREE)


def marked_counts(until_s: int, trees: Sequence[str] | None = None) -> list[tuple[str, int, str]]:
    """(tree, at_s, leaves on each marked shoot) of the visits before `until_s` that counted them, by tree and time."""
    besides = f"shoot_leaves IS NOT NULL AND {WHOLE_TREE}"
    rows = _facts("SELECT tree, at_s, shoot_leaves FROM observation", until_s, trees, besides)
    return [(tree, at_s, counts) for tree, at_s, counts in rows]


def leaf_sizes(since_s: int, until_s: int) -> list[tuple[str, str | None, str | None, float]]:
    """(tree, its variety and species, a leaf's area in cm²) of the visits in a span that measured one, oldest first."""
    sql = (
        "SELECT o.tree, t.variety, v.species, o.leaf_cm2 FROM observation o JOIN tree t ON t.id = o.tree"
        " LEFT JOIN variety v ON v.id = t.variety WHERE o.leaf_cm2 IS NOT NULL AND o.at_s >= ? AND o.at_s < ?"
        " AND NOT o.voided AND NOT t.voided ORDER BY o.at_s, o.id"
    )
    return [tuple(row) for row in execute(sql, (since_s, until_s)).fetchall()]


def remarks(until_s: int, trees: Sequence[str]) -> list[tuple[str, int, str | None, str | None]]:
    """(tree, at_s, causes, soil) of some trees' visits before `until_s` that noted either, by tree and time."""
    sql = "SELECT tree, at_s, causes, soil FROM observation"
    rows = _facts(sql, until_s, trees, "(causes IS NOT NULL OR soil IS NOT NULL)")
    return [(tree, at_s, causes, soil) for tree, at_s, causes, soil in rows]


def causes_noted(since_s: int, until_s: int, trees: Sequence[str]) -> list[tuple[str, int, str]]:
    """(tree, at_s, causes) of some trees' visits from `since_s` on and before `until_s` that noted causes of damage."""
    rows = _facts("SELECT tree, at_s, causes FROM observation", until_s, trees, "causes IS NOT NULL")
    return [(tree, at_s, causes) for tree, at_s, causes in rows if at_s >= since_s]


def moves(until_s: int, trees: Sequence[str] | None = None) -> list[MoveRow]:
    """Moves before `until_s`, of all trees or of some, by tree and time."""
    return [MoveRow(*row) for row in _facts("SELECT id, tree, at_s, moved_at, to_place FROM move", until_s, trees)]


def works(until_s: int, trees: Sequence[str] | None = None) -> list[WorkRow]:
    """Work done before `until_s`, of all trees or of some, by tree and time."""
    sql = "SELECT id, tree, at_s, done_at, task, amount, note FROM work"
    return [WorkRow(*row) for row in _facts(sql, until_s, trees)]


def harvests(until_s: int, trees: Sequence[str] | None = None) -> list[HarvestRow]:
    """Harvests before `until_s`, of all trees or of some, by tree and time."""
    sql = "SELECT id, tree, at_s, picked_at, fruit, weight_g, quality FROM harvest"
    return [HarvestRow(*row) for row in _facts(sql, until_s, trees)]


def photos(until_s: int, trees: Sequence[str] | None = None) -> list[PhotoRow]:
    """Photos taken before `until_s`, of all trees or of some, by tree and time."""
    sql = (
        "SELECT id, tree, observation, at_s, taken_at, sha256, note,"
        " EXISTS (SELECT 1 FROM photo_file f WHERE f.sha256 = photo.sha256) FROM photo"
    )
    return [PhotoRow(a, b, c, d, e, f, g, bool(h)) for a, b, c, d, e, f, g, h in _facts(sql, until_s, trees)]


def readings(until_date: str | None = None, since_date: str = "") -> list[ReadingRow]:
    """Temperatures from a day on, up to and with a day (None: all, forecasts too), by place and day."""
    sql = "SELECT id, place, date, t_min_c, t_max_c FROM reading WHERE NOT voided AND date >= ?"
    order = "ORDER BY place, date, id"
    if until_date is None:
        rows = execute(f"{sql} {order}", (since_date,)).fetchall()
    else:
        rows = execute(f"{sql} AND date <= ? {order}", (since_date, until_date)).fetchall()
    return [ReadingRow(*row) for row in rows]


def free_tag_codes(count: int) -> list[str]:
    """Fresh codes that no tag of this collection has or had, printed blanks included."""
    taken = {row[0] for row in execute("SELECT code FROM tag").fetchall()}
    codes: list[str] = []
    while len(codes) < count:
        code = ids.new_tag_code()
        if code not in taken:
            taken.add(code)
            codes.append(code)
    return codes


def code_widths_mm() -> dict[str, float]:
    """How wide each tag's code was printed, in mm, where that is on record."""
    return dict(execute("SELECT code, code_mm FROM tag WHERE code_mm IS NOT NULL").fetchall())


def _facts(
    sql: str, until_s: int, trees: Sequence[str] | None, besides: str = "NOT voided"
) -> Iterator[tuple[Any, ...]]:
    """Rows of facts before a moment, by tree and time, read in portions: a million would not all be held at once."""
    where = f"WHERE at_s < ? AND NOT voided AND {besides}"
    # SQLite's index is in this order already; to ask for the id besides would have it sort each tree's rows again.
    order = "tree, at_s" if on_sqlite() else "tree, at_s, id"
    if trees is None:
        cursor = execute(f"{sql} {where} ORDER BY {order}", (until_s,))
        while rows := cursor.fetchmany(ROWS_AT_ONCE):
            yield from rows
        return
    for start in range(0, len(trees), TREES_AT_ONCE):
        part = sorted(trees[start : start + TREES_AT_ONCE])
        marks = ",".join("?" * len(part))
        of_part = f"{sql} {where} AND tree IN ({marks}) ORDER BY {order}"
        yield from execute(of_part, (until_s, *part)).fetchall()


def recorded_by(tree: str) -> dict[str, str]:
    """The name of the device that first recorded each fact of a tree, by the fact's id."""
    rows = execute(
        "SELECT l.record, d.name FROM change_log l JOIN device d ON d.id = l.device WHERE l.record IN ("
        "SELECT id FROM observation WHERE tree = ? UNION ALL SELECT id FROM move WHERE tree = ?"
        " UNION ALL SELECT id FROM work WHERE tree = ? UNION ALL SELECT id FROM harvest WHERE tree = ?"
        " UNION ALL SELECT id FROM photo WHERE tree = ?) ORDER BY l.seq DESC",
        (tree,) * 5,
    ).fetchall()
    return dict(rows)
