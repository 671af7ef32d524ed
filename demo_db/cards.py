"""The collection's cards as the owner enters them on the first day, and the few that are edited later."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from demo_db.notebook import OWNER, Notebook
from demo_db.orchard import MARKED, POTTED_DOWN, RETAGGED, RETIRED, PlannedTree
from demo_db.scenario import PLACES, VARIETIES
from demo_db.season import Season

SETTING_UP_MINUTE = 9 * 60.0
MINUTES_A_CARD = 0.7
RETIRED_ON, RETAGGED_ON = (5, 21), (5, 14)


@dataclass(frozen=True, slots=True)
class Cards:
    """Record ids by name."""

    places: dict[str, str]
    varieties: dict[str, str]


def set_up(notebook: Notebook, season: Season, trees: list[PlannedTree]) -> Cards:
    """Enter varieties, places and trees one after another on the first day."""
    first, minute = season.days[0], SETTING_UP_MINUTE
    varieties, places = {}, {}
    for variety in VARIETIES:
        minute += MINUTES_A_CARD
        values = {"variety": variety.name, "species": variety.species, "note": variety.note}
        varieties[variety.name] = notebook.new(season.at(first, minute), OWNER, "variety", values)
    for place in PLACES:
        minute += MINUTES_A_CARD
        card = {
            "place": place.name,
            "cover": place.cover,
            "light_percent": place.light_percent,
            "heated": place.heated,
            "latitude": season.latitude,
            "note": place.note,
        }
        places[place.name] = notebook.new(season.at(first, minute), OWNER, "place", card)
    cards = Cards(places, varieties)
    for tree in trees:
        minute += MINUTES_A_CARD
        card = _tree_card(tree, season, cards)
        notebook.edit(season.at(first, minute), OWNER, "tree", tree.id, card)
    return cards


def started_on(tree: PlannedTree, season: Season) -> date:
    """The day since which a tree is kept."""
    return season.days[0] - timedelta(days=365 * tree.age_years + tree.number)


def _tree_card(tree: PlannedTree, season: Season, cards: Cards) -> dict[str, object]:
    marked = {"marked_shoots": MARKED[tree.key]} if tree.key in MARKED else {}
    return {
        "tag": tree.first_tag or tree.tag,
        "variety": cards.varieties[tree.variety.name],
        "place": cards.places[tree.start],
        "pot_litres": tree.pot_litres,
        "source": tree.source,
        "started_on": started_on(tree, season).isoformat(),
        "standing": tree.standing,
        "position": str(tree.number + 1),
        **marked,
    }


def edit_cards(notebook: Notebook, season: Season, trees: list[PlannedTree]) -> None:
    """Enter a worn tag's replacement, a tree given up, and a note on a disappointment."""
    for tree in trees:
        if tree.key == RETAGGED:
            change = {"tag": tree.tag, "note": "Old tag cracked; new one on the pot."}
            notebook.edit(season.at(season.on(*RETAGGED_ON), 17 * 60.0), OWNER, "tree", tree.id, change)
        elif tree.key == RETIRED:
            change = {"standing": "retired", "note": "Dry, dull fruit three years running; given away."}
            notebook.edit(season.at(season.on(*RETIRED_ON), 17 * 60.0 + 5), OWNER, "tree", tree.id, change)
        elif tree.key == POTTED_DOWN:
            change = {"standing": "trial", "note": "Back into a small pot; one more year to prove itself."}
            notebook.edit(season.at(season.on(3, 14), 17 * 60.0), OWNER, "tree", tree.id, change)
