"""The table of species: fig, citrus, pomegranate, olive, peach, apple, and a general one for all others.

In the sources, "from memory" means stated by several handbooks and not looked up again, "weak" that little stands
behind it. °F are turned into °C.
"""

from __future__ import annotations

from server.analysis.species import GROWER, ColdStage, Figure, Species, fig_leaf_area_cm2
from server.wording.said import say

PRACTICE = "common practice, no published source"
SOUZA_2009 = "Souza et al. 2009 (fig: base 8 °C, upper 36 °C)"
SOUZA_2014 = "Souza et al. 2014, one cultivar, for a leaf whose three lengths sum to 40 cm"
PENN_STATE = "Penn State Extension, critical temperatures of peach buds (10 % and 90 % killed)"
WASHINGTON = "Washington State University, critical temperatures of apple buds (10 % and 90 % killed), from memory"
ORANGE = "girdled orange shoots: 40, 30, 20, 10 leaves gave fruit of 10.0, 9.0, 6.4, 5.3 g dry"


def species_table() -> dict[str, Species]:
    """All species by key, the general one last; a fresh table each time, so that none can spoil another's."""
    return {each.key: each for each in (_fig(), _citrus(), _pomegranate(), _olive(), _peach(), _apple(), _general())}


def _fig() -> Species:
    return Species(
        key="fig",
        words=say("fig"),
        names=("fig", "figs", "ficus carica", "f carica", "common fig"),
        eppo=("FIUCA",),
        evergreen=False,
        figures={
            "base_c": Figure(8.0, "°C", SOUZA_2009),
            "upper_c": Figure(36.0, "°C", SOUZA_2009),
            "chill_need_h": Figure(100.0, "h below 7.2 °C", "published range of cultivars, 0 to 160 h", 0.0, 160.0),
            "leaf_area_cm2": Figure(round(fig_leaf_area_cm2(*[40.0 / 3.0] * 3), 1), "cm²", SOUZA_2014, 60.0, 250.0),
            "leaves_per_fruit": Figure(4.0, "leaves", GROWER, 2.0, 6.0),
            "shoot_at_set_cm": Figure(27.5, "cm", PRACTICE, 25.0, 30.0),
            "fruit_per_node": Figure(1.0, "fruit", f"{PRACTICE}; two are exceptional", 0.0, 2.0),
        },
        cold=(
            _bare(-6.7, -10.0, "extension bulletins: killed to the ground from 20 °F; mature wood to about -10 °C"),
            _stage("buds", say("swelling buds"), 1, 8, -3.0, None, GROWER),
            _stage("leaves", say("leaves and new growth"), 9, 92, -2.0, None, "extension bulletins, weak"),
            _stage("fruit", say("young fruit"), 51, 89, -1.0, None, GROWER),
            _stage("old_leaves", say("old leaves"), 93, 96, -3.0, None, GROWER),
        ),
        roots=Figure(-4.0, "°C", GROWER, -8.0, -2.0),
    )


def _citrus() -> Species:
    return Species(
        key="citrus",
        words=say("citrus"),
        names=(
            *("citrus", "lemon", "orange", "lime", "mandarin", "tangerine", "clementine", "satsuma", "grapefruit"),
            *("kumquat", "calamondin", "pomelo", "yuzu", "bergamot", "citron"),
        ),
        eppo=("1CIDG", "CIDLI", "CIDSI", "CIDRE", "CIDPA"),
        evergreen=True,
        figures={
            "base_c": Figure(12.8, "°C", "55 °F, customary for citrus, from memory"),
            "upper_c": Figure(36.0, "°C", GROWER),
            "chill_need_h": Figure(0.0, "h below 7.2 °C", "evergreen: none, from memory"),
            "leaf_area_cm2": Figure(25.0, "cm²", GROWER, 10.0, 50.0),
            "leaves_per_fruit": Figure(40.0, "leaves", ORANGE, 20.0, 50.0),
        },
        cold=(
            _bare(-3.0, -6.0, "extension services, from memory; lemon and lime stand less, satsuma and kumquat more"),
            _stage("leaves", say("leaves and new growth"), 1, 96, -2.0, -5.0, "extension services, from memory"),
            _stage("flowers", say("flowers"), 51, 69, -1.5, None, GROWER),
            _stage("fruit", say("fruit"), 71, 89, -2.2, None, "28 °F over some hours, extension services, from memory"),
        ),
        roots=Figure(-2.5, "°C", GROWER, -6.0, -1.0),
    )


def _pomegranate() -> Species:
    return Species(
        key="pomegranate",
        words=say("pomegranate"),
        names=("pomegranate", "pomegranates", "punica granatum", "p granatum", "punica"),
        eppo=("PUNGR",),
        evergreen=False,
        figures={
            "base_c": Figure(10.0, "°C", GROWER),
            "upper_c": Figure(36.0, "°C", GROWER),
            "chill_need_h": Figure(150.0, "h below 7.2 °C", "extension services, from memory", 100.0, 200.0),
            "leaf_area_cm2": Figure(7.0, "cm²", GROWER, 3.0, 12.0),
            "leaves_per_fruit": Figure(40.0, "leaves", GROWER, 20.0, 80.0),
        },
        cold=(
            _bare(-11.0, -14.0, "12 °F, extension services, from memory"),
            _stage("buds", say("swelling buds"), 1, 8, -3.5, None, GROWER),
            _stage("leaves", say("leaves and new growth"), 9, 92, -2.0, None, GROWER),
            _stage("flowers", say("flowers"), 51, 69, -1.5, None, GROWER),
            _stage("fruit", say("fruit"), 71, 89, -2.0, None, GROWER),
            _stage("old_leaves", say("old leaves"), 93, 96, -4.0, None, GROWER),
        ),
        roots=Figure(-5.0, "°C", GROWER, -9.0, -2.0),
    )


def _olive() -> Species:
    return Species(
        key="olive",
        words=say("olive"),
        names=("olive", "olives", "olea europaea", "o europaea", "olea"),
        eppo=("OLVEU",),
        evergreen=True,
        figures={
            "base_c": Figure(9.0, "°C", "De Melo-Abreu et al. 2004 (to flowering, 9.1 °C), from memory"),
            "upper_c": Figure(36.0, "°C", GROWER),
            "chill_need_h": Figure(300.0, "h below 7.2 °C", GROWER, 200.0, 600.0),
            "leaf_area_cm2": Figure(5.0, "cm²", GROWER, 3.0, 8.0),
            "leaves_per_fruit": Figure(6.0, "leaves", GROWER, 4.0, 10.0),
        },
        cold=(
            _bare(-7.0, -12.0, "handbooks: leaves from about -7 °C, limbs from about -12 °C, from memory"),
            _stage("leaves", say("new growth"), 1, 49, -4.0, -7.0, GROWER),
            _stage("flowers", say("flowers"), 51, 69, -1.5, None, GROWER),
            _stage("fruit", say("fruit"), 71, 89, -2.0, None, "handbooks: from about -2 °C, from memory"),
            _stage("old_leaves", say("leaves"), 90, 96, -7.0, -12.0, GROWER),
        ),
        roots=Figure(-5.0, "°C", GROWER, -8.0, -3.0),
    )


def _peach() -> Species:
    return Species(
        key="peach",
        words=say("peach"),
        names=("peach", "peaches", "nectarine", "nectarines", "prunus persica", "p persica"),
        eppo=("PRNPS",),
        evergreen=False,
        figures={
            "base_c": Figure(7.0, "°C", "fruit growth, University of California (7 and 35 °C), from memory"),
            "upper_c": Figure(35.0, "°C", "fruit growth, University of California (7 and 35 °C), from memory"),
            "chill_need_h": Figure(800.0, "h below 7.2 °C", "by cultivar, from memory", 150.0, 1200.0),
            "leaf_area_cm2": Figure(35.0, "cm²", GROWER, 20.0, 50.0),
            "leaves_per_fruit": Figure(37.0, "leaves", "extension services, weak", 30.0, 45.0),
        },
        cold=(
            _bare(-20.0, -26.0, "buds and wood in full rest, from memory; less after mild spells"),
            _fahrenheit("first_swelling", say("swelling buds"), 1, 52, 18, 1),
            _fahrenheit("calyx_green", say("buds"), 53, 54, 21, 5),
            _fahrenheit("calyx_red", say("buds"), 55, 56, 23, 9),
            _fahrenheit("pink", say("pink buds"), 57, 59, 25, 15),
            _fahrenheit("first_bloom", say("flowers"), 60, 64, 26, 21),
            _fahrenheit("full_bloom", say("flowers"), 65, 66, 27, 24),
            _fahrenheit("after_bloom", say("young fruit"), 67, 89, 28, 25),
            _stage("leaves", say("leaves and new growth"), 9, 49, -2.2, None, GROWER),
            _stage("old_leaves", say("old leaves"), 90, 96, -5.0, None, GROWER),
        ),
        roots=Figure(-8.0, "°C", GROWER, -12.0, -5.0),
    )


def _apple() -> Species:
    return Species(
        key="apple",
        words=say("apple"),
        names=("apple", "apples", "crabapple", "malus domestica", "m domestica", "malus"),
        eppo=("MABSD",),
        evergreen=False,
        figures={
            "base_c": Figure(4.4, "°C", "40 °F, customary for apple, from memory"),
            "upper_c": Figure(36.0, "°C", GROWER),
            "chill_need_h": Figure(1000.0, "h below 7.2 °C", "by cultivar, from memory", 200.0, 1400.0),
            "leaf_area_cm2": Figure(54.8, "cm²", "on M.9, 10 mature leaves of 80 to 90 in² together", 51.6, 58.1),
            "leaves_per_fruit": Figure(10.0, "leaves", "on M.9, 10 mature leaves a fruit"),
        },
        cold=(
            _bare(-25.0, -35.0, "buds and wood in full rest, from memory; less after mild spells"),
            _fahrenheit("silver_tip", say("buds"), 1, 52, 15, 2, WASHINGTON),
            _fahrenheit("green_tip", say("buds"), 53, 53, 18, 10, WASHINGTON),
            _fahrenheit("half_inch_green", say("buds"), 54, 55, 23, 15, WASHINGTON),
            _fahrenheit("tight_cluster", say("buds"), 56, 56, 27, 21, WASHINGTON),
            _fahrenheit("pink", say("pink buds"), 57, 59, 28, 25, WASHINGTON),
            _fahrenheit("bloom", say("flowers"), 60, 69, 28, 25, WASHINGTON),
            _fahrenheit("after_bloom", say("young fruit"), 70, 89, 28, 25, WASHINGTON),
            _stage("leaves", say("leaves and new growth"), 9, 49, -2.8, None, GROWER),
            _stage("old_leaves", say("old leaves"), 90, 96, -5.0, None, GROWER),
        ),
        roots=Figure(-8.0, "°C", "M.9 rootstock, harm from about -9 °C, from memory, weak", -12.0, -6.0),
    )


def _general() -> Species:
    return Species(
        key="general",
        words=say("other species"),
        names=(),
        eppo=(),
        evergreen=False,
        figures={
            "base_c": Figure(10.0, "°C", "50 °F, customary for warm-season crops, from memory"),
            "upper_c": Figure(30.0, "°C", "86 °F, customary for warm-season crops, from memory"),
        },
        cold=(
            _bare(-5.0, None, GROWER),
            _stage("leaves", say("leaves and new growth"), 1, 92, -1.0, None, GROWER),
            _stage("fruit", say("flowers and fruit"), 51, 89, -0.5, None, GROWER),
            _stage("old_leaves", say("old leaves"), 93, 96, -3.0, None, GROWER),
        ),
        roots=Figure(-3.0, "°C", GROWER),
    )


def _bare(harm_c: float, ruin_c: float | None, source: str) -> ColdStage:
    """The tree at rest; as its hardiest part, wood stands for every stage that has no part of its own."""
    return _stage("wood", say("wood"), 0, 99, harm_c, ruin_c, source)


def _stage(name: str, part: str, first: int, last: int, harm_c: float, ruin_c: float | None, source: str) -> ColdStage:
    ruin = None if ruin_c is None else Figure(ruin_c, "°C", source)
    return ColdStage(name, part, first, last, Figure(harm_c, "°C", source), ruin)


def _fahrenheit(
    name: str, part: str, first: int, last: int, harm_f: float, ruin_f: float, source: str = PENN_STATE
) -> ColdStage:
    """A row of a bud-kill table, °F."""
    harm_c, ruin_c = ((degrees - 32.0) / 1.8 for degrees in (harm_f, ruin_f))
    return _stage(name, part, first, last, harm_c, ruin_c, source)
