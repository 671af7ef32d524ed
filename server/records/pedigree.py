"""Which tree was made from which, and chains of parents that lead back to where they began."""

from __future__ import annotations

from server.records.database import execute


def parents_of() -> dict[str, str]:
    """Each tree's parent by id: its own, or else its batch's; withdrawn trees and batches are left out."""
    rows = execute(
        "SELECT t.id, coalesce(t.parent, b.parent) FROM tree t"
        " LEFT JOIN batch b ON b.id = t.batch AND NOT b.voided"
        " JOIN tree q ON q.id = coalesce(t.parent, b.parent) AND NOT q.voided WHERE NOT t.voided"
    ).fetchall()
    return dict(rows)


def loops(parents: dict[str, str]) -> list[list[str]]:
    """The rings among parents, each once, from child to parent; every tree is looked at once."""
    found: list[list[str]] = []
    done: set[str] = set()
    for start in sorted(parents):
        path: dict[str, int] = {}
        tree: str | None = start
        while tree is not None and tree not in done and tree not in path:
            path[tree] = len(path)
            tree = parents.get(tree)
        if tree in path:
            found.append(list(path)[path[str(tree)] :])
        done.update(path)
    return found


def tags_of_loops() -> dict[str, list[str]]:
    """The rings among the trees' parents as they stand: for each tree within one, the tags from its own on."""
    rings = loops(parents_of())
    if not rings:
        return {}
    tags = dict(execute("SELECT id, tag FROM tree WHERE NOT voided").fetchall())
    return {
        tree: [tags[each] for each in (*ring[place:], *ring[:place])]
        for ring in rings
        for place, tree in enumerate(ring)
    }
