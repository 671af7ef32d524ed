"""Scenes drawn at random, with their truth: leaves of all forms and troubles, on the card or beside a tag."""

from dataclasses import replace

import numpy as np

from labels.codes import rows_of
from server.photos.rulers import TagCode
from tests.photos.drawn_leaves import Harm, draw_leaf
from tests.photos.scenes import GROUNDS, Shot, card_scene, photograph, tag_scene, with_portrait

GREENS = (
    (70, 125, 50), (44, 82, 34), (98, 138, 62), (120, 150, 60), (60, 110, 60),
    (90, 140, 50), (35, 66, 32), (140, 165, 70), (80, 120, 80), (56, 98, 40),
)  # fmt: skip
SPOILT = ("blurred", "burnt out", "slanted", "far off", "cut")
KINDS = ("oval", "lance", "lobed", "deep", "toothed")


def tag_of(text):
    """Any code is a tag of 20 mm."""
    return TagCode(20.0, rows_of(text))


def random_leaf(size_mm, rng):
    """A leaf of any form and green; four of five are harmed in several ways."""
    harm = Harm()
    if rng.random() < 0.8:
        harm = Harm(
            spots=rng.choice([0, rng.uniform(0, 0.12)]),
            yellow=rng.choice([0, rng.uniform(0.02, 0.3)]),
            edge=rng.choice([0, rng.uniform(0.02, 0.25)]),
            holes=rng.choice([0, rng.uniform(0, 0.06)]),
            bites=int(rng.choice([0, 0, 1, 2])),
        )
    rgb = np.array(GREENS[rng.integers(len(GREENS))]) * rng.uniform(0.9, 1.1)
    kind = str(rng.choice(KINDS))
    shine = float(rng.choice([0, 0, rng.uniform(0.1, 0.5)]))
    return draw_leaf(
        kind, size_mm, tuple(rgb), harm, rng, shine=shine, veins=rng.uniform(0.3, 0.9), texture=rng.uniform(0.05, 0.25)
    )


def random_shot(width_px, rng):
    """A photo that a careful grower takes: up to 35 degrees of tilt, uneven and coloured light, grain, JPEG."""
    cast = np.array([rng.uniform(0.85, 1.1), 1.0, rng.uniform(0.8, 1.1)])
    return Shot(
        width_px=width_px,
        height_px=width_px * 3 // 4,
        tilt_degrees=rng.uniform(0, 35),
        toward_degrees=rng.uniform(0, 360),
        turn_degrees=rng.uniform(-20, 20),
        focal=rng.uniform(0.7, 1.1),
        fill=rng.uniform(0.75, 0.95),
        gradient=rng.uniform(0, 0.4),
        gradient_degrees=rng.uniform(0, 360),
        cast=tuple(cast / cast.max()),
        exposure=rng.uniform(0.7, 1.0),
        wide_shadow=float(rng.choice([0, 0, 0, rng.uniform(0.2, 0.4)])),
        blur_px=rng.uniform(0.4, 1.3),
        grain=rng.uniform(1, 4),
        quality=int(rng.integers(70, 95)),
    )


def random_card(seed, width_px=None):
    """JPEG bytes of one or two leaves on a card, and the leaves."""
    rng = np.random.default_rng(seed)
    paper = "a4" if rng.random() < 0.6 else "letter"
    leaves = [random_leaf(rng.uniform(60, 165), rng)]
    places = [(105 + rng.uniform(-8, 8), 140 + rng.uniform(-12, 12))]
    if rng.random() < 0.35:
        leaves = [random_leaf(rng.uniform(45, 85), rng) for _ in range(2)]
        places = [(105 + rng.uniform(-20, 20), y + rng.uniform(-5, 5)) for y in (92, 188)]
    scene = card_scene(leaves, places, rng, paper, str(rng.choice(list(GROUNDS))), rng.uniform(0.1, 0.5))
    shot = with_portrait(random_shot(width_px or int(rng.choice([1600, 2000, 2400])), rng))
    return photograph(scene, shot, rng), leaves


def random_tag(seed, width_px=None):
    """JPEG bytes of one leaf beside a tag on any ground that is not green, and the leaf."""
    rng = np.random.default_rng(seed)
    leaf = random_leaf(rng.uniform(70, 160), rng)
    table = str(rng.choice([name for name in GROUNDS if name != "green"]))
    tag_mm = (8 + rng.uniform(0, 10), rng.uniform(20, 180))
    scene = tag_scene(
        [leaf], [(175 + rng.uniform(0, 20), 125)], rng, table=table, tag_mm=tag_mm, shadow=rng.uniform(0.1, 0.5)
    )
    shot = random_shot(width_px or int(rng.choice([1600, 2000, 2400])), rng)
    return photograph(scene, shot, rng), [leaf]


def portrait_shot(**changes):
    """A plain photo of the card, with something changed."""
    return with_portrait(replace(Shot(width_px=1600, height_px=1200), **changes))


def spoilt(kind, how, seed):
    """JPEG bytes of a photo on the card or beside a tag that nobody could measure; `how` is one of SPOILT."""
    rng = np.random.default_rng(seed)
    leaf = random_leaf(rng.uniform(70, 150), rng)
    changes = {
        "blurred": {"blur_px": rng.uniform(7, 14)},
        "burnt out": {"exposure": rng.uniform(1.9, 3.0), "wide_shadow": 0.0},
        "slanted": {"tilt_degrees": rng.uniform(62, 72)},
        "far off": {"fill": rng.uniform(0.06, 0.12)},
        "cut": {"shift": (rng.choice([-1, 1]) * rng.uniform(0.38, 0.5), 0.0)},
    }[how]
    shot = replace(random_shot(1600, rng), **changes)
    if kind == "card":
        scene, shot = card_scene([leaf], [(105, 145)], rng), with_portrait(shot)
    else:
        table = str(rng.choice([name for name in GROUNDS if name != "green"]))
        scene = tag_scene([leaf], [(185, 125)], rng, table=table, tag_mm=(12, rng.uniform(20, 180)))
    return photograph(scene, shot, rng)
