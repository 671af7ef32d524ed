"""The photos of the story: which visits were photographed, and their files handed to the server's own intake."""

from __future__ import annotations

import hashlib
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import timedelta

from demo_db.grounds import GROUNDS
from demo_db.leaf_art import AILMENTS, draw_leaf
from demo_db.notebook import Notebook
from demo_db.season import dice
from demo_db.walks import Visit, visits_of
from server.photos.intake import take_in
from server.records.photo_files import PhotoFolder

# How many photos the trees of each trouble get ("sound": those without one).
PHOTOS = {
    "sound": 4,
    "shaded_to_sun": 5,
    "moved_twice": 2,
    "roots": 2,
    "cold_night": 4,
    "root_pruned": 1,
    "mites": 3,
    "rust": 2,
    "slow_loss": 1,
    "too_much_fruit": 1,
}
DAYS_BEFORE_SIGNS = {"cold_night": 1, "roots": 2, "moved_twice": 2}
SIGNS_AFTER_DAYS = 4
NOTES = {
    "sound": None,
    "shaded_to_sun": "Picked off the pot after the move.",
    "moved_twice": "Fell when touched.",
    "cold_night": "The morning after next.",
    "mites": "Upper side; webs beneath.",
    "rust": "Third leaf from the tip.",
}


@dataclass(frozen=True, slots=True)
class _Picture:
    """One photo to be drawn."""

    number: int
    trouble: str
    visit: Visit


def take_pictures(notebook: Notebook, visits: list[Visit], folder: PhotoFolder, seed: int) -> int:
    """Draw the photos, keep their files and enter their records; gives their number."""
    pictures = _chosen(visits, seed)
    # Drawing is arithmetic that lets other threads run; each picture has its own dice, so order does not matter.
    with ThreadPoolExecutor(max_workers=os.cpu_count() or 1) as drawers:
        files = list(drawers.map(lambda picture: _draw(picture, seed), pictures))
    for picture, file in zip(pictures, files, strict=True):
        sha256 = hashlib.sha256(file).hexdigest()
        kept = take_in(file)
        folder.keep(sha256, kept.data, kept.width_px, kept.height_px)
        visit = picture.visit
        taken = visit.at - timedelta(seconds=5)
        values = {
            "sha256": sha256,
            "tree": visit.tree.id,
            "observation": visit.observation,
            "taken_at": taken.isoformat(),
            "note": NOTES.get(picture.trouble),
        }
        notebook.new(visit.at, visit.by, "photo", values)
    return len(pictures)


def _chosen(visits: list[Visit], seed: int) -> list[_Picture]:
    """Visits spread over each trouble's time, from when its signs show; by day."""
    rng = dice(seed, 11)
    chosen: list[tuple[str, Visit]] = []
    for trouble, count in PHOTOS.items():
        seen = visits_of(
            visits, None if trouble == "sound" else trouble, DAYS_BEFORE_SIGNS.get(trouble, SIGNS_AFTER_DAYS)
        )
        picks = sorted(rng.choice(len(seen), min(count, len(seen)), replace=False).tolist())
        chosen += [(trouble, seen[pick]) for pick in picks]
    chosen.sort(key=lambda each: each[1].at)
    return [_Picture(number, trouble, visit) for number, (trouble, visit) in enumerate(chosen)]


def _draw(picture: _Picture, seed: int) -> bytes:
    rng = dice(seed, 12, picture.number)
    lobes = int(rng.choice([3, 5])) if picture.visit.tree.variety.species == "fig" else 1
    return draw_leaf(AILMENTS[picture.trouble], lobes, GROUNDS[picture.number % len(GROUNDS)], rng)
