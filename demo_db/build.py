"""Builds the demonstration: grows the season, enters it on two phones, and syncs them home."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

from demo_db import chores
from demo_db.cards import edit_cards, set_up
from demo_db.cuttings import copy_book
from demo_db.growth import grow
from demo_db.notebook import HELPER, OWNER, Notebook
from demo_db.orchard import plant
from demo_db.phone import Phone, sync_every_evening
from demo_db.pictures import take_pictures
from demo_db.scenario import COLLECTION, HELPER_PHONE, OWNER_PHONE
from demo_db.season import Identities, Season
from demo_db.truths import SEED, Truth, planted
from demo_db.walks import walk
from demo_db.weather import simulate
from server.collection import open_collection
from server.config import Config
from server.errors import Refused
from server.records.database import get_setting, read_counter, set_setting, write
from server.records.devices import Device
from server.records.photo_files import PhotoFolder
from server.records.settings import save_settings

MARKER = "demo"


@dataclass(frozen=True, slots=True)
class Built:
    """What was built: where, for which day, on which phones, and what is truly wrong in it."""

    config: Config
    today: date
    owner: Device
    helper: Device
    truths: list[Truth]


def build(home: Path, today: date, seed: int = SEED, time_zone: str = "UTC") -> Built:
    """Build the collection in a folder that holds none; the database stays open.

    `today` is the first day after the story, a day of `time_zone`; it must not lie ahead of the clock, or the
    server refuses the story as the future. The same arguments give the same records, ids and tags; the devices'
    ids and tokens are new each time. All of it is one transaction: a build that fails leaves no record.
    Raises Refused when the folder holds a collection already.
    """
    config = Config(home)
    open_collection(config)
    if read_counter() or marker() is not None:
        raise Refused(f"{home} holds a collection already. Give an empty or new folder with --home.")
    season = Season(today, ZoneInfo(time_zone))
    folder = PhotoFolder(config.photo_folder)
    with write():
        save_settings({"collection": COLLECTION, "time_zone": time_zone})
        phones = {OWNER: Phone(OWNER_PHONE, "owner"), HELPER: Phone(HELPER_PHONE, "helper")}
        sync_every_evening(_tell(season, seed, folder).in_order(), phones, Identities(seed, 6))
        set_setting(MARKER, {"today": today.isoformat(), "seed": seed})
    return Built(config, today, phones[OWNER].device, phones[HELPER].device, planted(today, seed))


def marker() -> dict[str, object] | None:
    """What the open collection says of itself, where it is a demonstration: `today` and `seed`."""
    found: dict[str, object] | None = get_setting(MARKER)
    return found


def _tell(season: Season, seed: int, folder: PhotoFolder) -> Notebook:
    """Grow every tree and write down what two people saw and did."""
    notebook = Notebook(Identities(seed, 5))
    weather, trees = simulate(season, seed), plant(seed)
    grove = [(tree, grow(tree, season, weather, seed)) for tree in trees]
    cards = set_up(notebook, season, trees)
    edit_cards(notebook, season, trees)
    chores.carry_out(notebook, season, trees, cards)
    chores.work(notebook, season, grove, seed)
    chores.pick(notebook, season, trees, seed)
    chores.read_thermometers(notebook, season, weather, cards, seed)
    take_pictures(notebook, walk(notebook, season, grove, cards, seed), folder, seed)
    copy_book(notebook, season, trees, cards)
    return notebook
