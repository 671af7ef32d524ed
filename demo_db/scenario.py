"""The demonstration's people, places and varieties. Every name and every figure in it is invented."""

from __future__ import annotations

from dataclasses import dataclass

COLLECTION = "Haldorf’s pots at Brammelow"
OWNER_PHONE = "Ines’s phone"
HELPER_PHONE = "Tobin’s phone"
AUNT_SIB = "cutting from Aunt Sib"
NURSERIES = ("Pellwater Nursery", "Marrowby Trees", "swap at Lenford", AUNT_SIB, "Garth & Oakes")


@dataclass(frozen=True, slots=True)
class Climate:
    """How a place differs from open air: shifts in °C of the day's lowest and highest, and what bounds them."""

    t_min_shift_c: float
    t_max_shift_c: float
    t_min_floor_c: float = -40.0
    t_max_cap_c: float = 60.0
    sun_warms_c: float = 0.0


@dataclass(frozen=True, slots=True)
class PlaceCard:
    """A place of the story."""

    name: str
    cover: str
    light_percent: float
    heated: bool
    climate: Climate
    note: str | None = None


LONG_GLASS = "Long glass"
GLASS_FLOOR = "Glass floor"
KILN_BENCH = "Kiln bench"
NORTH_PORCH = "North porch"
BIG_TUNNEL = "Big tunnel"
CLOCHE_ROW = "Cloche row"
SHADE_WALL = "Shade wall"
LOW_YARD = "Low yard"
UPPER_TERRACE = "Upper terrace"
BOX_ROOM = "Box room"

PLACES = (
    PlaceCard(LONG_GLASS, "glasshouse", 70, True, Climate(3, 3, 3, 33, 5), "Heater set to 3 °C; vents open at 24 °C."),
    PlaceCard(GLASS_FLOOR, "glasshouse", 25, True, Climate(3, 1, 3, 30, 3), "Under the tall pots of the Long glass."),
    PlaceCard(KILN_BENCH, "glasshouse", 75, True, Climate(7, 9, 9, 43, 9), "The warm end; hard to vent on sunny days."),
    PlaceCard(NORTH_PORCH, "porch", 40, False, Climate(3, 2, -2, 30, 2)),
    PlaceCard(BIG_TUNNEL, "polytunnel", 80, False, Climate(1, 5, -8, 36, 5)),
    PlaceCard(CLOCHE_ROW, "low_tunnel", 60, False, Climate(2, 3, -5, 34, 4), "Pots sunk to the rim; cover off in May."),
    PlaceCard(SHADE_WALL, "shade", 35, False, Climate(1, -2)),
    PlaceCard(LOW_YARD, "open", 95, False, Climate(-2, 0), "Cold air gathers here on clear nights."),
    PlaceCard(UPPER_TERRACE, "open", 100, False, Climate(0, 1), "Full sun, and wind from the valley."),
    PlaceCard(BOX_ROOM, "indoors", 15, True, Climate(8, 2, 12, 24, 1)),
)


@dataclass(frozen=True, slots=True)
class VarietyCard:
    """A variety of the story: brebas a shoot, growth against the average, fruit weight, taste (1-5)."""

    name: str
    species: str
    breba: float = 0.0
    vigour: float = 1.0
    fruit_g: float = 45.0
    quality: float = 3.5
    note: str | None = None


FIGS = (
    VarietyCard("Tallow Lantern", "fig", 0.20, 1.05, 62, 4.2, "Large, pale; splits in wet weeks."),
    VarietyCard("Brammelow Dusk", "fig", 0.05, 0.95, 38, 4.6, "Small and dark, the best we have."),
    VarietyCard("Halden Amber", "fig", 0.10, 1.10, 48, 3.6),
    VarietyCard("Copper Otter", "fig", 0.15, 1.00, 51, 3.9),
    VarietyCard("Little Sexton", "fig", 0.00, 0.85, 22, 3.4, "Bites of fruit; good for the porch."),
    VarietyCard("Fennimore Late", "fig", 0.00, 1.10, 55, 3.8, "Rarely ripens before the frost."),
    VarietyCard("Inkpot Sister", "fig", 0.05, 0.95, 35, 4.1),
    VarietyCard("Pale Ferryman", "fig", 0.30, 1.15, 70, 3.0, "Brebas like pears, little taste."),
    VarietyCard("Rook’s Supper", "fig", 0.05, 1.00, 41, 4.0),
    VarietyCard("Old Tollhouse", "fig", 0.10, 0.90, 44, 3.2),
    VarietyCard("Marlpit Honeypot", "fig", 0.10, 1.00, 47, 4.3),
    VarietyCard("Widow’s Lamp", "fig", 0.00, 0.95, 39, 3.7),
    VarietyCard("Greywether", "fig", 0.15, 1.05, 50, 2.8),
    VarietyCard("Thornback Reeve", "fig", 0.00, 1.00, 43, 3.5),
)
CITRUS = (
    VarietyCard("Candlewick Sour", "citrus", fruit_g=95, quality=3.8),
    VarietyCard("Bellman’s Winter", "citrus", fruit_g=120, quality=4.0),
    VarietyCard("Dunlow Thinskin", "citrus", fruit_g=70, quality=3.3),
)
POMEGRANATES = (
    VarietyCard("Ember Drum", "pomegranate", fruit_g=210, quality=3.9),
    VarietyCard("Russet Moonrise", "pomegranate", fruit_g=180, quality=3.4),
)
OLIVES = (
    VarietyCard("Gannet Grey", "olive", fruit_g=4, quality=3.0),
    VarietyCard("Thimblewood", "olive", fruit_g=3, quality=3.2),
)
VARIETIES = FIGS + CITRUS + POMEGRANATES + OLIVES
