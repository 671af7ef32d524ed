"""Questions about what a grower can give to others: rooted cuttings, trees to give away, and what is grown."""

from __future__ import annotations

from dataclasses import dataclass

from server.records.database import execute


@dataclass(frozen=True, slots=True)
class RootedBatch:
    """A batch of which some rooted, how it was made and when; `planted` of them have a tag of their own."""

    batch: str
    variety: str | None
    species: str | None
    method: str | None
    taken_on: str | None
    rooted: int
    planted: int


@dataclass(frozen=True, slots=True)
class GivenTree:
    """A tree that is to be given away, since when it is kept."""

    tag: str
    variety: str | None
    species: str | None
    started_on: str | None


@dataclass(frozen=True, slots=True)
class GrownVariety:
    """A variety of which trees are kept, and how many."""

    variety: str
    species: str | None
    origin_country: str | None
    trees: int


def rooted_batches() -> list[RootedBatch]:
    """Batches with rooted cuttings, by variety, the youngest first."""
    rows = execute(
        "SELECT b.batch, coalesce(v.variety, w.variety), coalesce(v.species, w.species), b.method, b.taken_on,"
        " b.rooted, (SELECT count(*) FROM tree t WHERE t.batch = b.id AND NOT t.voided)"
        " FROM batch b LEFT JOIN variety v ON v.id = b.variety LEFT JOIN tree p ON p.id = b.parent"
        " LEFT JOIN variety w ON w.id = p.variety WHERE NOT b.voided AND b.rooted > 0"
        " ORDER BY coalesce(v.variety, w.variety, ''), coalesce(b.taken_on, '') DESC, b.batch, b.id"
    ).fetchall()
    return [RootedBatch(*row) for row in rows]


def trees_to_give() -> list[GivenTree]:
    """Standing trees whose card says that they are to be given away, by variety and tag."""
    rows = execute(
        "SELECT t.tag, v.variety, v.species, t.started_on FROM tree t LEFT JOIN variety v ON v.id = t.variety"
        " WHERE NOT t.voided AND t.decision = 'give_away' AND (t.standing IS NULL OR t.standing <> 'retired')"
        " ORDER BY coalesce(v.variety, ''), t.tag"
    ).fetchall()
    return [GivenTree(*row) for row in rows]


def varieties_grown() -> list[GrownVariety]:
    """Varieties with standing trees that are not to be retired, by species and name."""
    rows = execute(
        "SELECT v.variety, v.species, v.origin_country, count(*) FROM variety v JOIN tree t ON t.variety = v.id"
        " WHERE NOT v.voided AND NOT t.voided AND (t.standing IS NULL OR t.standing <> 'retired')"
        " AND (t.decision IS NULL OR t.decision <> 'retire') GROUP BY v.id, v.variety, v.species, v.origin_country"
        " ORDER BY coalesce(v.species, ''), v.variety, v.id"
    ).fetchall()
    return [GrownVariety(*row) for row in rows]
