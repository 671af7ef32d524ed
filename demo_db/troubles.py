"""The troubles of the story: when each begins, how leaves fall from then on, and what a grower would write down."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Wave:
    """From one day of the trouble to another, so much of the tree's leaves falls a day on top of the usual."""

    first_day: int
    last_day: int
    share_a_day: float


@dataclass(frozen=True, slots=True)
class Trouble:
    """One trouble.

    `starts` is the story's date of its cause; `finding` and `likely` are what an alert should say of it in the end
    (None: nothing by the day the story stands at); `recorded` are the causes that the grower notes with damage.
    """

    name: str
    starts: tuple[int, int]
    waves: tuple[Wave, ...] = ()
    finding: str | None = None
    likely: tuple[str, ...] = ()
    damage_percent_max: float = 0.0
    recorded: str | None = None
    notes: tuple[str, ...] = ()
    soil: str | None = None
    growth: float = 1.0


_FOREVER = 999

TROUBLES = {
    trouble.name: trouble
    for trouble in (
        Trouble(
            "shaded_to_sun",
            (5, 30),
            (Wave(2, 5, 0.050), Wave(9, 11, 0.045), Wave(13, 14, 0.035)),
            "leaf_drop",
            ("move",),
            12.0,
            "sun;wind",
            (
                "Soft leaves hang limp at noon.",
                "Yellow leaves on the pot again.",
                "Bleached patches on the old leaves.",
            ),
            growth=0.5,
        ),
        Trouble(
            "moved_twice",
            (5, 31),
            (Wave(2, 7, 0.085), Wave(9, 13, 0.060)),
            "leaf_drop",
            ("move",),
            20.0,
            "sun;wind",
            ("Hardly settled, and moved again.", "Leaves come off at a touch."),
            growth=0.3,
        ),
        Trouble(
            "roots",
            (6, 2),
            (Wave(1, _FOREVER, 0.035),),
            "leaf_drop",
            ("drought", "unknown"),
            6.0,
            "drought",
            ("Its neighbours are fine. Water runs straight through.", "Pot feels light, soil shrunk from the rim."),
            "dry",
            growth=0.3,
        ),
        Trouble("too_much_fruit", (4, 8), (), "overloaded", (), 0.0, None, ("More fruit than leaves.",), growth=0.18),
        Trouble(
            "cold_night",
            (6, 5),
            (Wave(1, 5, 0.070), Wave(6, 8, 0.020)),
            "leaf_drop",
            ("cold",),
            25.0,
            "cold",
            ("Blackened tips after the cold night.", "Cold-burnt leaves dropping."),
            growth=0.6,
        ),
        Trouble(
            "root_pruned",
            (6, 1),
            (Wave(2, 8, 0.050), Wave(9, 13, 0.020)),
            "leaf_drop",
            ("repotting",),
            4.0,
            None,
            ("Sulking after the roots were cut.",),
            growth=0.2,
        ),
        Trouble(
            "mites",
            (5, 20),
            (Wave(4, _FOREVER, 0.028),),
            "leaf_drop",
            ("pest",),
            35.0,
            "pest",
            ("Fine webs under the leaves.", "Pale dots all over; mites under the lens."),
            growth=0.6,
        ),
        Trouble(
            "rust",
            (5, 24),
            (Wave(5, _FOREVER, 0.024),),
            "leaf_drop",
            ("disease",),
            30.0,
            "disease",
            ("Rusty spots on the underside.", "Spotted leaves picked off the floor."),
            growth=0.7,
        ),
        Trouble("slow_loss", (5, 8), (Wave(0, _FOREVER, 0.008),), "leaf_drop", ("unknown",), growth=0.6),
        Trouble("unvisited", (5, 18), (), "unvisited"),
        Trouble("weak", (2, 20), (), "behind", (), 0.0, None, ("Weak since last year.",), growth=0.35),
    )
}
