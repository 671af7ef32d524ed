"""The nightly backup: once a night by the collection's own clock, so many kept, a failure tried again."""

from __future__ import annotations

import stat
import time
from datetime import UTC, datetime, timedelta

import pytest

from server import ids
from server.collection import open_collection
from server.config import Config
from server.keeping.nightly import Nightly, nightly_backups
from server.keeping.restore import restore
from server.records.database import read_counter, set_counter, set_setting, write
from server.records.settings import save_settings
from tests.keeping.conftest import everything
from tests.support.collection import Phone


class Clock:
    """A clock that stands until it is set on."""

    def __init__(self) -> None:
        self.now = datetime(2026, 5, 3, 0, 30, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now

    def on(self, **by: float) -> None:
        self.now += timedelta(**by)


@pytest.fixture
def clock() -> Clock:
    return Clock()


def kept_in(config: Config) -> list[str]:
    return sorted(path.name for path in (config.home / "backups").iterdir())


def test_there_is_one_a_night_and_the_newest_are_kept(config: Config, phone: Phone, clock: Clock) -> None:
    save_settings({"time_zone": "Europe/Oslo"})  # at 00:30 UTC it is 02:30 there: still the night before
    nightly = Nightly(config, 3, clock)
    assert nightly.look() == config.home / "backups" / "night-2026-05-02.zip"
    clock.on(minutes=29)
    assert nightly.look() is None
    clock.on(minutes=1)
    assert nightly.look() is not None
    for _ in range(4):
        clock.on(hours=12)
        nightly.look()
    clock.on(days=3)
    nightly.look()
    assert kept_in(config) == ["night-2026-05-04.zip", "night-2026-05-05.zip", "night-2026-05-08.zip"]
    assert Nightly(config, 3, clock).look() is None, "a server that starts again makes no second one"
    assert stat.S_IMODE((config.home / "backups").stat().st_mode) == 0o700


def test_backups_dated_ahead_by_a_wrong_clock_go_before_tonights(config: Config, phone: Phone, clock: Clock) -> None:
    save_settings({"time_zone": "Etc/UTC"})
    clock.on(days=300)
    for _ in range(3):
        Nightly(config, 3, clock).look()
        clock.on(days=1)
    clock.on(days=-303)
    for night in ("night-2026-05-02.zip", "night-2026-05-03.zip", "night-2026-05-04.zip"):
        made = Nightly(config, 3, clock).look()
        assert made and made.name == night
        assert made.exists(), "tonight's stays"
        assert Nightly(config, 3, clock).look() is None
        assert len(kept_in(config)) == 3
        clock.on(days=1)
    assert kept_in(config) == ["night-2026-05-02.zip", "night-2026-05-03.zip", "night-2026-05-04.zip"]


def test_backups_of_more_than_there_is_now_are_never_removed(config: Config, phone: Phone, clock: Clock) -> None:
    save_settings({"time_zone": "Etc/UTC"})

    def nights(count: int) -> None:
        for _ in range(count):
            Nightly(config, 2, clock).look()
            clock.on(days=1)

    nights(1)
    phone.tree()
    nights(2)
    with write():  # as an older copy of the file, put in place by hand
        set_counter(read_counter() - 1)
    nights(3)
    fuller = ["night-2026-05-03.zip", "night-2026-05-04.zip"]
    assert kept_in(config) == [*fuller, "night-2026-05-06.zip", "night-2026-05-07.zip"]
    with write():
        set_setting("epoch", ids.new_id())
    (config.home / "backups" / "night-2026-05-06.zip").write_bytes(b"damaged")
    nights(3)
    assert kept_in(config) == [
        *fuller,
        *(f"night-2026-05-{day:02}.zip" for day in (6, 7, 9, 10)),
    ]


def test_it_brings_all_back_and_leaves_the_photos_where_they_are(config: Config, phone: Phone, clock: Clock) -> None:
    before = everything()
    made = Nightly(config, 3, clock).look()
    phone.tree()
    assert made is not None
    restored = restore(config, made)
    assert (restored.photos, restored.photos_missing) == (1, 0)
    open_collection(config)
    assert everything() == before


def test_a_failure_is_logged_and_tried_again_an_hour_later(
    config: Config, phone: Phone, clock: Clock, caplog: pytest.LogCaptureFixture
) -> None:
    (config.home / "backups").write_text("a file where the folder belongs")
    nightly = Nightly(config, 3, clock)
    assert nightly.look() is None
    assert "tried again in an hour" in caplog.text
    (config.home / "backups").unlink()
    clock.on(minutes=59)
    assert nightly.look() is None
    clock.on(minutes=1)
    assert nightly.look() is not None


def test_what_a_power_cut_left_is_cleared_away(config: Config, clock: Clock) -> None:
    save_settings({"time_zone": "Etc/UTC"})
    (config.home / "backups").mkdir()
    (config.home / "backups" / ".night-2026-05-01.zip-x1").write_bytes(b"half")
    Nightly(config, 3, clock).look()
    assert kept_in(config) == ["night-2026-05-02.zip"]


def test_a_server_makes_it_by_itself(config: Config, phone: Phone) -> None:
    with nightly_backups(config, 2, look_s=0.01):
        until = time.monotonic() + 30
        while not list(config.home.glob("backups/night-*.zip")) and time.monotonic() < until:
            time.sleep(0.01)
    assert len(kept_in(config)) == 1
