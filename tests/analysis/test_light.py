"""Light in places and the step of a move, against published conversions and the sense of the rule."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.analysis import sun
from server.analysis.light import (
    COVERS,
    DailyLight,
    LightStep,
    light_percent,
    light_step,
    open_sky_light,
    photosynthetic_light,
    place_light,
)

# Transmission of cover materials, from memory: glass, one sheet of polyethylene.
GLASS, POLYETHYLENE = (88.0, 90.0), 87.0
MAY, DECEMBER = 121, 355


def step(before: float, after: float, **state: object) -> LightStep:
    def light(mol: float) -> DailyLight:
        return DailyLight(mol, mol / 2, mol * 1.5)

    return light_step(light(before), light(after), **state)  # type: ignore[arg-type]


def test_a_days_light_is_its_photon_flux_added_up() -> None:
    """Daily light integral: flux × 3600 × h / 10⁶, so that 1 µmol m⁻² s⁻¹ over 24 h is 0.0864 mol m⁻².

    Sunlight of so many MJ a day, spread evenly over it, has 4.6 µmol in each joule of its usable 45 %.
    """
    for radiation_mj in (1.0, 8.0, 22.07):
        flux_umol = 0.45 * 4.6 * radiation_mj * 1e6 / 86_400
        assert photosynthetic_light(radiation_mj) == pytest.approx(0.0864 * flux_umol)


def test_sunlight_becomes_leaf_light_at_45_percent_and_4_6_micromoles() -> None:
    assert photosynthetic_light(1.0) == pytest.approx(0.45 * 4.6)


def test_open_sky_light_of_a_worked_day() -> None:
    """FAO-56, example 18 (Uccle, 6 July): Rs 22.07 from sunshine; from temperatures (equation 50) 0.16 √9.2 · 41.09."""
    found = open_sky_light(50.8, 187, 12.3, 21.5)
    assert found == pytest.approx(2.07 * 0.16 * 9.2**0.5 * 41.09, rel=1e-3)
    # The two ways to the same radiation agree to a fifth, as the docstring says.
    assert found == pytest.approx(2.07 * 22.07, rel=0.2)


def test_without_temperatures_the_sky_is_middling() -> None:
    ra = sun.extraterrestrial_radiation(MAY, 40.0)
    assert open_sky_light(40.0, MAY) == pytest.approx(2.07 * 0.5 * ra)


def test_own_figure_of_a_place_overrides_its_cover() -> None:
    assert light_percent("glasshouse") == 75.0
    assert light_percent("glasshouse", 60.0) == 60.0
    assert light_percent("open", 0.0) == 0.0
    assert light_percent(None) is None
    assert light_percent("cave") is None


def test_no_cover_lets_more_through_than_its_material() -> None:
    assert COVERS["glasshouse"].value < GLASS[0]
    assert COVERS["polytunnel"].value < POLYETHYLENE
    assert COVERS["low_tunnel"].value < POLYETHYLENE
    for name, figure in COVERS.items():
        if figure.low is not None and figure.high is not None:
            assert figure.low < figure.value < figure.high, name


@given(
    st.floats(-66, 66),
    st.integers(1, 365),
    st.floats(0, 100),
    st.floats(-20, 30),
    st.floats(0, 30),
)
def test_light_lies_between_overcast_and_clear(lat: float, day: int, percent: float, low: float, swing: float) -> None:
    found = place_light(lat, day, percent, low, low + swing)
    assert 0.0 <= found.overcast_mol <= found.clear_mol
    assert found.mol <= found.clear_mol + 1e-9
    assert found.mol <= place_light(lat, day, 100.0, low, low + swing).mol + 1e-9


def test_from_glass_to_the_open_in_may_is_watched_and_from_a_porch_acted_on() -> None:
    open_air = place_light(40.0, MAY, 100.0)
    glass, porch = place_light(40.0, MAY, 75.0), place_light(40.0, MAY, 40.0)
    assert light_step(glass, open_air).level == "watch"
    found = light_step(porch, open_air, shaded=True)
    assert found.level == "act"
    assert found.ratio == pytest.approx(2.5)
    assert found.change_mol == pytest.approx(0.6 * open_air.mol)
    assert found.why[0].startswith("It would get 2.5 times the light:")
    assert any("shade" in each for each in found.why)


def test_in_december_no_move_is_too_big() -> None:
    """Winter light in the north is little, whatever its ratio: 60°N, from a porch into the open."""
    found = light_step(place_light(60.0, DECEMBER, 40.0), place_light(60.0, DECEMBER, 100.0), shaded=True)
    assert found.level is None
    assert found.why == ()


def test_shaded_and_lately_moved_trees_bear_less() -> None:
    """The most shaded suffer most, two moves in quick succession are worse than one: common practice, no source."""
    assert step(36.0, 45.0).level is None
    assert step(36.0, 45.0, shaded=True).level == "watch"
    assert step(36.0, 45.0, moved_days_ago=5).level == "watch"
    assert step(36.0, 45.0, moved_days_ago=30).level is None
    assert step(30.0, 45.0).level == "watch"
    assert step(30.0, 45.0, moved_days_ago=1).level == "act"
    assert step(30.0, 45.0, moved_days_ago=1).why[1].startswith("It was moved yesterday;")
    assert step(30.0, 45.0).why == ("It would get 50 percent more light: 45 instead of 30 mol/m² a day.",)


@given(st.floats(0.1, 60), st.floats(0, 60), st.floats(0, 30), st.booleans(), st.one_of(st.none(), st.floats(0, 60)))
def test_a_bigger_step_is_never_judged_milder(
    before: float, gain: float, more: float, shaded: bool, moved: float | None
) -> None:
    rank = [None, "watch", "act"]
    small = step(before, before + gain, shaded=shaded, moved_days_ago=moved)
    big = step(before, before + gain + more, shaded=shaded, moved_days_ago=moved)
    assert rank.index(small.level) <= rank.index(big.level)
    assert bool(small.why) == (small.level is not None)


def test_into_less_light_is_no_step_and_darkness_no_division() -> None:
    assert step(45.0, 10.0).level is None
    assert step(0.0, 20.0).level == "act"
    assert step(0.0, 20.0).ratio == float("inf")


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="0 and 100"):
        place_light(40.0, MAY, 120.0)
    with pytest.raises(ValueError, match="latitude"):
        place_light(95.0, MAY, 50.0)
