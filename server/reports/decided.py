"""Jobs that follow from what was decided about trees at a year's end: give away, take out, print the tag anew."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from server.records.plans import DecidedTree, decided_trees
from server.records.settings import read_settings
from server.reports.yearsjobs import YearsJob
from server.wording.said import Day, say

STANDING = "standing"
_LEAVES = {
    "give_away": (
        say("Give away"),
        say(
            "Plants that leave your place may need a plant passport: local plant health rules decide. Done marks them"
            " as retired; their records stay."
        ),
    ),
    "retire": (say("Take out of the collection"), say("Done marks them as retired; their records stay.")),
}


def decided_jobs(on: date) -> list[YearsJob]:
    """What is still to be done about decisions that were taken by `on`."""
    leaving: dict[tuple[str, str, str], list[DecidedTree]] = defaultdict(list)
    renamed: dict[str, list[DecidedTree]] = defaultdict(list)
    tags_tell = STANDING in read_settings().tag_extra
    for tree in decided_trees():
        if tree.decided_on > on.isoformat() or tree.standing == "retired":
            continue
        if tree.decision in _LEAVES:
            leaving[tree.decision, tree.variety_id or "", tree.decided_on].append(tree)
        elif tags_tell and tree.printed_on is not None and tree.printed_on < tree.decided_on:
            renamed[tree.decided_on].append(tree)
    return [*(_leave(key, trees) for key, trees in leaving.items()), *(_rename(*each) for each in renamed.items())]


def _leave(key: tuple[str, str, str], trees: list[DecidedTree]) -> YearsJob:
    decision, _, decided_on = key
    title, advice = _LEAVES[decision]
    return YearsJob(
        key=":".join(key),
        task="other",
        title=say("{what}: {which}", what=title, which=trees[0].variety) if trees[0].variety else title,
        level="watch",
        due_on=None,
        why=[say("Decided on {on}.", on=Day.of(decided_on))],
        advice=advice,
        tags=[tree.tag for tree in trees],
        trees=[tree.id for tree in trees],
        caution="lifting",
    )


def _rename(decided_on: str, trees: list[DecidedTree]) -> YearsJob:
    return YearsJob(
        key=f"reprint_standing:{decided_on}",
        task="reprint_tag",
        title=say("Print tags that tell the new standing"),
        level="watch",
        due_on=None,
        why=[say("Their standing was decided on {on}; their tags are older.", on=Day.of(decided_on))],
        advice=say("Print them again with the same codes."),
        tags=[tree.tag for tree in trees],
        trees=[tree.id for tree in trees],
    )
