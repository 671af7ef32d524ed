"""What is known of each species, figure by figure with its source, and a grower's own figures laid over it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import isfinite

from server.wording.said import say, words_of

GROWER = "a grower's setting"
"""Source of a figure that no publication gives: chosen with care, to be changed by whoever knows better."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A value with its unit, the range it was seen in, and where it comes from."""

    value: float
    unit: str
    source: str = GROWER
    low: float | None = None
    high: float | None = None

    @property
    def is_setting(self) -> bool:
        """Whether no publication gives it."""
        return self.source.startswith(GROWER)


@dataclass(frozen=True, slots=True)
class ColdStage:
    """How much cold a part of the tree stands at growth stages (BBCH) `first` to `last`, air temperature in °C.

    `harm`: harm begins, some 10 % of the part is lost; `ruin`: some 90 % is, or the part is killed.
    """

    name: str
    part: str
    first: int
    last: int
    harm: Figure
    ruin: Figure | None = None


@dataclass(frozen=True)
class Species:
    """One species' figures; `figures` by the names of BOUNDS, `cold` by stage, `roots` those in a pot."""

    key: str
    words: str
    names: tuple[str, ...]
    eppo: tuple[str, ...]
    evergreen: bool
    figures: Mapping[str, Figure]
    cold: tuple[ColdStage, ...]
    roots: Figure

    def get(self, name: str) -> float | None:
        """A figure's value; None where neither a publication nor a grower gave one. KeyError for no such name."""
        if name not in BOUNDS:
            raise KeyError(name)
        figure = self.figures.get(name)
        return None if figure is None else figure.value

    def cold_at(self, stage: int | None, in_leaf: bool) -> ColdStage:
        """The part that cold hurts first at a stage (BBCH).

        Where nobody noted a stage: new leaves for a deciduous tree that is `in_leaf`, else the tree at rest.
        """
        if stage is None:
            stage = LEAF_STAGE if in_leaf and not self.evergreen else 0
        fitting = [each for each in self.cold if each.first <= stage <= each.last]
        return max(fitting, key=lambda each: each.harm.value)


LEAF_STAGE = 15
"""Stands for a tree in leaf whose stage nobody noted."""

# Figures that a grower may set, with the bounds of what is believed; units as in the table.
BOUNDS: dict[str, tuple[float, float]] = {
    "base_c": (-5.0, 20.0),
    "upper_c": (15.0, 50.0),
    "chill_need_h": (0.0, 3000.0),
    "leaf_area_cm2": (0.5, 2000.0),
    "leaves_per_fruit": (0.5, 200.0),
    "shoot_at_set_cm": (1.0, 200.0),
    "fruit_per_node": (0.1, 10.0),
}
COLD_BOUNDS_C = (-45.0, 10.0)


def match_species(text: str | None, table: Mapping[str, Species]) -> Species:
    """The species that a free text names (common or botanical name, EPPO code); the general one where none fits.

    Whole words count, so that a pineapple is no apple; names of OTHERS that hold one of ours don't match.
    """
    words = " ".join(re.findall(r"[^\W_]+", (text or "").casefold()))
    padded = f" {words} "
    for other in OTHERS:
        padded = padded.replace(f" {other} ", " ")
    for species in table.values():
        if words.upper() in species.eppo or any(f" {name} " in padded for name in species.names):
            return species
    return table["general"]


OTHERS = (
    *("indian fig", "weeping fig", "fiddle leaf fig", "barbary fig", "strangler fig", "hottentot fig"),
    *("custard apple", "sugar apple", "rose apple", "star apple", "wood apple", "cashew apple", "apple mint"),
    *("mock orange", "osage orange", "russian olive", "lemon balm", "lemon verbena", "lemon grass", "lemon thyme"),
)


def setting_names(species: Species) -> dict[str, Figure | None]:
    """Everything that a grower may set for a species, by name, with the figure that stands now."""
    names: dict[str, Figure | None] = {name: species.figures.get(name) for name in BOUNDS}
    names |= {f"cold_{each.name}_c": each.harm for each in species.cold}
    return names | {"cold_roots_c": species.roots}


def with_settings(table: Mapping[str, Species], settings: Mapping[str, float]) -> dict[str, Species]:
    """The table with a grower's own figures, named "species.figure", e.g. "fig.leaves_per_fruit".

    Nothing is changed in place. Raises ValueError that says what to mend: no such name, not a number, out of bounds, or
    limits that cross.
    """
    changed = dict(table)
    for name, value in settings.items():
        key, _, figure = name.partition(".")
        if key not in changed:
            told = say("{figure}: there is no species {species!r}; there are {known}.")
            raise ValueError(told.filled(figure=name, species=key, known=", ".join(changed)))
        changed[key] = _with_setting(changed[key], figure, value)
    for species in changed.values():
        base, upper = species.get("base_c"), species.get("upper_c")
        if base is not None and upper is not None and base >= upper:
            told = say("{species}.upper_c: {upper:g} must lie above {species}.base_c, {base:g}.")
            raise ValueError(told.filled(species=species.key, upper=upper, base=base))
    return changed


def sound_settings(
    table: Mapping[str, Species], settings: Mapping[str, float]
) -> tuple[dict[str, float], dict[str, str]]:
    """Part a grower's stored figures into those that the table takes and, by name, why each of the others is not taken.

    Bounds and names may have changed since a figure was stored; one that is refused must not cost the others.
    """
    kept: dict[str, float] = {}
    refused: dict[str, str] = {}
    for name, value in settings.items():
        try:
            with_settings(table, {**kept, name: value})
        except ValueError as error:
            refused[name] = words_of(error)
        else:
            kept[name] = value
    return kept, refused


def _with_setting(species: Species, name: str, value: float) -> Species:
    known = setting_names(species)
    if name not in known:
        told = say("{figure}: no such figure; there are {known}.")
        raise ValueError(told.filled(figure=f"{species.key}.{name}", known=", ".join(known)))
    low, high = BOUNDS.get(name, COLD_BOUNDS_C)
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value) or not low <= value <= high:
        told = say("{figure}: give a number from {low:g} to {high:g}.")
        raise ValueError(told.filled(figure=f"{species.key}.{name}", low=low, high=high))
    if name in BOUNDS:
        figure = _set(known[name], value, UNITS[name])
        return replace(species, figures={**species.figures, name: figure})
    if name == "cold_roots_c":
        return replace(species, roots=_set(species.roots, value, "°C"))
    cold = tuple(_cold_set(each, value) if f"cold_{each.name}_c" == name else each for each in species.cold)
    return replace(species, cold=cold)


def _set(old: Figure | None, value: float, unit: str) -> Figure:
    """A grower's figure has no range of its own; that of the table is kept where it still holds the value."""
    if old and old.low is not None and old.high is not None and old.low <= value <= old.high:
        return Figure(value, unit, f"{GROWER}, set here", old.low, old.high)
    return Figure(value, unit, f"{GROWER}, set here")


def _cold_set(old: ColdStage, value: float) -> ColdStage:
    """Ruin stays below harm: where the grower's figure passes it, it is not known any more."""
    ruin = old.ruin if old.ruin and old.ruin.value < value else None
    return replace(old, harm=_set(None, value, "°C"), ruin=ruin)


UNITS = {
    "base_c": "°C",
    "upper_c": "°C",
    "chill_need_h": "h below 7.2 °C",
    "leaf_area_cm2": "cm²",
    "leaves_per_fruit": "leaves",
    "shoot_at_set_cm": "cm",
    "fruit_per_node": "fruit",
}


def fig_leaf_area_cm2(mid_cm: float, left_cm: float, right_cm: float) -> float:
    """Area of a fig leaf from its three main lengths: mid vein and the two side veins.

    Source: Souza et al. 2014, one cultivar ('Roxo de Valinhos'): 0.9781 times the mean length to the power of 1.8451.
    Raises ValueError for lengths that are not above 0.
    """
    if not min(mid_cm, left_cm, right_cm) > 0.0:
        raise ValueError("a leaf's lengths must be above 0 cm")
    return float(0.9781 * ((mid_cm + left_cm + right_cm) / 3.0) ** 1.8451)
