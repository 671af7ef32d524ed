"""Cold watch: what is forecast, what it harms, and how it is said."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from server.analysis.cold import ColdFinding, Night, Standing, cold_findings, nights_ahead, root_low_c
from server.analysis.species_table import species_table

TABLE = species_table()
ON = date(2026, 4, 11)


def tree(tag: str = "A", species: str = "fig", stage: int | None = 15, **state: object) -> Standing:
    told = {"in_leaf": True, "pot_litres": 19.0, "in_ground": False, "place": "Yard", **state}
    return Standing(tag, TABLE[species], stage, **told)  # type: ignore[arg-type]


def tonight(low: float, *trees: Standing) -> list[ColdFinding]:
    return cold_findings(trees or [tree()], {"Yard": [Night(ON, low)]}, ON)


def test_readings_dated_ahead_are_the_forecast_and_a_low_is_that_of_its_morning() -> None:
    readings = [
        (ON - timedelta(days=1), -9.0, 4.0),
        (ON, -8.0, 6.0),
        (ON + timedelta(days=2), 1.0, 12.0),
        (ON + timedelta(days=1), -3.0, 9.0),
        (ON + timedelta(days=3), None, 12.0),
        (ON + timedelta(days=17), -3.0, 9.0),
    ]
    assert nights_ahead(ON, readings) == [Night(ON, -3.0, 6.0), Night(ON + timedelta(days=1), 1.0, 9.0)]
    assert nights_ahead(ON, []) == []


def test_a_fig_in_leaf_is_to_be_sheltered_tonight() -> None:
    (found,) = tonight(-3.0)
    assert (found.level, found.part, found.night, found.low_c, found.harm_c) == (
        "act",
        "leaves and new growth",
        ON,
        -3,
        -2,
    )
    assert found.why == (
        "Tonight is forecast to fall to −3 °C in Yard.",
        "Leaves and new growth (fig) are harmed from about −2 °C.",
    )
    assert found.advice == "Carry it under cover before dusk, or cover it down to the ground."


@pytest.mark.parametrize(("low", "level"), [(-3.0, "act"), (-1.0, "act"), (-0.9, "watch"), (1.0, "watch"), (1.1, None)])
def test_nearer_to_harm_is_more_urgent(low: float, level: str | None) -> None:
    found = tonight(low)
    assert (found[0].level if found else None) == level


def test_a_later_night_is_watched_and_tonight_comes_first() -> None:
    nights = [Night(ON, 4.0), Night(ON + timedelta(days=3), -6.0)]
    (found,) = cold_findings([tree()], {"Yard": nights}, ON)
    assert (found.level, found.night) == ("watch", ON + timedelta(days=3))
    assert found.why[0].startswith("The night of 14 April is forecast to fall to −6 °C")
    nights[0] = Night(ON, -2.0)
    (found,) = cold_findings([tree()], {"Yard": nights}, ON)
    assert (found.level, found.night) == ("act", ON)


def test_a_night_that_is_past_alarms_nobody() -> None:
    assert cold_findings([tree()], {"Yard": [Night(ON - timedelta(days=1), -9.0)]}, ON) == []


@pytest.mark.parametrize(
    ("species", "stage", "low", "level"),
    [
        # Penn State Extension: 10 % of peach buds killed at 18 °F swelling (-7.8 °C), 27 °F in full bloom (-2.8 °C).
        ("peach", 51, -4.0, None),
        ("peach", 65, -4.0, "act"),
        # Extension bulletins: fig wood stands to 20 °F (-6.7 °C).
        ("fig", 97, -3.0, None),
        ("fig", 97, -7.0, "act"),
        ("olive", 97, -3.0, None),
        ("citrus", 97, -3.0, "act"),
    ],
)
def test_stage_and_species_decide(species: str, stage: int, low: float, level: str | None) -> None:
    """In the ground, so that roots do not count."""
    found = tonight(low, tree(species=species, stage=stage, in_leaf=False, in_ground=True))
    assert (found[0].level if found else None) == level


def test_at_rest_the_roots_in_a_pot_give_way_before_the_wood() -> None:
    resting = {"stage": 97, "in_leaf": False}
    small, large, ground = (
        tree("S", pot_litres=10.0, **resting),
        tree("L", pot_litres=57.0, **resting),
        tree("G", pot_litres=None, in_ground=True, **resting),
    )
    found = {each.tag: each for each in tonight(-5.0, small, large, ground)}
    assert (found["S"].level, found["S"].part) == ("act", "roots")
    assert found["L"].level == "watch"
    assert found["G"].level == "watch"
    assert found["G"].part == "wood"
    assert found["S"].why[1] == (
        "Its 10 l pot lets some −4 °C through to the roots; roots in pots are harmed from about −4 °C"
        " (a setting; no publication says)."
    )
    assert "wrap" in found["S"].advice


def test_larger_pots_keep_roots_warmer_until_they_are_frozen_through() -> None:
    lows = [root_low_c(Night(ON, -5.0), litres) for litres in (None, 5.0, 19.9, 20.0, 38.0, 57.0)]
    assert lows == sorted(lows)
    assert lows[0] == lows[1] < lows[3] < lows[5]
    assert root_low_c(Night(ON, -5.0, high_before_c=-1.0), 57.0) == -5.0
    assert root_low_c(Night(ON, -5.0, high_before_c=4.0), 57.0) > -5.0


def test_a_forecast_of_another_place_counts_with_its_error() -> None:
    near = cold_findings([tree()], {"Yard": [Night(ON, 0.0, error_c=1.5)]}, ON)
    assert near[0].level == "act"
    assert "give or take 2 °C (from the forecast of another place)" in near[0].why[0]


def test_what_was_not_noted_is_said() -> None:
    (found,) = tonight(-4.0, tree(stage=None))
    assert found.why[-1] == "Its stage was not noted; it is taken to be in leaf."
    # At rest the wood (-6.7 °C) is safe at -4 °C; what is left in danger are the roots.
    (found,) = tonight(-4.0, tree(stage=None, in_leaf=False))
    assert found.part == "roots"


def test_ruin_is_said() -> None:
    (found,) = tonight(-11.0, tree(stage=97, in_leaf=False, in_ground=True))
    assert found.ruinous
    assert "At that cold most of it is lost." in found.why


def test_places_without_a_forecast_say_nothing_and_the_urgent_come_first() -> None:
    trees = [tree("W", stage=97, in_leaf=False, in_ground=True), tree("A"), tree("B", place="Elsewhere")]
    found = tonight(-4.0, *trees)
    assert [(each.tag, each.level) for each in found] == [("A", "act"), ("W", "watch")]
