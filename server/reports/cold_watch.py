"""Cold findings: which trees to shelter tonight or to watch on the nights ahead, from what is forecast."""

from __future__ import annotations

from dataclasses import dataclass

from server.analysis.cold import WATCH_MARGIN_C, ColdFinding, Night, Standing, cold_findings
from server.records.queries import TreeRow
from server.reports.forecast import Forecast, forecast
from server.reports.load import Collection
from server.reports.shapes import AlertItem
from server.reports.standing import is_sheltered, standings

LIFTING_LITRES = 15.0
"""From this pot on a note on lifting goes with the advice: watered, it comes near 23 kg, the most that one should lift
(NIOSH) even where all is ideal; the weight of a litre is from memory."""


@dataclass(frozen=True)
class ColdItem(AlertItem):
    """A tree that cold threatens in `night`: `low_c` reaches its `part`, which is harmed from `harm_c`.

    `ruinous`: most of the part is lost at that cold. `caution`: key of a note to show with the advice, or None.
    """

    place: str = ""
    night: str = ""
    part: str = ""
    low_c: float = 0.0
    harm_c: float = 0.0
    ruinous: bool = False
    caution: str | None = None


def cold(collection: Collection, known: Forecast | None = None) -> list[ColdItem]:
    """Findings for the trees that the nights ahead may harm; a tree noted as sheltered only where all is at stake.

    `known`: what is forecast for the collection's places, where that was asked already.
    """
    ahead = (known or forecast(collection)).nights
    if not any(ahead.values()):
        return []
    there: dict[str, list[tuple[TreeRow, Standing]]] = {}
    standing = standings(collection)
    for tree in collection.trees:
        if tree.id in standing:
            place = collection.place_at(tree, collection.until_s) or ""
            there.setdefault(place, []).append((tree, standing[tree.id]))
    found = []
    for place, stood in there.items():
        found += _in_place(collection, stood, ahead.get(place, []))
    return found


def _in_place(collection: Collection, stood: list[tuple[TreeRow, Standing]], nights: list[Night]) -> list[ColdItem]:
    """Findings for the trees of one place, whose nights are those that could harm any of them."""
    tender = max(_harmed_from(standing) for _, standing in stood)
    cold_ones = [night for night in nights if night.low_c - night.error_c <= tender + WATCH_MARGIN_C]
    if not cold_ones:
        return []
    trees = {standing.tag: (tree, standing) for tree, standing in stood}
    # Places may share a name, so that one is judged at a time.
    findings = cold_findings([each for _, each in stood], {stood[0][1].place: cold_ones}, collection.on)
    return [
        _item(collection, finding, *trees[finding.tag])
        for finding in findings
        if finding.ruinous or not is_sheltered(collection, trees[finding.tag][0])
    ]


def _harmed_from(standing: Standing) -> float:
    return max(standing.species.cold_at(standing.stage, standing.in_leaf).harm.value, standing.species.roots.value)


def _item(collection: Collection, finding: ColdFinding, tree: TreeRow, standing: Standing) -> ColdItem:
    return ColdItem(
        tag=tree.tag,
        tree=tree.id,
        kind="cold",
        level=finding.level,
        since=collection.on.isoformat(),
        why=list(finding.why),
        advice=finding.advice,
        place=finding.place,
        night=finding.night.isoformat(),
        part=finding.part,
        low_c=round(finding.low_c, 1),
        harm_c=round(finding.harm_c, 1),
        ruinous=finding.ruinous,
        caution=_caution(finding, standing),
    )


def _caution(finding: ColdFinding, standing: Standing) -> str | None:
    """The note that belongs to the advice: on warming a closed space, or on carrying a heavy pot."""
    if standing.covered:
        return "heater"
    if standing.in_ground or finding.level != "act":
        return None
    heavy = standing.pot_litres is None or standing.pot_litres >= LIFTING_LITRES
    return "lifting" if heavy else None
