"""The stretch of the log in memory against a plain dictionary, and pulls against the tables they come from."""

from __future__ import annotations

import random
from collections.abc import Callable

import orjson
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.records.database import execute, get_setting, read_counter, set_setting, write
from server.sync import pull as pulling
from server.sync import recent
from server.sync.pull import pull, read_log
from server.sync.recent import RECORD_BYTES, Found, Stretch
from tests.support.collection import Phone

SEEN = "2026-05-03T08:30:00+02:00"
TEXT = "x" * 10


@given(
    first=st.integers(0, 30),
    batches=st.lists(st.lists(st.sampled_from("abcdefgh"), max_size=9), max_size=9),
    held=st.integers(0, 12),
    since=st.integers(0, 120),
    most=st.integers(1, 12),
)
def test_a_stretch_is_each_record_once_where_it_was_last_touched(
    first: int, batches: list[list[str]], held: int, since: int, most: int
) -> None:
    """Of `batches` of touched records, each read at once, it holds the newest `held` and says what it lacks."""
    stretch, seq, newest = Stretch(first), first, dict[str, int]()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(recent, "BYTES_MAX", held * (RECORD_BYTES + len(TEXT)))
        for batch in batches:
            touched: dict[str, int] = {}
            for identity in batch:
                seq += 1
                touched[identity] = seq
            in_order = sorted((number, identity) for identity, number in touched.items())
            stretch.extend([(number, identity, TEXT) for number, identity in in_order], seq)
            stretch.trim()
            newest |= touched
    kept = sorted(newest.values())[-held:] if held else []
    assert stretch.end == seq
    assert stretch.covers(since) == (stretch.start <= since <= seq)
    if stretch.covers(since):
        assert stretch.after(since, most) == [(number, TEXT) for number in kept if number > since][:most]
    assert first <= stretch.start <= (kept[0] if kept else seq)


def forget() -> None:
    """Let this process forget what it remembers of the log."""
    pulling._memory.cache_clear()


class Reader:
    """A device that pulls now and then."""

    def __init__(self) -> None:
        self.cursor: str | None = None
        self.held: dict[str, bytes] = {}

    def pull(self, limit: int) -> bool:
        """Get one page; whether there are more."""
        page = pull(self.cursor, limit)
        came = {record["id"]: orjson.dumps(record, option=orjson.OPT_SORT_KEYS) for record in page.records}
        assert len(came) == len(page.texts) <= limit
        assert int(page.cursor) >= int(self.cursor or 0)
        self.held |= came
        self.cursor = page.cursor
        return page.more


@pytest.fixture
def reads(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """After which numbers the tables were asked."""
    asked: list[int] = []

    def counted(since: int, newest: int, limit: int) -> tuple[list[Found], int]:
        asked.append(since)
        return read_log(since, newest, limit)

    forget()
    monkeypatch.setattr(pulling, "read_log", counted)
    return asked


def _tables() -> dict[str, bytes]:
    found, _ = read_log(0, read_counter(), 5000)
    return {identity: orjson.dumps(orjson.loads(text), option=orjson.OPT_SORT_KEYS) for _, identity, text in found}


@pytest.mark.usefixtures("collection", "reads")
@pytest.mark.parametrize("bytes_max", [0, 20 * RECORD_BYTES, recent.BYTES_MAX])
def test_devices_that_come_back_now_and_then_hold_what_the_tables_hold(
    bytes_max: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(recent, "BYTES_MAX", bytes_max)
    dice, phone = random.Random(bytes_max), Phone()
    trees = [phone.tree() for _ in range(9)]
    readers = [Reader() for _ in range(4)]
    for step in range(150):
        if dice.random() < 0.4:
            again = [phone.change("tree", dice.choice(trees), note=f"{step}.{n}") for n in range(dice.randint(0, 3))]
            new = [
                phone.change("observation", tree=dice.choice(trees), seen_at=SEEN) for _ in range(dice.randint(1, 9))
            ]
            phone.send(*again, *new)
        elif dice.random() < 0.1:
            readers[dice.randrange(4)] = Reader()
        else:
            dice.choice(readers).pull(dice.choice((1, 3, 10, 5000)))
    for reader in readers:
        while reader.pull(7):
            pass
        assert reader.held == _tables()


@pytest.mark.usefixtures("collection")
def test_what_one_device_was_given_is_not_read_again_for_the_next(reads: list[int]) -> None:
    phone = Phone()
    trees = [phone.tree() for _ in range(25)]
    first, second = Reader(), Reader()
    while first.pull(10):
        pass
    assert len(reads) == 3
    while second.pull(4):
        pass
    assert len(reads) == 3
    assert list(second.held) == list(first.held) == trees
    phone.send(phone.change("tree", trees[3], note="touched again"))
    first.pull(10)
    assert reads[3:] == [25]
    while second.pull(4):
        pass
    assert len(reads) == 4
    assert second.held == first.held == _tables()


def _restored() -> None:
    set_setting("epoch", "another")
    execute("UPDATE tree SET note = 'as the backup has it'")
    execute("UPDATE change_log SET whole = NULL")


def _put_back_by_hand() -> None:
    execute("DELETE FROM tag WHERE tree IN (SELECT id FROM tree WHERE seq > 1)")
    execute("DELETE FROM tree WHERE seq > 1")
    execute("UPDATE counter SET value = 1")


@pytest.mark.usefixtures("collection", "reads")
@pytest.mark.parametrize("happened", [_restored, _put_back_by_hand])
def test_a_database_that_is_another_is_read_afresh(happened: Callable[[], None]) -> None:
    phone = Phone()
    for _ in range(2):
        phone.tree()
    assert len(pull(None, 10).records) == 2
    epoch = get_setting("epoch")
    with write():
        happened()
    assert (get_setting("epoch") != epoch) == (happened is _restored)
    reader = Reader()
    reader.pull(10)
    assert reader.held == _tables()
