"""Handing records out: pages in commit order, each record once, nothing missed while others write."""

from __future__ import annotations

import threading

import pytest

from server import ids
from server.errors import Refused
from server.records.database import close_database, execute, get_setting, write
from server.sync.exchange import exchange
from server.sync.pull import pull
from tests.support.collection import Phone
from tests.sync.test_recent import forget

pytestmark = pytest.mark.usefixtures("collection")
SEEN = "2026-05-03T08:30:00+02:00"


def all_pages(limit: int) -> list[dict[str, object]]:
    cursor, records, more = None, [], True
    while more:
        page = pull(cursor, limit)
        assert len(page.records) <= limit
        records += page.records
        cursor, more = page.cursor, page.more
    return records


def test_pages_of_any_size_give_the_same_records() -> None:
    phone = Phone()
    tree = phone.tree()
    phone.send(*[phone.change("observation", tree=tree, seen_at=SEEN, leaves=i) for i in range(25)])
    phone.send(phone.change("tree", tree, note="touched last"))
    whole = all_pages(5000)
    assert len(whole) == 26
    assert whole[-1]["id"] == tree
    for limit in (1, 7, 25, 26):
        assert all_pages(limit) == whole


def test_a_cursor_brings_only_what_changed_since() -> None:
    phone = Phone()
    tree = phone.tree()
    cursor = pull(None, 100).cursor
    assert pull(cursor, 100).records == []
    phone.send(phone.change("tree", tree, note="x"))
    assert [record["id"] for record in pull(cursor, 100).records] == [tree]


def test_a_record_is_the_same_from_the_log_and_from_its_row() -> None:
    phone = Phone()
    tree = phone.tree(marked_shoots=3)
    place = phone.change("place", place="Porch", heated=False, walk=[tree])
    phone.send(
        place,
        phone.change("round", started_at=SEEN, places=[place["record"]]),
        phone.change("observation", tree=tree, seen_at=SEEN, leaves=12, note=None, soil=" ", voided=False),
        phone.change("observation", tree=tree, seen_at=SEEN, leaves_per_shoot=5, causes="wet; cold", voided=True),
        phone.change("job", job="Look", task="look", dropped=True),
        phone.change("tree", tree, tag=ids.new_tag_code(), marked_shoots=None),
    )
    from_log = all_pages(5000)
    assert execute("SELECT count(*) FROM change_log WHERE whole").fetchone()[0] == 5
    with write():
        execute("UPDATE change_log SET whole = NULL")
    forget()
    assert all_pages(5000) == from_log
    assert "former_tags" in next(each["fields"] for each in from_log if each["id"] == tree)


@pytest.mark.parametrize("cursor", ["x", "-1", "1; DROP TABLE tree", "١", "9" * 30])
def test_a_cursor_that_we_never_gave_is_refused(cursor: str) -> None:
    Phone().tree()
    with pytest.raises(Refused, match="cursor"):
        pull(cursor, 10)


def test_a_cursor_that_we_never_gave_stores_nothing() -> None:
    phone = Phone()
    with pytest.raises(Refused, match="cursor"):
        exchange(phone.sender, 1, get_setting("epoch"), "x", 10, [phone.change("variety", variety="Amber Lantern")])
    assert pull(None, 10).records == []


def test_a_withdrawn_trees_former_tags_may_be_anothers() -> None:
    """However often it was pulled before, all see the same of it."""
    phone = Phone()
    tree = phone.tree()
    tag = all_pages(10)[0]["fields"]["tag"]  # type: ignore[index]
    phone.send(phone.change("tree", tree, tag=ids.new_tag_code()))
    assert all_pages(10)[0]["fields"]["former_tags"] == [tag]  # type: ignore[index]
    phone.send(phone.change("tree", tree, voided=True))
    withdrawn = all_pages(10)
    assert "former_tags" not in withdrawn[0]["fields"]  # type: ignore[operator]
    assert [each.outcome for each in phone.send(phone.change("tree", tag=tag))] == ["stored"]
    again = all_pages(10)
    forget()
    assert again == all_pages(10)
    assert again[0] == withdrawn[0]


def test_another_epoch_or_a_cursor_ahead_of_us_means_everything_again() -> None:
    phone = Phone()
    phone.tree()
    epoch = get_setting("epoch")
    assert len(exchange(phone.sender, 1, "another", "1", 10, [])["records"]) == 1
    assert len(exchange(phone.sender, 1, epoch, "1", 10, [])["records"]) == 0
    assert len(exchange(phone.sender, 1, epoch, "999", 10, [])["records"]) == 1


def test_another_protocol_is_refused() -> None:
    with pytest.raises(Refused, match="protocol"):
        exchange(Phone().sender, 2, None, None, 10, [])


def test_a_reader_misses_nothing_while_eight_threads_write() -> None:
    phones = [Phone(f"phone {i}") for i in range(8)]
    trees = [phone.tree() for phone in phones]
    failures: list[BaseException] = []

    def write(phone: Phone, tree: str) -> None:
        try:
            for _ in range(10):
                outcomes = phone.send(*[phone.change("observation", tree=tree, seen_at=SEEN) for _ in range(5)])
                assert {o.outcome for o in outcomes} == {"stored"}
        except BaseException as error:
            failures.append(error)
        finally:
            close_database()

    threads = [threading.Thread(target=write, args=pair) for pair in zip(phones, trees, strict=True)]
    for thread in threads:
        thread.start()
    cursor, seen = None, set()
    while any(thread.is_alive() for thread in threads) or pull(cursor, 1).records:
        page = pull(cursor, 13)
        cursor = page.cursor
        seen |= {record["id"] for record in page.records}
    for thread in threads:
        thread.join()
    assert not failures
    assert len(seen) == 8 + 8 * 10 * 5
