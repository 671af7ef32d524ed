"""The check: it finds what was broken on purpose, by name and with advice, and finds nothing where all is well."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest

from server import ids
from server.collection import open_collection
from server.config import Config
from server.errors import Refused
from server.keeping.backup import back_up
from server.keeping.checking import check
from server.records.database import close_database, execute, on_sqlite, write
from server.records.photo_files import PhotoFolder
from server.records.writing import note_printed
from tests.keeping.conftest import photograph
from tests.support.collection import Phone
from tests.support.server import run_leafwalk


def broken(sql: str) -> None:
    """Change the tables behind the server's back."""
    with write():
        execute(sql)


def sorts(config: Config) -> set[str]:
    """What sorts of fault are found."""
    return {fault.sort for fault in check(config).faults}


def test_a_sound_collection_has_no_fault(config: Config, phone: Phone) -> None:
    phone.send(phone.change("tree", phone.tree(), voided=True))
    found = check(config)
    assert (found.faults, found.remarks) == ([], [])
    assert (found.changes, found.records, found.photos) == (8, 6, 1)


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE observation SET leaves = 28",
        "UPDATE observation SET leaves_per_shoot = 0.3",
        "UPDATE observation SET at_s = at_s + 1",
        "UPDATE place SET heated = NULL",
        "UPDATE round SET places = '[]'",
        "UPDATE tree SET voided = (1 = 1)",
        "UPDATE tree SET seq = seq + 100",
        "DELETE FROM photo",
        "UPDATE change_log SET set_json = '{\"leaves\":28}' WHERE set_json = '{\"leaves\":27}'",
        "UPDATE change_log SET kind = 'place' WHERE kind = 'round'",
        "UPDATE change_log SET whole = (1 = 1)",
    ],
)
def test_a_row_that_is_not_what_its_changes_fold_to_is_found(config: Config, phone: Phone, sql: str) -> None:
    broken(sql)
    assert sorts(config) == {"log"}


@pytest.mark.parametrize(
    ("sql", "sort"),
    [
        ("UPDATE counter SET value = value + 1", "counter"),
        ("UPDATE counter SET value = value - 1", "counter"),
        ("UPDATE device SET last_n = 1", "counter"),
        ("UPDATE device SET last_effective_ms = 1", "counter"),
        ("UPDATE setting SET value = '\"\"' WHERE name = 'epoch'", "epoch"),
        ("UPDATE setting SET value = 'x{' WHERE name = 'epoch'", "epoch"),
        ("INSERT INTO setting (name, value) VALUES ('collection', 'x{')", "setting"),
        ("DELETE FROM counter", "counter"),
        ("DROP TABLE pairing", "file"),
        ("DROP TABLE parked_change", "file"),
        ("UPDATE tag SET tree = NULL", "tag"),
        ("DELETE FROM tag", "tag"),
        ("UPDATE photo_file SET size_bytes = 1", "photo"),
    ],
)
def test_a_wrong_counter_tag_or_size_is_found(config: Config, phone: Phone, sql: str, sort: str) -> None:
    broken(sql)
    (fault,) = check(config).faults
    assert fault.sort == sort
    assert fault.advice and fault.named and fault.count


def test_a_tag_leads_where_the_log_says_a_replaced_one_too(config: Config, phone: Phone) -> None:
    old, new, passed_on = (ids.new_tag_code() for _ in range(3))
    tree, gone, other = phone.tree(), phone.tree(), phone.tree()
    phone.send(*(phone.change("tree", tree, tag=tag) for tag in (old, new)), phone.change("tree", gone, tag=passed_on))
    phone.send(phone.change("tree", gone, voided=True), phone.change("tree", other, tag=passed_on))
    with write():
        note_printed([ids.new_tag_code()], 1, 20)
    assert check(config).faults == []
    for sql in (f"UPDATE tag SET tree = '{other}' WHERE code = '{old}'", f"DELETE FROM tag WHERE code = '{old}'"):
        broken(sql)
        (fault,) = check(config).faults
        assert (fault.sort, fault.named) == ("tag", [old])


def test_a_device_that_the_log_names_is_missed(config: Config, phone: Phone) -> None:
    if on_sqlite():
        close_database()
        with sqlite3.connect(config.database_address) as opened:
            opened.execute("DELETE FROM device")
    else:
        with write():
            execute("SET LOCAL session_replication_role = replica")
            execute("DELETE FROM device")
    assert sorts(config) == {"reference"}


def test_a_damaged_setting_or_counter_is_told_by_the_backup(config: Config, phone: Phone, tmp_path: Path) -> None:
    for sql in ("UPDATE setting SET value = 'x{' WHERE name = 'epoch'", "DELETE FROM counter"):
        broken(sql)
        with pytest.raises(Refused, match="leafwalk check"):
            back_up(config, tmp_path / "b.zip")
    assert not (tmp_path / "b.zip").exists()


def test_a_change_that_was_lost_from_the_log_is_found(config: Config, phone: Phone) -> None:
    broken("DELETE FROM change_log WHERE set_json = '{\"leaves\":27}'")
    assert sorts(config) == {"log", "counter"}


def test_missing_and_damaged_photos_are_named_and_strays_only_told(config: Config, phone: Phone) -> None:
    photos = PhotoFolder(config.photo_folder)
    (first,) = photos.names()
    second = photograph(config, phone, b"another")
    (config.photo_folder / first[:2] / f"{first}.jpg").unlink()
    (config.photo_folder / second[:2] / f"{second}.jpg").write_bytes(b"another, re-encodeX")
    phone.send(phone.change("photo", sha256="ab" * 32, taken_at="2026-05-03T08:30:00Z"))
    photos.put("cd" * 32, b"a sync broke off here")
    found = check(config)
    assert {(fault.message, *fault.named) for fault in found.faults} == {
        ("A photo's file is missing", first),
        ("A photo's file is damaged", second),
    }
    assert [remark.rsplit(" ", 1)[1] for remark in found.remarks] == ["1", "1"]


def test_a_photo_whose_row_is_gone_is_told_with_what_to_do(config: Config, phone: Phone) -> None:
    """A power cut between its file and its row leaves the same, so it is no fault by itself."""
    broken("DELETE FROM photo_file")
    found = check(config)
    assert found.faults == []
    (remark,) = found.remarks
    assert "send them again" in remark and "restore" in remark


def test_a_broken_reference_is_found(home: Path) -> None:
    config = Config(home)
    open_collection(config)
    phone = Phone()
    phone.send(phone.change("work", tree=phone.tree(), done_at="2026-05-03T08:30:00Z", task="feed"))
    with sqlite3.connect(config.database_address) as opened:
        opened.execute("UPDATE work SET tree = 'nobody'")
    assert sorts(config) == {"reference", "log"}
    close_database()


def test_damaged_pages_are_found_wherever_they_lie(home: Path, tmp_path: Path) -> None:
    config = Config(home)
    open_collection(config)
    phone = Phone()
    phone.send(*(phone.change("place", place=f"Bench {number}") for number in range(300)))
    close_database()
    file = home / "leafwalk.db"
    whole = file.read_bytes()
    # SQLite fills its pages from their ends; every fifth is damaged there, but none that is empty.
    places = [place for place in range(4096 * 2 - 300, len(whole), 4096 * 5) if any(whole[place : place + 200])]
    found = 0
    for place in places:
        file.write_bytes(whole[:place] + b"\x55" * 200 + whole[place + 200 :])
        try:
            open_collection(config)
            found += bool(check(config).faults)
        except Refused as refused:
            assert "restore it from a backup" in refused.message
            found += 1
        finally:
            close_database()
    assert found == len(places) > 5
    # A backup takes no notice of damage in an index; of any other it says so and leaves no file.
    looked, kept = run_leafwalk(home, "check"), run_leafwalk(home, "backup", str(tmp_path / "b.zip"))
    assert looked.returncode == 1
    assert (kept.returncode == 0) == (tmp_path / "b.zip").exists()
    assert "Traceback" not in looked.stderr + kept.stderr


def test_the_command_says_what_is_wrong_and_what_to_do(home: Path) -> None:
    open_collection(Config(home))
    Phone().tree()
    assert run_leafwalk(home, "check").stdout.splitlines()[-1] == "Nothing is wrong."
    broken("UPDATE tree SET note = 'forged'")
    close_database()
    looked, document = run_leafwalk(home, "check"), run_leafwalk(home, "check", "--json")
    assert (looked.returncode, document.returncode) == (1, 1)
    assert "WRONG  A tree is not what its changes fold to: 1" in looked.stdout
    assert "leafwalk restore FILE" in looked.stdout
    told = json.loads(document.stdout)
    assert (told["ok"], told["faults"][0]["sort"]) == (False, "log")
