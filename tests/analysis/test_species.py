"""The species table against published figures, names against free text, and a grower's figures against their bounds."""

from __future__ import annotations

from dataclasses import FrozenInstanceError

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.analysis.species import (
    BOUNDS,
    COLD_BOUNDS_C,
    GROWER,
    UNITS,
    Species,
    fig_leaf_area_cm2,
    match_species,
    setting_names,
    with_settings,
)
from server.analysis.species_table import PRACTICE, species_table

TABLE = species_table()
# Penn State Extension, critical temperatures of peach buds, °F: stage, a BBCH code in it, 10 % and 90 % killed. Which
# code belongs to which stage is our reading of the stone-fruit scale.
PEACH = [
    *[("first_swelling", 51, 18, 1), ("calyx_green", 53, 21, 5), ("calyx_red", 55, 23, 9), ("pink", 57, 25, 15)],
    *[
        ("first_bloom", 61, 26, 21),
        ("full_bloom", 65, 27, 24),
        ("after_bloom", 69, 28, 25),
        ("after_bloom", 71, 28, 25),
    ],
]


@pytest.mark.parametrize(("name", "stage", "harm_f", "ruin_f"), PEACH)
def test_peach_buds_are_killed_as_published(name: str, stage: int, harm_f: float, ruin_f: float) -> None:
    found = TABLE["peach"].cold_at(stage, in_leaf=False)
    assert found.name == name
    assert found.harm.value * 1.8 + 32 == pytest.approx(harm_f)
    assert found.ruin is not None
    assert found.ruin.value * 1.8 + 32 == pytest.approx(ruin_f)


def test_fig_figures_are_those_published() -> None:
    fig = TABLE["fig"]
    # Souza et al. 2009: base 8 °C, upper 36 °C.
    assert (fig.get("base_c"), fig.get("upper_c")) == (8.0, 36.0)
    # Two extension bulletins: killed to the ground at 20 °F; mature trees survive to about -10 °C.
    wood = fig.cold_at(97, in_leaf=False)
    assert wood.harm.value == pytest.approx((20 - 32) / 1.8, abs=0.05)
    assert wood.ruin is not None
    assert wood.ruin.value == -10.0
    # Extension bulletins, weak: new growth about -2 °C.
    assert fig.cold_at(11, in_leaf=True).harm.value == -2.0
    # None was found for fig: must be marked as a grower's setting.
    assert fig.figures["leaves_per_fruit"].is_setting
    # Common practice, no published source: 25 to 30 cm before fruit set, one fruit a node, two exceptional.
    assert (fig.figures["shoot_at_set_cm"].low, fig.figures["shoot_at_set_cm"].high) == (25.0, 30.0)
    assert (fig.get("fruit_per_node"), fig.figures["fruit_per_node"].high) == (1.0, 2.0)


def test_apple_leaves_are_those_published() -> None:
    """On M.9: 10 mature leaves a fruit, 80 to 90 in² together."""
    apple = TABLE["apple"]
    assert apple.get("leaves_per_fruit") == 10.0
    area = apple.figures["leaf_area_cm2"]
    assert (area.low, area.high) == pytest.approx((80 * 2.54**2 / 10, 90 * 2.54**2 / 10), abs=0.05)


def test_chill_and_needs_of_the_others_are_those_published() -> None:
    # Fig: low, 0 to 160 h by cultivar (published range). Peach: 30 to 45 leaves a fruit (weak).
    chill, peach = TABLE["fig"].figures["chill_need_h"], TABLE["peach"].figures["leaves_per_fruit"]
    assert (chill.low, chill.high) == (0.0, 160.0)
    assert (peach.low, peach.high) == (30.0, 45.0)
    assert "weak" in peach.source


def test_an_orange_needs_the_leaves_beyond_which_fruit_hardly_grows() -> None:
    """Girdled orange shoots: 40, 30, 20, 10 leaves gave fruit of 10.0, 9.0, 6.4, 5.3 g dry."""
    leaves, dry_g = np.array([40, 30, 20, 10]), np.array([10.0, 9.0, 6.4, 5.3])
    need = TABLE["citrus"].figures["leaves_per_fruit"]
    assert need.low is not None and need.high is not None
    assert need.value == leaves[dry_g >= 0.95 * dry_g.max()].min()
    # At the low end of the range fruit is about two thirds of that; the range covers it.
    assert need.low <= leaves[dry_g >= 0.6 * dry_g.max()].min()


def test_roots_in_pots_are_less_hardy_than_the_wood_above_them() -> None:
    """As reviews of container nurseries say of potted trees in general."""
    for species in TABLE.values():
        assert species.roots.value > species.cold_at(97, in_leaf=False).harm.value, species.key


# Sources that were read for what they are cited for; everything else is from memory, or a grower's setting.
READ = (
    *("Souza et al. 2009", "Souza et al. 2014", "Penn State Extension", "published range of cultivars"),
    *("extension bulletins", "girdled orange shoots", "on M.9"),
)


@pytest.mark.parametrize("species", TABLE.values(), ids=TABLE.keys())
def test_no_figure_claims_more_than_is_known_of_it(species: Species) -> None:
    figures = [figure for figure in setting_names(species).values() if figure]
    for figure in [*figures, *(each.ruin for each in species.cold if each.ruin)]:
        honest = figure.is_setting or any(words in figure.source for words in ("from memory", "weak", PRACTICE))
        assert honest or figure.source.startswith(READ), figure.source


def test_fig_leaf_area_follows_the_published_line() -> None:
    """Souza et al. 2014: three lengths summing to 40 cm give 116.4 cm²."""
    assert fig_leaf_area_cm2(15.0, 12.5, 12.5) == pytest.approx(116.4, abs=0.05)
    assert TABLE["fig"].get("leaf_area_cm2") == 116.4
    with pytest.raises(ValueError, match="above 0"):
        fig_leaf_area_cm2(15.0, 0.0, 12.0)


@pytest.mark.parametrize(
    ("text", "key"),
    [
        *[("Ficus carica", "fig"), ("fig", "fig"), ("FIUCA", "fig"), ("F. carica 'Lattarola'", "fig"), ("Figs", "fig")],
        *[
            ("Punica granatum L.", "pomegranate"),
            ("PUNGR", "pomegranate"),
            ("olveu", "olive"),
            ("Olea europaea", "olive"),
        ],
        *[("Citrus × limon", "citrus"), ("Meyer lemon", "citrus"), ("1CIDG", "citrus"), ("kumquat", "citrus")],
        *[("nectarine", "peach"), ("Prunus persica", "peach"), ("Malus domestica", "apple"), ("apple on M.9", "apple")],
        *[
            ("pineapple", "general"),
            ("custard apple", "general"),
            ("weeping fig", "general"),
            ("Ficus benjamina", "general"),
        ],
        *[
            ("Opuntia ficus-indica", "general"),
            ("loquat", "general"),
            ("", "general"),
            (None, "general"),
            ("…", "general"),
        ],
    ],
)
def test_free_text_finds_its_species(text: str | None, key: str) -> None:
    assert match_species(text, TABLE).key == key


@given(st.text(max_size=200))
def test_any_text_finds_some_species(text: str) -> None:
    assert match_species(text, TABLE).key in TABLE


@pytest.mark.parametrize("species", TABLE.values(), ids=TABLE.keys())
def test_every_figure_has_its_unit_source_and_bounds(species: Species) -> None:
    for name, figure in setting_names(species).items():
        if figure is None:
            continue
        low, high = BOUNDS.get(name, COLD_BOUNDS_C)
        assert low <= figure.value <= high, name
        assert figure.unit == UNITS.get(name, "°C"), name
        assert figure.source
        if figure.low is not None and figure.high is not None:
            assert figure.low <= figure.value <= figure.high, name


@pytest.mark.parametrize("key", TABLE)
def test_every_stage_has_a_part_and_ruin_lies_below_harm(key: str) -> None:
    species = TABLE[key]
    for stage in (None, *range(100)):
        for in_leaf in (True, False):
            species.cold_at(stage, in_leaf)
    for each in species.cold:
        assert each.ruin is None or each.ruin.value < each.harm.value
    assert len({each.name for each in species.cold}) == len(species.cold)


def test_flowers_never_stand_more_cold_than_wood() -> None:
    for species in TABLE.values():
        assert species.cold_at(65, in_leaf=True).harm.value > species.cold_at(97, in_leaf=False).harm.value


def test_a_growers_figures_lie_over_the_table_and_leave_it_alone() -> None:
    mine = with_settings(TABLE, {"fig.leaves_per_fruit": 5, "peach.cold_pink_c": -3.5, "olive.cold_roots_c": -6.0})
    assert mine["fig"].get("leaves_per_fruit") == 5
    assert mine["fig"].figures["leaves_per_fruit"].is_setting
    assert mine["peach"].cold_at(57, in_leaf=False).harm.value == -3.5
    assert mine["olive"].roots.value == -6.0
    assert TABLE["fig"].get("leaves_per_fruit") == 4.0
    assert mine["apple"] is TABLE["apple"]
    with pytest.raises(FrozenInstanceError):
        mine["fig"].roots.value = 0.0  # type: ignore[misc]


def test_a_published_figure_that_was_set_is_marked_as_set() -> None:
    mine = with_settings(TABLE, {"fig.base_c": 9.5, "general.leaves_per_fruit": 12})
    assert mine["fig"].figures["base_c"].source.startswith(GROWER)
    assert mine["general"].get("leaves_per_fruit") == 12


def test_ruin_that_a_growers_figure_passes_is_forgotten() -> None:
    mine = with_settings(TABLE, {"fig.cold_wood_c": -12.0})
    assert mine["fig"].cold_at(97, in_leaf=False).ruin is None


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"vine.base_c": 8}, "there is no species 'vine'"),
        ({"fig.sweetness": 8}, "no such figure"),
        ({"fig.base_c": 25}, "from -5 to 20"),
        ({"fig.base_c": float("nan")}, "give a number"),
        ({"fig.base_c": "8"}, "give a number"),
        ({"fig.base_c": True}, "give a number"),
        ({"fig.cold_leaves_c": -80}, "from -45 to 10"),
        ({"general.base_c": 20, "general.upper_c": 18}, "must lie above"),
        ({"fig": 1}, "no such figure"),
    ],
)
def test_what_cannot_be_is_refused_with_what_to_do(settings: dict[str, float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        with_settings(TABLE, settings)


def test_a_name_that_no_figure_has_is_an_error() -> None:
    with pytest.raises(KeyError):
        TABLE["fig"].get("sweetness")
