"""A grower's own figures: kept, checked, read by the reports, and seen by the overview's version."""

from __future__ import annotations

from datetime import date

import pytest

from server.analysis.species_table import species_table
from server.errors import Refused
from server.records.database import get_setting, set_setting
from server.reports.heat import heat
from server.reports.overview import version
from server.reports.species_settings import SpeciesFigure, set_species_figure, species_figures
from tests.reports.ahead_records import Garden

pytestmark = pytest.mark.usefixtures("collection")


def figure(species: str, name: str) -> SpeciesFigure:
    (found,) = [each for each in species_figures() if (each.species, each.name) == (species, name)]
    return found


def test_every_figure_has_a_source_or_is_a_growers_setting() -> None:
    known = species_figures()
    assert {each.species for each in known} == set(species_table())
    assert not [each for each in known if each.own]
    assert not [each for each in known if not each.is_setting and not each.source]
    assert not [each for each in known if each.value is not None and not each.least <= each.value <= each.most]
    # Souza et al. 2009: fig grows from 8 °C on.
    base = figure("fig", "base_c")
    assert (base.value, base.unit, base.is_setting) == (8.0, "°C", False)
    assert figure("general", "leaves_per_fruit").value is None
    assert figure("general", "leaves_per_fruit").is_setting


def test_a_figure_is_kept_and_given_back() -> None:
    set_species_figure("fig", "leaves_per_fruit", 5)
    kept = figure("fig", "leaves_per_fruit")
    assert (kept.value, kept.own, kept.is_setting, kept.table_value) == (5, True, True, 4.0)
    set_species_figure("olive", "cold_leaves_c", -3.5)
    assert figure("fig", "leaves_per_fruit").value == 5
    set_species_figure("fig", "leaves_per_fruit", None)
    back = figure("fig", "leaves_per_fruit")
    assert (back.value, back.own) == (4.0, False)
    assert figure("olive", "cold_leaves_c").own


@pytest.mark.parametrize(
    ("species", "name", "value", "field"),
    [
        ("turnip", "base_c", 5.0, "species"),
        ("fig", "colour", 5.0, "name"),
        ("fig", "cold_flowers_c", -1.0, "name"),
        ("fig", "leaves_per_fruit", 0.0, "value"),
        ("fig", "leaves_per_fruit", 10**19, "value"),
        ("fig", "leaves_per_fruit", "5", "value"),
        ("fig", "leaves_per_fruit", True, "value"),
        ("fig", "leaves_per_fruit", [5], "value"),
        ("citrus", "upper_c", 15.0, "value"),
    ],
)
def test_what_can_not_be_believed_is_refused_by_field(species: str, name: str, value: object, field: str) -> None:
    set_species_figure("citrus", "base_c", 16.0)
    before = species_figures()
    with pytest.raises(Refused) as refused:
        set_species_figure(species, name, value)
    assert [problem.field for problem in refused.value.problems] == [field]
    assert species_figures() == before


def test_the_overview_changes_with_a_figure() -> None:
    before = version()
    set_species_figure("fig", "leaves_per_fruit", 5)
    changed = version()
    assert changed != before
    set_species_figure("fig", "leaves_per_fruit", None)
    assert version() == before


def test_heat_is_counted_above_the_growers_own_base() -> None:
    garden = Garden()
    yard = garden.place("Yard")
    garden.tree(yard)
    for day in range(1, 11):
        garden.read(yard, date(2026, 1, day), 12.0, 12.0)
    assert heat(date(2026, 1, 10)).items[0].degree_days == 40.0
    set_species_figure("fig", "base_c", 10.0)
    assert heat(date(2026, 1, 10)).items[0].degree_days == 20.0
    assert heat(date(2026, 1, 10)).base_c == 10.0


def test_a_stored_figure_that_is_not_taken_any_more_breaks_no_report_and_is_told() -> None:
    """As after bounds were narrowed, or a species renamed, by a newer version."""
    set_setting("species", {"fig.base_c": 45.0, "vine.base_c": 10.0, "fig.leaves_per_fruit": 5.0})
    Garden()
    assert heat(date(2026, 4, 1)).base_c in (8.0, 10.0)
    stale, sound = figure("fig", "base_c"), figure("fig", "leaves_per_fruit")
    assert (stale.value, stale.own) == (8.0, False)
    assert stale.set_aside is not None and "from -5 to 20" in stale.set_aside
    assert (sound.value, sound.own, sound.set_aside) == (5.0, True, None)
    set_species_figure("olive", "base_c", 9.5)
    set_species_figure("fig", "base_c", 9.0)
    assert (figure("fig", "base_c").value, figure("fig", "base_c").set_aside) == (9.0, None)
    assert figure("olive", "base_c").value == 9.5
    assert get_setting("species", {})["vine.base_c"] == 10.0
