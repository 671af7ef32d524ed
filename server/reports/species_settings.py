"""The figures of every species with their sources, and the grower's own laid over them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from server.analysis.species import (
    BOUNDS,
    COLD_BOUNDS_C,
    UNITS,
    Figure,
    Species,
    setting_names,
    sound_settings,
    with_settings,
)
from server.analysis.species_table import species_table
from server.errors import Refused
from server.records.database import get_setting, set_setting, write
from server.reports.kinds import SETTING
from server.wording.said import Said, say, words_of

WORDS = {
    "base_c": say("no growth below"),
    "upper_c": say("no more growth from heat above"),
    "chill_need_h": say("chill that buds need"),
    "leaf_area_cm2": say("area of a grown leaf"),
    "leaves_per_fruit": say("leaves that feed one fruit"),
    "shoot_at_set_cm": say("growth of a shoot when its fruit sets"),
    "fruit_per_node": say("fruit at a node in a full set"),
    "cold_roots_c": say("roots in a pot are harmed from"),
}


@dataclass(frozen=True)
class SpeciesFigure:
    """A figure that a grower may set: `value` in `unit` as it stands now, None where nobody gave one.

    `low` to `high`: the range it was seen in, where known; `least` to `most`: what is taken. `is_setting`: no
    publication gives it. `own`: the grower set it; `table_value` is what stood before and comes back without.
    `set_aside`: why a figure that the grower set is not taken any more, so that the table's stands.
    """

    species: str
    species_words: str
    name: str
    words: str
    value: float | None
    unit: str
    low: float | None
    high: float | None
    least: float
    most: float
    source: str | None
    is_setting: bool
    own: bool
    table_value: float | None
    set_aside: str | None


def species_figures() -> list[SpeciesFigure]:
    """All figures of all species, in the order of the table."""
    table = species_table()
    own, refused = sound_settings(table, get_setting(SETTING, {}))
    found = []
    for species in with_settings(table, own).values():
        of_table = setting_names(table[species.key])
        for name, figure in setting_names(species).items():
            key = f"{species.key}.{name}"
            plain = _figure(species, name, figure, of_table[name], key in own)
            found.append(replace(plain, set_aside=_set_aside_words(refused[key])) if key in refused else plain)
    return found


def set_species_figure(species: str, name: str, value: object) -> list[SpeciesFigure]:
    """Keep a grower's own figure (None: go back to the table's) and return them all.

    Raises Refused that names the field at fault: no such species or figure, no number, out of bounds, crossed limits.
    """
    table = species_table()
    if species not in table:
        told = say("There is no species “{name}”; there are: {known}.", name=species[:40], known=", ".join(table))
        raise Refused.of("species", told)
    if name not in setting_names(table[species]):
        known = ", ".join(setting_names(table[species]))
        told = say("There is no figure “{name}” of {species}; there are: {known}.")
        raise Refused.of("name", told.filled(name=name[:40], species=species, known=known))
    with write():
        own = get_setting(SETTING, {})
        own.pop(f"{species}.{name}", None)
        own |= _named(species, name, value)
        try:
            with_settings(table, {**sound_settings(table, own)[0], **_named(species, name, value)})
        except ValueError as error:
            raise Refused.of("value", words_of(error)) from error
        set_setting(SETTING, own)
    return species_figures()


def _named(species: str, name: str, value: Any) -> dict[str, Any]:
    return {} if value is None else {f"{species}.{name}": value}


def _set_aside_words(reason: str) -> str:
    return say("The figure that was set here is not taken any more, and the table's stands. {reason}", reason=reason)


def _figure(species: Species, name: str, figure: Figure | None, of_table: Figure | None, own: bool) -> SpeciesFigure:
    least, most = BOUNDS.get(name, COLD_BOUNDS_C)
    return SpeciesFigure(
        species=species.key,
        species_words=species.words,
        name=name,
        words=WORDS.get(name) or _cold_words(species, name),
        value=figure.value if figure else None,
        unit=figure.unit if figure else UNITS.get(name, "°C"),
        low=figure.low if figure else None,
        high=figure.high if figure else None,
        least=least,
        most=most,
        source=figure.source if figure else None,
        is_setting=figure is None or figure.is_setting,
        own=own,
        table_value=of_table.value if of_table else None,
        set_aside=None,
    )


def _cold_words(species: Species, name: str) -> Said:
    stage = next(each for each in species.cold if f"cold_{each.name}_c" == name)
    are = say("{part} (BBCH {first} to {last}) are harmed from")
    harmed = are if stage.part.endswith("s") else say("{part} (BBCH {first} to {last}) is harmed from")
    return harmed.filled(part=stage.part, first=stage.first, last=stage.last)
