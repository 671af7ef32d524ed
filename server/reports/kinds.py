"""Which species each tree is, with the grower's own figures laid over the table."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from server.analysis.species import Species, match_species, sound_settings, with_settings
from server.analysis.species_table import species_table
from server.records import queries
from server.records.database import get_setting
from server.records.queries import TreeRow

SETTING = "species"
"""Name of the setting that holds the grower's figures, like {"fig.leaves_per_fruit": 5}."""


def species_known() -> dict[str, Species]:
    """All species by key, as the grower has set them; a stored figure that is not taken any more leaves the table's.

    `species_settings.py` says which those are.
    """
    table = species_table()
    return with_settings(table, sound_settings(table, get_setting(SETTING, {}))[0])


def species_of(trees: Iterable[TreeRow]) -> list[Species]:
    """The species of each tree; the general one where its card names none that is known."""
    table = species_known()
    matched: dict[str | None, Species] = {}
    found = []
    for tree in trees:
        if tree.species not in matched:
            matched[tree.species] = match_species(tree.species, table)
        found.append(matched[tree.species])
    return found


def commonest_species() -> Species:
    """The species that most trees in use are of; the general one where the table has none of theirs."""
    found = Counter(species.key for species in species_of(queries.trees()))
    named = [key for key, _ in found.most_common() if key != "general"]
    return species_known()[named[0] if named else "general"]
