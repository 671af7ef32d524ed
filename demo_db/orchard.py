"""The story's trees: which variety stands where, in which pot, when it is carried out, and what befalls it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from demo_db.scenario import (
    BIG_TUNNEL,
    BOX_ROOM,
    CITRUS,
    CLOCHE_ROW,
    FIGS,
    GLASS_FLOOR,
    KILN_BENCH,
    LONG_GLASS,
    LOW_YARD,
    NORTH_PORCH,
    NURSERIES,
    OLIVES,
    POMEGRANATES,
    SHADE_WALL,
    UPPER_TERRACE,
    VarietyCard,
)
from demo_db.season import Identities, dice
from demo_db.troubles import TROUBLES, Trouble

MoveOut = tuple[tuple[int, int], str]


@dataclass(frozen=True, slots=True)
class Group:
    """Trees that winter in one place and are moved on the same days; `troubles` by their number in the group."""

    name: str
    start: str
    varieties: tuple[VarietyCard, ...]
    count: int
    first_variety: int = 0
    moves: tuple[MoveOut, ...] = ()
    troubles: dict[int, str] = field(default_factory=dict)


# The first seven figs stand under four shelters each, so that shelters can be compared.
GROUPS = (
    Group("glass to terrace", LONG_GLASS, FIGS, 5, 0, (((5, 8), SHADE_WALL), ((5, 20), UPPER_TERRACE))),
    Group(
        "glass to yard",
        LONG_GLASS,
        FIGS,
        5,
        7,
        (((5, 9), SHADE_WALL), ((5, 22), LOW_YARD)),
        {0: "cold_night", 2: "cold_night", 3: "cold_night"},
    ),
    Group("glass", LONG_GLASS, FIGS, 6, 0),
    Group(
        "shaded",
        GLASS_FLOOR,
        FIGS,
        8,
        5,
        (((5, 30), UPPER_TERRACE),),
        dict.fromkeys((0, 1, 2, 4, 5, 7), "shaded_to_sun"),
    ),
    Group(
        "twice",
        GLASS_FLOOR,
        FIGS,
        1,
        13,
        (((5, 31), SHADE_WALL), ((6, 3), UPPER_TERRACE)),
        {0: "moved_twice"},
    ),
    Group("floor", GLASS_FLOOR, FIGS, 3, 9),
    Group("forced", KILN_BENCH, FIGS, 5, 0, (), dict.fromkeys(range(5), "too_much_fruit")),
    Group("bench, cooled early", KILN_BENCH, FIGS, 1, 5, (((3, 28), LONG_GLASS),)),
    Group(
        "porch to terrace",
        NORTH_PORCH,
        FIGS,
        10,
        2,
        (((5, 12), SHADE_WALL), ((5, 23), UPPER_TERRACE)),
        {6: "roots"},
    ),
    Group("porch", NORTH_PORCH, FIGS, 4, 0, (), {2: "slow_loss"}),
    Group("tunnel", BIG_TUNNEL, FIGS, 8, 0, (), {1: "mites", 4: "root_pruned", 5: "weak"}),
    Group("cloche", CLOCHE_ROW, FIGS, 7, 0, (), {5: "unvisited", 6: "unvisited"}),
    Group("lemons indoors", BOX_ROOM, CITRUS, 4, 0, (), {3: "unvisited"}),
    Group("lemons glass", LONG_GLASS, CITRUS, 6, 1, (((5, 18), SHADE_WALL),), {4: "rust"}),
    Group("lemons bench", KILN_BENCH, CITRUS, 2, 0),
    Group(
        "pomegranates",
        NORTH_PORCH,
        POMEGRANATES,
        8,
        0,
        (((5, 11), LOW_YARD),),
        {1: "cold_night", 5: "cold_night"},
    ),
    Group("olives", BIG_TUNNEL, OLIVES, 7, 0, (((4, 29), LOW_YARD),)),
)

TRIAL_LITRES, KEEPER_LITRES, EVERGREEN_LITRES = (19.0,), (38.0, 45.0, 57.0), (19.0, 25.0, 38.0)
TRIAL_SHARE = 0.55
# Of the porch's trees one is given up and one of the glass's gets a new tag, (group, number).
RETIRED = ("porch", 3)
RETAGGED = ("glass", 1)
POTTED_DOWN = ("tunnel", 6)
# Trees of which so many shoots carry a ribbon.
MARKED = {("floor", 0): 4, ("tunnel", 0): 5}


@dataclass(frozen=True, slots=True)
class PlannedTree:
    """One tree before the season begins; `first_tag` is the one that was replaced, where one was."""

    number: int
    id: str
    tag: str
    first_tag: str | None
    group: str
    in_group: int
    variety: VarietyCard
    start: str
    pot_litres: float
    standing: str
    source: str
    age_years: int
    moves: tuple[MoveOut, ...]
    trouble: Trouble | None

    @property
    def key(self) -> tuple[str, int]:
        """Its group and its number there."""
        return (self.group, self.in_group)


def plant(seed: int) -> list[PlannedTree]:
    """All trees, in walking order by their places of winter; ids and tags come from the seed alone."""
    identities, rng = Identities(seed, 2), dice(seed, 3)
    trees = []
    for number, (group, in_group) in enumerate(_slots()):
        variety = group.varieties[(group.first_variety + in_group) % len(group.varieties)]
        trial = bool(rng.uniform() < TRIAL_SHARE)
        pots = (TRIAL_LITRES if trial else KEEPER_LITRES) if variety.species == "fig" else EVERGREEN_LITRES
        trouble = group.troubles.get(in_group)
        retagged = (group.name, in_group) == RETAGGED
        trees.append(
            PlannedTree(
                number=number,
                id=identities.record(),
                tag=identities.tag(),
                first_tag=identities.tag() if retagged else None,
                group=group.name,
                in_group=in_group,
                variety=variety,
                start=group.start,
                pot_litres=float(rng.choice(pots)),
                standing="trial" if trial else "keeper",
                source=str(rng.choice(NURSERIES)),
                age_years=int(rng.integers(1, 3)) if trial else int(rng.integers(3, 9)),
                moves=group.moves,
                trouble=None if trouble is None else TROUBLES[trouble],
            )
        )
    return trees


def _slots() -> Iterator[tuple[Group, int]]:
    for group in GROUPS:
        for in_group in range(group.count):
            yield group, in_group
